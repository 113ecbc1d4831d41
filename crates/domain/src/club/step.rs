//! M4: how big the change from one club to another is.

use serde::{Deserialize, Serialize};

use super::mechanics::Mechanics;

/// What a step size was worked out from.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum StepBasis {
    /// Both static moments known, an inertia unknown.
    Moment,
    /// Static moments and inertias about the grip all known: the larger of the two steps.
    MomentAndInertia,
    /// A balance point or a grip reference is missing: "by mass only".
    MassOnly,
}

impl StepBasis {
    /// What stands beside the figure.
    #[must_use]
    pub const fn words(self) -> &'static str {
        match self {
            Self::Moment => "by static moment",
            Self::MomentAndInertia => "by static moment and inertia",
            Self::MassOnly => "by mass only",
        }
    }
}

/// M4: a step. 0.33 is a third more; a negative one leads down.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct StepSize {
    /// The size that counts.
    pub fraction: f64,
    /// What it was worked out from.
    pub basis: StepBasis,
}

impl StepSize {
    /// Whether the change is to a greater lever demand.
    #[must_use]
    pub fn leads_up(self) -> bool {
        self.fraction > 0.0
    }

    /// Whether it is over the limit. A step of exactly the limit, but for rounding, is not.
    #[must_use]
    pub fn is_over(self, limit: f64) -> bool {
        self.fraction > limit + 1e-9
    }
}

/// M4: the larger of `S_B/S_A − 1` and, where both are known, `I_B/I_A − 1`, both about the grip; with no static moment
/// on either side, mass alone, and it says so.
#[must_use]
pub fn step_size(from: &Mechanics, to: &Mechanics) -> StepSize {
    let Some((moment_from, moment_to)) = from.static_moment.zip(to.static_moment) else {
        let fraction = to.mass.value().kg() / from.mass.value().kg() - 1.0;
        return StepSize {
            fraction,
            basis: StepBasis::MassOnly,
        };
    };
    let by_moment = moment_to.value().nm() / moment_from.value().nm() - 1.0;
    match from.inertia_grip.zip(to.inertia_grip) {
        Some((inertia_from, inertia_to)) => {
            let by_inertia = inertia_to.value().kgm2() / inertia_from.value().kgm2() - 1.0;
            StepSize {
                fraction: by_moment.max(by_inertia),
                basis: StepBasis::MomentAndInertia,
            }
        }
        None => StepSize {
            fraction: by_moment,
            basis: StepBasis::Moment,
        },
    }
}

#[cfg(test)]
mod tests {
    use super::super::ClubMeasure;
    use super::*;

    fn club(json: &str) -> ClubMeasure {
        serde_json::from_str(json).unwrap()
    }

    fn step(from: &ClubMeasure, to: &ClubMeasure) -> StepSize {
        step_size(from.mechanics(), to.mechanics())
    }

    // M4 by hand. S = m·g·(b − r), so of 8 kg at 0.4 m, 10 kg at 0.3 m and 8 kg at 0.6 m the arms and masses multiply to
    // 3.2, 3.0 and 4.8: the heavier but shorter one is a step down, the longer one of the same mass a step of half.
    #[test]
    fn mass_alone_is_not_enough() {
        let middle = club(r#"{"mass_kg":8,"length_mm":600,"balance_mm":450,"grip_mm":50}"#);
        let short = club(r#"{"mass_kg":10,"length_mm":450,"balance_mm":350,"grip_mm":50}"#);
        let long = club(r#"{"mass_kg":8,"length_mm":850,"balance_mm":650,"grip_mm":50}"#);
        let down = step(&middle, &short);
        assert!((down.fraction - (3.0 / 3.2 - 1.0)).abs() < 1e-12 && !down.leads_up());
        let up = step(&middle, &long);
        assert!((up.fraction - 0.5).abs() < 1e-12 && up.leads_up());
        assert_eq!(up.basis, StepBasis::Moment);
        assert!(up.is_over(0.33) && !up.is_over(0.5));
    }

    // With both inertias known the larger of the two counts: the same static moment twice as far out is twice the
    // inertia of a point mass.
    #[test]
    fn inertia_counts_where_it_is_the_larger() {
        let disc = |mass: f64, start: f64| {
            let radius = 30.0;
            let volume = std::f64::consts::PI * 0.03f64.powi(2) * 0.04;
            club(&format!(
                r#"{{"grip_mm":0,"segments":[
                    {{"length_mm":{start},"start_radius_mm":0.5,"end_radius_mm":0.5,"density_kg_m3":1}},
                    {{"length_mm":40,"start_radius_mm":{radius},"end_radius_mm":{radius},"density_kg_m3":{}}}]}}"#,
                mass / volume
            ))
        };
        let near = disc(2.0, 380.0);
        let far = disc(1.0, 780.0);
        let found = step(&near, &far);
        assert_eq!(found.basis, StepBasis::MomentAndInertia);
        // Moments 2·0.4 and 1·0.8 are the same; inertias 2·0.16 and 1·0.64, and a little for the discs themselves.
        assert!((found.fraction - 1.0).abs() < 0.01, "{found:?}");
    }

    #[test]
    fn without_a_moment_it_is_by_mass_and_says_so() {
        let unknown = club(r#"{"mass_kg":8,"length_mm":600}"#);
        let no_grip = club(r#"{"mass_kg":10,"length_mm":600,"balance_mm":400}"#);
        let found = step(&unknown, &no_grip);
        assert!((found.fraction - 0.25).abs() < 1e-12);
        assert_eq!(found.basis.words(), "by mass only");
    }
}
