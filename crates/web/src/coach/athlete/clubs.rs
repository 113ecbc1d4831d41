//! What the clubs asked for over time, and the steps between them.

use leverbook_domain::id::LoadingId;
use leverbook_domain::rules::words::{hands_words, sentence};
use leverbook_domain::rules::{ClubsWorked, Names, Rule, StepTaken, clubs_worked};
use leverbook_domain::text::capitalised;
use leverbook_store::flags::KeptFlag;

use super::Book;
use crate::chart::{self, Joined, LineChart, Lines, Reading, day_label};

/// Lever demand and steps.
pub(super) struct Clubs {
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
    let chart = Lines {
        id: "demand",
        title: format!(
            "What the club asks for: static moment, {}",
            book.units.moment_unit()
        ),
        description: "Static moment of the club that asked most in each session.".to_owned(),
        series: &series,
        joined: Joined::Steps,
        goal: None,
        from_nought: true,
    }
    .draw();
    let mut unknown: Vec<String> = shown
        .iter()
        .flat_map(|one| &one.worked)
        .filter(|(on, club)| book.window.holds(*on) && moment(book, *club).is_none())
        .map(|(_, club)| book.names.club(*club).to_owned())
        .collect();
    unknown.sort_unstable();
    unknown.dedup();
    let mut steps: Vec<(StepTaken, StepLine)> = shown
        .iter()
        .flat_map(|one| {
            one.steps
                .iter()
                .map(|step| (*step, step_line(book, one, step)))
        })
        .filter(|(step, _)| book.window.holds(step.on))
        .collect();
    steps.sort_by_key(|(step, _)| std::cmp::Reverse(step.on));
    Some(Clubs {
        chart,
        unknown,
        steps: steps.into_iter().map(|(_, line)| line).collect(),
    })
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
        clubs: format!(
            "{} to {}",
            book.names.club(step.from),
            book.names.club(step.to)
        ),
        size: format!(
            "{:+.0} % {}",
            100.0 * step.size.fraction,
            step.size.basis.words()
        ),
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
    matches!(
        kept.flag.rule,
        Rule::M4 | Rule::W1 | Rule::W2 | Rule::W3 | Rule::W4 | Rule::W5
    ) && kept.flag.since == step.on
        && subject.movement == Some(one.movement)
        && subject.hands == Some(one.hands)
        && subject.loading == Some(step.to)
}
