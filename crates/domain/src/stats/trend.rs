//! The slope of a short, noisy series.

use time::{Date, Duration};

use super::spread::{median, median_of_sorted, tie_groups};

/// Φ⁻¹(0.95), for an interval that leaves 5 % on either side.
const Z_95: f64 = 1.644_853_626_951_472_2;

/// How far ahead a straight line is followed: five years. Ours; it says little long before that.
const HORIZON: Duration = Duration::days(1826);

/// A 90 % interval.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Interval {
    /// Lower end.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

/// A straight line through a series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Trend {
    /// Per day: the median of the slopes between all pairs.
    pub per_day: f64,
    /// `median(y) − slope · median(day)`.
    pub at_day_zero: f64,
    /// The point that the line goes through at any slope: the median day and the median y.
    pub middle: (f64, f64),
    /// 90 % interval of the slope, per day; `None` of fewer than four points.
    pub interval: Option<Interval>,
}

/// When a trend reaches a level: the first day on which the line is at or over it. `None` in a field: not within
/// five years at that slope.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reach {
    /// At the steep end of the slope's 90 % interval.
    pub earliest: Option<Date>,
    /// At the slope itself.
    pub expected: Option<Date>,
    /// At the flat end.
    pub latest: Option<Date>,
}

impl Trend {
    /// Fewest points for an interval. Even the whole range of the slopes through three points covers the true one
    /// only 2 times in 3; through four, 11 times in 12.
    pub const FEWEST_FOR_INTERVAL: usize = 4;

    /// When the trend, if it holds, is at `level`; never before `from`, and whole days. `day_zero` is the day that
    /// the series calls 0, `from` no earlier than the series' last. All three lines go through the
    /// middle of the series, so that more growth is never later. `None` where the slope has no interval.
    #[must_use]
    pub fn reaches(&self, level: f64, day_zero: Date, from: Date) -> Option<Reach> {
        let interval = self.interval?;
        let at = |per_day| self.first_day(per_day, level, day_zero, from);
        Some(Reach {
            earliest: at(interval.high),
            expected: at(self.per_day),
            latest: at(interval.low),
        })
    }

    fn first_day(&self, per_day: f64, level: f64, day_zero: Date, from: Date) -> Option<Date> {
        let (day, y) = self.middle;
        let from_day = (from - day_zero).whole_days() as f64;
        // A count on the goal by hand must not miss it by a rounding.
        let level = level * (1.0 - 1e-9);
        if y + per_day * (from_day - day) >= level {
            return Some(from);
        }
        if per_day <= 0.0 {
            return None;
        }
        let days = (day + (level - y) / per_day).ceil() - from_day;
        (days <= HORIZON.whole_days() as f64)
            .then(|| from.checked_add(Duration::days(days as i64)))
            .flatten()
    }
}

/// Theil–Sen: the line whose slope is the median of the slopes between all pairs of points (Sen, J Am Stat Assoc
/// 1968;63:1379). One bad day does not turn it. Pairs on the same day have no slope.
///
/// The interval is Sen's, from the tie-corrected variance of Kendall's S with ranks rounded to whole slopes, as
/// `scipy.stats.theilslopes` has it; the interpolated and the exact-rank rules of the handbooks differ in the last rank.
///
/// The work grows with the square of the number of points: give it a window, not a lifetime. `None` when no two points
/// lie on different days, or when a number is not finite.
#[must_use]
pub fn theil_sen(points: &[(f64, f64)]) -> Option<Trend> {
    if points
        .iter()
        .any(|(day, y)| !(day.is_finite() && y.is_finite()))
    {
        return None;
    }
    let mut slopes = Vec::with_capacity(points.len() * points.len().saturating_sub(1) / 2);
    for (index, (day, y)) in points.iter().enumerate() {
        let earlier = points[..index]
            .iter()
            .filter(|(other_day, _)| day != other_day);
        slopes.extend(earlier.map(|(other_day, other_y)| (y - other_y) / (day - other_day)));
    }
    slopes.sort_by(f64::total_cmp);
    let per_day = median_of_sorted(&slopes)?;
    let days: Vec<f64> = points.iter().map(|(day, _)| *day).collect();
    let ys: Vec<f64> = points.iter().map(|(_, y)| *y).collect();
    let middle = (median(&days)?, median(&ys)?);
    Some(Trend {
        per_day,
        at_day_zero: middle.1 - per_day * middle.0,
        middle,
        interval: interval(&slopes, &days, &ys),
    })
}

