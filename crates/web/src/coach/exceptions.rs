//! Exceptions from the gym's policy for one athlete: made, changed and ended with a reason, after the
//! page has said what they would change. Reasons may hold health data: for the athlete's coaches only.

use std::collections::HashMap;

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AccountId, AthleteId};
use leverbook_domain::policy::{
    AthletePolicy, Exception, ExceptionChange, ExceptionsNumber, Policy, Threshold,
};
use leverbook_domain::text::Reason;
use leverbook_store::athletes::{self, Athlete};
use leverbook_store::exceptions::{self, NewException};
use leverbook_store::names::GymNames;
use leverbook_store::policies::{self, NotChanged};
use leverbook_store::{GymTx, StoreError, flags, story};
use serde::Deserialize;

use crate::App;
use crate::chart::day_label;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::numbers::decimal;
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::policy::turns::Turns;
use crate::policy::why;
use crate::posted::Posted;
use crate::visit::Visit;

#[derive(Template)]
#[template(path = "coach/exceptions.html")]
pub(crate) struct ExceptionsPage {
    frame: Frame,
    form: Form,
    athlete: AthleteId,
    name: String,
    policy: String,
    standing: Vec<Line>,
    /// Every change, the newest first.
    history: Vec<Line>,
    thresholds: Vec<Choice>,
    /// The exception that the form ends, where it does.
    ending: Option<Line>,
    meanwhile: bool,
}

/// An exception, or its end.
struct Line {
    threshold: &'static Threshold,
    /// The athlete's value; `None` where it was ended.
    value: Option<String>,
    gym: String,
    on: String,
    by: String,
    reason: String,
}

/// Everything about one athlete's exceptions.
struct Book {
    athlete: Athlete,
    policy: AthletePolicy,
    people: HashMap<AccountId, String>,
}

impl Book {
    async fn read(tx: &mut GymTx, visit: &Visit, athlete: AthleteId) -> Result<Self, StoreError> {
        let athlete = athletes::of_roster(tx, visit.account, athlete).await?;
        let policy = policies::of_athlete(tx, athlete.id).await?;
        let deciders: Vec<AccountId> = policy
            .exceptions()
            .changes()
            .iter()
            .map(|change| change.by)
            .collect();
        Ok(Self {
            people: story::names_of(tx, &deciders).await?,
            athlete,
            policy,
        })
    }

    fn number(&self) -> ExceptionsNumber {
        self.policy.exceptions().number()
    }

    fn line(&self, change: &ExceptionChange) -> Line {
        let threshold = change.exception.threshold;
        let by = self.people.get(&change.by).map(String::as_str);
        Line {
            threshold,
            value: change
                .exception
                .value
                .map(|value| threshold.unit.words(value)),
            gym: threshold.unit.words(threshold.of(self.policy.gym())),
            on: day_label(change.on),
            by: by.unwrap_or("somebody who has left").to_owned(),
            reason: change.reason.to_string(),
        }
    }

    fn page(&self, visit: &Visit, form: Form, meanwhile: bool) -> ExceptionsPage {
        let exceptions = self.policy.exceptions();
        let ends = form.value("what") == "end";
        let ending = Threshold::named(form.value("threshold"))
            .filter(|_| ends)
            .and_then(|threshold| exceptions.to(threshold));
        let name = self.athlete.name.to_string();
        let version = self.policy.gym().version;
        ExceptionsPage {
            frame: visit.frame(format!("Exceptions for {name}"), Nav::Roster),
            athlete: self.athlete.id,
            policy: self.policy.called(version, self.number(), &name, day_label),
            name,
            standing: exceptions
                .standing()
                .into_iter()
                .map(|change| self.line(change))
                .collect(),
            history: exceptions
                .changes()
                .iter()
                .rev()
                .map(|change| self.line(change))
                .collect(),
            thresholds: self.choices(),
            ending: ending.map(|change| self.line(change)),
            form,
            meanwhile,
        }
    }

    fn choices(&self) -> Vec<Choice> {
        let each = Threshold::ALL.iter().map(|threshold| {
            let own = threshold.unit.words(threshold.of(self.policy.own()));
            Choice::new(
                threshold.name,
                format!("{}: {} ({own})", threshold.rules[0], threshold.words),
            )
        });
        std::iter::once(Choice::new("", "Choose a number"))
            .chain(each)
            .collect()
    }
}

/// Which exception to end, or which number to make one to.
#[derive(Debug, Default, Deserialize)]
#[serde(default)]
pub(crate) struct Asked {
    end: String,
    threshold: String,
}

/// `GET /athletes/{athlete}/exceptions`.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    Query(asked): Query<Asked>,
) -> Result<Page<ExceptionsPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let book = Book::read(&mut tx, &visit, athlete).await?;
    let (what, threshold) = if asked.end.is_empty() {
        ("set", asked.threshold)
    } else {
        ("end", asked.end)
    };
    let form = Form::with([
        ("what", what.to_owned()),
        ("threshold", threshold),
        ("after", book.number().0.to_string()),
    ]);
    Ok(Page(book.page(&visit, form, false)))
}

/// What a form asks for.
struct Typed {
    exception: Exception,
    reason: Reason,
}

