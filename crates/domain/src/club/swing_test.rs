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
