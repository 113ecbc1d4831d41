//! Care of one club: its inspections, and when it is out of use.

use askama::Template;
use axum::extract::{Path, State};
use axum::response::Response;
use leverbook_domain::club::care::{
    Found, Inspection, MOST_DAYS, OutOfUse, USUAL_DAYS, UseChange, Why,
};
use leverbook_domain::id::{AthleteId, ClubId, DecisionId, LoadingId, PlannedId};
use leverbook_domain::plan::PlannedState;
use leverbook_domain::text::Reason;
use leverbook_store::care::{self, ChangedUse, Inspected, NewInspection, NewUseChange};
use leverbook_store::people::Role;
use leverbook_store::rack::{self, Club, Loading};
use leverbook_store::{GymTx, StoreError, blocks};
use time::{Date, Duration};

use super::view::out_words;
use crate::App;
use crate::chart::day_label;
use crate::days::{day, day_until};
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::whole;
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// How far ahead planned sessions are looked for.
const AHEAD: Duration = Duration::days(366);

#[derive(Template)]
#[template(path = "coach/club_inspections.html")]
pub(crate) struct InspectionsPage {
    frame: Frame,
    form: Form,
    club: Club,
    status: Status,
    found: Vec<Choice>,
    days_hint: String,
    inspections: Vec<Inspected>,
}

impl InspectionsPage {
    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        club: Club,
        form: Form,
    ) -> Result<Self, StoreError> {
        Ok(Self {
            frame: visit.frame("Inspections", Nav::Rack),
            form,
            status: Status::load(tx, &club, visit.today).await?,
            found: Found::ALL
                .into_iter()
                .map(|found| Choice::new(found.word(), found.words()))
                .collect(),
            days_hint: format!(
                "Looking closely every so often is common practice; {USUAL_DAYS} days is our own number, from no \
                 published source."
            ),
            inspections: care::inspections_of(tx, club.id).await?,
            club,
        })
    }

    fn day(&self, day: &Date) -> String {
        day_label(*day)
    }
}

/// How a club stands: inspected in time or not, in use or not.
#[derive(Debug, Default)]
pub(super) struct Status {
    /// About its inspection, where it has fasteners.
    pub(super) inspection: Option<String>,
    /// Whether that is overdue.
    pub(super) overdue: bool,
    /// What is out of use, and why.
    pub(super) out: Vec<String>,
}

impl Status {
    pub(super) async fn load(tx: &mut GymTx, club: &Club, today: Date) -> Result<Self, StoreError> {
        let due = care::inspectable(tx).await?;
        let due = due.into_iter().find(|one| one.club == club.id);
        let overdue = due.as_ref().is_some_and(|due| due.is_overdue(today));
        let inspection = due.map(|due| {
            let last = due.last.map_or_else(
                || "No inspection is in the book".to_owned(),
                |last| format!("Last inspected on {}", day_label(last.on)),
            );
            let next = if overdue {
                format!("the next was due by {}", day_label(due.by))
            } else {
                format!("the next is due by {}", day_label(due.by))
            };
            format!("{last}; {next}.")
        });
        let out = care::out_of_use(tx, today).await?;
        let out = match out.of_club(club.id) {
            Some(out) => vec![format!("Out of use {}.", out_words(out))],
            None => rack::loadings_of(tx, club.id)
                .await?
                .iter()
                .filter(|loading| loading.retired_at.is_none())
                .filter_map(|loading| {
                    let out = out.of(club.id, loading.id)?;
                    Some(format!(
                        "{} is out of use {}.",
                        loading.name,
                        out_words(out)
                    ))
                })
                .collect(),
        };
        Ok(Self {
            inspection,
            overdue,
            out,
        })
    }
}

/// A club's inspections, and a form for one more.
pub(crate) async fn inspect_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
) -> Result<Page<InspectionsPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let last = care::inspections_of(&mut tx, club.id).await?;
    let days = last
        .first()
        .map_or(USUAL_DAYS, |last| last.inspection.next_in_days);
    let id: DecisionId = app.new_id();
    let form = Form::with([
        ("inspection", id.to_string()),
        ("inspected_on", visit.today.to_string()),
        ("next_in_days", days.to_string()),
    ]);
    let page = InspectionsPage::load(&mut tx, &visit, club, form).await?;
    Ok(Page(page))
}

