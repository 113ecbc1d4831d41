//! What happened in an athlete's time, as the charts tell it: flags raised and over, what coaches decided, times
//! without training.

use leverbook_domain::roster::Status;
use leverbook_domain::rules::help::rule_text;
use leverbook_domain::rules::{Names, Severity};
use leverbook_domain::story::{self, GapKind};
use leverbook_store::flags::{KeptFlag, Verdict};
use leverbook_store::review;
use time::{Date, Duration};

use super::Book;
use super::plan::verdict_words;
use crate::chart::{Gap, Happening, Lane, Sign};

/// How long ago work may have been done last for its chart to go on to today. Ours.
const LATELY: Duration = Duration::days(60);

/// How far the chart of something goes that was done last on this day: to today, unless it was left long ago.
pub(super) fn axis_end(book: &Book, last: Date) -> Option<Date> {
    let today = book.window.today;
    (today - last <= LATELY).then_some(today)
}

/// What the rules said about this, and what coaches decided.
pub(super) fn lanes(book: &Book, is_about: impl Fn(&KeptFlag) -> bool) -> Vec<Lane> {
    let about: Vec<&KeptFlag> = book.flags.iter().filter(|kept| is_about(kept)).collect();
    vec![
        lane("Flags", about.iter().flat_map(|kept| life(book, kept))),
        lane(
            "Coach",
            about
                .iter()
                .flat_map(|kept| put_away(kept))
                .chain(decided(book)),
        ),
    ]
}

fn lane(name: &'static str, happenings: impl Iterator<Item = Happening>) -> Lane {
    let mut happenings: Vec<Happening> = happenings.collect();
    happenings.sort_by_key(|one| (one.day, one.sign));
    Lane { name, happenings }
}

/// Raised, and over.
fn life(book: &Book, kept: &KeptFlag) -> impl Iterator<Item = Happening> {
    let flag = &kept.flag;
    let id = flag.rule.id();
    let raised = Happening {
        day: flag.since,
        sign: match flag.severity {
            Severity::Stop => Sign::Stop,
            Severity::Look => Sign::Look,
            Severity::Note => Sign::Note,
        },
        label: id.to_owned(),
        said: format!(
            "{id} raised, {}: {}",
            flag.severity.word(),
            rule_text(flag.rule, &book.policy).title.to_lowercase()
        ),
    };
    let ended = kept.until.map(|day| Happening {
        day,
        sign: Sign::Ended,
        label: String::new(),
        said: format!("{id} over"),
    });
    std::iter::once(raised).chain(ended)
}

/// What coaches did about a flag, beyond having seen it.
fn put_away(kept: &KeptFlag) -> impl Iterator<Item = Happening> {
    let id = kept.flag.rule.id();
    kept.decisions.iter().filter_map(move |decision| {
        let what = match decision.verdict {
            Verdict::Seen => return None,
            Verdict::Quieted { .. } => "quieted",
            Verdict::Closed => "closed",
            Verdict::Reopened => "opened again",
        };
        Some(Happening {
            day: decision.at.date(),
            sign: Sign::PutAway,
            label: String::new(),
            said: with_reason(format!("{id} {what}"), &decision.reason),
        })
    })
}

/// Weekly decisions, and one-hand work that was opened early.
fn decided(book: &Book) -> impl Iterator<Item = Happening> {
    let weekly = book.decisions.iter().map(|(week, decision)| Happening {
        day: decision.at.date(),
        sign: match decision.verdict {
            review::Verdict::Accept => Sign::Accepted,
            review::Verdict::Hold => Sign::Held,
            review::Verdict::Change(_) => Sign::Changed,
        },
        label: String::new(),
        said: with_reason(
            format!("{week}: {}", verdict_words(book, &decision.verdict)),
            &decision.reason,
        ),
    });
    let opened = book.history.openings.iter().map(|opening| Happening {
        day: opening.on,
        sign: Sign::Opened,
        label: String::new(),
        said: with_reason(
            format!(
                "one-hand work opened early, {}",
                book.names.movement(opening.movement)
            ),
            &opening.reason,
        ),
    });
    weekly.chain(opened)
}

fn with_reason(what: String, reason: &str) -> String {
    if reason.is_empty() {
        what
    } else {
        format!("{what} (“{reason}”)")
    }
}

/// Times without training; of those away, why.
pub(super) fn gaps(book: &Book) -> Vec<Gap> {
    story::gaps(&book.history, &book.policy, book.window.today)
        .into_iter()
        .map(|gap| {
            let because = match gap.kind {
                GapKind::Away => because(book, gap),
                GapKind::NoSession { .. } => Vec::new(),
            };
            let label = gap.words();
            Gap {
                first: gap.first,
                last: gap.last,
                said: if because.is_empty() {
                    label.clone()
                } else {
                    format!("{label}: {}", because.join("; "))
                },
                label,
            }
        })
        .collect()
}

/// What an athlete was excused for on these days, and whether paused.
fn because(book: &Book, gap: story::Gap) -> Vec<String> {
    let excused = book
        .excused
        .iter()
        .filter(|days| !days.taken_back)
        .filter(|days| days.first_day <= gap.last && days.last_day >= gap.first)
        .map(|days| with_reason(days.kind.word().to_owned(), &days.reason));
    let athlete = &book.athlete;
    let gone = athlete.status != Status::Active && athlete.status_since <= gap.last;
    excused
        .chain(gone.then(|| athlete.status.word().to_owned()))
        .collect()
}
