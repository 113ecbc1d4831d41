//! What the clubs asked for over time, and the steps between them.

use leverbook_domain::club::{StepBasis, StepSize};
use leverbook_domain::id::LoadingId;
use leverbook_domain::rules::words::{hands_words, sentence};
use leverbook_domain::rules::{ClubsWorked, Names, Rule, StepTaken, clubs_worked};
use leverbook_domain::story::answers;
use leverbook_domain::text::capitalised;
use leverbook_store::flags::KeptFlag;

use super::{Book, happened};
use crate::chart::{self, Joined, LineChart, Lines, Over, Reading, Word, day_label};

/// Lever demand and steps.
pub(super) struct Clubs {
    /// How big each step was, in a sentence.
    pub(super) answer: String,
    /// `None` where no club of these days has a known moment.
    pub(super) chart: Option<LineChart>,
    /// Clubs that the drawing leaves out.
    pub(super) unknown: Vec<String>,
    /// Newest first.
    pub(super) steps: Vec<StepLine>,
}

/// A step taken.
pub(super) struct StepLine {
    pub(super) day: String,
    pub(super) what: String,
    pub(super) clubs: String,
    pub(super) size: String,
    pub(super) is_wide: bool,
    pub(super) said: Vec<(&'static str, String)>,
}

/// `None` where nothing was swung on these days.
pub(super) fn clubs(book: &Book) -> Option<Clubs> {
    let worked = clubs_worked(&book.history, &book.policy, book.window.today);
    let in_window = |one: &&ClubsWorked| one.worked.iter().any(|(on, _)| book.window.holds(*on));
    let shown: Vec<&ClubsWorked> = worked.iter().filter(in_window).collect();
    if shown.is_empty() {
        return None;
    }
    let series: Vec<chart::Series> = shown.iter().map(|one| line(book, one)).collect();
    let mut taken: Vec<(&ClubsWorked, StepTaken)> = shown
        .iter()
        .flat_map(|one| one.steps.iter().map(move |step| (*one, *step)))
        .filter(|(_, step)| book.window.holds(step.on))
        .collect();
    taken.sort_by_key(|(_, step)| step.on);
    let steps: Vec<StepTaken> = taken.iter().map(|(_, step)| *step).collect();
    let answer = answers::how_big_was_each_step(&steps, &book.policy);
    let chart = Lines {
        id: "demand",
        title: title(book, &steps),
        description: answer.clone(),
        series: &series,
        joined: Joined::Steps,
        goal: None,
        from_nought: true,
    }
    .draw_with(&Over {
        until: Some(book.window.today),
        words: taken
            .iter()
            .map(|(one, step)| word(book, one, step))
            .collect(),
        gaps: happened::gaps(book),
        lanes: happened::lanes(book, |kept| is_about_steps(kept.flag.rule)),
        ..Over::default()
    });
    let mut unknown: Vec<String> = shown
        .iter()
        .flat_map(|one| &one.worked)
        .filter(|(on, club)| book.window.holds(*on) && moment(book, *club).is_none())
        .map(|(_, club)| book.names.club(*club).to_owned())
        .collect();
    unknown.sort_unstable();
    unknown.dedup();
    Some(Clubs {
        answer,
        chart,
        unknown,
        steps: taken
            .iter()
            .rev()
            .map(|(one, step)| step_line(book, one, step))
            .collect(),
    })
}

/// What is drawn; and what all the sizes go by, where they go by the same.
fn title(book: &Book, steps: &[StepTaken]) -> String {
    let unit = book.units.moment_unit();
    let drawn = format!("Static moment of the club that asked most in each session, {unit}");
    match steps.split_first() {
        Some((first, rest)) if rest.iter().all(|step| step.size.basis == first.size.basis) => {
            format!(
                "{drawn}; the size of each step {}",
                first.size.basis.words()
            )
        }
        _ => drawn,
    }
}

/// How big a step was: over the line, and in the table.
fn word(book: &Book, one: &ClubsWorked, step: &StepTaken) -> Word {
    let by_mass = match step.size.basis {
        StepBasis::MassOnly => " by mass",
        StepBasis::Moment | StepBasis::MomentAndInertia => "",
    };
    let is_wide = is_wide(book, step.size);
    Word {
        day: step.on,
        label: format!(
            "{:+.0} %{by_mass}{}",
            100.0 * step.size.fraction,
            if is_wide { " wide" } else { "" }
        ),
        wide: is_wide,
        said: format!(
            "{}, {}: {}{}",
            book.names.movement(one.movement),
            clubs_words(book, step),
            size_words(step.size),
            if is_wide { ", over the limit" } else { "" }
        ),
    }
}

/// W1: whether a step is over the limit.
fn is_wide(book: &Book, size: StepSize) -> bool {
    size.is_over(book.policy.step_percent / 100.0)
}

fn clubs_words(book: &Book, step: &StepTaken) -> String {
    format!(
        "{} to {}",
        book.names.club(step.from),
        book.names.club(step.to)
    )
}

fn size_words(size: StepSize) -> String {
    format!("{:+.0} % {}", 100.0 * size.fraction, size.basis.words())
}

fn moment(book: &Book, club: LoadingId) -> Option<f64> {
    let moment = book.history.club(club)?.mechanics.static_moment?;
    Some(moment.value().in_system(book.units))
}

/// Where the club changed, and where it stands: a level line needs no points in between.
fn line(book: &Book, one: &ClubsWorked) -> chart::Series {
    let days: Vec<_> = one
        .worked
        .iter()
        .filter(|(on, _)| book.window.holds(*on))
        .collect();
    let readings = days
        .iter()
        .enumerate()
        .filter(|(place, (_, club))| {
            *place == 0 || *place + 1 == days.len() || days[*place - 1].1 != *club
        })
        .filter_map(|(_, (on, club))| {
            let value = moment(book, *club)?;
            let said = format!("{}, {value:.1}", book.names.club(*club));
            Some(Reading {
                day: *on,
                value,
                said,
            })
        })
        .collect();
    chart::Series {
        name: format!(
            "{}, {}",
            capitalised(book.names.movement(one.movement)),
            hands_words(one.hands)
        ),
        readings,
    }
}

fn step_line(book: &Book, one: &ClubsWorked, step: &StepTaken) -> StepLine {
    StepLine {
        day: day_label(step.on),
        what: format!(
            "{}, {}",
            capitalised(book.names.movement(one.movement)),
            hands_words(one.hands)
        ),
        clubs: clubs_words(book, step),
        size: size_words(step.size),
        is_wide: is_wide(book, step.size),
        said: book
            .flags
            .iter()
            .filter(|kept| is_about(kept, one, step))
            .map(|kept| (kept.flag.rule.id(), sentence(&kept.flag, &book.names)))
            .collect(),
    }
}

/// Whether a flag speaks about this step.
fn is_about(kept: &KeptFlag, one: &ClubsWorked, step: &StepTaken) -> bool {
    let subject = &kept.flag.subject;
    is_about_steps(kept.flag.rule)
        && kept.flag.since == step.on
        && subject.movement == Some(one.movement)
        && subject.hands == Some(one.hands)
        && subject.loading == Some(step.to)
}

/// Whether a rule judges steps.
const fn is_about_steps(rule: Rule) -> bool {
    matches!(
        rule,
        Rule::M4 | Rule::W1 | Rule::W2 | Rule::W3 | Rule::W4 | Rule::W5
    )
}
