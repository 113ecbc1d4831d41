//! Left and right as pairs of bars.

use super::{Table, round};

/// Left and right of one thing: a week, a movement, a club.
#[derive(Debug, Clone, PartialEq)]
pub struct Sides {
    /// What it is.
    pub name: String,
    /// Reps with the left hand working.
    pub left: u64,
    /// Reps with the right hand working.
    pub right: u64,
}

/// A pair of bars as drawn: widths in percent, `y` in pixels.
#[derive(Debug, Clone, PartialEq)]
pub struct Bar {
    /// What it is.
    pub name: String,
    /// Top, px.
    pub y: f64,
    /// Where the left bar begins.
    pub left_x: f64,
    /// How wide it is.
    pub left_width: f64,
    /// How wide the right bar is.
    pub right_width: f64,
    /// Where the right bar ends.
    pub right_end: f64,
    /// Reps.
    pub left: u64,
    /// Reps.
    pub right: u64,
}

/// Two-sided bars, ready for `parts/chart_bars.html`.
#[derive(Debug, Clone, PartialEq)]
pub struct SideChart {
    /// Unique on the page.
    pub id: String,
    /// The head of the chart.
    pub title: String,
    /// The gist in words.
    pub description: String,
    /// Height, px.
    pub height: f64,
    /// The bars.
    pub bars: Vec<Bar>,
    /// Where the rows of the table stand in the drawing, px, as far as they do; empty where nobody walks along them.
    pub stops: Vec<f64>,
    /// The figures.
    pub table: Table,
}

impl SideChart {
    /// With its rows to walk along.
    #[must_use]
    pub fn with_stops(mut self) -> Self {
        self.stops = self.bars.iter().map(|bar| bar.y + 18.0).collect();
        self
    }
}

/// Lays out two-sided bars; `None` where nothing was counted. `counted` is what the numbers are:
/// "Reps".
#[must_use]
pub fn sides(
    id: &str,
    title: String,
    description: String,
    counted: &str,
    rows: &[Sides],
) -> Option<SideChart> {
    /// Of the width, for the longest bar: the rest is for its number.
    const LONGEST: f64 = 38.0;
    const ROW: f64 = 46.0;
    let most = rows
        .iter()
        .map(|row| row.left.max(row.right))
        .max()
        .filter(|most| *most > 0)?;
    let width = |count: u64| round(count as f64 / most as f64 * LONGEST);
    let bars = rows
        .iter()
        .enumerate()
        .map(|(place, row)| Bar {
            name: row.name.clone(),
            y: 20.0 + place as f64 * ROW,
            left_x: round(50.0 - width(row.left)),
            left_width: width(row.left),
            right_width: width(row.right),
            right_end: round(50.0 + width(row.right)),
            left: row.left,
            right: row.right,
        })
        .collect();
    Some(SideChart {
        id: id.to_owned(),
        description,
        height: 20.0 + rows.len() as f64 * ROW,
        bars,
        stops: Vec::new(),
        table: Table {
            caption: title.clone(),
            head: [
                "What".to_owned(),
                format!("{counted}, left"),
                format!("{counted}, right"),
            ]
            .into(),
            rows: rows
                .iter()
                .map(|row| {
                    vec![
                        row.name.clone(),
                        row.left.to_string(),
                        row.right.to_string(),
                    ]
                })
                .collect(),
        },
        title,
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn equal_sides_have_bars_of_equal_length() {
        let rows = [
            Sides {
                name: "week 1".to_owned(),
                left: 50,
                right: 50,
            },
            Sides {
                name: "week 2".to_owned(),
                left: 25,
                right: 100,
            },
        ];
        let chart = sides("sides", String::new(), String::new(), "Reps", &rows).expect("has reps");
        assert_eq!(chart.bars[0].left_width, chart.bars[0].right_width);
        assert_eq!(chart.bars[1].right_width, 4.0 * chart.bars[1].left_width);
        assert_eq!(chart.bars[0].left_x + chart.bars[0].left_width, 50.0);
    }

    #[test]
    fn without_a_rep_there_is_no_chart() {
        assert_eq!(
            sides("sides", String::new(), String::new(), "Reps", &[]),
            None
        );
    }
}
