//! The axes: round numbers down, days across.

use time::{Date, Duration, Month};

use super::{FIELD_HEIGHT, Tick, month_label, month_word, round, short_day_label};

/// Most labels along a time axis on a wide screen. Every second one is left out on a phone.
const DAY_TICKS: usize = 8;

/// The vertical axis: from one round number to another.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Scale {
    low: f64,
    high: f64,
    step: f64,
}

impl Scale {
    /// Round bounds around the values, with about five labels: Heckbert, "Nice numbers for graph
    /// labels", Graphics Gems, 1990. `None` without a value.
    pub(super) fn over(values: impl Iterator<Item = f64>) -> Option<Self> {
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

    pub(super) fn pixels(self, value: f64) -> f64 {
        round((self.high - value) / (self.high - self.low) * FIELD_HEIGHT)
    }

    pub(super) fn ticks(self) -> Vec<Tick> {
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
pub(super) struct Days {
    pub(super) first: Date,
    pub(super) last: Date,
}

impl Days {
    pub(super) fn holds(self, day: Date) -> bool {
        (self.first..=self.last).contains(&day)
    }

    pub(super) fn percent(self, day: Date) -> f64 {
        let whole = (self.last - self.first).whole_days();
        if whole == 0 {
            return 50.0;
        }
        round((day - self.first).whole_days() as f64 / whole as f64 * 100.0)
    }

    /// Mondays while they fit, else the first days of every 1, 2, 3, 6 or 12 months.
    pub(super) fn ticks(self) -> Vec<Tick> {
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

#[cfg(test)]
mod tests {
    use time::macros::date;

    use super::*;

    /// The worked example of Heckbert, "Nice numbers for graph labels", Graphics Gems, 1990, as
    /// remembered: 105 to 543 is labelled 100, 200, … 600.
    #[test]
    fn an_axis_has_round_labels() {
        let scale = Scale::over([105.0, 543.0].into_iter()).expect("has values");
        let labels: Vec<String> = scale.ticks().into_iter().map(|tick| tick.label).collect();
        assert_eq!(labels, ["100", "200", "300", "400", "500", "600"]);
    }

    /// Round numbers by the same source: 1, 2 or 5 times a power of ten, the nearest one, or the next one up.
    #[test]
    fn nice_numbers_are_heckberts() {
        for (range, nearest, up) in [
            (1.0, 1.0, 1.0),
            (1.4, 1.0, 2.0),
            (1.5, 2.0, 2.0),
            (2.9, 2.0, 5.0),
            (3.0, 5.0, 5.0),
            (6.9, 5.0, 10.0),
            (7.0, 10.0, 10.0),
            (438.0, 500.0, 500.0),
            (0.013, 0.01, 0.02),
        ] {
            assert!((nice(range, true) - nearest).abs() < 1e-9, "{range}");
            assert!((nice(range, false) - up).abs() < 1e-9, "{range}");
        }
    }

    /// A label stands where its own number would: at a straight share of the height.
    #[test]
    fn a_label_stands_at_its_number() {
        for (low, high) in [(105.0, 543.0), (0.0, 7.0), (19.4, 33.0), (-3.0, 0.2)] {
            let scale = Scale::over([low, high].into_iter()).expect("has values");
            let ticks = scale.ticks();
            let read = |tick: &Tick| tick.label.parse::<f64>().expect("a number");
            let (bottom, top) = (&ticks[0], &ticks[ticks.len() - 1]);
            assert_eq!((bottom.at, top.at), (FIELD_HEIGHT, 0.0));
            assert!(
                read(bottom) <= low && high <= read(top),
                "{low} to {high}: {ticks:?}"
            );
            assert!((4..=11).contains(&ticks.len()), "{ticks:?}");
            for tick in &ticks {
                assert!(
                    (scale.pixels(read(tick)) - tick.at).abs() < 0.02,
                    "{tick:?}"
                );
            }
        }
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

    /// On the narrowest phone a label of a month and a year is some 60 of 264 px wide, 23 percent.
    #[test]
    fn three_years_have_labels_that_do_not_touch_on_a_phone() {
        for span in (20..1200).step_by(7) {
            let first = date!(2023 - 12 - 04);
            let days = Days {
                first,
                last: first + Duration::days(span),
            };
            let shown: Vec<Tick> = days
                .ticks()
                .into_iter()
                .filter(|tick| !tick.extra)
                .collect();
            for pair in shown.windows(2) {
                let wide = |tick: &Tick| tick.label.len() as f64 * 7.0 / 264.0 * 100.0;
                let room = pair[1].at - pair[0].at;
                let needed = f64::midpoint(wide(&pair[0]), wide(&pair[1]));
                assert!(room >= needed, "{span} days: {pair:?}");
            }
        }
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
}
