//! A loading's figures as a person reads them, each with the inputs, the rule, the formula and the
//! source that it opens to.

use leverbook_domain::club::{BareClub, ClubMeasure, Mechanics, StepBasis, StepSize};
use leverbook_domain::units::{Inertia, Length, Mass, Measured, StaticMoment, UnitSystem};

use crate::numbers::plain;

/// Standard gravity as shown beside formulas.
const GRAVITY: (&str, &str) = ("standard gravity g", "9.80665 m/s²");

/// Where a figure comes from.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Origin {
    /// The rules that gave it.
    pub(super) rules: &'static str,
    /// How.
    pub(super) formula: &'static str,
    /// From what.
    pub(super) inputs: Vec<(String, String)>,
    /// On whose word.
    pub(super) source: &'static str,
}

/// One figure.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Figure {
    /// What it is.
    pub(super) name: &'static str,
    /// "47.4 ± 0.5 N·m", or "unknown".
    pub(super) text: String,
    /// Where it is unknown: why, and what would tell.
    pub(super) why_unknown: Option<&'static str>,
    /// Where it comes from.
    pub(super) origin: Origin,
}

/// The figures of one loading.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Figures {
    /// With plates.
    pub(super) mass: Figure,
    /// Knob end to far end.
    pub(super) length: Figure,
    /// From the knob end.
    pub(super) balance: Figure,
    /// M1.
    pub(super) moment: Figure,
    /// M2.
    pub(super) inertia: Figure,
}

impl Figures {
    /// Of a measure, in a person's units.
    pub(super) fn of(measure: &ClubMeasure, units: UnitSystem) -> Self {
        let mechanics = measure.mechanics();
        let shape = matches!(measure.bare(), BareClub::Shape(_));
        let inputs = Inputs { measure, units };
        let built = if shape || !measure.plates().is_empty() {
            "M2b, M3"
        } else {
            "M3"
        };
        Self {
            mass: Figure {
                name: "Mass",
                text: mass(mechanics.mass, units),
                why_unknown: None,
                origin: Origin {
                    rules: built,
                    formula: if shape {
                        "the sum of the pieces, each volume × density, and of the plates"
                    } else {
                        "as weighed, and the plates"
                    },
                    inputs: inputs.bare().into_iter().chain(inputs.plates()).collect(),
                    source: OFF,
                },
            },
            length: Figure {
                name: "Length",
                text: known(mechanics.length.map(|measured| length(measured, units))),
                why_unknown: mechanics
                    .length
                    .is_none()
                    .then_some("nobody has measured it yet"),
                origin: Origin {
                    rules: "M3",
                    formula: "from the knob end to the far end",
                    inputs: inputs.bare(),
                    source: OFF,
                },
            },
            balance: Figure {
                name: "Balance point",
                text: known(mechanics.balance.map(|measured| length(measured, units))),
                why_unknown: mechanics.balance.is_none().then_some(
                    "not measured yet: lay the club on an edge where it stays level, and measure \
                     from the knob end",
                ),
                origin: Origin {
                    rules: built,
                    formula: "b = Σ m·x / Σ m, from the knob end",
                    inputs: inputs.bare().into_iter().chain(inputs.plates()).collect(),
                    source: "Centre of mass: any handbook of mechanics.",
                },
            },
            moment: Figure {
                name: "Static moment",
                text: known(
                    mechanics
                        .static_moment
                        .map(|measured| moment(measured, units)),
                ),
                why_unknown: why_no_moment(measure),
                origin: Origin {
                    rules: "M1, M3",
                    formula: "S = m·g·(b − r)",
                    inputs: inputs.moment(),
                    source: "Moment of a force about the grip: any handbook of mechanics. g: 3rd \
                             CGPM, 1901, exact.",
                },
            },
            inertia: Figure {
                name: "Inertia about the grip",
                text: known(
                    mechanics
                        .inertia_grip
                        .map(|measured| inertia(measured, units)),
                ),
                why_unknown: why_no_inertia(measure),
                origin: inputs.inertia(),
            },
        }
    }

