//! Left and right lately, in words first.

use leverbook_domain::policy::Policy;
use leverbook_domain::rules::Names;
use leverbook_domain::rules::words::{hands_words, sides_for_athlete};
use leverbook_domain::story::sides_by_work;
use leverbook_domain::text::capitalised;
use leverbook_domain::training::History;
use time::{Date, Duration};

use crate::chart::{self, SideChart, Sides};

/// Both sides over the days of B2.
pub(super) struct BothSides {
    /// A sentence a movement.
    pub(super) words: Vec<String>,
    pub(super) chart: SideChart,
    pub(super) days: u16,
}

/// `None` where nothing was swung on these days.
pub(super) fn both_sides(
    history: &History,
    policy: &Policy,
    names: &impl Names,
    today: Date,
) -> Option<BothSides> {
    let days = policy.symmetry_days;
    let first = today.saturating_sub(Duration::days(i64::from(days) - 1));
    let mut words = Vec::new();
    let mut rows = Vec::new();
    let mut indices = Vec::new();
    for ((movement, hands), sides) in sides_by_work(history, first, today) {
        let Some((said, index)) =
            sides_for_athlete(sides.left, sides.right, policy.symmetry_percent)
                .zip(sides.index_percent())
        else {
            continue;
        };
        let name = format!(
            "{}, {}",
            capitalised(names.movement(movement)),
            hands_words(hands)
        );
        words.push(format!("{name}: {said}"));
        indices.push(format!("{index:.1} %"));
        rows.push(Sides {
            name,
            left: sides.left.into(),
            right: sides.right.into(),
        });
    }
    let mut chart = chart::sides(
        "sides",
        format!("Reps on each side in the last {days} days"),
        words.join(" "),
        "Reps",
        &rows,
    )?;
    chart.table.head.push("Symmetry index".to_owned());
    for (row, index) in chart.table.rows.iter_mut().zip(indices) {
        row.push(index);
    }
    Some(BothSides { words, chart, days })
}
