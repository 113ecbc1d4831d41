//! Whether a series goes up or down at all: Kendall's S, and the Mann–Kendall test.

use super::normal::normal_upper_tail;
use super::spread::tie_groups;

/// Most points for which the exact distribution of S is used; above it, and with ties, the normal approximation, as
/// Gilbert 1987 has it (table A18 ends at 10).
const MOST_FOR_EXACT: usize = 10;

/// A test for a trend.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct MannKendall {
    /// Pairs that rise less pairs that fall.
    pub s: i64,
    /// Of S if there were no trend, corrected for ties; 0 when all are tied.
    pub variance: f64,
    /// `(S ∓ 1)/√variance`, with the continuity correction; 0 when S is.
    pub z: f64,
    /// S over the most it could be, corrected for ties; `None` when all are tied.
    pub tau_b: Option<f64>,
    /// Chance of an S as great or greater without a trend.
    pub p_rising: f64,
    /// Chance of an S as far from 0 or farther, either way, without a trend.
    pub p_two_sided: f64,
    /// Whether the chances are exact: up to ten points, without ties. Else they are normal approximations.
    pub exact: bool,
}

/// The Mann–Kendall test of values over days. The chances suppose that days are independent; where one good day brings
/// another they come out too small (at ten points a 5 % test fires 14 % of the time at a correlation of 0.4).
///
/// It needs four points before it can say anything at 5 % one-sided (n = 4, S = 6: 0.042). The work grows with the square
/// of the number of points. `None` of fewer than two, or when a number is not finite.
#[must_use]
pub fn mann_kendall(points: &[(f64, f64)]) -> Option<MannKendall> {
    let finite = points
        .iter()
        .all(|(day, y)| day.is_finite() && y.is_finite());
    if points.len() < 2 || !finite {
        return None;
    }
    let mut s = 0i64;
    for (index, (day, y)) in points.iter().enumerate() {
        for (other_day, other_y) in &points[..index] {
            s += sign(day - other_day) * sign(y - other_y);
        }
    }
    let day_ties = tie_groups(&points.iter().map(|(day, _)| *day).collect::<Vec<_>>());
    let y_ties = tie_groups(&points.iter().map(|(_, y)| *y).collect::<Vec<_>>());
    let n = points.len() as f64;
    let variance = variance(n, &day_ties, &y_ties);
    let pairs = |ties: &[f64]| ties.iter().map(|t| t * (t - 1.0) / 2.0).sum::<f64>();
    let all = n * (n - 1.0) / 2.0;
    let most = ((all - pairs(&day_ties)) * (all - pairs(&y_ties))).sqrt();
    let exact = points.len() <= MOST_FOR_EXACT && day_ties.is_empty() && y_ties.is_empty();
    let standard = |s: f64| {
        if variance > 0.0 {
            s / variance.sqrt()
        } else {
            0.0
        }
    };
    let z = standard((s - s.signum()) as f64);
    let (p_rising, p_two_sided) = if exact {
        (
            exact_upper_tail(points.len(), s),
            2.0 * exact_upper_tail(points.len(), s.abs()),
        )
    } else if variance > 0.0 {
        (
            normal_upper_tail(standard((s - 1) as f64)),
            2.0 * normal_upper_tail(z.abs()),
        )
    } else {
        (1.0, 1.0)
    };
    Some(MannKendall {
        s,
        variance,
        z,
        tau_b: (most > 0.0).then(|| s as f64 / most),
        p_rising,
        p_two_sided: p_two_sided.min(1.0),
        exact,
    })
}

fn sign(difference: f64) -> i64 {
    i64::from(difference > 0.0) - i64::from(difference < 0.0)
}

/// Kendall's variance of S with ties on either side (Kendall, Rank Correlation Methods; the same as scipy's).
fn variance(n: f64, day_ties: &[f64], y_ties: &[f64]) -> f64 {
    let full = |t: f64| t * (t - 1.0) * (2.0 * t + 5.0);
    let sum = |ties: &[f64], of: fn(f64) -> f64| ties.iter().copied().map(of).sum::<f64>();
    let both = |of: fn(f64) -> f64| sum(day_ties, of) * sum(y_ties, of);
    let pairs = both(|t| t * (t - 1.0)) / (2.0 * n * (n - 1.0));
    let triples = if n > 2.0 {
        both(|t| t * (t - 1.0) * (t - 2.0)) / (9.0 * n * (n - 1.0) * (n - 2.0))
    } else {
        0.0
    };
    let plain = full(n) - sum(day_ties, full) - sum(y_ties, full);
    // All tied is a variance of 0, which rounding may leave a hair below.
    (plain / 18.0 + pairs + triples).max(0.0)
}