    /// In the order pages list them.
    pub(super) fn all(&self) -> [&Figure; 5] {
        [
            &self.mass,
            &self.length,
            &self.balance,
            &self.moment,
            &self.inertia,
        ]
    }
}

/// M3.
const OFF: &str = "The ± is the root of the summed squares of what each input’s own ± changes \
                   (JCGM 100:2008, independent inputs).";

fn known(text: Option<String>) -> String {
    text.unwrap_or_else(|| "unknown".to_owned())
}

fn why_no_moment(measure: &ClubMeasure) -> Option<&'static str> {
    let mechanics = measure.mechanics();
    match (mechanics.static_moment, mechanics.balance, measure.grip()) {
        (Some(_), _, _) => None,
        (None, None, None) => Some("needs the balance point and the grip"),
        (None, None, Some(_)) => Some("needs the balance point"),
        (None, Some(_), _) => Some("needs the grip: the middle of the hands, from the knob end"),
    }
}

fn why_no_inertia(measure: &ClubMeasure) -> Option<&'static str> {
    if measure.mechanics().inertia_grip.is_some() {
        return None;
    }
    if let Some(why) = why_no_moment(measure) {
        return Some(why);
    }
    Some("needs a swing test, or the shape; nothing is guessed")
}

/// What was measured, as pairs of name and value.
struct Inputs<'a> {
    measure: &'a ClubMeasure,
    units: UnitSystem,
}

impl Inputs<'_> {
    fn bare(&self) -> Vec<(String, String)> {
        let units = self.units;
        match self.measure.bare() {
            BareClub::Weighed {
                mass,
                length,
                balance,
                ..
            } => {
                let mut pairs = vec![("mass, weighed".to_owned(), units.format_mass(*mass))];
                pairs.extend(
                    length.map(|length| ("length".to_owned(), units.format_length(length))),
                );
                pairs.extend(balance.map(|at| {
                    (
                        "balance point, measured".to_owned(),
                        units.format_length(at),
                    )
                }));
                pairs
            }
            BareClub::Shape(pieces) => (1..)
                .zip(pieces)
                .map(|(number, piece)| {
                    let across = |radius: Length| plain(2.0 * radius.in_system(units), 1);
                    let bore = if piece.bore_radius.m() > 0.0 {
                        format!(", bore {}", across(piece.bore_radius))
                    } else {
                        String::new()
                    };
                    let text = format!(
                        "{} long, {} to {} {} across{bore}, {} kg/m³",
                        units.format_length(piece.length),
                        across(piece.start_radius),
                        across(piece.end_radius),
                        units.length_unit(),
                        plain(piece.density.kgm3(), 0),
                    );
                    (format!("piece {number}"), text)
                })
                .collect(),
        }
    }

    fn plates(&self) -> Vec<(String, String)> {
        (1..)
            .zip(self.measure.plates())
            .map(|(number, plate)| {
                let text = format!(
                    "{}, its middle {} from the knob end",
                    self.units.format_mass(plate.mass),
                    self.units.format_length(plate.offset),
                );
                (format!("plate {number}"), text)
            })
            .collect()
    }

    fn moment(&self) -> Vec<(String, String)> {
        let mechanics = self.measure.mechanics();
        let mut pairs = vec![("mass m".to_owned(), mass(mechanics.mass, self.units))];
        pairs.extend(
            mechanics
                .balance
                .map(|at| ("balance point b".to_owned(), length(at, self.units))),
        );
        pairs.extend(
            self.measure
                .grip()
                .map(|at| ("grip r".to_owned(), self.units.format_length(at))),
        );
        pairs.push((GRAVITY.0.to_owned(), GRAVITY.1.to_owned()));
        pairs
    }

    fn inertia(&self) -> Origin {
        let mut inputs = self.moment();
        let about_balance = self.measure.mechanics().inertia_cm;
        inputs.extend(about_balance.map(|about| {
            (
                "about the balance point I_cm".to_owned(),
                inertia(about, self.units),
            )
        }));
        match self.measure.bare() {
            BareClub::Weighed { swing, .. } => {
                if let Some(swing) = swing {
                    let period = format!("{} s", plain(swing.period.seconds(), 4));
                    inputs.push(("one swing T".to_owned(), period));
                    inputs.push(("pivot p".to_owned(), self.units.format_length(swing.pivot)));
                }
                Origin {
                    rules: "M2, M2a, M3",
                    formula: "I_pivot = m·g·|b − p|·T²/4π²; I_cm = I_pivot − m·(b − p)²; \
                              I = I_cm + m·(b − r)²; plates by the parallel-axis theorem",
                    inputs,
                    source: "Physical pendulum, small swings: OpenStax University Physics vol. 1, \
                             § 15.4; parallel axes: § 10.5.",
                }
            }
            BareClub::Shape(_) => {
                inputs.extend(self.bare());
                inputs.extend(self.plates());
                Origin {
                    rules: "M2, M2b, M3",
                    formula: "each piece a solid or hollow frustum, each plate a ring, joined by \
                              the parallel-axis theorem; I = I_cm + m·(b − r)²",
                    inputs,
                    source: "Solids of revolution by integration; parallel axes: OpenStax \
                             University Physics vol. 1, § 10.5.",
                }
            }
        }
    }
}

