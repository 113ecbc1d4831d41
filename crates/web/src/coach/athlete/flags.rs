//! Flags: what each says, what it rests on, its life, and what a coach does about it.

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use leverbook_domain::id::{AthleteId, DecisionId, FlagId};
use leverbook_domain::rules::Severity;
use leverbook_domain::rules::help::rule_text;
use leverbook_domain::rules::words::sentence;
use leverbook_domain::text::Reason;
use leverbook_store::athletes;
use leverbook_store::flags::{self as kept, FlagDecision, KeptFlag, Life, NewDecision, Verdict};
use leverbook_store::notes::About;
use serde::Deserialize;
use time::Date;

use super::Book;
use crate::App;
use crate::chart::day_label;
use crate::coach::typed::iso_date;
use crate::error::PageError;
use crate::evidence::figures;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::notes::{Reader, Section};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::{Sight, Visit};

/// A flag, ready to be read.
pub(super) struct FlagView {
    pub(super) id: FlagId,
    pub(super) athlete: AthleteId,
    pub(super) href: String,
    pub(super) word: &'static str,
    pub(super) sentence: String,
    pub(super) rule: &'static str,
    pub(super) days: String,
    pub(super) life: String,
    pub(super) figures: Vec<(&'static str, String)>,
    pub(super) title: &'static str,
    pub(super) source: &'static str,
    pub(super) ends: &'static str,
    pub(super) policy: String,
    pub(super) decisions: Vec<DecisionLine>,
    /// Whether seeing it is all that can be done in one touch.
    pub(super) unseen: bool,
    pub(super) decision: DecisionId,
    severity: Severity,
}

/// One decision about a flag.
pub(super) struct DecisionLine {
    pub(super) what: String,
    pub(super) by: String,
    pub(super) day: String,
    pub(super) reason: String,
}

/// Flags of the story; one that another states as a note stands for both.
pub(super) fn views<'a>(
    app: &App,
    visit: &Visit,
    book: &'a Book,
    flags: impl Iterator<Item = &'a KeptFlag>,
) -> Vec<FlagView> {
    flags
        .filter(|kept| !is_stated_by_another(book, kept))
        .map(|kept| FlagView::new(app, visit, book, kept))
        .collect()
}

/// Whether another flag says the same of the same thing, and asks for more.
fn is_stated_by_another(book: &Book, kept: &KeptFlag) -> bool {
    book.flags.iter().any(|other| {
        other.flag.rule.restates() == Some(kept.flag.rule)
            && other.flag.subject == kept.flag.subject
            && other.flag.since == kept.flag.since
    })
}

/// Gravest first, then newest.
pub(super) fn gravest_first(mut views: Vec<FlagView>) -> Vec<FlagView> {
    views.sort_by_key(|view| std::cmp::Reverse(view.severity));
    views
}

impl FlagView {
    fn new(app: &App, visit: &Visit, book: &Book, kept: &KeptFlag) -> Self {
        let flag = &kept.flag;
        let text = rule_text(flag.rule, &book.policy);
        let since = day_label(flag.since);
        Self {
            id: kept.id,
            athlete: kept.athlete,
            href: visit.to(&format!("athletes/{}/flags/{}", kept.athlete, kept.id)),
            word: flag.severity.word(),
            sentence: sentence(flag, &book.names),
            rule: flag.rule.id(),
            days: match kept.until {
                Some(until) => format!("{since} to {}", day_label(until)),
                None => format!("since {since}"),
            },
            life: life_words(kept, visit.today),
            figures: figures(&flag.evidence, &book.names),
            title: text.title,
            source: text.source,
            ends: text.ends.unwrap_or_default(),
            policy: book.policy_words(kept.policy, kept.exceptions),
            decisions: kept
                .decisions
                .iter()
                .map(|decision| DecisionLine::new(book, decision))
                .collect(),
            unseen: kept.until.is_none() && kept.life(visit.today).wants_the_coach(),
            decision: app.new_id(),
            severity: flag.severity,
        }
    }
}