/// Writes an inspection down; a club that was taken out goes out of use with it.
pub(crate) async fn inspect(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let mut errors = FieldErrors::new();
    let on = errors.read(&posted, "inspected_on", |text| day_until(text, visit.today));
    let found = errors.read(&posted, "found", |text| {
        Found::from_word(text).ok_or("say what was found")
    });
    let note = errors.read_optional(&posted, "note", Reason::new);
    let days = errors.read(&posted, "next_in_days", days_between);
    let (Some(on), Some(found), Some(next_in_days), false) = (on, found, days, errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = InspectionsPage::load(&mut tx, &visit, club, form).await?;
        return Ok(Page::unprocessable(page));
    };
    let new = NewInspection {
        id: made_with(&posted, "inspection", &app),
        club: club.id,
        inspection: Inspection { on, next_in_days },
        found,
        note,
    };
    care::inspect(&mut tx, &new, visit.now).await?;
    if found == Found::TakenOut {
        let change = NewUseChange {
            id: new.id,
            change: UseChange {
                club: club.id,
                loading: None,
                from: on,
                out: Some(Why::Broken),
            },
            note: new.note,
        };
        care::change_use(&mut tx, &change, visit.now).await?;
        rack::tell_rules(&mut tx, club.details.owner, visit.today).await?;
    }
    tx.commit().await?;
    let next = match found {
        Found::InOrder => format!("rack/clubs/{}/inspections?done=inspected", club.id),
        Found::TakenOut => format!("rack/clubs/{}/use?done=use-changed", club.id),
    };
    Ok(see_other(&visit.to(&next)))
}

/// The id that was made with the form.
fn made_with(posted: &Posted, field: &str, app: &App) -> DecisionId {
    let sent = posted.text(field).parse();
    sent.unwrap_or_else(|_| app.new_id())
}

fn days_between(text: &str) -> Result<u16, String> {
    let days = whole(text)?;
    u16::try_from(days)
        .ok()
        .filter(|days| (1..=MOST_DAYS).contains(days))
        .ok_or_else(|| format!("must be a whole number from 1 to {MOST_DAYS}"))
}

#[derive(Template)]
#[template(path = "coach/club_use.html")]
pub(crate) struct UsePage {
    frame: Frame,
    form: Form,
    club: Club,
    status: Status,
    what: Vec<Choice>,
    turn: Vec<Choice>,
    why: Vec<Choice>,
    changes: Vec<PastUse>,
    /// Planned sessions with what is out of use on their day.
    planned: Vec<PlannedLine>,
    sees_plans: bool,
}

struct PastUse {
    from: String,
    what: String,
    turn: String,
    note: String,
    by: String,
}

struct PlannedLine {
    planned: PlannedId,
    who: String,
    words: String,
}

const WHOLE_CLUB: &str = "club";

impl UsePage {
    async fn load(
        tx: &mut GymTx,
        visit: &Visit,
        club: Club,
        form: Form,
    ) -> Result<Self, StoreError> {
        let loadings = rack::loadings_of(tx, club.id).await?;
        let changes = care::use_changes_of(tx, club.id).await?;
        let in_use = |loading: &&Loading| loading.retired_at.is_none();
        let mut what = vec![Choice::new(WHOLE_CLUB, "The whole club")];
        if loadings.iter().filter(in_use).count() > 1 {
            what.extend(
                loadings
                    .iter()
                    .filter(in_use)
                    .map(|loading| Choice::new(loading.id.to_string(), loading.name.as_str())),
            );
        }
        let sees_plans = visit.roles.any(&[Role::Coach]);
        Ok(Self {
            frame: visit.frame("Out of use", Nav::Rack),
            form,
            status: Status::load(tx, &club, visit.today).await?,
            what,
            turn: vec![
                Choice::new("out", "Out of use"),
                Choice::new("back", "Back in use"),
            ],
            why: Why::ALL
                .into_iter()
                .map(|why| Choice::new(why.word(), why.words()))
                .collect(),
            planned: if sees_plans {
                planned_without(tx, visit.today, club.id, &loadings, &changes).await?
            } else {
                Vec::new()
            },
            changes: changes
                .iter()
                .rev()
                .map(|changed| PastUse::new(changed, &loadings))
                .collect(),
            sees_plans,
            club,
        })
    }
}

impl PastUse {
    fn new(changed: &ChangedUse, loadings: &[Loading]) -> Self {
        let what = changed.change.loading.map_or_else(
            || "the whole club".to_owned(),
            |id| {
                let mut loadings = loadings.iter();
                loadings
                    .find(|loading| loading.id == id)
                    .map_or_else(String::new, |loading| loading.name.to_string())
            },
        );
        Self {
            from: day_label(changed.change.from),
            what,
            turn: changed.change.out.map_or_else(
                || "back in use".to_owned(),
                |why| format!("out of use: {}", why.words()),
            ),
            note: changed.note.clone(),
            by: changed.by.clone(),
        }
    }
}

