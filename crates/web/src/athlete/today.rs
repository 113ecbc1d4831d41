//! Today: what to do now, in order, with which club, and what waits for the coach.

use std::collections::HashSet;

use askama::Template;
use axum::extract::State;
use leverbook_domain::club::care::OutOfUse;
use leverbook_domain::id::{AthleteId, ClubId, LoadingId, MovementId, PlannedId};
use leverbook_domain::plan::{Ask, PlannedState, Prescription};
use leverbook_store::blocks::{self, Planned};
use leverbook_store::flags::{self, KeptFlag};
use leverbook_store::log::Logged;
use leverbook_store::{GymTx, StoreError, athletes, care, log};
use time::{Date, Duration};
use uuid::Uuid;

use super::catalogue::Catalogue;
use super::log_form::{day_value, hands_word};
use crate::App;
use crate::chart::day_label;
use crate::club_picture::ClubPicture;
use crate::error::PageError;
use crate::frame::{Frame, Nav};
use crate::notes::{NoteLine, Reader};
use crate::page::Page;
use crate::visit::{Sight, Visit};

/// How many days back a planned session that was not logged is still offered.
pub(super) const STILL_OPEN: Duration = Duration::days(6);

/// How many days ahead the next planned session is looked for.
const NEXT_WITHIN: Duration = Duration::days(28);

/// How many unread notes are shown.
const NOTES: u16 = 2;

/// `GET /today`.
#[derive(Template)]
#[template(path = "athlete/today.html")]
pub(crate) struct TodayPage {
    frame: Frame,
    day: DayContent,
    /// What the coach wrote and the athlete has not opened.
    notes: Vec<NoteLine>,
}

/// What Today shows on one day.
#[derive(Template)]
#[template(path = "athlete/today_day.html")]
pub(super) struct DayContent {
    day: String,
    /// The same day as YYYY-MM-DD, for the phone.
    on: String,
    /// A stop flag that is about no single movement: nothing is to be swung.
    all_waits: bool,
    planned: Vec<Card>,
    /// Planned earlier, not logged, and still to be caught up on.
    open: Vec<Line>,
    /// Logged on this day.
    done: Vec<Line>,
    /// The next planned day, where nothing is planned on this one.
    next: Option<Line>,
    /// The ways to train and to log what is not planned.
    train_free: String,
    log_free: String,
}

impl DayContent {
    /// Whether a club is drawn anywhere.
    fn has_pictures(&self) -> bool {
        self.planned
            .iter()
            .any(|card| card.picture.is_some() && !card.waits)
    }
}

/// A planned session of the day.
struct Card {
    planned: PlannedId,
    movement: String,
    hands: &'static str,
    club: String,
    picture: Option<ClubPicture>,
    line: String,
    minutes: String,
    steps: Vec<String>,
    note: Option<String>,
    cues: String,
    faults: String,
    loadable: bool,
    /// What speaks against picking the club up: it is out of use, or its inspection overdue.
    caution: Option<&'static str>,
    first_with_club: bool,
    waits: bool,
    train: String,
    log: String,
}

/// A session in one line, with the way to it.
struct Line {
    /// Of the planned session, or of the logged one.
    id: Uuid,
    words: String,
    href: String,
}

/// What the days' contents are made of: the days from which something can be caught up on, those asked
/// for, and those in which the next session is looked for.
pub(super) struct Days {
    pub(super) catalogue: Catalogue,
    /// Planned sessions that the athlete is to do, logged or not, in order of day.
    pub(super) planned: Vec<Planned>,
    /// Logged sessions, in order of day.
    pub(super) logged: Vec<Logged>,
    pub(super) swung: HashSet<LoadingId>,
    pub(super) standing: Vec<KeptFlag>,
    out: OutOfUse,
    overdue: HashSet<ClubId>,
    pub(super) all_waits: bool,
    pub(super) waiting: HashSet<MovementId>,
}

impl Days {
    /// Loads what is needed for today and the days after it, up to the last, with the log since a day.
    pub(super) async fn load(
        tx: &mut GymTx,
        athlete: AthleteId,
        today: Date,
        last: Date,
        logged_since: Date,
    ) -> Result<Self, StoreError> {
        let catalogue = Catalogue::load(tx, athlete).await?;
        let first = today.saturating_sub(STILL_OPEN);
        let last = last.saturating_add(NEXT_WITHIN);
        let mut planned = blocks::between(tx, &[athlete], first, last).await?;
        planned.retain(|planned| planned.standing.state == PlannedState::Planned);
        let logged = log::between(tx, &[athlete], logged_since, today).await?;
        let swung = log::swung(tx, athlete).await?;
        let standing = flags::standing_for(tx, &[athlete]).await?;
        let (all_waits, waiting) = waiting(&standing, today);
        let out = care::out_of_use(tx, today).await?;
        let overdue = care::inspectable(tx)
            .await?
            .into_iter()
            .filter(|one| one.is_overdue(today))
            .map(|one| one.club)
            .collect();
        Ok(Self {
            catalogue,
            planned,
            logged,
            swung,
            standing,
            out,
            overdue,
            all_waits,
            waiting,
        })
    }

