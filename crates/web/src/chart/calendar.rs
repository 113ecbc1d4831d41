//! Days as a row for each week.

use leverbook_domain::review::Week;
use leverbook_domain::story::DayKind;
use time::Date;

use super::{Table, short_day_label};

/// Height of a week, px.
const ROW: f64 = 26.0;

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
    /// Where the rows of the table stand in the drawing, px; empty where nobody walks along them.
    pub stops: Vec<f64>,
    /// The figures: one row a week.
    pub table: Table,
}

impl CalendarChart {
    /// With its weeks to walk along.
    #[must_use]
    pub fn with_stops(mut self) -> Self {
        self.stops = self.weeks.iter().map(|week| week.y + ROW / 2.0).collect();
        self
    }
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
    const WORDS: f64 = 64.0;
    if last < first {
        return None;
    }
    let monday = |day: Date| Week::of(day).monday();
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
        stops: Vec::new(),
        title,
    })
}

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

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

    #[test]
    fn without_days_there_is_no_chart() {
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
}
