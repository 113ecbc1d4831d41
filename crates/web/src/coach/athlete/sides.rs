//! Left and right.

use leverbook_domain::rules::Names;
use leverbook_domain::rules::words::hands_words;
use leverbook_domain::story::{BothSides, sides_by_week, sides_by_work};
use leverbook_domain::text::capitalised;
use time::Duration;

use super::Book;
use crate::chart::{self, SideChart, Sides, Table, day_label, short_day_label};

/// The weeks drawn; the table has them all.
const DRAWN: usize = 8;

/// Both sides over time.
pub(super) struct BothSidesView {
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
    Some(BothSidesView {
        chart,
        lately: sides_by_work(&book.history, first, book.window.today)
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

fn index_words(sides: BothSides) -> String {
    sides
        .index_percent()
        .map_or_else(|| "–".to_owned(), |index| format!("{index:.1} %"))
}
