//! Time away: days, a week or a pause, for one athlete or many; looked at before it stands.

use std::collections::HashSet;

use askama::Template;
use axum::extract::{RawQuery, State};
use axum::http::StatusCode;
use axum::response::{IntoResponse, Response};
use leverbook_domain::id::{AthleteId, DecisionId};
use leverbook_domain::plan::{Afterwards, TimeAway};
use leverbook_domain::roster::{ExcusedKind, Status};
use leverbook_domain::text::Reason;
use leverbook_store::blocks::{self, Assignable};
use leverbook_store::plan_acts::{self, NewAct, What, reason_or_kind};
use leverbook_store::roster::NewExcused;
use leverbook_store::{StoreError, flags};
use time::Date;

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
#[template(path = "coach/away.html")]
pub(crate) struct AwayPage {
    frame: Frame,
    form: Form,
    athletes: Vec<Choice>,
    kinds: Vec<Choice>,
    afterwards: Vec<Choice>,
    preview: Option<Preview>,
    /// Somebody changed one of the plans between look and deed.
    meanwhile: bool,
}

/// What it will do.
struct Preview {
    days: String,
    open_ended: bool,
    shares: Vec<Share>,
    mark: String,
}

impl AwayPage {
    fn new(visit: &Visit, mut form: Form, athletes: &[Assignable], app: &App) -> Self {
        if form.value("act").parse::<DecisionId>().is_err() {
            let act: DecisionId = app.new_id();
            form.set("act", act.to_string());
        }
        let mut athletes: Vec<Choice> = athletes
            .iter()
            .map(|one| Choice::new(one.athlete.to_string(), one.name.clone()))
            .collect();
        athletes.sort_by_key(|athlete| !form.checked("athlete", &athlete.value));
        Self {
            frame: visit.frame("Time away", Nav::Roster),
            form,
            athletes,
            kinds: ExcusedKind::ALL
                .map(|kind| match kind {
                    ExcusedKind::Other => Choice::new(kind.word(), "something else"),
                    _ => Choice::new(kind.word(), kind_word(kind)),
                })
                .into(),
            afterwards: vec![
                Choice::new(
                    Afterwards::MoveOn.word(),
                    "Move on: all that is left comes later by whole weeks, nothing falls out",
                ),
                Choice::new(
                    Afterwards::LeaveOut.word(),
                    "Leave out: what is planned on these days falls out, later sessions stay on their days",
                ),
            ],
            preview: None,
            meanwhile: false,
        }
    }
}

pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    RawQuery(query): RawQuery,
) -> Result<Page<AwayPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let athletes = blocks::assignable(&mut tx).await?;
    let asked = form_urlencoded::parse(query.unwrap_or_default().as_bytes())
        .into_owned()
        .filter(|(name, _)| name == "athlete")
        .collect::<Vec<_>>();
    let usual = [
        (
            "kind".to_owned(),
            ExcusedKind::Competition.word().to_owned(),
        ),
        (
            "afterwards".to_owned(),
            Afterwards::MoveOn.word().to_owned(),
        ),
    ];
    let form = Form::with(usual.into_iter().chain(asked));
    Ok(Page(AwayPage::new(&visit, form, &athletes, &app)))
}

/// As read from the form.
struct Wanted {
    act: DecisionId,
    athletes: Vec<(AthleteId, String)>,
    first: Date,
    /// `None` until they are back.
    last: Option<Date>,
    kind: ExcusedKind,
    afterwards: Afterwards,
    reason: String,
}

impl Wanted {
    fn read(
        posted: &Posted,
        (app, visit): (&App, &Visit),
        assignable: &[Assignable],
        errors: &mut FieldErrors,
    ) -> Option<Self> {
        let athletes = read_athletes(posted, assignable, errors);
        let week = errors.read(posted, "week", |text| match text {
            "" => Ok(None),
            text => TimeAway::of_iso_week(text).map(Some),
        });
        let given = |text: &str| match text {
            "" => Ok(None),
            text => day(text, visit.today).map(Some),
        };
        let first = errors.read(posted, "first_day", given);
        let last = errors.read(posted, "last_day", given);
        let kind = errors.read(posted, "kind", |word| {
            ExcusedKind::from_word(word).ok_or("choose what it is")
        });
        let afterwards = errors.read(posted, "afterwards", |word| {
            Afterwards::from_word(word).ok_or("choose what becomes of the plan")
        });
        let reason = errors.read(posted, "reason", |text| match text {
            "" => Ok(String::new()),
            text => Reason::new(text).map(|reason| reason.as_str().to_owned()),
        });
        let (week, first, last) = (week?, first?, last?);
        let (first, last) = match (week, first, last) {
            (Some(week), None, None) => (week.first(), Some(week.last())),
            (Some(_), _, _) => {
                errors.add("week", "a week or days, not both: empty one of them");
                return None;
            }
            (None, Some(first), last) => (first, last),
            (None, None, _) => {
                errors.add("first_day", "is needed, or a week below");
                return None;
            }
        };
        match last {
            Some(last) => {
                if let Err(error) = TimeAway::new(first, last) {
                    errors.add("last_day", error);
                }
            }
            None if first > visit.today => errors.add(
                "last_day",
                "a pause that begins later needs its last day; without one it begins today or before",
            ),
            None => {}
        }
        Some(Self {
            act: posted.text("act").parse().unwrap_or_else(|_| app.new_id()),
            athletes: athletes?,
            first,
            last,
            kind: kind?,
            afterwards: afterwards?,
            reason: reason?,
        })
    }

