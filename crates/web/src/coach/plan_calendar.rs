//! An athlete's plan as weeks and days, on which sessions are moved; and what was done to it last.

use std::collections::HashSet;

use leverbook_domain::id::{AthleteId, BlockId, DecisionId, MovementId, PlannedId};
use leverbook_domain::plan::PlannedState;
use leverbook_domain::review::Week as IsoWeek;
use leverbook_domain::roster::{ExcusedKind, Status};
use leverbook_domain::text::counted;
use leverbook_store::athletes;
use leverbook_store::blocks::{self, Planned, RevisionNumber};
use leverbook_store::plan_acts::{self, Act, What};
use leverbook_store::{GymTx, StoreError, flags, roster};
use time::{Date, Duration};

use super::assign::waits;
use super::blocks::state_word;
use super::words;
use crate::App;
use crate::chart::{day_label, short_day_label};
use crate::visit::Visit;

/// Weeks that are shown at the most.
const MOST_WEEKS: i64 = 60;

/// Weeks, days, and the sessions on them.
pub(super) struct PlanCalendar {
    /// The page that a move leads back to.
    pub(super) back: String,
    /// The id that the next move will carry.
    pub(super) act: DecisionId,
    pub(super) weeks: Vec<Week>,
    /// The newest act that stands, and can be taken back.
    pub(super) last: Option<Told>,
}

/// One ISO week.
pub(super) struct Week {
    /// "Week 49", and the year where it is another.
    pub(super) name: String,
    pub(super) days: Vec<Day>,
}

/// One day of it.
pub(super) struct Day {
    /// As YYYY-MM-DD.
    pub(super) on: String,
    pub(super) label: String,
    pub(super) short: String,
    /// "Wed", where no column says so.
    pub(super) weekday: String,
    pub(super) is_today: bool,
    pub(super) is_past: bool,
    /// Why it is excused.
    pub(super) away: Option<&'static str>,
    pub(super) sessions: Vec<Shown>,
}

/// One planned session.
pub(super) struct Shown {
    pub(super) planned: PlannedId,
    pub(super) revision: RevisionNumber,
    pub(super) href: String,
    pub(super) movement: String,
    pub(super) line: String,
    pub(super) club: String,
    pub(super) state: &'static str,
    pub(super) can_move: bool,
    /// On a block's page: whether it is of another block.
    pub(super) of_other: bool,
}

/// An act in words.
pub(super) struct Told {
    pub(super) act: DecisionId,
    pub(super) words: String,
    pub(super) who: String,
    pub(super) taken_back: bool,
}

impl PlanCalendar {
    /// The athlete's plan from this week on; `block` is the one whose page it stands on.
    pub(super) async fn load(
        tx: &mut GymTx,
        app: &App,
        visit: &Visit,
        athlete: AthleteId,
        block: Option<BlockId>,
    ) -> Result<Self, StoreError> {
        let monday = IsoWeek::of(visit.today).monday();
        let until = monday.saturating_add(Duration::weeks(MOST_WEEKS));
        let planned = blocks::between(tx, &[athlete], monday, until).await?;
        let standing = flags::standing_for(tx, &[athlete]).await?;
        let waiting: HashSet<MovementId> = planned
            .iter()
            .map(|one| one.standing.prescription.movement)
            .filter(|movement| waits(&standing, athlete, *movement, visit.today))
            .collect();
        let away = away(tx, athlete).await?;
        let last = plan_acts::of_athlete(tx, athlete, 20).await?;
        let last = last.iter().find(|act| !act.taken_back).map(Told::of);
        let shown: Vec<(Date, Shown)> = planned
            .iter()
            .filter(|one| one.standing.state != PlannedState::Ended)
            .map(|one| {
                let waits = waiting.contains(&one.standing.prescription.movement);
                (one.standing.on, Shown::of(visit, one, waits, block))
            })
            .collect();
        Ok(Self {
            back: block.map_or_else(
                || format!("athletes/{athlete}/plan"),
                |block| format!("blocks/{block}"),
            ),
            act: app.new_id(),
            weeks: weeks(shown, &away, visit.today),
            last,
        })
    }
}

/// The days on which the athlete is away, with the word for it.
async fn away(
    tx: &mut GymTx,
    athlete: AthleteId,
) -> Result<Vec<(Date, Date, &'static str)>, StoreError> {
    let excused = roster::excused(tx, athlete).await?;
    let mut away: Vec<_> = excused
        .iter()
        .filter(|days| !days.taken_back)
        .map(|days| (days.first_day, days.last_day, kind_word(days.kind)))
        .collect();
    let person = athletes::get(tx, athlete).await?;
    if person.status != Status::Active {
        away.push((person.status_since, Date::MAX, "paused"));
    }
    Ok(away)
}