impl Typed {
    fn read(posted: &Posted) -> Result<Self, FieldErrors> {
        let mut errors = FieldErrors::new();
        let threshold = errors.read(posted, "threshold", |name| {
            Threshold::named(name).ok_or("choose a number from the list")
        });
        let value = if posted.text("what") == "end" {
            Some(None)
        } else {
            errors.read(posted, "value", decimal).map(Some)
        };
        let reason = errors.read(posted, "reason", why);
        match (threshold, value, reason) {
            (Some(threshold), Some(value), Some(reason)) => Ok(Self {
                exception: Exception { threshold, value },
                reason,
            }),
            _ => Err(errors),
        }
    }

    /// The athlete's thresholds as they would be.
    fn own(&self, policy: &AthletePolicy) -> Result<Policy, FieldErrors> {
        let Exception { threshold, value } = self.exception;
        let mut errors = FieldErrors::new();
        let field = match value {
            Some(_) => "value",
            None => "threshold",
        };
        let standing = policy.exceptions().to(threshold);
        match policy.with(self.exception) {
            _ if value.is_none() && standing.is_none() => {
                errors.add(field, "has no exception that could be ended");
            }
            Ok(_) if value == Some(threshold.of(policy.own())) => {
                errors.add(field, "is what counts for them already");
            }
            Ok(own) => return Ok(own),
            Err(refused) if refused.threshold == threshold => {
                errors.add(field, refused.at_field());
            }
            Err(refused) => errors.add(
                field,
                format!(
                    "does not go with “{}”: that {}",
                    refused.threshold.words,
                    refused.at_field()
                ),
            ),
        }
        Err(errors)
    }
}

#[derive(Template)]
#[template(path = "coach/exceptions_preview.html")]
struct PreviewPage {
    frame: Frame,
    athlete: AthleteId,
    name: String,
    threshold: &'static Threshold,
    from: String,
    to: String,
    ends: bool,
    reason: String,
    carried: Vec<(&'static str, String)>,
    turns: Option<Turns>,
}

/// `POST /athletes/{athlete}/exceptions`: what it would change, or the change.
pub(crate) async fn change(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete)): Path<(String, AthleteId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let book = Book::read(&mut tx, &visit, athlete).await?;
    let after = posted
        .text("after")
        .parse()
        .map_or(book.number(), ExceptionsNumber);
    let again = |errors| book.page(&visit, Form::again(&posted, errors), false);
    let typed = match Typed::read(&posted) {
        Ok(typed) => typed,
        Err(errors) => return Ok(Page::unprocessable(again(errors))),
    };
    if posted.text("act") == "save" {
        let new = NewException {
            athlete: book.athlete.id,
            exception: typed.exception,
            after,
            reason: typed.reason.clone(),
            at: visit.now,
            on: visit.today,
        };
        match exceptions::record(&mut tx, &new).await {
            Ok(_) => {
                tx.commit().await?;
                return Ok(see_other(&visit.to(&done(&new))));
            }
            Err(NotChanged::Store(why)) => return Err(why.into()),
            // Told below.
            Err(NotChanged::Meanwhile | NotChanged::OutOfOrder(_)) => {}
        }
    }
    if after != book.number() {
        let mut form = Form::again(&posted, FieldErrors::new());
        form.set("after", book.number().0.to_string());
        let page = book.page(&visit, form, true);
        return Ok((StatusCode::CONFLICT, Page(page)).into_response());
    }
    let own = match typed.own(&book.policy) {
        Ok(own) => own,
        Err(errors) => return Ok(Page::unprocessable(again(errors))),
    };
    if posted.text("act") == "edit" {
        return Ok(Page(again(FieldErrors::new())).into_response());
    }
    let page = preview(&mut tx, &visit, &book, &typed, &own).await?;
    Ok(Page(page).into_response())
}

fn done(new: &NewException) -> String {
    let key = match new.exception.value {
        Some(_) => "exception-made",
        None => "exception-ended",
    };
    format!("athletes/{}/exceptions?done={key}", new.athlete)
}

async fn preview(
    tx: &mut GymTx,
    visit: &Visit,
    book: &Book,
    typed: &Typed,
    own: &Policy,
) -> Result<PreviewPage, StoreError> {
    let Exception { threshold, value } = typed.exception;
    let athlete = book.athlete.id;
    let effects = flags::foresee(tx, &[athlete], visit.today, |_| own.clone()).await?;
    let names = GymNames::load(tx).await?;
    let words = |policy| threshold.unit.words(threshold.of(policy));
    Ok(PreviewPage {
        frame: visit.frame("What would change", Nav::Roster),
        athlete,
        name: book.athlete.name.to_string(),
        threshold,
        from: words(book.policy.own()),
        to: words(own),
        ends: value.is_none(),
        reason: typed.reason.to_string(),
        carried: vec![
            (
                "what",
                if value.is_some() { "set" } else { "end" }.to_owned(),
            ),
            ("threshold", threshold.name.to_owned()),
            (
                "value",
                value.map(|value| value.to_string()).unwrap_or_default(),
            ),
            ("reason", typed.reason.to_string()),
            ("after", book.number().0.to_string()),
        ],
        turns: effects
            .first()
            .map(|(_, effect)| Turns::new(effect, &names)),
    })
}
