//! Back to training: after a pause or a gap, with the return plan of A1 from the athlete's own log.

use std::collections::HashSet;

use askama::Template;
use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AthleteId, DecisionId, GymId};
use leverbook_domain::plan::{Afterwards, TimeAway};
use leverbook_domain::roster::{ExcusedKind, Status};
use leverbook_domain::text::Reason;
use leverbook_store::athletes::{self, Athlete};
use leverbook_store::plan_acts::{self, Act, NewAct, What, reason_or_kind};
use leverbook_store::roster::NewExcused;
use leverbook_store::{GymTx, StoreError, flags, history};
use time::{Date, Duration};

use super::around::{self, Share, Wish};
use super::plan_calendar::kind_word;
use super::words;
use crate::App;
use crate::chart::day_label;
use crate::days::day;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/back.html")]
pub(crate) struct BackPage {
    frame: Frame,
    form: Form,
    athlete: AthleteId,
    name: String,
    /// Since when they are away, and why.
    away: String,
    /// They were ill, or something hurt.
    was_ill: bool,
    stop_stands: bool,
    afterwards: Vec<Choice>,
    shares: Vec<Share>,
    mark: String,
    meanwhile: bool,
}

/// Why and since when somebody does not train.
struct Gone {
    athlete: Athlete,
    /// The first day away; `None` where nothing was ever logged and there is no pause.
    first: Option<Date>,
    pause: Option<Act>,
    was_ill: bool,
    stop_stands: bool,
    waiting: HashSet<leverbook_domain::id::PlannedId>,
}

impl Gone {
    async fn load(tx: &mut GymTx, visit: &Visit, athlete: AthleteId) -> Result<Self, StoreError> {
        let athlete = athletes::of_roster(tx, visit.account, athlete).await?;
        let is_paused = athlete.status != Status::Active;
        let acts = plan_acts::of_athlete(tx, athlete.id, 20).await?;
        let pause = acts
            .into_iter()
            .find(|act| act.what == What::Pause && !act.taken_back)
            .filter(|_| is_paused);
        let first = if is_paused {
            Some(athlete.status_since)
        } else {
            let history = history::load(tx, athlete.id).await?;
            let last = history.sessions_until(visit.today).last();
            last.and_then(|last| last.on.next_day())
        };
        let standing = flags::standing_for(tx, &[athlete.id]).await?;
        Ok(Self {
            waiting: plan_acts::waiting_for_return(tx, athlete.id)
                .await?
                .into_iter()
                .collect(),
            was_ill: pause
                .as_ref()
                .is_some_and(|pause| pause.kind == Some(ExcusedKind::Illness)),
            stop_stands: standing.iter().any(|flag| flag.holds_work(visit.today)),
            athlete,
            first,
            pause,
        })
    }

    fn is_paused(&self) -> bool {
        self.athlete.status != Status::Active
    }

    /// The days away if they are back on this one.
    fn until(&self, on: Date) -> Result<TimeAway, String> {
        let first = self
            .first
            .ok_or("nothing was logged yet: there is nothing to come back from")?;
        let last = on.previous_day().filter(|last| *last >= first);
        let last = last.ok_or_else(|| {
            format!(
                "must be after the first day away, {}; a pause of no day is taken back instead",
                day_label(first)
            )
        })?;
        TimeAway::new(first, last).map_err(|_| {
            format!(
                "is over a year after {}: end the old blocks, and assign a new one",
                day_label(first)
            )
        })
    }

    fn in_words(&self) -> String {
        match (&self.pause, self.first) {
            (Some(pause), Some(first)) => format!(
                "Paused since {}: {}.",
                day_label(first),
                pause.kind.map_or("pause", kind_word)
            ),
            (None, Some(first)) if self.is_paused() => {
                format!("Paused since {}.", day_label(first))
            }
            (_, Some(first)) => format!(
                "Last session on {}.",
                day_label(first.saturating_sub(Duration::DAY))
            ),
            (_, None) => "Nothing is logged yet.".to_owned(),
        }
    }

    async fn shares(
        &self,
        tx: &mut GymTx,
        visit: &Visit,
        on: Date,
        afterwards: Afterwards,
    ) -> Result<Result<Vec<Share>, String>, StoreError> {
        let away = match self.until(on) {
            Ok(away) => away,
            Err(sentence) => return Ok(Err(sentence)),
        };
        let wish = Wish {
            away,
            afterwards,
            waiting: &self.waiting,
            returns: true,
            open_ended: false,
        };
        let whom = [(self.athlete.id, self.athlete.name.to_string())];
        around::shares(tx, visit, &whom, &wish).await.map(Ok)
    }