fn interval(sorted_slopes: &[f64], days: &[f64], ys: &[f64]) -> Option<Interval> {
    if days.len() < Trend::FEWEST_FOR_INTERVAL {
        return None;
    }
    let pairs = |n: f64| n * (n - 1.0) * (2.0 * n + 5.0);
    let ties = |values: &[f64]| tie_groups(values).into_iter().map(pairs).sum::<f64>();
    let variance = (pairs(days.len() as f64) - ties(days) - ties(ys)) / 18.0;
    if variance < 0.0 {
        return None;
    }
    let (count, reach) = (sorted_slopes.len() as f64, Z_95 * variance.sqrt());
    let low = ((count - reach) / 2.0).round_ties_even() - 1.0;
    let high = ((count + reach) / 2.0).round_ties_even();
    let at = |rank: f64| sorted_slopes[(rank.max(0.0) as usize).min(sorted_slopes.len() - 1)];
    Some(Interval {
        low: at(low),
        high: at(high),
    })
}

#[cfg(test)]
mod tests {
    use super::super::checks::{BY_HAND, by_index, close};
    use super::*;
    use proptest::prelude::*;
    use time::macros::date;

    // scipy.stats.theilslopes 1.17.1 with alpha = 0.9, index as time; six figures given.
    #[test]
    fn slopes_and_intervals_of_six_series() {
        let cases: [(&[f64], f64, f64, f64); 6] = [
            (
                &[28.0, 28.4, 28.2, 29.0, 29.4, 29.2, 30.0, 30.6],
                0.341_667,
                0.3,
                0.45,
            ),
            (
                &[33.2, 33.0, 33.4, 33.2, 33.0, 33.4, 33.1, 33.3],
                0.007_142_86,
                -0.05,
                0.1,
            ),
            (
                &[31.0, 30.8, 30.9, 30.2, 30.4, 29.8, 29.6],
                -0.24,
                -0.325,
                -0.15,
            ),
            (
                &[30.0, 30.0, 31.0, 31.0, 31.0, 32.0, 32.0, 33.0, 33.0, 33.0],
                0.375,
                0.333_333,
                0.5,
            ),
            (&[24.0, 24.6, 25.2, 25.0], 0.466_667, -0.2, 0.6),
            (&BY_HAND, 0.566_667, 0.333_333, 0.8),
        ];
        for (ys, slope, low, high) in cases {
            let found = theil_sen(&by_index(ys)).unwrap();
            let interval = found.interval.unwrap();
            close(found.per_day, slope, 2e-6);
            close(interval.low, low, 2e-6);
            close(interval.high, high, 2e-6);
        }
    }

