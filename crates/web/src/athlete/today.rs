//! Today: what to do now, in order, with which club, and what waits for the coach.

use std::collections::HashSet;

use askama::Template;
use axum::extract::State;
use leverbook_domain::id::{LoadingId, MovementId, PlannedId};
use leverbook_domain::plan::{Ask, PlannedState, Prescription};
use leverbook_store::blocks::{self, Planned, RevisionNumber};
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::{athletes, log};
use time::{Date, Duration};

use super::catalogue::Catalogue;
use super::log_form::hands_word;
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::page::Page;
use crate::visit::Visit;

/// How many days back a planned session that was not logged is still offered.
const STILL_OPEN: Duration = Duration::days(6);

#[derive(Template)]
#[template(path = "athlete/today.html")]
pub(crate) struct TodayPage {
    frame: Frame,
    day: String,
    /// A stop flag that is about no single movement: nothing is to be swung.
    all_waits: bool,
    planned: Vec<Card>,
    /// Planned earlier, not logged, and still to be caught up on.
    open: Vec<Line>,
    /// Logged today.
    done: Vec<Line>,
    /// The next planned day, where nothing is planned today.
    next: Option<Line>,
}

/// A planned session of today.
struct Card {
    movement: String,
    hands: &'static str,
    club: String,
    line: String,
    minutes: String,
    steps: Vec<String>,
    note: Option<String>,
    cues: String,
    faults: String,
    loadable: bool,
    first_with_club: bool,
    waits: bool,
    log: String,
}

/// A session in one line, with the way to it.
struct Line {
    words: String,
    href: String,
}

/// `GET /today`.
pub(crate) async fn today(
    State(app): State<App>,
    visit: Visit,
) -> Result<Page<TodayPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    let catalogue = Catalogue::load(&mut tx, athlete.id).await?;
    let first = visit.today.saturating_sub(STILL_OPEN);
    let last = visit.today.saturating_add(Duration::days(28));
    let planned = blocks::between(&mut tx, &[athlete.id], first, last).await?;
    let logged = log::between(&mut tx, &[athlete.id], visit.today, visit.today).await?;
    let swung = log::swung(&mut tx, athlete.id).await?;
    let standing = flags::standing_for(&mut tx, &[athlete.id]).await?;
    let (all_waits, waiting) = waiting(&standing, visit.today);
    let (today, others): (Vec<_>, Vec<_>) = planned
        .into_iter()
        .filter(|planned| planned.standing.state == PlannedState::Planned)
        .filter(|planned| planned.logged.is_none())
        .partition(|planned| planned.standing.on == visit.today);
    blocks::mark_seen(&mut tx, &seen(&today), visit.now).await?;
    tx.commit().await?;
    let card = |planned: &Planned| {
        let asked = &planned.standing.prescription;
        Card {
            waits: all_waits || waiting.contains(&asked.movement),
            ..Card::new(&visit, planned, &catalogue, &swung)
        }
    };
    let open = others
        .iter()
        .filter(|planned| planned.standing.on < visit.today);
    let next = others
        .iter()
        .find(|planned| planned.standing.on > visit.today);
    Ok(Page(TodayPage {
        frame: visit.frame("Today", Nav::Today),
        day: day_label(visit.today),
        all_waits,
        planned: today.iter().map(card).collect(),
        open: open.map(|planned| Line::of(&visit, planned)).collect(),
        done: logged
            .iter()
            .map(|logged| Line {
                words: sets_words(logged.done.sets.len()),
                href: visit.to(&format!("log/{}", logged.session)),
            })
            .collect(),
        next: next.map(|planned| Line::of(&visit, planned)),
    }))
}

fn seen(planned: &[Planned]) -> Vec<(PlannedId, RevisionNumber)> {
    planned
        .iter()
        .map(|planned| (planned.planned, planned.revision))
        .collect()
}

/// L4: whether everything waits for the coach, and else the movements that do.
pub(super) fn waiting(standing: &[KeptFlag], today: Date) -> (bool, HashSet<MovementId>) {
    let stops = || {
        standing
            .iter()
            .filter(|flag| flag.holds_work(today))
            .map(|flag| flag.flag.subject.movement)
    };
    (
        stops().any(|movement| movement.is_none()),
        stops().flatten().collect(),
    )
}

fn sets_words(sets: usize) -> String {
    if sets == 1 {
        "1 set".to_owned()
    } else {
        format!("{sets} sets")
    }
}

impl Line {
    fn of(visit: &Visit, planned: &Planned) -> Self {
        let asked = &planned.standing.prescription;
        Self {
            words: format!(
                "{}: {}, {}, {}",
                day_label(planned.standing.on),
                asked.movement_name,
                asked.club_name,
                asked.line()
            ),
            href: visit.to(&format!("log/new?planned={}", planned.planned)),
        }
    }
}

impl Card {
    fn new(
        visit: &Visit,
        planned: &Planned,
        catalogue: &Catalogue,
        swung: &HashSet<LoadingId>,
    ) -> Self {
        let asked = &planned.standing.prescription;
        let movement = catalogue.movement_of(asked.movement);
        let guidance = |text: Option<&str>| text.unwrap_or_default().to_owned();
        Self {
            movement: asked.movement_name.clone(),
            hands: hands_word(asked.hands),
            club: asked.club_name.clone(),
            line: asked.line(),
            minutes: asked.time().in_minutes(),
            steps: steps(asked),
            note: asked.note.clone(),
            cues: guidance(movement.map(|movement| movement.details.cues.as_str())),
            faults: guidance(movement.map(|movement| movement.details.faults.as_str())),
            loadable: catalogue
                .club_of(asked.loading)
                .is_some_and(|club| club.loadable),
            first_with_club: !swung.contains(&asked.loading),
            waits: false,
            log: visit.to(&format!("log/new?planned={}", planned.planned)),
        }
    }
}

/// What to do, in order.
fn steps(asked: &Prescription) -> Vec<String> {
    let sets = asked.sets;
    let set = match asked.ask {
        Ask::Interval { seconds, goal } => {
            let aim = goal.map(|goal| {
                let count = goal.rpm() * f64::from(seconds.get()) / 60.0;
                format!(" The goal is {:.0} or more.", count.ceil())
            });
            format!(
                "Left side: {} seconds, counting clean reps.{}",
                seconds.get(),
                aim.unwrap_or_default()
            )
        }
        Ask::Straight { reps } => format!("Left side: {} clean reps.", reps.get()),
    };
    let rest = if asked.rest_seconds > 0 {
        format!(
            "Rest {} seconds, or longer if you need it.",
            asked.rest_seconds
        )
    } else {
        "Rest until you are ready.".to_owned()
    };
    let mut steps = vec![
        format!(
            "Take {} and warm up with something lighter.",
            asked.club_name
        ),
        set,
        "Change hands. Right side: the same.".to_owned(),
        rest,
    ];
    if sets > 1 {
        steps.push(format!("Go on until you have {sets} sets on each side."));
    }
    steps
}
