//! The look before anything is saved: an athlete a row, a week a column, objections beside their cell.

use askama::Template;
use leverbook_domain::id::{AthleteId, BlockId};
use leverbook_domain::plan::{BlockDraft, PlannedOn, SessionTime};
use leverbook_domain::review::Week;
use leverbook_domain::training::Hands;
use time::Date;

use super::super::objections::Objected;
use super::super::offer::Offer;
use super::super::words;
use super::share::{ROW_FIELDS, Share, Values, field};
use super::wanted::{By, Wanted};
use super::write::{asks_for_a_reason, looked_at, ticked};
use crate::ahead::Ahead;
use crate::chart::{day_label, short_day_label};
use crate::coach::review::told;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/assign_grid.html")]
pub(super) struct GridPage {
    frame: Frame,
    form: Form,
    /// Field and sentence of what was wrong, with the athlete's name where it is about one.
    wrong: Vec<(String, String)>,
    /// The block itself, to be sent again.
    kept: Vec<(String, String)>,
    facts: Vec<(&'static str, String)>,
    weeks: Vec<WeekHead>,
    hands: Vec<Choice>,
    rows: Vec<Row>,
    sessions: usize,
    ticked: usize,
    objected: usize,
    needs_reason: bool,
    any_running: bool,
    any_loadable: bool,
    looked_at: String,
}

struct WeekHead {
    /// "30 Nov".
    monday: String,
    /// Which week of the block, where it is the same of all.
    number: Option<usize>,
}

struct Row {
    athlete: AthleteId,
    name: String,
    block: BlockId,
    ticked: bool,
    clubs: Vec<Choice>,
    values: Values,
    told: String,
    goes_by_goal: bool,
    cells: Vec<Cell>,
    totals: String,
    /// What the rules propose, in a line.
    proposal: String,
    proposal_waits: bool,
    reasons: Vec<(&'static str, String)>,
    against: Vec<(&'static str, String)>,
    ahead: Option<Ahead>,
    asks_for_a_reason: bool,
    running: Vec<(String, String)>,
    waits: bool,
    /// Whether the folded fields hold something wrong.
    unfolded: bool,
}

/// One week of an athlete.
struct Cell {
    week: String,
    /// "6 × 5"; empty where the week asks nothing.
    line: String,
    days: String,
    /// What the rules object to for the first time in this week.
    objections: Vec<Objected>,
    /// The rules of what was told in a week before.
    again: Vec<&'static str>,
}

impl Row {
    fn field(&self, what: &str) -> String {
        field(what, self.athlete)
    }
}

/// What was typed in the rows, to be kept while the block is changed.
pub(in crate::coach) fn carried(posted: &Posted) -> Vec<(String, String)> {
    posted
        .shown_again()
        .into_iter()
        .filter(|(name, _)| is_of_grid(name) && name != "step" && name != "looked_at")
        .collect()
}

/// Whether a field belongs to the grid, not to the block itself.
fn is_of_grid(name: &str) -> bool {
    ROW_FIELDS.iter().any(|start| name.starts_with(start))
        || matches!(name, "because" | "end_running" | "step" | "looked_at")
}

impl GridPage {
    pub(super) fn new(
        visit: &Visit,
        posted: &Posted,
        offer: &Offer,
        wanted: &Wanted,
        shares: &[Share],
        errors: FieldErrors,
    ) -> Self {
        let mondays = mondays(shares);
        let starts: Vec<Option<Date>> = shares
            .iter()
            .filter_map(|share| share.planned.first())
            .map(|first| Some(Week::of(first.on).monday()))
            .collect();
        let all_alike = starts.windows(2).all(|pair| pair[0] == pair[1]);
        let form = Form::again(posted, errors);
        Self {
            frame: visit.frame("Look before you assign", Nav::Assign),
            wrong: wrong(&form, shares),
            kept: posted
                .shown_again()
                .into_iter()
                .filter(|(name, _)| !is_of_grid(name))
                .collect(),
            facts: facts(wanted, shares),
            weeks: (1..)
                .zip(&mondays)
                .map(|(number, monday)| WeekHead {
                    monday: short_day_label(*monday),
                    number: all_alike.then_some(number),
                })
                .collect(),
            hands: Hands::ALL
                .map(|hands| Choice::new(hands.word(), words::hands(hands)))
                .to_vec(),
            rows: shares
                .iter()
                .map(|share| Row::new(visit, offer, share, &mondays, &form))
                .collect(),
            sessions: ticked(shares).map(|share| share.planned.len()).sum(),
            ticked: ticked(shares).count(),
            objected: ticked(shares).map(|share| share.objections.len()).sum(),
            needs_reason: shares.iter().any(asks_for_a_reason),
            any_running: shares.iter().any(|share| !share.running.is_empty()),
            any_loadable: shares.iter().any(|share| share.loadable),
            looked_at: looked_at(shares),
            form,
        }
    }
}

/// Every Monday from the first planned week to the last.
fn mondays(shares: &[Share]) -> Vec<Date> {
    let days = || shares.iter().flat_map(|share| &share.planned);
    let (Some(first), Some(last)) = (
        days().map(|one| one.on).min(),
        days().map(|one| one.on).max(),
    ) else {
        return Vec::new();
    };
    let mut week = Week::of(first);
    let mut mondays = Vec::new();
    while week.monday() <= last {
        mondays.push(week.monday());
        week = week.after();
    }
    mondays
}

fn wrong(form: &Form, shares: &[Share]) -> Vec<(String, String)> {
    form.errors()
        .map(|(field, error)| {
            let whose = shares
                .iter()
                .find(|share| field.ends_with(&share.athlete.athlete.to_string()));
            let sentence = match whose {
                Some(share) => format!("{}: {error}", share.athlete.name),
                None => error.to_owned(),
            };
            (field.to_owned(), sentence)
        })
        .collect()
}

impl Row {
    fn new(visit: &Visit, offer: &Offer, share: &Share, mondays: &[Date], form: &Form) -> Self {
        let athlete = share.athlete.athlete;
        let sets: u32 = share
            .planned
            .iter()
            .map(|one| u32::from(one.prescription.sets))
            .sum();
        let folded = ["hands", "first", "goal"];
        Self {
            athlete,
            name: share.athlete.name.clone(),
            block: share.block,
            ticked: share.ticked,
            clubs: offer.clubs_for(athlete, visit.units),
            values: share.values.clone(),
            told: share.told(),
            goes_by_goal: share.values.hands == Hands::Two.word(),
            cells: mondays
                .iter()
                .map(|monday| Cell::new(share, *monday))
                .collect(),
            totals: format!(
                "{}, {} sessions, {sets} sets a side",
                share.movement_name,
                share.planned.len()
            ),
            proposal: share.proposal.sentence.clone(),
            proposal_waits: share.proposal.waits,
            reasons: told(&share.proposal.reasons),
            against: told(&share.proposal.against),
            ahead: share.ahead.clone(),
            asks_for_a_reason: asks_for_a_reason(share),
            running: share
                .running
                .iter()
                .map(|block| {
                    let word = format!(
                        "{}, {}, {}, until {}",
                        block.movement_name,
                        words::hands(block.hands),
                        block.club_name,
                        day_label(block.until())
                    );
                    (visit.to(&format!("blocks/{}", block.block)), word)
                })
                .collect(),
            waits: share.waits,
            unfolded: folded
                .iter()
                .any(|what| form.error(&field(what, athlete)).is_some()),
        }
    }
}

impl Cell {
    fn new(share: &Share, monday: Date) -> Self {
        let week = Week::of(monday);
        let within = |day: Date| (monday..=week.sunday()).contains(&day);
        let planned: Vec<&PlannedOn> = share.planned.iter().filter(|one| within(one.on)).collect();
        let mut lines: Vec<String> = planned
            .iter()
            .map(|one| words::short_line(&one.prescription))
            .collect();
        lines.dedup();
        let days: Vec<String> = planned
            .iter()
            .map(|one| words::short_weekday(one.on))
            .collect();
        let (mut objections, mut again) = (Vec::new(), Vec::new());
        for objected in &share.objections {
            if objected.first_day().is_some_and(within) {
                objections.push(objected.clone());
            } else if planned.iter().any(|one| objected.is_about(one.on)) {
                again.push(objected.rule.id());
            }
        }
        Self {
            week: short_day_label(monday),
            line: lines.join(", "),
            days: days.join(", "),
            objections,
            again,
        }
    }
}

/// What is the same for everybody.
fn facts(wanted: &Wanted, shares: &[Share]) -> Vec<(&'static str, String)> {
    let draft: &BlockDraft = &wanted.draft;
    let mut facts = vec![("Values", wanted.by.words().to_owned())];
    let movement = ("Movement", wanted.movement_name.clone());
    match wanted.by {
        By::Again => {}
        By::Own => facts.push(movement),
        By::Same => facts.extend([
            movement,
            ("Hands", words::hands(draft.scheme().hands()).to_owned()),
            ("Work", words::scheme(&draft.scheme())),
        ]),
    }
    let days = || shares.iter().flat_map(|share| &share.planned);
    let first = days().map(|one| one.on).min();
    let last = days().map(|one| one.on).max();
    if let (Some(first), Some(last)) = (first, last) {
        let times = || days().map(|one| one.prescription.time());
        let time = SessionTime {
            shortest: times().map(|time| time.shortest).min().unwrap_or(0),
            longest: times().map(|time| time.longest).max().unwrap_or(0),
        };
        let span = format!("from {} to {}", day_label(first), day_label(last));
        let what = match wanted.by {
            By::Again => span,
            By::Own | By::Same => format!(
                "{} for {} weeks, {span}",
                words::weekday_names(draft.weekdays()),
                draft.weeks(),
            ),
        };
        facts.push(("Days", what));
        facts.push((
            "One session",
            format!("{} of work and rest, after warming up", time.in_minutes()),
        ));
    }
    if let Some(note) = draft.note() {
        facts.push(("Note to the athlete", note.to_owned()));
    }
    facts
}
