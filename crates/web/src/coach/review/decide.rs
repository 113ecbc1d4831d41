//! A coach's decision about one athlete's week.

use axum::extract::{Path, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AthleteId, DecisionId, LoadingId};
use leverbook_domain::review::Instead;
use leverbook_domain::text::Reason;
use leverbook_domain::training::Note;
use leverbook_store::names::GymNames;
use leverbook_store::review::{self, Act, DecideError, NewDecision, Verdict};
use leverbook_store::{GymTx, athletes, flags};

use super::line::{mark_of, verdict_words, when};
use super::{Choices, INSTEAD, Wants, line_page, page, week_of};
use crate::App;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::page::{Page, see_other};
use crate::posted::Posted;
use crate::visit::Visit;

/// Takes a decision about one athlete.
pub(crate) async fn decide(
    State(app): State<App>,
    visit: Visit,
    wants: Wants,
    Path((_, athlete)): Path<(String, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let week = week_of(&posted, visit.today)?;
    let proposals = flags::assessments(&mut tx, &[athlete])
        .await?
        .into_iter()
        .next()
        .map(|(_, assessment)| assessment.steps)
        .unwrap_or_default();
    let choices = Choices::load(&mut tx, visit.today).await?;
    let mut errors = FieldErrors::new();
    let may_use = |club| choices.may_use(club, athlete);
    let mut status = StatusCode::UNPROCESSABLE_ENTITY;
    let wish = Wish::read(&posted, &mut errors, may_use).filter(|_| !errors.any());
    if let Some(wish) = wish {
        let decision = NewDecision {
            id: wish.id,
            athlete,
            week,
            verdict: wish.verdict,
            over: wish.over,
            proposals: &proposals,
            reason: &wish.reason,
            note: wish.note.as_ref().map_or("", Note::as_str),
            at: visit.now,
        };
        let outdated =
            decision.verdict == Some(Verdict::Accept) && wish.proposed != mark_of(&proposals);
        match refusal(&mut tx, &decision, outdated).await? {
            None => {
                let part = match wants {
                    Wants::Part => {
                        let line = line_page(&mut tx, &app, &visit, week, athlete, None).await?;
                        Some(Page(line).into_response())
                    }
                    Wants::Page => None,
                };
                tx.commit().await?;
                let next = format!("review?week={week}&done=decided#athlete-{athlete}");
                return Ok(part.unwrap_or_else(|| see_other(&visit.to(&next))));
            }
            Some(sentence) => {
                errors.add("verdict", sentence);
                status = StatusCode::CONFLICT;
            }
        }
    }
    let form = Form::again(&posted, errors);
    Ok(match wants {
        Wants::Part => {
            let line = line_page(&mut tx, &app, &visit, week, athlete, Some(form)).await?;
            (status, Page(line)).into_response()
        }
        Wants::Page => {
            let page = page(&mut tx, &app, &visit, week, Some((athlete, form))).await?;
            (status, Page(page)).into_response()
        }
    })
}

/// Takes the decision, or says why not.
async fn refusal(
    tx: &mut GymTx,
    decision: &NewDecision<'_>,
    outdated: bool,
) -> Result<Option<String>, PageError> {
    if outdated {
        return Ok(Some(
            "what is proposed has changed since you opened the page: look again, then decide"
                .to_owned(),
        ));
    }
    match review::decide(tx, decision).await {
        Ok(()) => Ok(None),
        Err(DecideError::Store(why)) => Err(why.into()),
        Err(DecideError::Meanwhile(act)) => {
            let names = GymNames::load(tx).await?;
            Ok(Some(meanwhile_words(&act, &names)))
        }
        Err(why) => Ok(Some(why.to_string())),
    }
}

/// What somebody else did after the page was opened.
fn meanwhile_words(act: &Act, names: &GymNames) -> String {
    let at = when(act.local);
    match &act.verdict {
        Some(verdict) => format!(
            "{} decided meanwhile, {at}: “{}”. Leave it so, or decide again to put yours in its place",
            act.by,
            verdict_words(verdict, names)
        ),
        None => format!(
            "{} took the decision back meanwhile, {at}. Decide again if yours still holds",
            act.by
        ),
    }
}

/// What the form asks for, read.
struct Wish {
    id: DecisionId,
    verdict: Option<Verdict>,
    /// The decision that the form was shown with.
    over: Option<DecisionId>,
    proposed: String,
    reason: String,
    note: Option<Note>,
}

impl Wish {
    fn read(
        posted: &Posted,
        errors: &mut FieldErrors,
        may_use: impl Fn(LoadingId) -> bool,
    ) -> Option<Self> {
        let id = posted.text("decision").parse().ok();
        let over = match posted.text("over") {
            "" => Some(None),
            text => text.parse().ok().map(Some),
        };
        if id.is_none() || over.is_none() {
            errors.add("verdict", "this form is broken: open the page again");
        }
        let reason = errors.read_optional(posted, "reason", Reason::new);
        let note = errors.read(posted, "note", Note::new);
        let verdict = match posted.text("verdict") {
            "accept" => Some(Some(Verdict::Accept)),
            "hold" => Some(Some(Verdict::Hold)),
            "undo" => Some(None),
            "change" => {
                if posted.text("reason").trim().is_empty() {
                    errors.add(
                        "reason",
                        "say why, in a few words: it stays with the decision",
                    );
                }
                instead(posted, errors, may_use).map(|instead| Some(Verdict::Change(instead)))
            }
            _ => {
                errors.add("verdict", "choose: accept, change or hold");
                None
            }
        };
        Some(Self {
            id: id?,
            verdict: verdict?,
            over: over?,
            proposed: posted.text("proposed").to_owned(),
            reason: reason.map(String::from).unwrap_or_default(),
            note: Some(note?).filter(|note| !note.as_str().is_empty()),
        })
    }
}

fn instead(
    posted: &Posted,
    errors: &mut FieldErrors,
    may_use: impl Fn(LoadingId) -> bool,
) -> Option<Instead> {
    let step = errors.read(posted, "step", |text| {
        INSTEAD
            .iter()
            .find(|(value, _, _)| *value == text)
            .map(|(_, step, _)| *step)
            .ok_or("choose what to do instead")
    });
    let loading = errors.read(posted, "club", |text| match text {
        "" => Ok(None),
        text => text
            .parse::<LoadingId>()
            .ok()
            .filter(|club| may_use(*club))
            .map(Some)
            .ok_or("choose a club of the list"),
    });
    Some(Instead {
        step: step?,
        loading: loading?,
    })
}