impl DecisionLine {
    fn new(book: &Book, decision: &FlagDecision) -> Self {
        Self {
            what: match decision.verdict {
                Verdict::Seen => "seen".to_owned(),
                Verdict::Quieted { until } => format!("quiet until {}", day_label(until)),
                Verdict::Closed => "closed".to_owned(),
                Verdict::Reopened => "opened again".to_owned(),
            },
            by: book
                .people
                .get(&decision.by)
                .map_or("somebody who has left", String::as_str)
                .to_owned(),
            day: day_label(decision.at.date()),
            reason: decision.reason.clone(),
        }
    }
}

fn life_words(kept: &KeptFlag, today: Date) -> String {
    if kept.until.is_some() {
        return "over".to_owned();
    }
    match kept.life(today) {
        Life::Fresh => "nobody has looked yet".to_owned(),
        Life::Worse => "back: it is worse than when it was decided".to_owned(),
        Life::Reopened => "opened again".to_owned(),
        Life::Seen => "seen".to_owned(),
        Life::Quiet { until } => format!("quiet until {}", day_label(until)),
        Life::Closed => "closed".to_owned(),
    }
}

#[derive(Template)]
#[template(path = "coach/athlete_flag.html")]
pub(crate) struct FlagPage {
    frame: Frame,
    form: Form,
    athlete_href: String,
    athlete_name: String,
    flag: FlagView,
    choices: Vec<Choice>,
    holds_work: bool,
    is_over: bool,
    back: String,
    /// What was written about it. None where a form came back: it stands alone.
    written: Option<Section>,
}

/// Where to go back to after deciding.
#[derive(Debug, Default, Deserialize)]
pub(crate) struct Back {
    #[serde(default)]
    back: String,
}

/// `GET /athletes/{athlete}/flags/{flag}`: one flag, and what to do about it.
pub(crate) async fn show(
    State(app): State<App>,
    visit: Visit,
    sight: Sight,
    Path((_, athlete, flag)): Path<(String, AthleteId, FlagId)>,
    Query(Back { back }): Query<Back>,
) -> Result<Page<FlagPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let book = Book::read(&mut tx, &visit, athlete, "").await?;
    let form = Form::with([("verdict", "seen")]);
    let mut page = FlagPage::new(&app, &visit, &book, flag, form, &back)?;
    let written = Reader::new(&visit, &book.athlete, true)
        .about(&app, &mut tx, About::Flag(flag), sight, &mut page.frame)
        .await?;
    tx.commit().await?;
    page.written = Some(written);
    Ok(Page(page))
}

impl FlagPage {
    fn new(
        app: &App,
        visit: &Visit,
        book: &Book,
        flag: FlagId,
        form: Form,
        back: &str,
    ) -> Result<Self, PageError> {
        let kept = book
            .flags
            .iter()
            .find(|kept| kept.id == flag)
            .ok_or(PageError::NotFound)?;
        let athlete_href = visit.to(&format!("athletes/{}", kept.athlete));
        let put_away = !kept.life(visit.today).is_open();
        let mut choices = vec![
            Choice::new("seen", "Seen, it goes on"),
            Choice::new("quiet", "Quiet until a day"),
            Choice::new("close", "Closed, dealt with"),
        ];
        if put_away {
            choices = vec![Choice::new("reopen", "Open it again")];
        }
        Ok(Self {
            frame: visit.frame(
                format!("{} · {}", kept.flag.rule.id(), book.athlete.name.as_str()),
                Nav::Roster,
            ),
            form,
            back: own_path(visit, back).unwrap_or_else(|| athlete_href.clone()),
            athlete_href,
            athlete_name: book.athlete.name.as_str().to_owned(),
            flag: FlagView::new(app, visit, book, kept),
            choices,
            holds_work: kept.holds_work(visit.today),
            is_over: kept.until.is_some(),
            written: None,
        })
    }
}

