//! Turns data into the numbers of a chart: scales, ticks, shapes.
//!
//! A chart is SVG from the server without styles of its own. Across, everything is a share of the width in percent, so
//! a chart fits a phone and a wide screen with its text at the same size; down, everything is in pixels. Behind each
//! chart stands its table: a chart never says what the table does not, and `static/js/chart.js`, which walks along a
//! coach's charts, reads it from there.

mod axis;
mod bars;
mod calendar;
mod lines;
mod over;

use std::borrow::Borrow;

use time::{Date, Month, Weekday};

pub use bars::{Bar, SideChart, Sides, sides};
pub use calendar::{CalendarChart, DayMark, WeekRow, calendar};
pub use lines::{Dot, Joined, Line, LineChart, Lines, Reading, Series};
pub use over::{
    Drawn, Gap, GapAt, Happening, Lane, LaneAt, Level, LevelAt, Over, Sign, SignAt, Trend,
    TrendPath, Word, WordAt,
};

/// Height of the plotted field of a line chart, px.
const FIELD_HEIGHT: f64 = 190.0;

/// Of a table whose drawing nobody walks along: none of its rows has a place there.
pub const NO_STOPS: [f64; 0] = [];

/// The figures behind a chart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Table {
    /// What it shows.
    pub caption: String,
    /// Column heads; the first column names the row.
    pub head: Vec<String>,
    /// One row a figure, one cell a head.
    pub rows: Vec<Vec<String>>,
}

/// A labelled place on an axis.
#[derive(Debug, Clone, PartialEq)]
pub struct Tick {
    /// Percent of the width, or pixels of the height.
    pub at: f64,
    /// What it says.
    pub label: String,
    /// Left out where the screen is narrow.
    pub extra: bool,
}

/// "Wed 25 Nov 2026". Templates pass references.
#[must_use]
pub fn day_label(day: impl Borrow<Date>) -> String {
    let day = *day.borrow();
    let weekday = match day.weekday() {
        Weekday::Monday => "Mon",
        Weekday::Tuesday => "Tue",
        Weekday::Wednesday => "Wed",
        Weekday::Thursday => "Thu",
        Weekday::Friday => "Fri",
        Weekday::Saturday => "Sat",
        Weekday::Sunday => "Sun",
    };
    format!("{weekday} {} {}", short_day_label(day), day.year())
}

/// "25 Nov".
pub(crate) fn short_day_label(day: Date) -> String {
    format!("{} {}", day.day(), month_word(day.month()))
}

/// "Nov 2026".
fn month_label(day: Date) -> String {
    format!("{} {}", month_word(day.month()), day.year())
}

const fn month_word(month: Month) -> &'static str {
    match month {
        Month::January => "Jan",
        Month::February => "Feb",
        Month::March => "Mar",
        Month::April => "Apr",
        Month::May => "May",
        Month::June => "Jun",
        Month::July => "Jul",
        Month::August => "Aug",
        Month::September => "Sep",
        Month::October => "Oct",
        Month::November => "Nov",
        Month::December => "Dec",
    }
}

/// Two decimals are finer than any screen draws.
fn round(value: f64) -> f64 {
    (value * 100.0).round() / 100.0
}
