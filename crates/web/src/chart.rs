//! Turns data into the numbers of a chart: scales, ticks, shapes.
//!
//! A chart is SVG from the server without script or styles of its own. Across, everything is a
//! share of the width in percent, so a chart fits a phone and a wide screen with its text at the
//! same size; down, everything is in pixels. Behind each chart stands its table: a chart never says
//! what the table does not.

use std::borrow::Borrow;
use std::fmt::Write as _;

use leverbook_domain::story::DayKind;
use time::{Date, Duration, Month, Weekday};

/// Height of the plotted field of a line chart, px.
const FIELD_HEIGHT: f64 = 190.0;

/// Room around the field for the axis labels, px; the style sheet pads by the same amount.
const FIELD_MARGINS: f64 = 40.0;

/// Room above the field for what happened, px; the style sheet pads a marked chart by as much more.
const MARKS_ROOM: f64 = 36.0;

/// Most labels along a time axis on a wide screen. Every second one is left out on a phone.
const DAY_TICKS: usize = 8;

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

/// One value on one day.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// When.
    pub day: Date,
    /// How much. Readings that are not finite are left out of the drawing.
    pub value: f64,
    /// As a person reads it, for the table.
    pub said: String,
}

/// Readings that belong together, in order of day.
#[derive(Debug, Clone, PartialEq)]
pub struct Series {
    /// What the line is: a club, a side.
    pub name: String,
    /// Its readings.
    pub readings: Vec<Reading>,
}

/// How the readings of a line are joined.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Joined {
    /// Straight from reading to reading: a quantity that drifts.
    Straight,
    /// Level until the next reading: a quantity that is set, such as a number of sets.
    Steps,
}

/// What a line chart shows.
#[derive(Debug, Clone)]
pub struct Lines<'a> {
    /// Unique on the page; made of letters, digits and hyphens.
    pub id: &'a str,
    /// The head of the chart.
    pub title: String,
    /// What somebody who cannot see it should know: the gist, not the figures.
    pub description: String,
    /// The lines.
    pub series: &'a [Series],
    /// How they are joined.
    pub joined: Joined,
    /// A level to reach, with its label.
    pub goal: Option<(f64, String)>,
    /// Whether the vertical axis must begin at nought: for counts and amounts, not for trends.
    pub from_nought: bool,
}

/// Something that happened on a day, told at the top of a chart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// When.
    pub day: Date,
    /// A few letters: a rule's id.
    pub label: String,
}

/// A straight trend over part of a chart, with its interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// First day.
    pub from: Date,
    /// Last day.
    pub until: Date,
    /// Its level on both days.
    pub ends: (f64, f64),
    /// The levels of the two lines that bound the interval.
    pub within: Option<[(f64, f64); 2]>,
}

/// What can be drawn over the lines.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Over {
    /// What happened, in order of day. Marks outside the days of the readings are left out.
    pub marks: Vec<Mark>,
    /// A trend.
    pub trend: Option<Trend>,
}

/// A mark as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct MarkAt {
    /// Percent of the width.
    pub x: f64,
    /// Pixels from the top: marks that would touch stand on several lines.
    pub y: f64,
    /// What it says.
    pub label: String,
}

/// A trend as drawn: path data like [`Line::path`].
#[derive(Debug, Clone, PartialEq)]
pub struct TrendPath {
    /// The line.
    pub line: String,
    /// The area between the bounds; empty without an interval.
    pub within: String,
}

/// A point as drawn.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Dot {
    /// Percent of the width.
    pub x: f64,
    /// Pixels from the top.
    pub y: f64,
}

/// A line as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Line {
    /// What it is.
    pub name: String,
    /// Path data in a field 1000 wide and [`LineChart::height`] high.
    pub path: String,
    /// Its points.
    pub points: Vec<Dot>,
    /// 1 to 4: colour and dashes.
    pub style: usize,
    /// 0 to 3: shape of the points.
    pub shape: usize,
}