    fn page(&self, visit: &Visit, app: &App, mut form: Form, shares: Vec<Share>) -> BackPage {
        if form.value("act").parse::<DecisionId>().is_err() {
            let act: DecisionId = app.new_id();
            form.set("act", act.to_string());
        }
        BackPage {
            frame: visit.frame("Back to training", Nav::Roster),
            athlete: self.athlete.id,
            name: self.athlete.name.to_string(),
            away: self.in_words(),
            was_ill: self.was_ill,
            stop_stands: self.stop_stands,
            afterwards: vec![
                Choice::new(
                    Afterwards::MoveOn.word(),
                    "Go on where it stopped: all that was left comes later by whole weeks",
                ),
                Choice::new(
                    Afterwards::LeaveOut.word(),
                    "Leave out what fell into the days away; the rest stays on its days",
                ),
            ],
            mark: around::mark_of(&shares, &[]),
            shares,
            meanwhile: false,
            form,
        }
    }
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(GymId, AthleteId)>,
) -> Result<Page<BackPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let gone = Gone::load(&mut tx, &visit, athlete).await?;
    let afterwards = Afterwards::MoveOn;
    let shares = gone
        .shares(&mut tx, &visit, visit.today, afterwards)
        .await?;
    let form = Form::with([
        ("on", visit.today.to_string()),
        ("afterwards", afterwards.word().to_owned()),
    ]);
    Ok(Page(gone.page(
        &visit,
        &app,
        form,
        shares.unwrap_or_default(),
    )))
}

pub(crate) async fn send(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(GymId, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let gone = Gone::load(&mut tx, &visit, athlete).await?;
    let next = visit.to(&format!("athletes/{}/plan?done=back", gone.athlete.id));
    let act: DecisionId = posted.text("act").parse().unwrap_or_else(|_| app.new_id());
    match plan_acts::of_act(&mut tx, act).await {
        Ok(_) => return Ok(see_other(&next)),
        Err(StoreError::NotFound) => {}
        Err(error) => return Err(error.into()),
    }
    let mut errors = FieldErrors::new();
    let on = errors.read(&posted, "on", |text| {
        let on = day(text, visit.today)?;
        if on < visit.today {
            return Err("cannot be in the past: today or later".to_owned());
        }
        gone.until(on).map(|_| on)
    });
    let afterwards = errors.read(&posted, "afterwards", |word| {
        Afterwards::from_word(word).ok_or("choose what becomes of the plan")
    });
    let reason = errors.read(&posted, "reason", |text| match text {
        "" => Ok(String::new()),
        text => Reason::new(text).map(|reason| reason.as_str().to_owned()),
    });
    let (Some(on), Some(afterwards), Some(reason)) = (on, afterwards, reason) else {
        let form = Form::again(&posted, errors);
        return Ok(Page::unprocessable(gone.page(
            &visit,
            &app,
            form,
            Vec::new(),
        )));
    };
    let shares = gone.shares(&mut tx, &visit, on, afterwards).await?;
    let shares = shares.unwrap_or_default();
    let looked = posted.text("step") == "do";
    let same = posted.text("looked_at") == around::mark_of(&shares, &[]);
    if looked && same && around::asks_for_a_reason(&shares) && reason.is_empty() {
        errors.add(
            "reason",
            "the rules object: say why it goes ahead, the athlete reads it",
        );
    }
    if !looked || !same || errors.any() {
        let status = match (errors.any(), looked && !same) {
            (true, _) => StatusCode::UNPROCESSABLE_ENTITY,
            (false, true) => StatusCode::CONFLICT,
            (false, false) => StatusCode::OK,
        };
        let mut page = gone.page(&visit, &app, Form::again(&posted, errors), shares);
        page.meanwhile = looked && !same;
        return Ok((status, Page(page)).into_response());
    }
    let new = gone.new_act(&app, act, on, &reason, &shares)?;
    plan_acts::make(&mut tx, &new, visit.now)
        .await
        .map_err(words::change_refused)?;
    flags::reassess(&mut tx, gone.athlete.id, visit.today).await?;
    tx.commit().await?;
    Ok(see_other(&next))
}

impl Gone {
    fn new_act<'a>(
        &self,
        app: &App,
        act: DecisionId,
        on: Date,
        reason: &'a str,
        shares: &'a [Share],
    ) -> Result<NewAct<'a>, PageError> {
        let kind = self.pause.as_ref().and_then(|pause| pause.kind);
        let kind = kind.unwrap_or(ExcusedKind::Pause);
        let excused = match (self.is_paused(), self.first, on.previous_day()) {
            (true, Some(first_day), Some(last_day)) => Some(NewExcused {
                id: app.new_id(),
                kind,
                first_day,
                last_day,
                reason: reason_or_kind("", kind)?,
            }),
            _ => None,
        };
        let share = shares
            .first()
            .ok_or_else(|| PageError::Internal("nobody comes back".to_owned()))?;
        Ok(NewAct {
            act,
            athlete: self.athlete.id,
            what: What::Return,
            kind: self.is_paused().then_some(kind),
            first_day: on,
            last_day: Some(on),
            reason: if reason.is_empty() {
                "back to training"
            } else {
                reason
            },
            weeks: share.weeks,
            excused,
            status: self.is_paused().then_some((Status::Active, on)),
            planned: &share.planned,
            after: &share.after,
        })
    }
}