/// The planned sessions of the coach's athletes that ask for what is out of use on their day.
async fn planned_without(
    tx: &mut GymTx,
    today: Date,
    club: ClubId,
    loadings: &[Loading],
    changes: &[ChangedUse],
) -> Result<Vec<PlannedLine>, StoreError> {
    let changes: Vec<UseChange> = changes.iter().map(|one| one.change.clone()).collect();
    if changes.is_empty() {
        return Ok(Vec::new());
    }
    let roster = blocks::assignable(tx).await?;
    let ids: Vec<AthleteId> = roster.iter().map(|one| one.athlete).collect();
    let planned = blocks::between(tx, &ids, today, today.saturating_add(AHEAD)).await?;
    let name = |athlete: AthleteId| {
        let mut roster = roster.iter();
        roster
            .find(|one| one.athlete == athlete)
            .map_or_else(String::new, |one| one.name.clone())
    };
    let is_ours = |loading: LoadingId| loadings.iter().any(|one| one.id == loading);
    Ok(planned
        .into_iter()
        .filter(|one| one.standing.state == PlannedState::Planned && one.logged.is_none())
        .filter(|one| {
            let loading = one.standing.prescription.loading;
            is_ours(loading)
                && OutOfUse::on(one.standing.on, &changes)
                    .of(club, loading)
                    .is_some()
        })
        .map(|one| PlannedLine {
            planned: one.planned,
            who: name(one.athlete),
            words: format!(
                "{}: {}, {}",
                day_label(one.standing.on),
                one.standing.prescription.movement_name,
                one.standing.prescription.club_name
            ),
        })
        .collect())
}

/// When a club was out of use, and a form to put it out or back.
pub(crate) async fn change_use_form(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
) -> Result<Page<UsePage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let id: DecisionId = app.new_id();
    let mut form = Form::with([
        ("change", id.to_string()),
        ("what", WHOLE_CLUB.to_owned()),
        ("why", Why::Broken.word().to_owned()),
        ("from", visit.today.to_string()),
    ]);
    let out = care::out_of_use(&mut tx, visit.today).await?;
    let turn = if out.of_club(club.id).is_some() {
        "back"
    } else {
        "out"
    };
    form.set("turn", turn);
    Ok(Page(UsePage::load(&mut tx, &visit, club, form).await?))
}

/// Puts a club or a loading out of use from a day, or back.
pub(crate) async fn change_use(
    State(app): State<App>,
    visit: Visit,
    Path((_, club)): Path<(String, ClubId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let club = rack::club(&mut tx, club).await?;
    let loadings = rack::loadings_of(&mut tx, club.id).await?;
    let mut errors = FieldErrors::new();
    let loading = errors.read(&posted, "what", |text| match text {
        WHOLE_CLUB => Ok(None),
        id => loadings
            .iter()
            .find(|loading| loading.id.to_string() == id)
            .map(|loading| Some(loading.id))
            .ok_or("choose the club or one of its loadings"),
    });
    let out = errors.read(&posted, "turn", |text| match text {
        "out" => Ok(true),
        "back" => Ok(false),
        _ => Err("choose whether it goes out of use or comes back"),
    });
    let why = if out == Some(true) {
        errors.read(&posted, "why", |text| {
            Why::from_word(text).ok_or("choose why")
        })
    } else {
        None
    };
    let from = errors.read(&posted, "from", |text| day(text, visit.today));
    let note = errors.read_optional(&posted, "note", Reason::new);
    let (Some(loading), Some(from), false) = (loading, from, errors.any()) else {
        let form = Form::again(&posted, errors);
        let page = UsePage::load(&mut tx, &visit, club, form).await?;
        return Ok(Page::unprocessable(page));
    };
    let new = NewUseChange {
        id: made_with(&posted, "change", &app),
        change: UseChange {
            club: club.id,
            loading,
            from,
            out: why,
        },
        note,
    };
    care::change_use(&mut tx, &new, visit.now).await?;
    rack::tell_rules(&mut tx, club.details.owner, visit.today).await?;
    tx.commit().await?;
    Ok(see_other(&visit.to(&format!(
        "rack/clubs/{}/use?done=use-changed",
        club.id
    ))))
}