/// A line chart, ready for `parts/chart_line.html`.
#[derive(Debug, Clone, PartialEq)]
pub struct LineChart {
    /// Unique on the page.
    pub id: String,
    /// The head of the chart.
    pub title: String,
    /// The gist in words.
    pub description: String,
    /// Height of the field, px.
    pub height: f64,
    /// Height with its labels, px.
    pub outer_height: f64,
    /// Labels down, px.
    pub y_ticks: Vec<Tick>,
    /// Labels across, percent.
    pub x_ticks: Vec<Tick>,
    /// The level to reach, px.
    pub goal: Option<Tick>,
    /// The trend.
    pub trend: Option<TrendPath>,
    /// What happened.
    pub marks: Vec<MarkAt>,
    /// The lines.
    pub lines: Vec<Line>,
    /// What it means where a mark of the first line stands within one of the second; for the key.
    pub alike: Option<&'static str>,
    /// The figures.
    pub table: Table,
}

impl Lines<'_> {
    /// Lays the chart out; `None` where there is no reading to draw.
    #[must_use]
    pub fn draw(self) -> Option<LineChart> {
        self.draw_with(&Over::default())
    }

    /// [`Self::draw`] with marks and a trend over the lines.
    #[must_use]
    pub fn draw_with(self, over: &Over) -> Option<LineChart> {
        let drawn = || {
            self.series
                .iter()
                .flat_map(|series| series.readings.iter())
                .filter(|reading| reading.value.is_finite())
        };
        let first = drawn().map(|reading| reading.day).min()?;
        let last = drawn().map(|reading| reading.day).max()?;
        let values = drawn()
            .map(|reading| reading.value)
            .chain(self.goal.iter().map(|(level, _)| *level))
            .chain(over.trend.iter().flat_map(Trend::levels))
            .chain(self.from_nought.then_some(0.0));
        let scale = Scale::over(values)?;
        let days = Days { first, last };

        let lines = self
            .series
            .iter()
            .enumerate()
            .map(|(place, series)| {
                let points: Vec<Dot> = series
                    .readings
                    .iter()
                    .filter(|reading| reading.value.is_finite())
                    .map(|reading| Dot {
                        x: days.percent(reading.day),
                        y: scale.pixels(reading.value),
                    })
                    .collect();
                Line {
                    name: series.name.clone(),
                    path: path(&points, self.joined),
                    points,
                    style: place % 4 + 1,
                    shape: place % 4,
                }
            })
            .collect();

        let marks = marks(&over.marks, days);
        let marks_room = if marks.is_empty() { 0.0 } else { MARKS_ROOM };
        Some(LineChart {
            id: self.id.to_owned(),
            description: self.description,
            height: FIELD_HEIGHT,
            outer_height: FIELD_HEIGHT + FIELD_MARGINS + marks_room,
            y_ticks: scale.ticks(),
            x_ticks: days.ticks(),
            goal: self.goal.map(|(level, label)| Tick {
                at: scale.pixels(level),
                label,
                extra: false,
            }),
            trend: over.trend.map(|trend| trend.draw(days, scale)),
            marks,
            lines,
            alike: None,
            table: readings_table(self.title.clone(), self.series, &over.marks),
            title: self.title,
        })
    }
}

impl Trend {
    fn levels(&self) -> impl Iterator<Item = f64> + use<> {
        let ends = std::iter::once(self.ends).chain(self.within.into_iter().flatten());
        ends.flat_map(|(start, end)| [start, end])
    }

    fn draw(self, days: Days, scale: Scale) -> TrendPath {
        let [x0, x1] = [self.from, self.until].map(|day| round(days.percent(day) * 10.0));
        let y = |level| scale.pixels(level);
        TrendPath {
            line: format!("M{x0} {}L{x1} {}", y(self.ends.0), y(self.ends.1)),
            within: self.within.map_or_else(String::new, |[one, other]| {
                format!(
                    "M{x0} {}L{x1} {}V{}L{x0} {}z",
                    y(one.0),
                    y(one.1),
                    y(other.1),
                    y(other.0)
                )
            }),
        }
    }
}

/// Lays marks out above the field. One that would touch the mark before it stands a line higher,
/// up to three lines.
fn marks(marks: &[Mark], days: Days) -> Vec<MarkAt> {
    /// Percent of the width that a mark takes on a phone.
    const WIDTH: f64 = 9.0;
    const LINE: f64 = 13.0;
    const LINES: usize = 3;
    let mut ends = [f64::NEG_INFINITY; LINES];
    marks
        .iter()
        .filter(|mark| (days.first..=days.last).contains(&mark.day))
        .map(|mark| {
            let x = days.percent(mark.day);
            let line = ends.iter().position(|end| *end <= x).unwrap_or(LINES - 1);
            ends[line] = x + WIDTH;
            MarkAt {
                x,
                y: -4.0 - line as f64 * LINE,
                label: mark.label.clone(),
            }
        })
        .collect()
}

