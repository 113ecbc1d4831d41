//! Lines with points, and steps.

use std::fmt::Write as _;

use time::Date;

use super::axis::{Days, Scale};
use super::over::{Drawn, Over};
use super::{FIELD_HEIGHT, Table, Tick, day_label, round};

/// Room around the field for the axis labels, px; the style sheet pads by the same amount.
const FIELD_MARGINS: f64 = 40.0;

/// More points than this are drawn small: on a phone they stand closer than they are wide.
const MANY_POINTS: usize = 60;

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

/// A point as drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Dot {
    /// Percent of the width.
    pub x: f64,
    /// Pixels from the top.
    pub y: f64,
    /// Its day and value in words.
    pub said: String,
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
    /// 0 to 3: shape of the points. Of sixteen lines no two have the same style and shape.
    pub shape: usize,
}

/// A line chart, ready for `parts/chart_line.html`, or for `parts/chart_story.html` with what is drawn over it.
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
    /// What is drawn over the lines.
    pub over: Drawn,
    /// The lines.
    pub lines: Vec<Line>,
    /// Whether there are so many points that they are drawn small.
    pub many: bool,
    /// What it means where a mark of the first line stands within one of the second; for the key.
    pub alike: Option<&'static str>,
    /// The figures.
    pub table: Table,
    /// Where the rows of the table stand in the drawing, percent of the width; empty where nobody walks along them.
    pub stops: Vec<f64>,
}

impl Lines<'_> {
    /// Lays the chart out; `None` where there is no reading to draw.
    #[must_use]
    pub fn draw(self) -> Option<LineChart> {
        let mut chart = self.draw_with(&Over::default())?;
        chart.stops.clear();
        Some(chart)
    }

    /// [`Self::draw`] with all that is drawn over the lines, and its days to walk along.
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
        let days = Days {
            first,
            last: over.until.map_or(last, |until| until.max(last)),
        };
        let over = over.within(days);
        let values = drawn()
            .map(|reading| reading.value)
            .chain(self.goal.iter().map(|(level, _)| *level))
            .chain(over.values())
            .chain(self.from_nought.then_some(0.0));
        let scale = Scale::over(values)?;
        let lines: Vec<Line> = self
            .series
            .iter()
            .enumerate()
            .map(|(place, series)| line(place, series, self.joined, (days, scale)))
            .collect();
        let (table, stops) = readings_table(self.title.clone(), self.series, &over, days);
        Some(LineChart {
            id: self.id.to_owned(),
            description: self.description,
            height: FIELD_HEIGHT,
            outer_height: FIELD_HEIGHT + FIELD_MARGINS,
            y_ticks: scale.ticks(),
            x_ticks: days.ticks(),
            goal: self.goal.map(|(level, label)| Tick {
                at: scale.pixels(level),
                label,
                extra: false,
            }),
            over: over.draw(days, scale),
            many: lines.iter().map(|line| line.points.len()).sum::<usize>() > MANY_POINTS,
            lines,
            alike: None,
            table,
            stops,
            title: self.title,
        })
    }
}

fn line(place: usize, series: &Series, joined: Joined, (days, scale): (Days, Scale)) -> Line {
    let points: Vec<Dot> = series
        .readings
        .iter()
        .filter(|reading| reading.value.is_finite())
        .map(|reading| Dot {
            x: days.percent(reading.day),
            y: scale.pixels(reading.value),
            said: format!(
                "{}, {}: {}",
                day_label(reading.day),
                series.name,
                reading.said
            ),
        })
        .collect();
    Line {
        name: series.name.clone(),
        path: path(&points, joined),
        points,
        style: place % 4 + 1,
        shape: (place + place / 4) % 4,
    }
}

/// One row a day, one column a series, newest first, and what happened where anything did; with the place of each row
/// along the axis.
fn readings_table(
    caption: String,
    series: &[Series],
    over: &Over,
    days: Days,
) -> (Table, Vec<f64>) {
    let columns = over.columns();
    let all = || series.iter().chain(&over.beside);
    let mut told: Vec<Date> = all()
        .flat_map(|one| one.readings.iter().map(|reading| reading.day))
        .chain(
            columns
                .iter()
                .flat_map(|(_, told)| told.iter().map(|(day, _)| *day)),
        )
        .collect();
    told.sort_unstable();
    told.dedup();
    told.reverse();
    let said = |all: Vec<&str>| {
        if all.is_empty() {
            "–".to_owned()
        } else {
            all.join(", ")
        }
    };
    let row = |day: Date| {
        let cells = all().map(|one| {
            let readings = one.readings.iter().filter(|reading| reading.day == day);
            said(readings.map(|reading| reading.said.as_str()).collect())
        });
        let happened = columns.iter().map(|(_, told)| {
            let here = told.iter().filter(|(on, _)| *on == day);
            said(here.map(|(_, words)| words.as_str()).collect())
        });
        std::iter::once(day_label(day))
            .chain(cells)
            .chain(happened)
            .collect()
    };
    let table = Table {
        caption,
        head: std::iter::once("Day".to_owned())
            .chain(all().map(|one| one.name.clone()))
            .chain(columns.iter().map(|(head, _)| (*head).to_owned()))
            .collect(),
        rows: told.iter().map(|day| row(*day)).collect(),
    };
    let stops = told.iter().map(|day| days.percent(*day)).collect();
    (table, stops)
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
        let [first, second, third] = &chart.lines[0].points[..] else {
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
        let dot = |x, y| Dot {
            x,
            y,
            said: String::new(),
        };
        let points = [dot(0.0, 100.0), dot(50.0, 40.0)];
        assert_eq!(path(&points, Joined::Steps), "M0 100H500V40");
        assert_eq!(path(&points, Joined::Straight), "M0 100L500 40");
    }

    #[test]
    fn without_a_reading_there_is_no_chart() {
        assert_eq!(lines(&[], Joined::Straight), None);
        let broken = [Series {
            name: "left".to_owned(),
            readings: vec![reading(date!(2026 - 09 - 01), f64::NAN)],
        }];
        assert_eq!(lines(&broken, Joined::Straight), None);
    }

    #[test]
    fn sixteen_lines_can_be_told_apart() {
        let all: Vec<Series> = (0..16)
            .map(|place| Series {
                name: place.to_string(),
                readings: vec![reading(date!(2026 - 09 - 01), f64::from(place))],
            })
            .collect();
        let chart = lines(&all, Joined::Straight).expect("has readings");
        let mut looks: Vec<_> = chart
            .lines
            .iter()
            .map(|line| (line.style, line.shape))
            .collect();
        looks.sort_unstable();
        looks.dedup();
        assert_eq!(looks.len(), 16);
    }

    #[test]
    fn many_points_are_drawn_small() {
        let long = |count: i64| {
            let readings = (0..count)
                .map(|day| reading(date!(2026 - 01 - 01) + time::Duration::days(day), 1.0));
            let series = [Series {
                name: "left".to_owned(),
                readings: readings.collect(),
            }];
            lines(&series, Joined::Straight).expect("has readings").many
        };
        assert!(!long(60) && long(61));
    }
}
