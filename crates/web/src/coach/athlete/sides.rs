//! Left and right.

use leverbook_domain::rules::words::hands_words;
use leverbook_domain::rules::{Names, Rule};
use leverbook_domain::story::{
    BothSides, answers, sides_by_week, sides_by_work, sides_looking_back,
};
use leverbook_domain::text::capitalised;
use time::Duration;

use super::{Book, happened};
use crate::chart::{
    self, Joined, Level, LineChart, Lines, Over, Reading, Series, SideChart, Sides, Table,
    day_label, short_day_label,
};

/// The weeks drawn; the table has them all.
const DRAWN: usize = 8;

/// Both sides over time.
pub(super) struct BothSidesView {
    /// Whether both sides do the same, in a sentence.
    pub(super) answer: String,
    /// The index over time; `None` where no side ever did more than the other.
    pub(super) index: Option<LineChart>,
    pub(super) chart: Option<SideChart>,
    /// What it is, left, right and the index, over the days of B2.
    pub(super) lately: Vec<(String, BothSides, String)>,
    pub(super) days: u16,
    pub(super) limit: String,
}

/// `None` where nothing was swung on these days.
pub(super) fn both_sides(book: &Book) -> Option<BothSidesView> {
    let weeks = sides_by_week(&book.history, book.window.from, book.window.today);
    if weeks.is_empty() {
        return None;
    }
    let rows: Vec<Sides> = weeks
        .iter()
        .rev()
        .take(DRAWN)
        .map(|(week, sides)| Sides {
            name: format!("from {}", short_day_label(week.monday())),
            left: sides.left.into(),
            right: sides.right.into(),
        })
        .collect();
    let mut chart = chart::sides(
        "sides",
        "Reps on each side, by week, all movements together".to_owned(),
        "The newest weeks with a session; the table has every week.".to_owned(),
        "Reps",
        &rows,
    );
    if let Some(chart) = &mut chart {
        chart.table = Table {
            caption: chart.title.clone(),
            head: ["Week from", "Left", "Right", "Symmetry index"]
                .map(str::to_owned)
                .into(),
            rows: weeks
                .iter()
                .rev()
                .map(|(week, sides)| {
                    vec![
                        day_label(week.monday()),
                        sides.left.to_string(),
                        sides.right.to_string(),
                        index_words(*sides),
                    ]
                })
                .collect(),
        };
    }
    let days = book.policy.symmetry_days;
    let first = book
        .window
        .today
        .saturating_sub(Duration::days(i64::from(days) - 1));
    let lately = sides_by_work(&book.history, first, book.window.today);
    let all = lately
        .values()
        .fold(BothSides::default(), |sum, one| BothSides {
            left: sum.left + one.left,
            right: sum.right + one.right,
        });
    let largest = lately
        .values()
        .filter_map(|sides| sides.index_percent())
        .max_by(f64::total_cmp);
    Some(BothSidesView {
        answer: answers::do_both_sides_do_the_same(all, largest, &book.policy),
        index: index(book),
        chart: chart.map(SideChart::with_stops),
        lately: lately
            .into_iter()
            .map(|((movement, hands), sides)| {
                let what = format!(
                    "{}, {}",
                    capitalised(book.names.movement(movement)),
                    hands_words(hands)
                );
                (what, sides, index_words(sides))
            })
            .collect(),
        days,
        limit: format!("{} %", book.policy.symmetry_percent),
    })
}

/// B2: the index looking back from each week, beside what is looked at.
fn index(book: &Book) -> Option<LineChart> {
    let window = book.window;
    let weeks = sides_looking_back(&book.history, &book.policy, window.from, window.today);
    if weeks.iter().all(|(_, sides)| sides.left == sides.right) {
        return None;
    }
    let series = |name: &str, said: &dyn Fn(&BothSides) -> String| Series {
        name: name.to_owned(),
        readings: weeks
            .iter()
            .filter_map(|(day, sides)| {
                Some(Reading {
                    day: *day,
                    value: sides.index_percent()?,
                    said: said(sides),
                })
            })
            .collect(),
    };
    let days = book.policy.symmetry_days;
    let limit = book.policy.symmetry_percent;
    let last = weeks.last()?.0;
    Lines {
        id: "index",
        title: format!("Symmetry index of the {days} days before, by week, percent"),
        description: format!(
            "All movements together. 0 where both sides did the same; looked at over {limit} %."
        ),
        series: &[series("index", &|sides| index_words(*sides))],
        joined: Joined::Straight,
        goal: None,
        from_nought: true,
    }
    .draw_with(&Over {
        until: happened::axis_end(book, last),
        levels: vec![Level {
            from: window.from,
            until: window.today,
            value: limit,
            label: format!("looked at over {limit} %"),
        }],
        gaps: happened::gaps(book),
        lanes: happened::lanes(book, |kept| matches!(kept.flag.rule, Rule::B1 | Rule::B2)),
        beside: vec![
            series("left", &|sides| sides.left.to_string()),
            series("right", &|sides| sides.right.to_string()),
        ],
        ..Over::default()
    })
}

fn index_words(sides: BothSides) -> String {
    sides
        .index_percent()
        .map_or_else(|| "–".to_owned(), |index| format!("{index:.1} %"))
}
