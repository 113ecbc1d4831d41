//! A log that was kept on a phone, sent when there is signal: exactly once, however often it is
//! sent, and never lost because something changed meanwhile.

use axum::Json;
use axum::extract::State;
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{RevisionId, SessionId};
use leverbook_domain::plan::PlannedState;
use leverbook_store::athletes::Athlete;
use leverbook_store::blocks;
use leverbook_store::log::{self, Done, NewRevision, PlannedSeen, RecordError, Recorded, Revision};
use leverbook_store::{GymTx, StoreError, athletes, flags, people, policies};
use serde::Serialize;
use time::format_description::well_known::Rfc3339;

use super::catalogue::Catalogue;
use super::entry::{Entry, Problem, Sent};
use super::log_form::{OpenDays, day_value};
use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::posted::Posted;
use crate::visit::Visit;

/// Most bytes of one entry, as a form sends it: four hundred sets and a note.
pub(crate) const MOST_BYTES: usize = 512 * 1024;

/// An entry that is in the log.
#[derive(Serialize)]
struct Taken {
    outcome: &'static str,
    session: SessionId,
    revision: RevisionId,
    on: String,
    /// L4: pain so strong that the work stops.
    stop: bool,
    /// What the coach changed meanwhile.
    plan: Option<String>,
}

/// An entry that met something else in the log.
#[derive(Serialize)]
struct Met {
    outcome: &'static str,
    newest: Newest,
}

/// What stands in the log.
#[derive(Serialize)]
struct Newest {
    session: SessionId,
    revision: RevisionId,
    by: String,
    at: String,
    /// `None` where the session was taken back.
    entry: Option<Entry>,
}

/// An entry that was not taken.
#[derive(Serialize)]
struct Refused {
    outcome: &'static str,
    today: String,
    problems: Vec<Problem>,
}

/// `POST /log/carried`.
pub(crate) async fn take(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    if !posted.has("account") {
        return Err(PageError::Unreadable(
            "A phone says whose it is. Send it again.",
        ));
    }
    // What one person kept on a phone is never stored as another's.
    if posted.text("account").parse() != Ok(visit.account) {
        return Err(PageError::Forbidden);
    }
    if posted.is_broken("entry") {
        let sentence = "some characters could not be read";
        return Ok(refused(&visit, vec![Problem::at("entry", sentence)]));
    }
    let entry = match Entry::from_text(posted.text("entry")) {
        Ok(entry) => entry,
        Err(problem) => return Ok(refused(&visit, vec![problem])),
    };
    let mut tx = visit.enter(&app).await?;
    let athlete = athletes::of_person(&mut tx, visit.account).await?;
    let read = entry.read();
    // First of all whether it is here already: what would be refused by now was taken then.
    if let Some(stored) = stored(&mut tx, &athlete, RevisionId(entry.id)).await? {
        return match read {
            Ok(sent) if sent.is(&stored) => taken(&mut tx, "already_stored", &stored).await,
            _ => met(&mut tx, &visit, "other_content", stored.session).await,
        };
    }
    let sent = match read {
        Ok(sent) => sent,
        Err(problems) => return Ok(refused(&visit, problems)),
    };
    let problems = problems(&mut tx, &visit, &athlete, &sent).await?;
    if !problems.is_empty() {
        return Ok(refused(&visit, problems));
    }
    store(&visit, tx, &athlete, sent).await
}

async fn stored(
    tx: &mut GymTx,
    athlete: &Athlete,
    revision: RevisionId,
) -> Result<Option<Revision>, StoreError> {
    match log::revision(tx, athlete.id, revision).await {
        Ok(stored) => Ok(Some(stored)),
        Err(StoreError::NotFound) => Ok(None),
        Err(error) => Err(error),
    }
}

/// What is wrong with an entry in this gym. Only what cannot have been: a club or a movement that is
/// out of use by now, and a plan that was changed, lose nobody's log.
///
/// # Errors
/// [`StoreError::NotFound`] where what it replaces is not in the log, or not yet.
async fn problems(
    tx: &mut GymTx,
    visit: &Visit,
    athlete: &Athlete,
    sent: &Sent,
) -> Result<Vec<Problem>, StoreError> {
    let mut wrong = Vec::new();
    let replaced = match sent.replaces {
        Some(replaces) => Some(log::revision(tx, athlete.id, replaces).await?),
        None => None,
    };
    if replaced
        .as_ref()
        .is_some_and(|replaced| replaced.session != sent.session)
    {
        wrong.push(Problem::at("entry", "what it replaces is another session"));
    }
    let Some(done) = &sent.done else {
        return Ok(wrong);
    };
    let own_day = replaced.map(|replaced| replaced.on);
    let days = OpenDays::new(athlete.started_on, visit.today, own_day);
    if let Err(sentence) = days.check(done.on) {
        wrong.push(Problem::at("on", sentence));
    }
    let catalogue = Catalogue::load(tx, athlete.id).await?;
    for (set, number) in done.sets.iter().zip(1..) {
        let unknown = if catalogue.movement_of(set.movement).is_none() {
            "movement"
        } else if catalogue.club_of(set.loading).is_none() {
            "club"
        } else {
            continue;
        };
        let sentence = format!("Set {number}: its {unknown} is none of this gym’s");
        wrong.push(Problem::at("sets", sentence));
    }
    if let Some(seen) = done.planned
        && !is_own(tx, athlete, seen).await?
    {
        wrong.push(Problem::at(
            "planned",
            "this planned session is none of yours",
        ));
    }
    Ok(wrong)
}