    // scipy.stats.theilslopes 1.17.1, slope, separate intercept and 90 % interval. The days are the point of the fifth: a
    // library that takes the index for the time gives 0.375 a session there, not 0.081 a day.
    #[test]
    fn slopes_by_real_days() {
        struct Case {
            days: &'static [f64],
            ys: &'static [f64],
            slope: f64,
            intercept: f64,
            low: f64,
            high: f64,
        }
        let cases = [
            // Six in steady rise.
            Case {
                days: &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0],
                ys: &[20.0, 21.0, 23.0, 24.0, 26.0, 27.0],
                slope: 1.5,
                intercept: 19.75,
                low: 1.0,
                high: 1.666_666_666_666_666_7,
            },
            // A plateau with ties.
            Case {
                days: &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0],
                ys: &[20.0, 22.0, 24.0, 25.0, 26.0, 26.0, 26.0, 25.0, 26.0, 26.0],
                slope: 0.5,
                intercept: 23.25,
                low: 0.0,
                high: 1.0,
            },
            // One bad day; the shape of an example in Helsel and Hirsch ch. 10, from memory.
            Case {
                days: &[1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
                ys: &[1.0, 2.0, 3.0, 4.0, 5.0, 16.0, 7.0],
                slope: 1.0,
                intercept: 0.0,
                low: 1.0,
                high: 3.0,
            },
            // The data of Sen 1968, as in scipy's own tests: separate intercept 4 (the joint one is 6).
            Case {
                days: &[1.0, 2.0, 3.0, 4.0, 10.0, 12.0, 18.0],
                ys: &[9.0, 15.0, 19.0, 20.0, 45.0, 55.0, 78.0],
                slope: 4.0,
                intercept: 4.0,
                low: 3.75,
                high: 4.181_818_181_818_182,
            },
            // Irregular days. One rank further in, as one handbook's rule would have it, is 0.0643 to 0.1071; ranks
            // between whole ones, as another's, 0.0618 to 0.1085.
            Case {
                days: &[0.0, 3.0, 7.0, 10.0, 14.0, 18.0, 21.0, 28.0, 35.0, 42.0],
                ys: &[12.5, 12.9, 13.4, 13.1, 14.0, 14.6, 14.3, 15.2, 15.1, 15.9],
                slope: 0.080_952_380_952_380_96,
                intercept: 12.854_761_904_761_904,
                low: 0.060_714_285_714_285_686,
                high: 0.109_090_909_090_909_03,
            },
            // Up and down by turns; the joint intercept would be 18.375.
            Case {
                days: &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0],
                ys: &[18.0, 19.5, 19.0, 21.0, 20.5, 22.5, 22.0, 24.0],
                slope: 0.75,
                intercept: 18.125,
                low: 0.5,
                high: 1.0,
            },
            // Ten pairs of Helsel et al. 2020, USGS TM 4-A3 ch. 8, data from memory.
            Case {
                days: &[
                    2.0, 24.0, 99.0, 197.0, 377.0, 544.0, 632.0, 3452.0, 6587.0, 53170.0,
                ],
                ys: &[1.22, 2.2, 4.8, 1.28, 1.97, 1.46, 2.64, 2.34, 4.84, 2.96],
                slope: 0.000_302_613_480_055_020_6,
                intercept: 2.130_646_492_434_663,
                low: 6.090_829_494_841_826e-6,
                high: 0.000_557_120_500_782_472_6,
            },
            // Going down.
            Case {
                days: &[0.0, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0, 8.0, 9.0, 10.0, 11.0],
                ys: &[
                    30.2, 29.8, 30.5, 29.1, 28.7, 28.9, 27.5, 27.9, 26.4, 26.8, 25.9, 25.1,
                ],
                slope: -0.468_333_333_333_333_4,
                intercept: 30.875_833_333_333_333,
                low: -0.540_000_000_000_000_6,
                high: -0.379_999_999_999_999_7,
            },
        ];
        for case in cases {
            let points: Vec<_> = case
                .days
                .iter()
                .copied()
                .zip(case.ys.iter().copied())
                .collect();
            let found = theil_sen(&points).unwrap();
            let interval = found.interval.unwrap();
            close(found.per_day, case.slope, 1e-9);
            close(found.at_day_zero, case.intercept, 1e-9);
            close(interval.low, case.low, 1e-9);
            close(interval.high, case.high, 1e-9);
            // The order in which points come does not matter.
            let reversed: Vec<_> = points.into_iter().rev().collect();
            assert_eq!(theil_sen(&reversed), Some(found));
        }
    }

    #[test]
    fn too_little_has_no_trend() {
        assert_eq!(theil_sen(&[]), None);
        assert_eq!(theil_sen(&[(1.0, 20.0)]), None);
        assert_eq!(theil_sen(&[(1.0, 20.0), (1.0, 22.0)]), None);
        assert_eq!(theil_sen(&[(1.0, 20.0), (2.0, f64::NAN)]), None);
        let three = theil_sen(&by_index(&[1.0, 2.0, 4.0])).unwrap();
        assert!((three.per_day - 1.5).abs() < 1e-12 && three.interval.is_none());
        let flat = theil_sen(&by_index(&[7.0; 5])).unwrap();
        assert_eq!(
            (flat.per_day, flat.interval),
            (
                0.0,
                Some(Interval {
                    low: 0.0,
                    high: 0.0
                })
            )
        );
    }

    /// A trend by hand: through 30 on day 10, a fifth a day, between a tenth and a half.
    fn rising() -> Trend {
        Trend {
            per_day: 0.2,
            at_day_zero: 28.0,
            middle: (10.0, 30.0),
            interval: Some(Interval {
                low: 0.1,
                high: 0.5,
            }),
        }
    }

    // By hand. Day 0 is 1 March 2026, so the middle is on 11 March; a level 4 over the middle is 8 days from it at a
    // half a day, 20 at a fifth, 40 at a tenth.
    #[test]
    fn a_level_is_reached_where_the_lines_cross_it() {
        let (zero, last) = (date!(2026 - 03 - 01), date!(2026 - 03 - 16));
        let reach = |level, from| rising().reaches(level, zero, from).unwrap();
        let days = |earliest, expected, latest| Reach {
            earliest: Some(earliest),
            expected: Some(expected),
            latest: Some(latest),
        };
        assert_eq!(
            reach(34.0, last),
            days(
                date!(2026 - 03 - 19),
                date!(2026 - 03 - 31),
                date!(2026 - 04 - 20)
            )
        );
        // A little more takes a whole day more.
        assert_eq!(
            reach(34.01, last),
            days(
                date!(2026 - 03 - 20),
                date!(2026 - 04 - 01),
                date!(2026 - 04 - 21)
            )
        );
        // Never before the day asked from, and on that very day if the line is there.
        let late = date!(2026 - 03 - 31);
        assert_eq!(reach(34.0, late), days(late, late, date!(2026 - 04 - 20)));
        assert_eq!(reach(30.5, last), days(last, last, last));
        assert_eq!(reach(30.6, last).latest, Some(date!(2026 - 03 - 17)));
    }

    // By hand: five years are 1826 days, here from 16 March 2026 to 16 March 2031. From the middle the flat line, at
    // a tenth a day, has by then 1831 days behind it.
    #[test]
    fn a_level_that_the_line_does_not_reach_has_no_day() {
        let (zero, last) = (date!(2026 - 03 - 01), date!(2026 - 03 - 16));
        let reach = |level| rising().reaches(level, zero, last).unwrap();
        assert_eq!(reach(30.0 + 183.1).latest, Some(date!(2031 - 03 - 16)));
        assert_eq!(reach(30.0 + 183.2).latest, None);
        assert!(reach(30.0 + 183.2).expected.is_some());
        let flat = Trend {
            per_day: 0.0,
            interval: Some(Interval {
                low: -0.1,
                high: 0.1,
            }),
            ..rising()
        };
        let found = flat.reaches(31.0, zero, last).unwrap();
        assert_eq!(
            (found.earliest, found.expected, found.latest),
            (Some(date!(2026 - 03 - 21)), None, None)
        );
        // A line that has fallen under the level since its middle is not there any more.
        let found = flat.reaches(30.0, zero, last).unwrap();
        assert_eq!(
            (found.earliest, found.expected, found.latest),
            (Some(last), Some(last), None)
        );
        let short = Trend {
            interval: None,
            ..rising()
        };
        assert_eq!(short.reaches(31.0, zero, last), None);
        assert_eq!(
            rising().reaches(f64::INFINITY, zero, Date::MAX),
            Some(Reach {
                earliest: None,
                expected: None,
                latest: None
            })
        );
    }

    proptest! {
        /// More growth is never later, a higher goal never earlier.
        #[test]
        fn more_growth_is_never_later(
            slopes in prop::array::uniform3(-0.5f64..0.5),
            level in 20.0f64..60.0,
            higher in 0.0f64..5.0,
            since in 0i64..40,
        ) {
            let mut slopes = slopes;
            slopes.sort_by(f64::total_cmp);
            let trend = Trend {
                per_day: slopes[1],
                interval: Some(Interval { low: slopes[0], high: slopes[2] }),
                ..rising()
            };
            let zero = date!(2026 - 03 - 01);
            let from = zero + Duration::days(10 + since);
            let order = |day: Option<Date>| day.unwrap_or(Date::MAX);
            let reach = trend.reaches(level, zero, from).unwrap();
            prop_assert!(reach.earliest.is_none_or(|day| day >= from));
            prop_assert!(order(reach.earliest) <= order(reach.expected));
            prop_assert!(order(reach.expected) <= order(reach.latest));
            let over = trend.reaches(level + higher, zero, from).unwrap();
            prop_assert!(order(reach.expected) <= order(over.expected));
        }
    }
}