/// One row a day, one column a series, newest first, and what happened where anything did.
fn readings_table(caption: String, series: &[Series], marks: &[Mark]) -> Table {
    let mut days: Vec<Date> = series
        .iter()
        .flat_map(|one| one.readings.iter().map(|reading| reading.day))
        .chain(marks.iter().map(|mark| mark.day))
        .collect();
    days.sort_unstable();
    days.dedup();
    let said = |all: Vec<&str>| {
        if all.is_empty() {
            "–".to_owned()
        } else {
            all.join(", ")
        }
    };
    let row = |day: Date| {
        let cells = series.iter().map(|one| {
            let readings = one.readings.iter().filter(|reading| reading.day == day);
            said(readings.map(|reading| reading.said.as_str()).collect())
        });
        let happened = (!marks.is_empty()).then(|| {
            let here = marks.iter().filter(|mark| mark.day == day);
            said(here.map(|mark| mark.label.as_str()).collect())
        });
        std::iter::once(day_label(day))
            .chain(cells)
            .chain(happened)
            .collect()
    };
    Table {
        caption,
        head: std::iter::once("Day".to_owned())
            .chain(series.iter().map(|one| one.name.clone()))
            .chain((!marks.is_empty()).then(|| "Flags".to_owned()))
            .collect(),
        rows: days.into_iter().rev().map(row).collect(),
    }
}

/// Path data through the points, in a field 1000 wide.
fn path(points: &[Dot], joined: Joined) -> String {
    let mut path = String::new();
    for (place, point) in points.iter().enumerate() {
        let (x, y) = (round(point.x * 10.0), point.y);
        let written = match (place, joined) {
            (0, _) => write!(path, "M{x} {y}"),
            (_, Joined::Straight) => write!(path, "L{x} {y}"),
            (_, Joined::Steps) => write!(path, "H{x}V{y}"),
        };
        written.expect("writing to a string cannot fail");
    }
    path
}

/// The vertical axis: from one round number to another.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Scale {
    low: f64,
    high: f64,
    step: f64,
}

impl Scale {
    /// Round bounds around the values, with about five labels: Heckbert, "Nice numbers for graph
    /// labels", Graphics Gems, 1990. `None` without a value.
    fn over(values: impl Iterator<Item = f64>) -> Option<Self> {
        let (low, high) = values.fold(None, |bounds: Option<(f64, f64)>, value| match bounds {
            None => Some((value, value)),
            Some((low, high)) => Some((low.min(value), high.max(value))),
        })?;
        // A level line still needs an axis: a tenth of its height to either side, or one.
        let (low, high) = if high > low {
            (low, high)
        } else {
            let room = if low == 0.0 { 1.0 } else { low.abs() * 0.1 };
            (low - if low == 0.0 { 0.0 } else { room }, high + room)
        };
        let step = nice(nice(high - low, false) / 4.0, true);
        Some(Self {
            low: (low / step).floor() * step,
            high: (high / step).ceil() * step,
            step,
        })
    }

    fn pixels(self, value: f64) -> f64 {
        round((self.high - value) / (self.high - self.low) * FIELD_HEIGHT)
    }

    fn ticks(self) -> Vec<Tick> {
        let count = ((self.high - self.low) / self.step).round() as u32;
        let decimals = (-self.step.log10().floor()).max(0.0) as usize;
        (0..=count)
            .map(|place| {
                let value = self.low + f64::from(place) * self.step;
                Tick {
                    at: self.pixels(value),
                    label: format!("{value:.decimals$}"),
                    extra: false,
                }
            })
            .collect()
    }
}

/// The round number (1, 2, 5 times a power of ten) nearest to `range`, or the next one up.
fn nice(range: f64, nearest: bool) -> f64 {
    let power = 10f64.powf(range.log10().floor());
    let fraction = range / power;
    let bounds = if nearest {
        [1.5, 3.0, 7.0]
    } else {
        [1.0, 2.0, 5.0]
    };
    let over = |bound: f64| {
        if nearest {
            fraction >= bound
        } else {
            fraction > bound
        }
    };
    let rounded = match bounds.map(over) {
        [false, ..] => 1.0,
        [_, false, _] => 2.0,
        [_, _, false] => 5.0,
        _ => 10.0,
    };
    rounded * power
}

