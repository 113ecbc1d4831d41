//! L1 and L2: a week's load.

use super::spread::{mean, sample_sd};

/// L1: one week of seven daily loads.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct WeekLoad {
    /// Sum of the week.
    pub sum: f64,
    /// Mean daily load over the SD of the seven, with n − 1; `None` when all seven days are alike, for then it is
    /// not defined.
    pub monotony: Option<f64>,
    /// `sum × monotony`; `None` where that is.
    pub strain: Option<f64>,
}

/// L1: sum, monotony and strain of the week's seven daily loads, rest days being 0 (Foster, Med Sci Sports Exerc
/// 1998;30(7):1164). The sources read do not say which SD; this is the sample one, which makes monotony 1.08 times less
/// than the other.
#[must_use]
pub fn week_load(daily: &[f64; 7]) -> WeekLoad {
    let sum = daily.iter().sum();
    let alike = daily.iter().all(|load| load == &daily[0]);
    let monotony = if alike {
        None
    } else {
        mean(daily)
            .zip(sample_sd(daily))
            .map(|(mean, sd)| mean / sd)
            .filter(|it| it.is_finite())
    };
    WeekLoad {
        sum,
        monotony,
        strain: monotony.map(|monotony| sum * monotony),
    }
}

/// L2: exponentially weighted mean, oldest first, starting from the first value, with `λ = 2/(span + 1)` (Williams et
/// al., Br J Sports Med 2017;51:209; formula from memory). `None` of nothing.
#[must_use]
pub fn ewma(values: &[f64], span: u16) -> Option<f64> {
    let lambda = 2.0 / (f64::from(span) + 1.0);
    values
        .iter()
        .copied()
        .reduce(|mean, value| mean + lambda.min(1.0) * (value - mean))
}

#[cfg(test)]
mod tests {
    use super::super::checks::close;
    use super::*;

    // Monotony and strain by Foster's definition, worked out with numpy 2.4.6 and the sample SD.
    #[test]
    fn six_weeks() {
        let weeks = [
            (
                [300.0, 0.0, 240.0, 0.0, 0.0, 360.0, 0.0],
                900.0,
                0.783_7,
                705.34,
            ),
            (
                [200.0, 200.0, 200.0, 200.0, 200.0, 200.0, 0.0],
                1200.0,
                2.267_8,
                2721.34,
            ),
            (
                [450.0, 0.0, 0.0, 450.0, 0.0, 0.0, 0.0],
                900.0,
                0.585_5,
                526.99,
            ),
            (
                [300.0, 0.0, 450.0, 0.0, 300.0, 600.0, 0.0],
                1650.0,
                0.971_008,
                1602.16,
            ),
            (
                [240.0, 360.0, 0.0, 420.0, 180.0, 540.0, 0.0],
                1740.0,
                1.205_55,
                2097.65,
            ),
            (
                [200.0, 210.0, 190.0, 205.0, 195.0, 200.0, 200.0],
                1400.0,
                30.983_9,
                43_377.4,
            ),
        ];
        for (daily, sum, monotony, strain) in weeks {
            let found = week_load(&daily);
            close(found.sum, sum, 1e-12);
            close(found.monotony.unwrap(), monotony, 1e-4);
            close(found.strain.unwrap(), strain, 1e-4);
        }
    }

    // The SD is the sample's, as the words say: with n instead of n − 1 monotony would be √(7/6) = 1.0801 times more.
    // Both figures by numpy 2.4.6.
    #[test]
    fn the_sd_is_the_samples() {
        let weeks = [
            ([300.0, 0.0, 450.0, 0.0, 300.0, 600.0, 0.0], 1.048_81),
            ([240.0, 360.0, 0.0, 420.0, 180.0, 540.0, 0.0], 1.302_14),
            ([200.0, 210.0, 190.0, 205.0, 195.0, 200.0, 200.0], 33.466_4),
        ];
        for (daily, of_population) in weeks {
            let found = week_load(&daily);
            let monotony = found.monotony.unwrap();
            close(monotony * (7.0f64 / 6.0).sqrt(), of_population, 1e-5);
            close(found.strain.unwrap(), monotony * found.sum, 1e-12);
        }
        close((7.0f64 / 6.0).sqrt(), 1.080_1, 5e-5);
    }

    #[test]
    fn seven_days_alike_have_no_monotony() {
        for load in [0.0, 200.0, 0.1] {
            let found = week_load(&[load; 7]);
            assert_eq!((found.monotony, found.strain), (None, None));
            close(found.sum + 1.0, 7.0 * load + 1.0, 1e-12);
        }
    }

    // 21 days of 100 and 7 of 200: the mean with span 7 is 200 − 100·0.75⁷ in closed form.
    #[test]
    fn a_weighted_mean_in_closed_form() {
        let mut days = vec![100.0; 21];
        days.extend([200.0; 7]);
        close(ewma(&days, 7).unwrap(), 186.651_6, 1e-6);
        close(ewma(&days, 28).unwrap(), 139.359_8, 1e-6);
        let ratio = ewma(&days, 7).unwrap() / ewma(&days, 28).unwrap();
        close(ratio, 1.339_35, 1e-5);
        // λ = 2/(N + 1): 0.25 of a span of 7, 0.0689655 of 28.
        close(ewma(&[0.0, 1.0], 7).unwrap(), 0.25, 1e-12);
        close(ewma(&[0.0, 1.0], 28).unwrap(), 0.068_965_517_2, 1e-9);
        assert_eq!(ewma(&[], 7), None);
        assert_eq!(ewma(&[5.0], 7), Some(5.0));
        assert_eq!(ewma(&[5.0, 9.0], 0), Some(9.0));
    }
}