    /// The days on which the plan changes.
    fn days(&self) -> Result<TimeAway, PageError> {
        let last = self.last.unwrap_or_else(|| around::open_ended(self.first));
        TimeAway::new(self.first, last).map_err(|error| PageError::Internal(error.to_string()))
    }

    fn in_words(&self) -> String {
        match self.last {
            Some(last) if last == self.first => format!("on {}", day_label(last)),
            Some(last) => format!("from {} to {}", day_label(self.first), day_label(last)),
            None => format!("from {} until they are back", day_label(self.first)),
        }
    }
}

fn read_athletes(
    posted: &Posted,
    assignable: &[Assignable],
    errors: &mut FieldErrors,
) -> Option<Vec<(AthleteId, String)>> {
    let sent: HashSet<&str> = posted.all("athlete").into_iter().collect();
    let chosen: Vec<(AthleteId, String)> = assignable
        .iter()
        .filter(|one| sent.contains(one.athlete.to_string().as_str()))
        .map(|one| (one.athlete, one.name.clone()))
        .collect();
    if chosen.is_empty() {
        errors.add("athlete", "choose at least one athlete");
        return None;
    }
    if chosen.len() != sent.len() {
        errors.add(
            "athlete",
            "somebody chosen is not on your roster, or not in training: choose again",
        );
        return None;
    }
    Some(chosen)
}

pub(crate) async fn send(
    State(app): State<App>,
    visit: Visit,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut tx = visit.enter(&app).await?;
    let done =
        |act: DecisionId| see_other(&visit.to(&format!("changes/{act}?done=changed-around")));
    if let Ok(act) = posted.text("act").parse() {
        match plan_acts::of_act(&mut tx, act).await {
            Ok(_) => return Ok(done(act)),
            Err(StoreError::NotFound) => {}
            Err(error) => return Err(error.into()),
        }
    }
    let assignable = blocks::assignable(&mut tx).await?;
    let mut errors = FieldErrors::new();
    let wanted = Wanted::read(&posted, (&app, &visit), &assignable, &mut errors);
    let Some(wanted) = wanted.filter(|_| !errors.any()) else {
        let form = Form::again(&posted, errors);
        return Ok(Page::unprocessable(AwayPage::new(
            &visit,
            form,
            &assignable,
            &app,
        )));
    };
    let wish = Wish {
        away: wanted.days()?,
        afterwards: match wanted.last {
            Some(_) => wanted.afterwards,
            None => Afterwards::LeaveOut,
        },
        waiting: &HashSet::new(),
        returns: false,
        open_ended: wanted.last.is_none(),
    };
    let shares = around::shares(&mut tx, &visit, &wanted.athletes, &wish).await?;
    if shares.iter().any(|share| share.lands_in_the_past) {
        errors.add(
            "afterwards",
            "these days are too long ago: some sessions would move on to days that have passed. Leave them out",
        );
    }
    let chosen = [
        wanted.in_words(),
        wanted.kind.word().to_owned(),
        wish.afterwards.word().to_owned(),
    ];
    let mark = around::mark_of(&shares, &chosen);
    let looked = posted.text("step") == "do";
    let same = posted.text("looked_at") == mark;
    if looked && same && around::asks_for_a_reason(&shares) && wanted.reason.is_empty() {
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
        let form = Form::again(&posted, errors);
        let mut page = AwayPage::new(&visit, form, &assignable, &app);
        page.meanwhile = looked && !same;
        page.preview = Some(Preview {
            days: wanted.in_words(),
            open_ended: wanted.last.is_none(),
            shares,
            mark,
        });
        return Ok((status, Page(page)).into_response());
    }
    for share in &shares {
        let act = new_act(&app, &wanted, share)?;
        plan_acts::make(&mut tx, &act, visit.now)
            .await
            .map_err(words::change_refused)?;
    }
    let ids: Vec<AthleteId> = shares.iter().map(|share| share.athlete).collect();
    flags::reassess_all(&mut tx, &ids, visit.today).await?;
    tx.commit().await?;
    Ok(done(wanted.act))
}

fn new_act<'a>(app: &App, wanted: &'a Wanted, share: &'a Share) -> Result<NewAct<'a>, StoreError> {
    let excused = match wanted.last {
        Some(last_day) => Some(NewExcused {
            id: app.new_id(),
            kind: wanted.kind,
            first_day: wanted.first,
            last_day,
            reason: reason_or_kind(&wanted.reason, wanted.kind)?,
        }),
        None => None,
    };
    Ok(NewAct {
        act: wanted.act,
        athlete: share.athlete,
        what: if wanted.last.is_some() {
            What::Away
        } else {
            What::Pause
        },
        kind: Some(wanted.kind),
        first_day: wanted.first,
        last_day: wanted.last,
        reason: if wanted.reason.is_empty() {
            kind_word(wanted.kind)
        } else {
            &wanted.reason
        },
        weeks: share.weeks,
        excused,
        status: wanted
            .last
            .is_none()
            .then_some((Status::Paused, wanted.first)),
        planned: &share.planned,
        after: &share.after,
    })
}