/// The axis of days.
#[derive(Debug, Clone, Copy)]
struct Days {
    first: Date,
    last: Date,
}

impl Days {
    fn percent(self, day: Date) -> f64 {
        let whole = (self.last - self.first).whole_days();
        if whole == 0 {
            return 50.0;
        }
        round((day - self.first).whole_days() as f64 / whole as f64 * 100.0)
    }

    /// Mondays while they fit, else the first days of every 1, 2, 3, 6 or 12 months.
    fn ticks(self) -> Vec<Tick> {
        let whole = (self.last - self.first).whole_days();
        if whole <= 7 * DAY_TICKS as i64 {
            let to_monday = (7 - i64::from(self.first.weekday().number_days_from_monday())) % 7;
            let mondays = (0..)
                .map_while(|week| self.first.checked_add(Duration::days(to_monday + 7 * week)))
                .take_while(|day| *day <= self.last);
            let mondays: Vec<Date> = mondays.collect();
            let days = if mondays.is_empty() {
                vec![self.first]
            } else {
                mondays
            };
            return self.labelled(&days, short_day_label);
        }
        let every = [1, 2, 3, 6, 12, 24, 60, 120]
            .into_iter()
            .find(|every| whole / (30 * every) <= DAY_TICKS as i64)
            .unwrap_or(120);
        let days: Vec<Date> = months_from(self.first)
            .take_while(|day| *day <= self.last)
            .filter(|day| months_since_year_nought(*day) % every == 0)
            .collect();
        let mut ticks = self.labelled(&days, month_label);
        // The year stands where it begins to count: at the first label, and at the first of each year
        // among those that a phone shows too.
        let mut year = None;
        for (tick, day) in ticks.iter_mut().zip(&days) {
            if year == Some(day.year()) {
                month_word(day.month()).clone_into(&mut tick.label);
            } else if !tick.extra {
                year = Some(day.year());
            }
        }
        ticks
    }

    fn labelled(self, days: &[Date], label: fn(Date) -> String) -> Vec<Tick> {
        days.iter()
            .enumerate()
            .map(|(place, day)| Tick {
                at: self.percent(*day),
                label: label(*day),
                extra: days.len() > 4 && place % 2 == 1,
            })
            .collect()
    }
}

/// The first days of months, from the first one not before `day`.
fn months_from(day: Date) -> impl Iterator<Item = Date> {
    let start = day
        .replace_day(1)
        .ok()
        .filter(|first| *first == day)
        .or_else(|| next_month(day));
    std::iter::successors(start, |day| next_month(*day))
}

fn next_month(day: Date) -> Option<Date> {
    let year = if day.month() == Month::December {
        day.year() + 1
    } else {
        day.year()
    };
    Date::from_calendar_date(year, day.month().next(), 1).ok()
}

fn months_since_year_nought(day: Date) -> i64 {
    i64::from(day.year()) * 12 + i64::from(u8::from(day.month())) - 1
}

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
    /// The figures.
    pub table: Table,
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

/// The kinds of days that have a sign, and what it means.
const DAY_KEY: [(DayKind, &str); 4] = [
    (DayKind::Done, "trained"),
    (DayKind::Missed, "missed"),
    (DayKind::Excused, "excused"),
    (DayKind::Planned, "to come"),
];

/// A kind of day in class names.
const fn day_class(kind: DayKind) -> &'static str {
    match kind {
        DayKind::Blank => "blank",
        DayKind::Done => "done",
        DayKind::Missed => "missed",
        DayKind::Excused => "excused",
        DayKind::Planned => "planned",
    }
}

/// A day as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct DayMark {
    /// Left, px.
    pub x: f64,
    /// First letter of the weekday.
    pub letter: &'static str,
    /// The kind of day in class names.
    pub kind: &'static str,
    /// Whether it is today.
    pub today: bool,
}

/// A week as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct WeekRow {
    /// Top, px.
    pub y: f64,
    /// Its Monday: "23 Nov".
    pub label: String,
    /// The days of it that are shown.
    pub days: Vec<DayMark>,
    /// What was trained, in words; empty where nothing was.
    pub words: String,
}