fn weeks(
    mut shown: Vec<(Date, Shown)>,
    away: &[(Date, Date, &'static str)],
    today: Date,
) -> Vec<Week> {
    let monday = IsoWeek::of(today).monday();
    let last = shown.last().map_or(today, |(on, _)| *on);
    // A week more than there is, to move something to.
    let many = (IsoWeek::of(last).monday() - monday).whole_weeks() + 2;
    let mut weeks = Vec::new();
    for number in 0..many {
        let first = monday.saturating_add(Duration::weeks(number));
        let days = (0..7)
            .map(|day| {
                let on = first.saturating_add(Duration::days(day));
                let rest = shown.split_off(shown.partition_point(|(day, _)| *day <= on));
                let sessions = std::mem::replace(&mut shown, rest);
                let mut away = away.iter();
                Day {
                    on: on.to_string(),
                    label: day_label(on),
                    short: short_day_label(on),
                    weekday: on.weekday().to_string().chars().take(3).collect(),
                    is_today: on == today,
                    is_past: on < today,
                    away: away
                        .find(|(from, until, _)| (*from..=*until).contains(&on))
                        .map(|(_, _, word)| *word),
                    sessions: sessions.into_iter().map(|(_, shown)| shown).collect(),
                }
            })
            .collect();
        let (year, week, _) = first.to_iso_week_date();
        let name = if year == today.to_iso_week_date().0 {
            format!("Week {week}")
        } else {
            format!("Week {week} of {year}")
        };
        weeks.push(Week { name, days });
    }
    weeks
}

impl Shown {
    fn of(visit: &Visit, planned: &Planned, waits: bool, block: Option<BlockId>) -> Self {
        let asked = &planned.standing.prescription;
        Self {
            planned: planned.planned,
            revision: planned.revision,
            href: visit.to(&format!("planned/{}", planned.planned)),
            movement: asked.movement_name.clone(),
            line: words::short_line(asked),
            club: asked.club_name.clone(),
            state: state_word(planned, waits, visit.today),
            can_move: planned.logged.is_none() && planned.standing.state == PlannedState::Planned,
            of_other: block.is_some_and(|block| block != planned.block),
        }
    }
}

impl Told {
    pub(super) fn of(act: &Act) -> Self {
        let days = match act.last_day {
            Some(last) if last == act.first_day => format!("on {}", day_label(last)),
            Some(last) => format!("from {} to {}", day_label(act.first_day), day_label(last)),
            None => format!("from {} until they are back", day_label(act.first_day)),
        };
        let kind = act.kind.map_or("away", kind_word);
        let sessions = match act.sessions {
            0 => "no session changed".to_owned(),
            many => format!("{} changed", counted(many, "session")),
        };
        let mut words = match (&act.what, &act.moved) {
            (What::Move, Some((movement, from, to))) => format!(
                "{movement} moved from {} to {}",
                day_label(*from),
                day_label(*to)
            ),
            (What::Move, None) => format!("A session moved to {}", day_label(act.first_day)),
            (What::Away, _) => format!("Away {days}: {kind}; {sessions}"),
            (What::Pause, _) => format!("Paused {days}: {kind}; {sessions}"),
            (What::Return, _) => {
                format!("Back on {}; {sessions}", day_label(act.first_day))
            }
        };
        if act.weeks > 0 {
            let weeks = act.weeks;
            let many = if weeks == 1 {
                "a week".to_owned()
            } else {
                format!("{weeks} weeks")
            };
            words.push_str(&format!(", blocks moved on by {many}"));
        }
        if !act.reason.is_empty() && act.reason != kind {
            words.push_str(&format!(". “{}”", act.reason));
        }
        Self {
            act: act.act,
            words,
            who: format!("{}, {}", act.decided_by_name, day_label(act.decided_on)),
            taken_back: act.taken_back,
        }
    }
}

/// A kind of excused days, as a coach reads it.
pub(super) const fn kind_word(kind: ExcusedKind) -> &'static str {
    match kind {
        ExcusedKind::Pause => "pause",
        ExcusedKind::Travel => "travel",
        ExcusedKind::Illness => "illness",
        ExcusedKind::Competition => "competition",
        ExcusedKind::Other => "excused",
    }
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    // ISO 8601: 2026-12-31 is a Thursday of week 53; the week after is week 1 of 2027.
    #[test]
    fn a_plan_is_weeks_of_seven_days_with_one_to_spare() {
        let today = date!(2026 - 12 - 31);
        let away = [(date!(2027 - 01 - 02), date!(2027 - 01 - 05), "travel")];
        let weeks = weeks(Vec::new(), &away, today);
        let names: Vec<&str> = weeks.iter().map(|week| week.name.as_str()).collect();
        assert_eq!(names, ["Week 53", "Week 1 of 2027"]);
        let days: Vec<(&str, bool, bool)> = weeks[0]
            .days
            .iter()
            .map(|day| (day.on.as_str(), day.is_past, day.is_today))
            .collect();
        assert_eq!(days[0], ("2026-12-28", true, false));
        assert_eq!(days[3], ("2026-12-31", false, true));
        assert_eq!(days[6], ("2027-01-03", false, false));
        let away: Vec<bool> = weeks
            .iter()
            .flat_map(|week| &week.days)
            .map(|day| day.away.is_some())
            .collect();
        assert_eq!(away.iter().filter(|away| **away).count(), 4);
        assert_eq!(
            (away[4], away[5], away[8], away[9]),
            (false, true, true, false)
        );
    }
}