/// `POST /athletes/{athlete}/flags/{flag}`: seen, quiet until a day, closed, opened again.
pub(crate) async fn decide(
    State(app): State<App>,
    visit: Visit,
    Path((_, athlete, flag)): Path<(String, AthleteId, FlagId)>,
    posted: Posted,
) -> Result<Response, PageError> {
    let mut errors = FieldErrors::new();
    let wish = read(&posted, &mut errors, visit.today);
    let back = posted.text("back");
    let mut tx = visit.enter(&app).await?;
    let Some((id, verdict, reason)) = wish.filter(|_| !errors.any()) else {
        let book = Book::read(&mut tx, &visit, athlete, "").await?;
        let form = Form::again(&posted, errors);
        return FlagPage::new(&app, &visit, &book, flag, form, back).map(Page::unprocessable);
    };
    athletes::of_roster(&mut tx, visit.account, athlete).await?;
    let decision = NewDecision {
        id,
        flag,
        athlete,
        verdict,
        reason,
        at: visit.now,
    };
    kept::decide(&mut tx, &decision, visit.today).await?;
    tx.commit().await?;
    let back = own_path(&visit, back).unwrap_or_else(|| visit.to(&format!("athletes/{athlete}")));
    Ok(see_other(&with_notice(&back)))
}

fn read(
    posted: &Posted,
    errors: &mut FieldErrors,
    today: Date,
) -> Option<(DecisionId, Verdict, String)> {
    let id = errors.read(posted, "decision", |text| {
        text.parse::<DecisionId>()
            .map_err(|_| "is missing: open the page again")
    });
    let reason = errors.read(posted, "reason", |text| match text {
        "" => Ok(String::new()),
        text => Reason::new(text).map(|reason| reason.as_str().to_owned()),
    });
    let reason = reason.filter(|_| !errors.any())?;
    let mut needs_reason = |verdict| {
        if reason.is_empty() {
            errors.add("reason", "is needed: it stays with the flag");
        }
        Some(verdict)
    };
    let verdict = match posted.text("verdict") {
        "seen" => Some(Verdict::Seen),
        "close" => needs_reason(Verdict::Closed),
        "reopen" => Some(Verdict::Reopened),
        "quiet" => {
            needs_reason(Verdict::Seen);
            errors
                .read(posted, "until", |text| quiet_day(text, today))
                .map(|until| Verdict::Quieted { until })
        }
        _ => {
            errors.add("verdict", "choose what you decide");
            None
        }
    };
    Some((id?, verdict?, reason))
}

/// The last quiet day: today or later, and not so far off that nobody looks again.
fn quiet_day(text: &str, today: Date) -> Result<Date, &'static str> {
    const LONGEST: time::Duration = time::Duration::days(366);
    if text.is_empty() {
        return Err("is needed");
    }
    let day = iso_date(text)?;
    if day < today {
        Err("is in the past; choose today or a later day")
    } else if day > today.saturating_add(LONGEST) {
        Err("is more than a year away; close the flag instead, or choose an earlier day")
    } else {
        Ok(day)
    }
}

/// A path inside this gym, as far as it is one: nobody is sent on to another site.
fn own_path(visit: &Visit, back: &str) -> Option<String> {
    let plain = |c: char| c.is_ascii_alphanumeric() || "/-?=&#_.".contains(c);
    let own = back.starts_with(&visit.to("")) && back.chars().all(plain) && !back.contains("..");
    own.then(|| back.to_owned())
}

/// The path with the notice that it was decided.
fn with_notice(path: &str) -> String {
    let (page, place) = match path.split_once('#') {
        Some((page, place)) => (page, format!("#{place}")),
        None => (path, String::new()),
    };
    let joint = if page.contains('?') { '&' } else { '?' };
    format!("{page}{joint}done=flag-decided{place}")
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    #[test]
    fn a_notice_joins_any_path() {
        for (path, with) in [
            ("/g/1/review", "/g/1/review?done=flag-decided"),
            (
                "/g/1/review?week=2026-W48",
                "/g/1/review?week=2026-W48&done=flag-decided",
            ),
            (
                "/g/1/athletes/2#flags",
                "/g/1/athletes/2?done=flag-decided#flags",
            ),
        ] {
            assert_eq!(with_notice(path), with);
        }
    }

    #[test]
    fn a_flag_is_quiet_for_a_year_at_most_and_never_in_the_past() {
        let today = date!(2026 - 11 - 25);
        assert_eq!(quiet_day("2026-11-25", today), Ok(today));
        assert_eq!(quiet_day("2027-11-26", today), Ok(date!(2027 - 11 - 26)));
        for wrong in [
            "",
            "2026-11-24",
            "2027-11-27",
            "25.11.2026",
            "2026-02-30",
            "-",
        ] {
            assert!(quiet_day(wrong, today).is_err(), "{wrong}");
        }
    }
}
