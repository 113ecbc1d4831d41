//! Flags: what each says, what it rests on, its life, and what a coach does about it.

use askama::Template;
use axum::extract::{Path, Query, State};
use axum::response::Response;
use leverbook_domain::id::{AthleteId, DecisionId, FlagId, LoadingId};
use leverbook_domain::rules::help::rule_text;
use leverbook_domain::rules::words::sentence;
use leverbook_domain::rules::{Evidence, Names, Severity};
use leverbook_domain::text::Reason;
use leverbook_store::flags::{self as kept, FlagDecision, KeptFlag, Life, NewDecision, Verdict};
use serde::Deserialize;
use time::Date;

use super::{Book, on_roster};
use crate::App;
use crate::chart::day_label;
use crate::coach::typed::iso_date;
use crate::error::PageError;
use crate::form::{FieldErrors, Form};
use crate::frame::{Frame, Nav};
use crate::page::{Page, see_other};
use crate::parts::Choice;
use crate::posted::Posted;
use crate::visit::Visit;

/// A flag, ready to be read.
pub(super) struct FlagView {
    pub(super) id: FlagId,
    pub(super) href: String,
    pub(super) word: &'static str,
    pub(super) sentence: String,
    pub(super) rule: &'static str,
    pub(super) days: String,
    pub(super) life: String,
    pub(super) figures: Vec<(&'static str, String)>,
    pub(super) source: &'static str,
    pub(super) ends: &'static str,
    pub(super) policy: i32,
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
            source: text.source,
            ends: text.ends.unwrap_or_default(),
            policy: kept.policy.0,
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

/// The figures behind a flag, by name.
fn figures(evidence: &Evidence, names: &dyn Names) -> Vec<(&'static str, String)> {
    let mut all: Vec<(&'static str, String)> = Vec::new();
    let mut say = |name, value: String| all.push((name, value));
    let club = |loading: &LoadingId| names.club(*loading).to_owned();
    let percent = |fraction: f64| format!("{:.1} %", 100.0 * fraction);
    let known = |value: Option<f64>, decimals: usize| {
        value.map_or_else(
            || "unknown".to_owned(),
            |value| format!("{value:.decimals$}"),
        )
    };
    match evidence {
        Evidence::Density {
            density_rpm,
            goal_rpm,
            best_rpm,
            best_on,
            sessions_since_best,
            slope_rpm_per_week,
            slope_low,
            slope_high,
            kendall_s,
            kendall_p,
            sessions,
        } => {
            say(
                "Density, last session",
                format!("{density_rpm:.2} reps a minute"),
            );
            say("Goal", known(*goal_rpm, 2));
            say("Best", format!("{best_rpm:.2} on {}", day_label(*best_on)));
            say("Sessions since the best", sessions_since_best.to_string());
            say("Trend a week", known(*slope_rpm_per_week, 3));
            say(
                "Its 90 % interval",
                format!("{} to {}", known(*slope_low, 3), known(*slope_high, 3)),
            );
            if let (Some(s), Some(p)) = (kendall_s, kendall_p) {
                say("Kendall’s S", format!("{s}, two-sided p {p:.3}"));
            }
            say("Sessions with this club", sessions.to_string());
        }
        Evidence::Opening {
            clubs_finished,
            clubs_needed,
            months,
            months_needed,
            sessions_per_week,
            sessions_per_week_needed,
            stop_flag_open,
            opened_early,
        } => {
            say(
                "Two-hand clubs finished",
                format!("{clubs_finished} of {clubs_needed}"),
            );
            say(
                "Months of two-hand work",
                format!("{months} of {months_needed}"),
            );
            say(
                "Sessions a week",
                format!("{sessions_per_week:.2} of {sessions_per_week_needed}"),
            );
            say("A stop flag stood", yes_no(*stop_flag_open));
            if let Some(reason) = opened_early {
                say("Opened early because", reason.clone());
            }
        }
        Evidence::Restart {
            lightest_finished,
            step,
        } => {
            say("Lightest finished club", club(lightest_finished));
            say(
                "This club asks more by",
                format!("{} {}", percent(step.fraction), step.basis.words()),
            );
        }
        Evidence::Fingertip { sessions, needed } => {
            say("Fingertip sessions", format!("{sessions} of {needed}"));
        }
        Evidence::Ladder {
            sets,
            sets_before,
            reps,
            reps_before,
            allowed_sets,
            allowed_reps,
            because,
        } => {
            let whole = |value: &Option<u16>| {
                value.map_or_else(|| "none".to_owned(), |value| value.to_string())
            };
            say("Sets on each side", sets.to_string());
            say("Before", whole(sets_before));
            say("Reps a set", reps.to_string());
            say("Reps before", whole(reps_before));
            if allowed_sets.is_some() {
                say("Sets in order", whole(allowed_sets));
            }
            if allowed_reps.is_some() {
                say("Reps in order", whole(allowed_reps));
            }
            if let Some(because) = because {
                say(
                    "The session before: reps missed",
                    yes_no(because.missed_reps),
                );
                say("Effort over the limit", known(because.effort, 1));
                say(
                    "Pain over the limit",
                    because
                        .pain
                        .map_or_else(|| "none".to_owned(), |pain| pain.to_string()),
                );
            }
        }
        Evidence::LadderDone {
            sets,
            target,
            reps,
            in_a_row,
        } => {
            say("Sets on each side", format!("{sets} of {target}"));
            say("Reps a set", reps.to_string());
            say("Sessions running", in_a_row.to_string());
        }
        Evidence::Sides {
            left_reps,
            right_reps,
            index_percent,
            days,
        } => {
            say("Left", format!("{left_reps} reps"));
            say("Right", format!("{right_reps} reps"));
            say("Symmetry index, %", known(*index_percent, 1));
            say("Days looked at", days.to_string());
        }
        Evidence::Step {
            from,
            to,
            step,
            limit_percent,
            smaller,
            smaller_step,
        } => {
            say("From", club(from));
            say("To", club(to));
            say(
                "Step",
                format!("{} {}", percent(step.fraction), step.basis.words()),
            );
            say("Limit", format!("{limit_percent} %"));
            if let (Some(smaller), Some(step)) = (smaller, smaller_step) {
                say(
                    "Smaller step there was",
                    format!("{}, {}", club(smaller), percent(step.fraction)),
                );
            }
        }
        Evidence::Load {
            week_load,
            mean_before,
            ratio,
            limit,
            monotony,
            strain,
            minutes_estimated,
        } => {
            say("Load of the week", format!("{week_load:.0}"));
            say("Weighted mean before", format!("{mean_before:.0}"));
            say("Ratio", format!("{ratio:.2}, limit {limit}"));
            say("Monotony", known(*monotony, 2));
            say("Strain", known(*strain, 0));
            say("Some minutes estimated", yes_no(*minutes_estimated));
        }
        Evidence::Effort {
            effort,
            effort_before,
            limit,
        } => {
            say("Effort", format!("{effort}, limit {limit}"));
            say("Effort before", effort_before.to_string());
        }
        Evidence::Pain {
            score,
            sessions,
            stop_at,
        } => {
            say("Pain", format!("{score} of 10"));
            say("Sessions running at this place", sessions.to_string());
            say("Work stops at", stop_at.to_string());
        }
        Evidence::Attendance {
            last_on,
            days_since,
            last_week,
            week_before,
            wanted,
        } => {
            say(
                "Last session",
                last_on.map_or_else(|| "none yet".to_owned(), day_label),
            );
            if let Some(days) = days_since {
                say("Days since", days.to_string());
            }
            say("Last whole week", format!("{last_week} of {wanted}"));
            say("The week before", format!("{week_before} of {wanted}"));
        }
    }
    all
}

fn yes_no(yes: bool) -> String {
    if yes { "yes" } else { "no" }.to_owned()
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
    Path((_, athlete, flag)): Path<(String, AthleteId, FlagId)>,
    Query(Back { back }): Query<Back>,
) -> Result<Page<FlagPage>, PageError> {
    let mut tx = visit.enter(&app).await?;
    let book = Book::read(&mut tx, &visit, athlete, "").await?;
    tx.commit().await?;
    let form = Form::with([("verdict", "seen")]);
    FlagPage::new(&app, &visit, &book, flag, form, &back).map(Page)
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
    on_roster(&mut tx, &visit, athlete).await?;
    let decision = NewDecision {
        id,
        flag,
        athlete,
        verdict,
        reason,
        at: visit.now,
    };
    kept::decide(&mut tx, &decision).await?;
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