/// P(S ≥ s) for n values in random order without ties. Built up value by value: the k-th value falls below 0 to k − 1 of
/// those before it with equal chances.
fn exact_upper_tail(n: usize, s: i64) -> f64 {
    let pairs = n * (n - 1) / 2;
    let mut by_falls = vec![1.0];
    for count in 2..=n {
        let mut next = vec![0.0; by_falls.len() + count - 1];
        for (falls, chance) in by_falls.iter().enumerate() {
            for more in 0..count {
                next[falls + more] += chance / count as f64;
            }
        }
        by_falls = next;
    }
    // S = pairs − 2·falls.
    by_falls
        .iter()
        .enumerate()
        .filter(|(falls, _)| pairs as i64 - 2 * *falls as i64 >= s)
        .map(|(_, chance)| chance)
        .sum::<f64>()
        .min(1.0)
}

#[cfg(test)]
mod tests {
    use super::super::checks::{BY_HAND, by_index, close};
    use super::*;

    // Enumeration; agrees with the printed table of Kendall's S (Gilbert 1987, table A18; Hollander and Wolfe).
    #[test]
    fn exact_tails_are_those_of_the_printed_table() {
        let table: [(usize, &[(i64, f64)]); 7] = [
            (
                4,
                &[(0, 0.625), (2, 0.375), (4, 0.166_667), (6, 0.041_666_7)],
            ),
            (
                5,
                &[
                    (0, 0.591_667),
                    (2, 0.408_333),
                    (4, 0.241_667),
                    (6, 0.116_667),
                    (8, 0.041_666_7),
                    (10, 0.008_333_33),
                ],
            ),
            (
                6,
                &[
                    (1, 0.5),
                    (3, 0.359_722),
                    (5, 0.234_722),
                    (7, 0.136_111),
                    (9, 0.068_055_6),
                    (11, 0.027_777_8),
                    (13, 0.008_333_33),
                    (15, 0.001_388_89),
                ],
            ),
            (
                7,
                &[
                    (1, 0.5),
                    (9, 0.119_444),
                    (15, 0.015_079_4),
                    (21, 0.000_198_413),
                ],
            ),
            (
                8,
                &[
                    (0, 0.547_569),
                    (10, 0.137_55),
                    (20, 0.007_068_45),
                    (28, 2.480_16e-5),
                ],
            ),
            (
                9,
                &[
                    (0, 0.540_272),
                    (12, 0.129_759),
                    (24, 0.006_332_67),
                    (36, 2.755_73e-6),
                ],
            ),
            (
                10,
                &[
                    (1, 0.5),
                    (3, 0.430_9),
                    (5, 0.363_745),
                    (7, 0.300_327),
                    (9, 0.242_156),
                    (11, 0.190_36),
                    (13, 0.145_624),
                    (15, 0.108_187),
                    (17, 0.077_870_9),
                    (19, 0.054_156_7),
                    (21, 0.036_275_1),
                    (23, 0.023_311_3),
                    (25, 0.014_304_7),
                    (27, 0.008_333_06),
                    (29, 0.004_574_24),
                    (31, 0.002_343_47),
                    (33, 0.001_106_43),
                    (35, 0.000_473_159),
                    (37, 0.000_178_847),
                    (39, 5.759_48e-5),
                    (41, 1.488_1e-5),
                    (43, 2.755_73e-6),
                    (45, 2.755_73e-7),
                ],
            ),
        ];
        for (n, rows) in table {
            for (s, tail) in rows {
                close(exact_upper_tail(n, *s), *tail, 3e-5);
            }
            close(exact_upper_tail(n, -1000), 1.0, 1e-12);
        }
    }