/// A row for each week, the newest first, ready for `parts/chart_calendar.html`.
#[derive(Debug, Clone, PartialEq)]
pub struct CalendarChart {
    /// Unique on the page.
    pub id: String,
    /// The head of the chart.
    pub title: String,
    /// The gist in words.
    pub description: String,
    /// Width, px.
    pub width: f64,
    /// Height, px.
    pub height: f64,
    /// Where the words of a week begin, px.
    pub words_x: f64,
    /// What the signs mean: those that occur.
    pub key: Vec<(&'static str, &'static str)>,
    /// The weeks.
    pub weeks: Vec<WeekRow>,
    /// The figures: one row a week.
    pub table: Table,
}

/// Lays out the weeks of the days from `first` to `last`. A week after today's in which nothing is to
/// come is left out: it would look like one in which nothing was done. `None` when `last` is before
/// `first`.
#[must_use]
pub fn calendar(
    id: &str,
    title: String,
    description: String,
    (first, last): (Date, Date),
    today: Date,
    kind_of: impl Fn(Date) -> DayKind,
) -> Option<CalendarChart> {
    const LETTERS: [&str; 7] = ["M", "T", "W", "T", "F", "S", "S"];
    const LEFT: f64 = 52.0;
    const DAY: f64 = 28.0;
    const ROW: f64 = 26.0;
    const WORDS: f64 = 64.0;
    if last < first {
        return None;
    }
    let monday = |day: Date| {
        day.saturating_sub(Duration::days(
            day.weekday().number_days_from_monday().into(),
        ))
    };
    let days: Vec<(Date, DayKind)> = std::iter::successors(Some(first), |day| day.next_day())
        .take_while(|day| *day <= last)
        .map(|day| (day, kind_of(day)))
        .collect();
    let weeks: Vec<&[(Date, DayKind)]> = days
        .chunk_by(|(one, _), (other, _)| monday(*one) == monday(*other))
        .filter(|week| {
            monday(week[0].0) <= today || week.iter().any(|(_, kind)| *kind != DayKind::Blank)
        })
        .rev()
        .collect();
    let count = |week: &[(Date, DayKind)], kind| week.iter().filter(|(_, is)| *is == kind).count();
    // The signs that occur, in the drawing and in the table alike.
    let key: Vec<(DayKind, &str)> = DAY_KEY
        .into_iter()
        .filter(|(kind, _)| days.iter().any(|(_, is)| is == kind))
        .collect();
    let rows = weeks.iter().enumerate().map(|(place, week)| WeekRow {
        y: place as f64 * ROW,
        label: short_day_label(monday(week[0].0)),
        days: week
            .iter()
            .map(|(day, kind)| {
                let place = day.weekday().number_days_from_monday();
                DayMark {
                    x: LEFT + f64::from(place) * DAY,
                    letter: LETTERS[usize::from(place)],
                    kind: day_class(*kind),
                    today: *day == today,
                }
            })
            .collect(),
        words: match count(week, DayKind::Done) {
            0 => String::new(),
            done => format!("{done} trained"),
        },
    });
    let figures = weeks.iter().map(|week| {
        let (year, number, _) = week[0].0.to_iso_week_date();
        std::iter::once(format!("{year}, week {number}"))
            .chain(key.iter().map(|(kind, _)| count(week, *kind).to_string()))
            .collect()
    });
    let words_x = LEFT + 7.0 * DAY + 2.0;
    Some(CalendarChart {
        id: id.to_owned(),
        description,
        width: words_x + WORDS,
        height: weeks.len() as f64 * ROW,
        words_x,
        key: key
            .iter()
            .map(|(kind, word)| (day_class(*kind), *word))
            .collect(),
        table: Table {
            caption: title.clone(),
            head: std::iter::once("Week".to_owned())
                .chain(key.iter().map(|(_, word)| format!("Days {word}")))
                .collect(),
            rows: figures.collect(),
        },
        weeks: rows.collect(),
        title,
    })
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

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    fn reading(day: Date, value: f64) -> Reading {
        Reading {
            day,
            value,
            said: value.to_string(),
        }
    }

    fn lines(series: &[Series], joined: Joined) -> Option<LineChart> {
        Lines {
            id: "density",
            title: "Density".to_owned(),
            description: String::new(),
            series,
            joined,
            goal: None,
            from_nought: false,
        }
        .draw()
    }

    /// The worked example of Heckbert, "Nice numbers for graph labels", Graphics Gems, 1990, as
    /// remembered: 105 to 543 is labelled 100, 200, … 600.
    #[test]
    fn an_axis_has_round_labels() {
        let scale = Scale::over([105.0, 543.0].into_iter()).expect("has values");
        let labels: Vec<String> = scale.ticks().into_iter().map(|tick| tick.label).collect();
        assert_eq!(labels, ["100", "200", "300", "400", "500", "600"]);
    }

    #[test]
    fn small_and_level_values_get_an_axis_too() {
        let small = Scale::over([0.11, 0.14].into_iter())
            .expect("has values")
            .ticks();
        assert!(
            small.iter().all(|tick| tick.label.starts_with("0.1")),
            "{small:?}"
        );
        let level = Scale::over([30.0].into_iter()).expect("has a value");
        assert!(level.low < 30.0 && level.high > 30.0, "{level:?}");
        let nought = Scale::over([0.0].into_iter()).expect("has a value");
        assert!(nought.low == 0.0 && nought.high >= 1.0, "{nought:?}");
    }

    #[test]
    fn higher_values_stand_higher_and_later_days_further_right() {
        let series = [Series {
            name: "left".to_owned(),
            readings: vec![
                reading(date!(2026 - 09 - 01), 20.0),
                reading(date!(2026 - 09 - 04), 30.0),
                reading(date!(2026 - 09 - 08), 25.0),
            ],
        }];
        let chart = lines(&series, Joined::Straight).expect("has readings");
        let [first, second, third] = chart.lines[0].points[..] else {
            panic!("three points")
        };
        assert!(first.x < second.x && second.x < third.x);
        assert!(second.y < third.y && third.y < first.y);
        assert_eq!((first.x, third.x), (0.0, 100.0));
        assert_eq!(chart.table.rows.len(), 3);
        assert_eq!(chart.table.rows[0], ["Tue 8 Sep 2026", "25"]);
    }

    #[test]
    fn steps_stay_level_until_the_next_reading() {
        let points = [Dot { x: 0.0, y: 100.0 }, Dot { x: 50.0, y: 40.0 }];
        assert_eq!(path(&points, Joined::Steps), "M0 100H500V40");
        assert_eq!(path(&points, Joined::Straight), "M0 100L500 40");
    }

    #[test]
    fn marks_keep_clear_of_each_other_and_stand_in_the_table() {
        let series = [Series {
            name: "left".to_owned(),
            readings: vec![
                reading(date!(2026 - 09 - 01), 20.0),
                reading(date!(2026 - 09 - 30), 30.0),
            ],
        }];
        let mark = |day, label: &str| Mark {
            day,
            label: label.to_owned(),
        };
        let over = Over {
            marks: vec![
                mark(date!(2026 - 08 - 01), "O1"),
                mark(date!(2026 - 09 - 10), "T5"),
                mark(date!(2026 - 09 - 11), "T6"),
                mark(date!(2026 - 09 - 25), "T4"),
            ],
            trend: Some(Trend {
                from: date!(2026 - 09 - 01),
                until: date!(2026 - 09 - 30),
                ends: (20.0, 30.0),
                within: Some([(22.0, 28.0), (18.0, 32.0)]),
            }),
        };
        let chart = Lines {
            id: "density",
            title: "Density".to_owned(),
            description: String::new(),
            series: &series,
            joined: Joined::Straight,
            goal: None,
            from_nought: false,
        }
        .draw_with(&over)
        .expect("has readings");
        let [first, second, third] = &chart.marks[..] else {
            panic!(
                "the mark before the first day is not drawn: {:?}",
                chart.marks
            )
        };
        assert!(first.y > second.y, "they would touch");
        assert_eq!(first.y, third.y);
        assert_eq!(chart.table.head, ["Day", "left", "Flags"]);
        assert_eq!(chart.table.rows[2], ["Fri 11 Sep 2026", "–", "T6"]);
        let trend = chart.trend.expect("a trend");
        assert!(trend.line.starts_with("M0 ") && trend.line.contains("L1000 "));
        assert!(trend.within.ends_with('z'));
    }

    #[test]
    fn without_a_reading_there_is_no_chart() {
        assert_eq!(lines(&[], Joined::Straight), None);
        let broken = [Series {
            name: "left".to_owned(),
            readings: vec![reading(date!(2026 - 09 - 01), f64::NAN)],
        }];
        assert_eq!(lines(&broken, Joined::Straight), None);
        assert_eq!(
            sides("sides", String::new(), String::new(), "Reps", &[]),
            None
        );
        assert!(
            calendar(
                "days",
                String::new(),
                String::new(),
                (date!(2026 - 02 - 01), date!(2026 - 01 - 01)),
                date!(2026 - 02 - 01),
                |_| { DayKind::Blank }
            )
            .is_none()
        );
    }

    #[test]
    fn a_time_axis_never_has_more_labels_than_fit() {
        for span in [0, 1, 6, 30, 57, 100, 365, 800, 2000, 9000] {
            let first = date!(2024 - 02 - 29);
            let days = Days {
                first,
                last: first + Duration::days(span),
            };
            let ticks = days.ticks();
            assert!(ticks.len() <= DAY_TICKS + 2, "{span} days: {}", ticks.len());
            assert!(
                ticks.iter().all(|tick| (0.0..=100.0).contains(&tick.at)),
                "{span} days"
            );
        }
    }

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

    // By hand: a year is told once, and again where another begins; a phone leaves every second out.
    #[test]
    fn a_months_label_has_its_year_where_that_changes() {
        let labels = |first, last, on_a_phone: bool| {
            let ticks = Days { first, last }.ticks();
            let shown = ticks.into_iter().filter(|tick| !(on_a_phone && tick.extra));
            shown.map(|tick| tick.label).collect::<Vec<_>>().join(" ")
        };
        let (first, last) = (date!(2026 - 07 - 20), date!(2026 - 11 - 25));
        assert_eq!(labels(first, last, false), "Aug 2026 Sep Oct Nov");
        let (first, last) = (date!(2026 - 10 - 20), date!(2027 - 05 - 02));
        assert_eq!(
            labels(first, last, false),
            "Nov 2026 Dec Jan 2027 Feb Mar Apr May"
        );
        assert_eq!(labels(first, last, true), "Nov 2026 Jan 2027 Mar May");
        let (first, last) = (date!(2026 - 11 - 20), date!(2027 - 05 - 02));
        assert_eq!(
            labels(first, last, false),
            "Dec 2026 Jan 2027 Feb 2027 Mar Apr May"
        );
        assert_eq!(labels(first, last, true), "Dec 2026 Feb 2027 Apr");
    }

    /// 2026-01-01 is a Thursday and falls in week 1 of 2026; 2027-01-03 is the last day of week 53
    /// of 2026 (ISO 8601).
    #[test]
    fn days_stand_in_a_row_for_each_iso_week_the_newest_first() {
        let shown = |last, today| {
            calendar(
                "days",
                String::new(),
                String::new(),
                (date!(2026 - 12 - 28), last),
                today,
                |day| match day {
                    _ if day == date!(2027 - 01 - 04) => DayKind::Done,
                    _ if day == date!(2027 - 01 - 18) => DayKind::Planned,
                    _ => DayKind::Blank,
                },
            )
            .expect("days in order")
        };
        let chart = shown(date!(2027 - 01 - 04), date!(2027 - 01 - 04));
        let [newest, before] = &chart.weeks[..] else {
            panic!("two weeks: {:?}", chart.weeks)
        };
        assert_eq!((newest.label.as_str(), newest.days.len()), ("4 Jan", 1));
        assert_eq!((before.label.as_str(), before.days.len()), ("28 Dec", 7));
        assert!(newest.y < before.y);
        assert_eq!(newest.days[0].x, before.days[0].x);
        assert!(before.days[0].x < before.days[6].x);
        assert_eq!(
            before.days.iter().map(|day| day.letter).collect::<String>(),
            "MTWTFSS"
        );
        assert!(newest.days[0].today && before.days.iter().all(|day| !day.today));
        assert_eq!(newest.words, "1 trained");
        assert_eq!(before.words, "");
        assert_eq!(chart.table.rows[0][..2], ["2027, week 1", "1"]);
        assert_eq!(chart.table.rows[1][..2], ["2026, week 53", "0"]);
        assert_eq!(chart.key, [("done", "trained")]);
        // Of the weeks to come only the one with something planned is shown.
        let chart = shown(date!(2027 - 01 - 31), date!(2027 - 01 - 06));
        let labels: Vec<&str> = chart.weeks.iter().map(|week| week.label.as_str()).collect();
        assert_eq!(labels, ["18 Jan", "4 Jan", "28 Dec"]);
        assert_eq!(chart.table.rows.len(), 3);
        assert_eq!(chart.key, [("done", "trained"), ("planned", "to come")]);
    }
}
