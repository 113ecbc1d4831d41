//! M2a: moment of inertia from the time of small swings about a pivot.
//!
//! A club that hangs from a pivot is a physical pendulum, `T = 2π√(I_pivot/(m·g·d))` with d the distance from the pivot to
//! the balance point (OpenStax University Physics vol. 1 § 15.4). It holds for small swings only: at 10° to each
//! side the period is already 0.2 % long, at 20° 0.8 %.

use std::f64::consts::PI;

use crate::units::{Length, Period, STANDARD_GRAVITY};

/// A timed swing test: hang the club, let it swing under 10°, time 20 swings there and back, divide by 20.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct SwingTest {
    /// Time of **one** swing there and back.
    pub period: Period,
    /// Distance of the pivot from the knob end.
    pub pivot: Length,
}

/// `I_cm = m·g·|b − p|·T²/4π² − m·(b − p)²`, kg·m², from kg, m and s. Negative when the measurements contradict each
/// other; whoever asks must look.
pub(super) fn inertia_about_balance(mass: f64, balance: f64, pivot: f64, period: f64) -> f64 {
    let arm = (balance - pivot).abs();
    mass * STANDARD_GRAVITY * arm * (period / (2.0 * PI)).powi(2) - mass * arm * arm
}

/// The most that masses across the club's axis add to the squared radius of gyration, m²: a head 30 cm wide, all of it at
/// the rim.
const ACROSS_M2: f64 = 0.15 * 0.15;

/// The longest club that [`Length`] allows, m.
const LONGEST_M: f64 = 3.0;

/// The most inertia about its balance point that a club of this mass can have: half its mass at each end, `m·L²/4`, with
/// a wide head. A club of unknown length may be as long as any.
pub(super) fn most_inertia(mass: f64, length: Option<f64>) -> f64 {
    let length = length.unwrap_or(LONGEST_M);
    mass * (length * length / 4.0 + ACROSS_M2)
}

/// M2a: between which times, in seconds, one small swing of a club can lie that balances `arm` from its pivot. The quick end
/// is a point mass at the balance point, `2π√(arm/g)`: quicker would be a negative inertia. The slow end has half
/// the mass at each end. `None` where the pivot is at the balance point: such a club does not swing.
#[must_use]
pub fn period_bounds(balance: Length, pivot: Length, length: Option<Length>) -> Option<(f64, f64)> {
    let arm = (balance.m() - pivot.m()).abs();
    (arm > 0.0).then(|| {
        let swing = |about_balance: f64| {
            2.0 * PI * ((about_balance + arm * arm) / (STANDARD_GRAVITY * arm)).sqrt()
        };
        (swing(0.0), swing(most_inertia(1.0, length.map(Length::m))))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    // OpenStax University Physics vol. 1 § 15.4 with § 10.5: a uniform rod of length L hung by its end swings with
    // T = 2π√(2L/3g); for 1 m that is 1.6382 s.
    #[test]
    fn a_rod_hung_by_its_end_gives_a_twelfth() {
        let period = 2.0 * PI * (2.0 / (3.0 * STANDARD_GRAVITY)).sqrt();
        assert!((period - 1.6382).abs() < 5e-5);
        let inertia = inertia_about_balance(2.0, 0.5, 0.0, period);
        assert!((inertia - 2.0 / 12.0).abs() < 1e-12, "{inertia}");
    }

    // The same rod, 1.6382 s, lies between its bounds. By hand: quick end 2π√(0.5/g) = 1.41875 s; slow end
    // 2π√((0.25 + 0.0225 + 0.25)/(0.5·g)) = 2.05106 s.
    #[test]
    fn a_swing_has_bounds() {
        let m = |m| Length::from_m(m).unwrap();
        let (quick, slow) = period_bounds(m(0.5), m(0.0), Some(m(1.0))).unwrap();
        assert!((quick - 1.418_75).abs() < 1e-5, "{quick}");
        assert!((slow - 2.051_06).abs() < 1e-5, "{slow}");
        assert!(quick < 1.6382 && 1.6382 < slow);
        assert_eq!(period_bounds(m(0.5), m(0.5), None), None);
        let (_, longer) = period_bounds(m(0.5), m(0.0), None).unwrap();
        assert!(longer > slow);
    }

    // Closed form: m = 5.0 kg, d = 0.60 m, T = 1.7 s gives 2.15367 kg·m² about the pivot.
    #[test]
    fn the_pendulum_figure_about_the_pivot() {
        let about_balance = inertia_about_balance(5.0, 0.60, 0.0, 1.7);
        assert!((about_balance + 5.0 * 0.36 - 2.153_67).abs() < 1e-5);
        // Hung from beyond the balance point the arm is the same, and so is the answer.
        let from_the_head = inertia_about_balance(5.0, 0.60, 1.20, 1.7);
        assert!((from_the_head - about_balance).abs() < 1e-12);
    }
}
