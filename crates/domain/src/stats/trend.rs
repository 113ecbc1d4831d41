//! The slope of a short, noisy series.

use super::spread::{median, median_of_sorted, tie_groups};

/// Φ⁻¹(0.95), for an interval that leaves 5 % on either side.
const Z_95: f64 = 1.644_853_626_951_472_2;

/// Fewest points for an interval. Even the whole range of the slopes through three points covers the true one only
/// 2 times in 3; through four, 11 times in 12.
const FEWEST_FOR_INTERVAL: usize = 4;

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
    /// 90 % interval of the slope, per day; `None` of fewer than four points.
    pub interval: Option<Interval>,
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
    Some(Trend {
        per_day,
        at_day_zero: median(&ys)? - per_day * median(&days)?,
        interval: interval(&slopes, &days, &ys),
    })
}

fn interval(sorted_slopes: &[f64], days: &[f64], ys: &[f64]) -> Option<Interval> {
    if days.len() < FEWEST_FOR_INTERVAL {
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
            // Irregular days.
            Case {
                days: &[0.0, 3.0, 7.0, 10.0, 14.0, 18.0, 21.0, 28.0, 35.0, 42.0],
                ys: &[12.5, 12.9, 13.4, 13.1, 14.0, 14.6, 14.3, 15.2, 15.1, 15.9],
                slope: 0.080_952_380_952_380_96,
                intercept: 12.854_761_904_761_904,
                low: 0.060_714_285_714_285_686,
                high: 0.109_090_909_090_909_03,
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
}