    /// What speaks against picking up a club, as loaded.
    fn caution(&self, loading: LoadingId) -> Option<&'static str> {
        if self.catalogue.is_out(loading, &self.out) {
            Some("This club is out of use. Leave it, and ask your coach for another.")
        } else if self.catalogue.is_of(loading, &self.overdue) {
            Some("This club’s inspection is overdue. Ask your coach before you swing it.")
        } else {
            None
        }
    }

    /// Whether a planned session waits for the coach.
    pub(super) fn waits(&self, planned: &Planned) -> bool {
        self.all_waits
            || self
                .waiting
                .contains(&planned.standing.prescription.movement)
    }

    /// What Today shows on a day.
    pub(super) fn content(&self, visit: &Visit, day: Date) -> DayContent {
        let first = day.saturating_sub(STILL_OPEN);
        let last = day.saturating_add(NEXT_WITHIN);
        let open = || {
            let planned = self.planned.iter();
            planned.filter(move |planned| {
                planned.logged.is_none() && (first..=last).contains(&planned.standing.on)
            })
        };
        DayContent {
            day: day_label(day),
            on: day_value(day),
            all_waits: self.all_waits,
            planned: open()
                .filter(|planned| planned.standing.on == day)
                .map(|planned| Card::new(visit, planned, self))
                .collect(),
            open: open()
                .filter(|planned| planned.standing.on < day)
                .map(|planned| Line::of(visit, planned))
                .collect(),
            done: self
                .logged
                .iter()
                .filter(|logged| logged.done.on == day)
                .map(|logged| Line {
                    id: logged.session.0,
                    words: sets_words(logged.done.sets.len()),
                    href: visit.to(&format!("log/{}", logged.session)),
                })
                .collect(),
            next: open()
                .find(|planned| planned.standing.on > day)
                .map(|planned| Line::of(visit, planned)),
            train_free: visit.to("train?free=1"),
            log_free: visit.to("log/new"),
        }
    }
}

/// `GET /today`.
pub(crate) async fn today(
    State(app): State<App>,
    visit: Visit,
    sight: Sight,
) -> Result<Page<TodayPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    let today = visit.today;
    let days = Days::load(&mut tx, athlete.id, today, today, today).await?;
    let shown: Vec<_> = days
        .planned
        .iter()
        .filter(|planned| planned.standing.on == today && planned.logged.is_none())
        .map(|planned| (planned.planned, planned.revision))
        .collect();
    if sight == Sight::Opened {
        blocks::mark_seen(&mut tx, &shown, visit.now).await?;
    }
    let notes = Reader::new(&visit, &athlete, false)
        .unread(&mut tx, NOTES)
        .await?;
    tx.commit().await?;
    Ok(Page(TodayPage {
        frame: visit.frame("Today", Nav::Today),
        day: days.content(&visit, today),
        notes,
    }))
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
    match sets {
        0 => "Stopped before the first set".to_owned(),
        1 => "1 set".to_owned(),
        sets => format!("{sets} sets"),
    }
}

impl Line {
    fn of(visit: &Visit, planned: &Planned) -> Self {
        let asked = &planned.standing.prescription;
        Self {
            id: planned.planned.0,
            words: format!(
                "{}: {}, {}, {}",
                day_label(planned.standing.on),
                asked.movement_name,
                asked.club_name,
                asked.line_for_athlete()
            ),
            href: visit.to(&format!("log/new?planned={}", planned.planned)),
        }
    }
}

impl Card {
    fn new(visit: &Visit, planned: &Planned, days: &Days) -> Self {
        let asked = &planned.standing.prescription;
        let movement = days.catalogue.movement_of(asked.movement);
        let guidance = |text: Option<&str>| text.unwrap_or_default().to_owned();
        Self {
            planned: planned.planned,
            movement: asked.movement_name.clone(),
            hands: hands_word(asked.hands),
            club: asked.club_name.clone(),
            picture: days.catalogue.picture(asked.loading, visit.units),
            line: asked.line_for_athlete(),
            minutes: asked.time().in_minutes(),
            steps: steps(asked),
            note: asked.note.clone(),
            cues: guidance(movement.map(|movement| movement.details.cues.as_str())),
            faults: guidance(movement.map(|movement| movement.details.faults.as_str())),
            loadable: days.catalogue.is_loadable(asked.loading),
            caution: days.caution(asked.loading),
            first_with_club: !days.swung.contains(&asked.loading),
            waits: days.waits(planned),
            train: visit.to(&format!("train?planned={}", planned.planned)),
            log: visit.to(&format!("log/new?planned={}", planned.planned)),
        }
    }
}

/// What to do, in order.
fn steps(asked: &Prescription) -> Vec<String> {
    let sets = asked.sets;
    let set = match asked.ask {
        Ask::Interval { seconds, .. } => {
            let aim = asked
                .goal_count()
                .map(|count| format!(" The goal is {count} or more."));
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