/// Whether the athlete was ever asked for this. Revisions are numbered from 1 without a gap.
async fn is_own(tx: &mut GymTx, athlete: &Athlete, seen: PlannedSeen) -> Result<bool, StoreError> {
    match blocks::planned(tx, seen.planned).await {
        Ok(planned) => {
            Ok(planned.athlete == athlete.id && (1..=planned.revision).contains(&seen.revision))
        }
        Err(StoreError::NotFound) => Ok(false),
        Err(error) => Err(error),
    }
}

async fn store(
    visit: &Visit,
    mut tx: GymTx,
    athlete: &Athlete,
    sent: Sent,
) -> Result<Response, PageError> {
    let new = NewRevision {
        revision: sent.revision,
        replaces: sent.replaces,
        athlete: athlete.id,
        done: sent.done,
        logged_at: visit.now,
    };
    let outcome = match flags::record(&mut tx, &new, visit.today).await {
        Ok(Recorded::Stored) => "stored",
        Ok(Recorded::AlreadyStored) => "already_stored",
        Err(RecordError::OtherContent { stored }) => {
            return met(&mut tx, visit, "other_content", stored.session).await;
        }
        Err(RecordError::ReplacedMeanwhile { newest }) => {
            return met(&mut tx, visit, "changed_meanwhile", newest.session).await;
        }
        Err(RecordError::TooMuch) => return Err(PageError::TooLarge),
        Err(RecordError::Store(error)) => return Err(error.into()),
    };
    let stored = log::revision(&mut tx, athlete.id, new.revision).await?;
    let answer = taken(&mut tx, outcome, &stored).await?;
    tx.commit().await?;
    Ok(answer)
}

/// It is in the log.
async fn taken(
    tx: &mut GymTx,
    outcome: &'static str,
    stored: &Revision,
) -> Result<Response, PageError> {
    let (stop, plan) = match &stored.done {
        None => (false, None),
        Some(done) => {
            let policy = policies::of_athlete(tx, stored.athlete).await?;
            (
                done.stops_the_work(policy.own().pain_stop),
                plan_meanwhile(tx, stored.session, done).await?,
            )
        }
    };
    let taken = Taken {
        outcome,
        session: stored.session,
        revision: stored.revision,
        on: day_value(stored.on),
        stop,
        plan,
    };
    Ok(Json(taken).into_response())
}

/// What became of the planned session that it answers, where that is not as the athlete saw it.
async fn plan_meanwhile(
    tx: &mut GymTx,
    session: SessionId,
    done: &Done,
) -> Result<Option<String>, StoreError> {
    let Some(seen) = done.planned else {
        return Ok(None);
    };
    let planned = blocks::planned(tx, seen.planned).await?;
    let answers = log::answering(tx, planned.athlete, seen.planned).await?;
    let (now, day) = (&planned.standing, day_label(planned.standing.on));
    let sentence = if now.state != PlannedState::Planned {
        format!(
            "Your coach had taken the session of {day} out of your plan. What you did is in the log."
        )
    } else if answers.iter().any(|answer| *answer != session) {
        format!(
            "The planned session of {day} is in the log twice now. If it was one session, take one \
             of the two back."
        )
    } else if planned.revision != seen.revision {
        let asked = &now.prescription;
        format!(
            "Your coach had changed this session: on {day}, {}, {}, {}. What you did is in the log \
             as you did it.",
            asked.movement_name,
            asked.club_name,
            asked.line_for_athlete()
        )
    } else {
        return Ok(None);
    };
    Ok(Some(sentence))
}

/// Something else stands in the log; both are kept, and the athlete decides.
async fn met(
    tx: &mut GymTx,
    visit: &Visit,
    outcome: &'static str,
    session: SessionId,
) -> Result<Response, PageError> {
    let athlete = athletes::of_person(tx, visit.account).await?;
    let newest = log::revisions(tx, athlete.id, session)
        .await?
        .pop()
        .ok_or(StoreError::NotFound)?;
    let by = if newest.logged_by == visit.account {
        "you".to_owned()
    } else {
        people::get(tx, newest.logged_by).await?.name.to_string()
    };
    let at = newest
        .logged_at
        .format(&Rfc3339)
        .map_err(|error| PageError::Internal(error.to_string()))?;
    let met = Met {
        outcome,
        newest: Newest {
            session,
            revision: newest.revision,
            by,
            at,
            entry: Entry::of_revision(&newest),
        },
    };
    Ok((StatusCode::CONFLICT, Json(met)).into_response())
}

fn refused(visit: &Visit, problems: Vec<Problem>) -> Response {
    let refused = Refused {
        outcome: "refused",
        today: day_value(visit.today),
        problems,
    };
    (StatusCode::UNPROCESSABLE_ENTITY, Json(refused)).into_response()
}