    // pymannkendall 1.4.3 original_test for S, its variance with ties and Z; scipy.stats.kendalltau 1.17.1 for tau-b and
    // the exact one-sided p. The last is also a worked example by hand: Montserrat seminar notes, College of the Holy
    // Cross, S = 54, one tied pair, Z = 2.9058.
    #[test]
    fn six_series() {
        type Case<'a> = (&'a [f64], i64, f64, f64, f64, Option<f64>);
        let cases: [Case<'_>; 6] = [
            (
                &[28.0, 28.4, 28.2, 29.0, 29.4, 29.2, 30.0, 30.6],
                24,
                65.333_3,
                2.845_51,
                0.857_143,
                Some(0.000_868_056),
            ),
            (
                &[33.2, 33.0, 33.4, 33.2, 33.0, 33.4, 33.1, 33.3],
                3,
                62.333_3,
                0.253_32,
                0.113_389,
                None,
            ),
            (
                &[31.0, 30.8, 30.9, 30.2, 30.4, 29.8, 29.6],
                -17,
                44.333_3,
                -2.403_01,
                -0.809_524,
                Some(0.998_611),
            ),
            (
                &[30.0, 30.0, 31.0, 31.0, 31.0, 32.0, 32.0, 33.0, 33.0, 33.0],
                37,
                115.667,
                3.347_33,
                0.906_765,
                None,
            ),
            (
                &[24.0, 24.6, 25.2, 25.0],
                4,
                8.666_67,
                1.019_05,
                0.666_667,
                Some(0.166_667),
            ),
            (&BY_HAND, 54, 332.667, 2.905_84, 0.596_694, None),
        ];
        for (ys, s, variance, z, tau_b, p_rising) in cases {
            let found = mann_kendall(&by_index(ys)).unwrap();
            assert_eq!(found.s, s);
            close(found.variance, variance, 5e-6);
            close(found.z, z, 5e-6);
            close(found.tau_b.unwrap(), tau_b, 5e-6);
            assert_eq!(found.exact, p_rising.is_some());
            if let Some(p_rising) = p_rising {
                close(found.p_rising, p_rising, 5e-6);
            }
        }
    }

    // scipy.stats.kendalltau 1.17.1: tau-b, exact two-sided p without ties, else normal with the continuity correction.
    #[test]
    fn two_sided_chances() {
        let days = [0.0, 3.0, 7.0, 10.0, 14.0, 18.0, 21.0, 28.0, 35.0, 42.0];
        let irregular = [12.5, 12.9, 13.4, 13.1, 14.0, 14.6, 14.3, 15.2, 15.1, 15.9];
        let on_days: Vec<_> = days.into_iter().zip(irregular).collect();
        let wavy = by_index(&[18.0, 19.5, 19.0, 21.0, 20.5, 22.5, 22.0, 24.0]);
        let rising = by_index(&[20.0, 21.0, 23.0, 24.0, 26.0, 27.0]);
        let plateau = by_index(&[20.0, 22.0, 24.0, 25.0, 26.0, 26.0, 26.0, 25.0, 26.0, 26.0]);
        let falling = by_index(&[
            30.2, 29.8, 30.5, 29.1, 28.7, 28.9, 27.5, 27.9, 26.4, 26.8, 25.9, 25.1,
        ]);
        // Helsel et al. 2020, USGS TM 4-A3 ch. 8: data, S = 21 and p = .07 from memory, recomputed.
        let ten_pairs: Vec<_> = [
            2.0, 24.0, 99.0, 197.0, 377.0, 544.0, 632.0, 3452.0, 6587.0, 53170.0,
        ]
        .into_iter()
        .zip([1.22, 2.2, 4.8, 1.28, 1.97, 1.46, 2.64, 2.34, 4.84, 2.96])
        .collect();
        let cases = [
            (
                rising,
                15,
                28.333_333_333_333_332,
                1.0,
                0.002_777_777_777_777_778,
            ),
            (
                wavy,
                22,
                65.333_333_333_333_33,
                0.785_714_285_714_285_6,
                0.005_505_952_380_952_381,
            ),
            (
                plateau,
                28,
                107.333_333_333_333_33,
                0.715_833_989_590_879,
                0.009_157_108_925_035_391,
            ),
            (
                on_days,
                39,
                125.0,
                0.866_666_666_666_666_6,
                0.000_115_189_594_356_261_02,
            ),
            (
                falling,
                -56,
                212.666_666_666_666_66,
                -0.848_484_848_484_848_4,
                0.000_162_275_566_476_043_02,
            ),
            (
                ten_pairs,
                21,
                125.0,
                0.466_666_666_666_666_6,
                0.072_550_154_320_987_66,
            ),
        ];
        for (points, s, variance, tau_b, p) in cases {
            let found = mann_kendall(&points).unwrap();
            assert_eq!(found.s, s);
            close(found.variance, variance, 1e-9);
            close(found.tau_b.unwrap(), tau_b, 1e-9);
            close(found.p_two_sided, p, 1e-9);
        }
    }

    // Three sessions on one day twice over, and three alike: ties of three on both sides. scipy 1.17.1's kendalltau, asymptotic,
    // has S = 23, tau-b 0.754199711 and p 0.0100557844 without a correction for continuity, which is S over the root of
    // a variance of 79.8492063.
    #[test]
    fn ties_of_three_on_both_sides() {
        let days = [0.0, 0.0, 0.0, 1.0, 1.0, 1.0, 2.0, 3.0, 4.0];
        let ys = [5.0, 5.0, 5.0, 6.0, 6.0, 2.0, 7.0, 8.0, 8.0];
        let points: Vec<(f64, f64)> = days.into_iter().zip(ys).collect();
        let found = mann_kendall(&points).unwrap();
        assert_eq!(found.s, 23);
        close(found.variance, 79.849_206_349_206_3, 1e-9);
        close(found.tau_b.unwrap(), 0.754_199_711_151_546, 1e-9);
    }

    // Up to ten points the exact chance and the normal one are not the same: six rising ones have 0.0028, where Z, by
    // pymannkendall 1.4.3, would say 0.0085.
    #[test]
    fn few_points_take_the_exact_chance() {
        let found = mann_kendall(&by_index(&[20.0, 21.0, 23.0, 24.0, 26.0, 27.0])).unwrap();
        assert!(found.exact);
        close(found.z, 2.630_142_022_557_628, 1e-9);
        close(found.p_two_sided, 0.002_777_777_777_777_778, 1e-9);
        let by_normal = 2.0 * super::super::normal_upper_tail(found.z);
        close(by_normal, 0.008_534_920_414_227_074, 1e-6);
        // A plateau has ties, and its variance is less by them: 107.33, where 125 would be without.
        let plateau = by_index(&[20.0, 22.0, 24.0, 25.0, 26.0, 26.0, 26.0, 25.0, 26.0, 26.0]);
        let plateau = mann_kendall(&plateau).unwrap();
        assert!(!plateau.exact);
        close(plateau.variance, 125.0 - 53.0 / 3.0, 1e-9);
        close(plateau.z, 2.606_132_280_955_536_7, 1e-9);
    }

    // 2/n!, by arithmetic: with four points a two-sided 5 % is out of reach.
    #[test]
    fn the_smallest_chance_is_two_in_n_factorial() {
        for (n, p) in [
            (3, 0.333_333),
            (4, 0.083_333_3),
            (5, 0.016_666_7),
            (10, 5.511_46e-7),
        ] {
            let rising: Vec<f64> = (0..n).map(f64::from).collect();
            close(
                mann_kendall(&by_index(&rising)).unwrap().p_two_sided,
                p,
                5e-6,
            );
        }
    }

    #[test]
    fn ties_and_short_series_have_an_answer_or_none() {
        assert_eq!(mann_kendall(&[]), None);
        assert_eq!(mann_kendall(&[(0.0, 1.0)]), None);
        assert_eq!(mann_kendall(&[(0.0, 1.0), (1.0, f64::INFINITY)]), None);
        let flat = mann_kendall(&by_index(&[5.0; 6])).unwrap();
        assert_eq!((flat.s, flat.z, flat.tau_b), (0, 0.0, None));
        assert_eq!((flat.p_rising, flat.p_two_sided), (1.0, 1.0));
        // Two sessions on one day count for nothing against each other.
        let same_day = mann_kendall(&[(0.0, 1.0), (0.0, 3.0), (4.0, 2.0)]).unwrap();
        assert_eq!(same_day.s, 0);
    }
}