fn mass(measured: Measured<Mass>, units: UnitSystem) -> String {
    let one = Mass::from_kg(1.0).map_or(1.0, |one| one.in_system(units));
    shown(
        measured.value().kg(),
        measured.plus_minus(),
        one,
        units.mass_unit(),
    )
}

fn length(measured: Measured<Length>, units: UnitSystem) -> String {
    let one = Length::from_m(1.0).map_or(1.0, |one| one.in_system(units));
    shown(
        measured.value().m(),
        measured.plus_minus(),
        one,
        units.length_unit(),
    )
}

fn moment(measured: Measured<StaticMoment>, units: UnitSystem) -> String {
    let one = StaticMoment::from_nm(1.0).map_or(1.0, |one| one.in_system(units));
    shown(
        measured.value().nm(),
        measured.plus_minus(),
        one,
        units.moment_unit(),
    )
}

fn inertia(measured: Measured<Inertia>, units: UnitSystem) -> String {
    let one = Inertia::from_kgm2(1.0).map_or(1.0, |one| one.in_system(units));
    shown(
        measured.value().kgm2(),
        measured.plus_minus(),
        one,
        units.inertia_unit(),
    )
}

/// "47.4 ± 0.5 N·m": the ± to one digit (two where the first is 1), the value to the same place
/// (JCGM 100:2008, 7.2.6: at most two digits).
fn shown(value: f64, plus_minus: f64, one: f64, unit: &str) -> String {
    let (value, plus_minus) = (value * one, plus_minus * one);
    if plus_minus <= 0.0 {
        return format!("{} {unit}", plain(value, 3));
    }
    let leading = plus_minus.log10().floor();
    let first_digit = plus_minus / 10f64.powf(leading);
    let digits = if first_digit < 1.95 { 1.0 } else { 0.0 };
    let decimals = (digits - leading).max(0.0) as usize;
    format!("{value:.decimals$} ± {plus_minus:.decimals$} {unit}")
}

/// M4: a step as a person reads it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Step {
    /// "+27 %".
    pub(super) text: String,
    /// What the loading before is called.
    pub(super) from: String,
    /// "by static moment".
    pub(super) basis: &'static str,
    /// Over the gym's limit.
    pub(super) over: bool,
    /// Where it comes from.
    pub(super) origin: Origin,
}

impl Step {
    /// From one loading to the next.
    pub(super) fn of(
        from: (&str, &Mechanics),
        to: (&str, &Mechanics),
        step: StepSize,
        limit_percent: f64,
        units: UnitSystem,
    ) -> Self {
        let mut inputs = Vec::new();
        for (name, mechanics) in [from, to] {
            match step.basis {
                StepBasis::MassOnly => {
                    inputs.push((format!("mass of {name}"), mass(mechanics.mass, units)));
                }
                StepBasis::Moment | StepBasis::MomentAndInertia => {
                    inputs.extend(
                        mechanics
                            .static_moment
                            .map(|measured| (format!("S of {name}"), moment(measured, units))),
                    );
                }
            }
            if step.basis == StepBasis::MomentAndInertia {
                inputs.extend(
                    mechanics
                        .inertia_grip
                        .map(|measured| (format!("I of {name}"), inertia(measured, units))),
                );
            }
        }
        inputs.push(("limit".to_owned(), format!("{} %", plain(limit_percent, 1))));
        Self {
            text: format!("{:+.0} %", step.fraction * 100.0),
            from: from.0.to_owned(),
            basis: step.basis.words(),
            over: step.is_over(limit_percent / 100.0),
            origin: Origin {
                rules: "M4, M5",
                formula: match step.basis {
                    StepBasis::MassOnly => "m_B / m_A − 1, for want of a balance point or grip",
                    StepBasis::Moment => "S_B / S_A − 1; an inertia is unknown",
                    StepBasis::MomentAndInertia => "the larger of S_B / S_A − 1 and I_B / I_A − 1",
                },
                inputs,
                source: "Common practice, no source; the limit is the gym’s own. Published \
                         guidance for load increases is 2–10 % (ACSM 2009), which fixed clubs \
                         cannot reach.",
            },
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    // JCGM 100:2008, 7.2.2 writes m_S = (100.021 47 ± 0.000 70) g; 7.2.6: at most two digits.
    #[test]
    fn the_plus_minus_decides_how_many_digits_are_shown() {
        assert_eq!(shown(100.02147, 0.00035, 1.0, "g"), "100.0215 ± 0.0003 g");
        assert_eq!(shown(47.387, 0.583, 1.0, "N·m"), "47.4 ± 0.6 N·m");
        assert_eq!(shown(2.3381, 0.0149, 1.0, "kg·m²"), "2.338 ± 0.015 kg·m²");
        assert_eq!(shown(11.7, 0.01, 1.0, "kg"), "11.700 ± 0.010 kg");
        assert_eq!(shown(463.2, 5.0, 1.0, "mm"), "463 ± 5 mm");
        assert_eq!(shown(463.2, 50.0, 1.0, "mm"), "463 ± 50 mm");
        assert_eq!(shown(12.5, 0.0, 1.0, "kg"), "12.5 kg");
    }

    // 1 lbf·ft = 1.355 817 948 N·m (NIST SP 811, App. B.8).
    #[test]
    fn the_plus_minus_is_in_the_same_unit_as_the_value() {
        let measured = StaticMoment::from_nm(135.5817948)
            .and_then(|value| Measured::new(value, 13.55817948))
            .expect("in range");
        assert_eq!(moment(measured, UnitSystem::Pound), "100 ± 10 lbf·ft");
    }

    #[test]
    fn what_is_unknown_says_so_and_why() {
        let measure: ClubMeasure =
            serde_json::from_str(r#"{"mass_kg": 8, "balance_mm": 400, "grip_mm": 50}"#)
                .expect("a possible club");
        let figures = Figures::of(&measure, UnitSystem::Kilogram);
        assert_eq!(figures.length.text, "unknown");
        assert_eq!(figures.inertia.text, "unknown");
        assert!(
            figures
                .inertia
                .why_unknown
                .is_some_and(|why| why.contains("swing test"))
        );
        // M1 by hand: 8 · 9.80665 · 0.35 = 27.459 N·m.
        assert!(
            figures.moment.text.starts_with("27.5 ± "),
            "{}",
            figures.moment.text
        );
        assert_eq!(figures.moment.why_unknown, None);
    }
}
