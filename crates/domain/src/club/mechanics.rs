//! M1, M2 and M3: static moment, moment of inertia, and how far each can be off.
//!
//! The ± of a result is the root of the summed squares of (sensitivity × ±) over all inputs, taken as independent. Each
//! sensitivity is the central difference over the input's own ±: exact for M1 and M2, which are at most quadratic in each
//! measured input, and it follows a shape's frustums without a page of derivatives. Because balance point, moment
//! and inertia are worked out from the same nudged inputs, what they share is counted once.

use serde::Serialize;

use super::measure::{BareClub, MeasureError, PlusMinus, Refusal};
use super::shape::{Lump, Plate, PlateNumbers, SegmentNumbers, join, stack};
use super::swing_test::{inertia_about_balance, most_inertia};
use crate::units::{Inertia, Length, Mass, Measured, STANDARD_GRAVITY, StaticMoment};

/// What a club, or one loading of it, asks of the hands. `None` is *unknown*: nothing is guessed.
///
/// Serialised in the form that files and the command line give: `mass_kg`, `balance_mm`, `static_moment_nm`,
/// `inertia_cm_kgm2`, `inertia_grip_kgm2`, each `{value, plus_minus}` or null.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
#[serde(into = "MechanicsFile")]
pub struct Mechanics {
    /// With its plates.
    pub mass: Measured<Mass>,
    /// From the knob end to the far end.
    pub length: Option<Measured<Length>>,
    /// From the knob end.
    pub balance: Option<Measured<Length>>,
    /// M1: what it takes to hold the club level at the grip.
    pub static_moment: Option<Measured<StaticMoment>>,
    /// M2: about the balance point.
    pub inertia_cm: Option<Measured<Inertia>>,
    /// M2: about the grip.
    pub inertia_grip: Option<Measured<Inertia>>,
}

#[derive(Serialize)]
struct Figure {
    value: f64,
    plus_minus: f64,
}

#[derive(Serialize)]
struct MechanicsFile {
    mass_kg: Figure,
    balance_mm: Option<Figure>,
    static_moment_nm: Option<Figure>,
    inertia_cm_kgm2: Option<Figure>,
    inertia_grip_kgm2: Option<Figure>,
}

impl From<Mechanics> for MechanicsFile {
    fn from(mechanics: Mechanics) -> Self {
        fn figure<T: Copy + Into<f64>>(measured: Measured<T>) -> Figure {
            Figure {
                value: measured.value().into(),
                plus_minus: measured.plus_minus(),
            }
        }
        Self {
            mass_kg: figure(mechanics.mass),
            balance_mm: mechanics.balance.map(|balance| Figure {
                value: balance.value().mm(),
                plus_minus: balance.plus_minus() * 1000.0,
            }),
            static_moment_nm: mechanics.static_moment.map(figure),
            inertia_cm_kgm2: mechanics.inertia_cm.map(figure),
            inertia_grip_kgm2: mechanics.inertia_grip.map(figure),
        }
    }
}

/// Every measured number of a loading, loose, so that each can be nudged by its ±.
#[derive(Debug, Clone)]
struct Numbers {
    bare: BareNumbers,
    grip: Option<f64>,
    plates: Vec<PlateNumbers>,
}

#[derive(Debug, Clone)]
enum BareNumbers {
    Weighed {
        mass: f64,
        balance: Option<f64>,
        swing: Option<(f64, f64)>,
    },
    Shape(Vec<SegmentNumbers>),
}

/// The results, in kg, m, N·m and kg·m².
#[derive(Debug, Clone, Copy)]
struct Results {
    mass: f64,
    balance: Option<f64>,
    static_moment: Option<f64>,
    inertia_cm: Option<f64>,
    inertia_grip: Option<f64>,
}

impl Numbers {
    fn new(bare: &BareClub, grip: Option<Length>, plates: &[Plate]) -> Self {
        Self {
            bare: match bare {
                BareClub::Weighed {
                    mass,
                    balance,
                    swing,
                    ..
                } => BareNumbers::Weighed {
                    mass: mass.kg(),
                    balance: balance.map(Length::m),
                    swing: swing.map(|test| (test.period.seconds(), test.pivot.m())),
                },
                BareClub::Shape(segments) => {
                    BareNumbers::Shape(segments.iter().copied().map(Into::into).collect())
                }
            },
            grip: grip.map(Length::m),
            plates: plates.iter().copied().map(Into::into).collect(),
        }
    }

    /// Each input with its ±, always in the same order.
    fn inputs(&mut self, pm: PlusMinus) -> Vec<(&mut f64, f64)> {
        let mut inputs = Vec::new();
        match &mut self.bare {
            BareNumbers::Weighed {
                mass,
                balance,
                swing,
            } => {
                inputs.push((mass, pm.mass()));
                inputs.extend(balance.as_mut().map(|balance| (balance, pm.length())));
                if let Some((period, pivot)) = swing {
                    inputs.push((period, pm.period()));
                    inputs.push((pivot, pm.length()));
                }
            }
            BareNumbers::Shape(segments) => {
                for segment in segments {
                    inputs.push((&mut segment.length, pm.length()));
                    inputs.push((&mut segment.start_radius, pm.radius()));
                    inputs.push((&mut segment.end_radius, pm.radius()));
                    if segment.bore_radius > 0.0 {
                        inputs.push((&mut segment.bore_radius, pm.radius()));
                    }
                    let density = pm.density_fraction() * segment.density;
                    inputs.push((&mut segment.density, density));
                }
            }
        }
        inputs.extend(self.grip.as_mut().map(|grip| (grip, pm.length())));
        for plate in &mut self.plates {
            inputs.push((&mut plate.mass, pm.mass()));
            inputs.push((&mut plate.offset, pm.length()));
            inputs.push((&mut plate.radius, pm.radius()));
            inputs.push((&mut plate.bore_radius, pm.radius()));
            inputs.push((&mut plate.thickness, pm.radius()));
        }
        inputs
    }

    /// M1 and M2 for these numbers.
    fn results(&self) -> Results {
        let plates = self.plates.iter().map(|plate| plate.lump());
        let plate_mass: f64 = self.plates.iter().map(|plate| plate.mass).sum();
        let (mass, balance, inertia_cm) = match &self.bare {
            BareNumbers::Weighed {
                mass,
                balance: None,
                ..
            } => (mass + plate_mass, None, None),
            BareNumbers::Weighed {
                mass,
                balance: Some(balance),
                swing,
            } => {
                let inertia = swing
                    .map(|(period, pivot)| inertia_about_balance(*mass, *balance, pivot, period));
                let bare = Lump {
                    mass: *mass,
                    centre: *balance,
                    inertia: inertia.unwrap_or(f64::NAN),
                };
                let whole = join(&std::iter::once(bare).chain(plates).collect::<Vec<_>>());
                (
                    whole.mass,
                    Some(whole.centre),
                    inertia.map(|_| whole.inertia),
                )
            }
            BareNumbers::Shape(segments) => {
                let bare = stack(segments);
                let whole = join(&std::iter::once(bare).chain(plates).collect::<Vec<_>>());
                (whole.mass, Some(whole.centre), Some(whole.inertia))
            }
        };
        let arm = balance.zip(self.grip).map(|(balance, grip)| balance - grip);
        Results {
            mass,
            balance,
            static_moment: arm.map(|arm| mass * STANDARD_GRAVITY * arm),
            inertia_cm,
            inertia_grip: arm
                .zip(inertia_cm)
                .map(|(arm, about)| about + mass * arm * arm),
        }
    }
}

/// The propagated ± of each result, from the squared changes that each input's ± makes.
fn plus_minus(numbers: &Numbers, pm: PlusMinus) -> Results {
    let half_change = |up: f64, down: f64| ((up - down) / 2.0).powi(2);
    let add = |sum: &mut Option<f64>, up: Option<f64>, down: Option<f64>| {
        *sum = up
            .zip(down)
            .map(|(up, down)| sum.unwrap_or(0.0) + half_change(up, down));
    };
    let mut sums = Results {
        mass: 0.0,
        balance: None,
        static_moment: None,
        inertia_cm: None,
        inertia_grip: None,
    };
    let count = numbers.clone().inputs(pm).len();
    for index in 0..count {
        let nudged = |direction: f64| {
            let mut nudged = numbers.clone();
            let (input, by) = nudged.inputs(pm).swap_remove(index);
            *input += direction * by;
            nudged.results()
        };
        let (up, down) = (nudged(1.0), nudged(-1.0));
        sums.mass += half_change(up.mass, down.mass);
        add(&mut sums.balance, up.balance, down.balance);
        add(
            &mut sums.static_moment,
            up.static_moment,
            down.static_moment,
        );
        add(&mut sums.inertia_cm, up.inertia_cm, down.inertia_cm);
        add(&mut sums.inertia_grip, up.inertia_grip, down.inertia_grip);
    }
    Results {
        mass: sums.mass.sqrt(),
        balance: sums.balance.map(f64::sqrt),
        static_moment: sums.static_moment.map(f64::sqrt),
        inertia_cm: sums.inertia_cm.map(f64::sqrt),
        inertia_grip: sums.inertia_grip.map(f64::sqrt),
    }
}

impl Mechanics {
    /// Works out M1 to M3 and refuses what no body can be.
    pub(super) fn new(
        bare: &BareClub,
        length: Option<Length>,
        grip: Option<Length>,
        plates: &[Plate],
        pm: PlusMinus,
    ) -> Result<Self, MeasureError> {
        Self::refuse_impossible_swing(bare)?;
        let numbers = Numbers::new(bare, grip, plates);
        let results = numbers.results();
        if results.static_moment.is_some_and(|moment| moment <= 0.0) {
            return Err(MeasureError::at("grip_mm", Refusal::GripPastBalance));
        }
        let ranges = plus_minus(&numbers, pm);
        let (mass_field, length_field, pieces) = match bare {
            BareClub::Weighed { .. } => ("mass_kg", "length_mm", 1),
            BareClub::Shape(segments) => ("segments", "segments", segments.len()),
        };
        // A stack's length is a plain sum, each piece off on its own.
        let length = length
            .map(|length| Measured::new(length, pm.length() * (pieces as f64).sqrt()))
            .transpose()
            .map_err(|refused| MeasureError::at(length_field, refused.into()))?;
        let mass = Mass::from_kg(results.mass)
            .and_then(|mass| Measured::new(mass, ranges.mass))
            .map_err(|refused| MeasureError::at(mass_field, refused.into()))?;
        let measured = |value: Option<f64>, range: Option<f64>| value.zip(range);
        let balance = measured(results.balance, ranges.balance)
            .map(|(value, range)| Measured::new(Length::from_m(value)?, range))
            .transpose()
            .map_err(|refused| MeasureError::at("balance_mm", refused.into()))?;
        let static_moment = measured(results.static_moment, ranges.static_moment)
            .map(|(value, range)| Measured::new(StaticMoment::from_nm(value)?, range))
            .transpose()
            .map_err(|refused| MeasureError::at("balance_mm", refused.into()))?;
        let inertia = |value: Option<f64>, range: Option<f64>| {
            measured(value, range)
                .map(|(value, range)| Measured::new(Inertia::from_kgm2(value)?, range))
                .transpose()
                .map_err(|refused| MeasureError::at("period_s", refused.into()))
        };
        Ok(Self {
            mass,
            length,
            balance,
            static_moment,
            inertia_cm: inertia(results.inertia_cm, ranges.inertia_cm)?,
            inertia_grip: inertia(results.inertia_grip, ranges.inertia_grip)?,
        })
    }

    /// M2a: a swing test must give an inertia that a body of this mass and length can have: at least 0, and at most
    /// that of half its mass at each end, `m·L²/4`, with a wide head. Past that, the time was not that of one swing. A
    /// club of unknown length may be as long as any.
    fn refuse_impossible_swing(bare: &BareClub) -> Result<(), MeasureError> {
        let BareClub::Weighed {
            mass,
            length,
            balance: Some(balance),
            swing: Some(swing),
        } = bare
        else {
            return Ok(());
        };
        let (mass, balance) = (mass.kg(), balance.m());
        if balance == swing.pivot.m() {
            return Err(MeasureError::at("pivot_mm", Refusal::PivotAtBalance));
        }
        let inertia = inertia_about_balance(mass, balance, swing.pivot.m(), swing.period.seconds());
        if inertia < 0.0 {
            return Err(MeasureError::at("period_s", Refusal::SwingTooQuick));
        }
        if inertia > most_inertia(mass, length.map(Length::m)) {
            return Err(MeasureError::at("period_s", Refusal::SwingTooSlow));
        }
        Ok(())
    }
}

#[cfg(test)]
mod tests {
    use std::f64::consts::PI;

    use super::super::ClubMeasure;
    use super::*;

    fn club(json: &str) -> ClubMeasure {
        serde_json::from_str(json).unwrap()
    }

    fn close(what: &str, a: f64, b: f64, relative: f64) {
        assert!(
            (a - b).abs() <= relative * b.abs(),
            "{what}: {a} is not {b}"
        );
    }

    fn steel(length: f64, start: f64, end: f64) -> String {
        segment(length, start, end, 0.0, 7850.0)
    }

    fn segment(length: f64, start: f64, end: f64, bore: f64, density: f64) -> String {
        format!(
            r#"{{"length_mm":{length},"start_radius_mm":{start},"end_radius_mm":{end},"bore_radius_mm":{bore},"density_kg_m3":{density}}}"#
        )
    }

    fn shape(grip: f64, segments: &[String]) -> ClubMeasure {
        club(&format!(
            r#"{{"grip_mm":{grip},"segments":[{}]}}"#,
            segments.join(",")
        ))
    }

    struct Body {
        name: &'static str,
        club: ClubMeasure,
        mass: f64,
        balance_mm: f64,
        inertia_cm: f64,
        moment: f64,
        inertia_grip: f64,
        period_about_knob: f64,
    }

    // Four whole clubs from their shapes: adaptive quadrature, scipy 1.17.1; six figures given.
    fn bodies() -> [Body; 4] {
        [
            Body {
                name: "uniform steel rod",
                club: shape(50.0, &[steel(800.0, 12.0, 12.0)]),
                mass: 2.841_01,
                balance_mm: 400.0,
                inertia_cm: 0.151_623,
                moment: 9.751_26,
                inertia_grip: 0.499_646,
                period_about_knob: 1.465_4,
            },
            Body {
                name: "steel handle with steel frustum head",
                club: shape(50.0, &[steel(300.0, 16.0, 16.0), steel(360.0, 20.0, 45.0)]),
                mass: 11.733_9,
                balance_mm: 463.619,
                inertia_cm: 0.330_921,
                moment: 47.595_4,
                inertia_grip: 2.338_37,
                period_about_knob: 1.453_02,
            },
            Body {
                name: "maple club, three frustums",
                club: shape(
                    70.0,
                    &[
                        segment(40.0, 25.0, 25.0, 0.0, 705.0),
                        segment(220.0, 14.0, 16.0, 0.0, 705.0),
                        segment(400.0, 16.0, 55.0, 0.0, 705.0),
                    ],
                ),
                mass: 1.393_95,
                balance_mm: 477.151,
                inertia_cm: 0.039_146_4,
                moment: 5.565_75,
                inertia_grip: 0.270_224,
                period_about_knob: 1.468_94,
            },
            Body {
                name: "hollow steel tube with iron cylinder head",
                club: shape(
                    50.0,
                    &[
                        segment(620.0, 17.0, 17.0, 14.0, 7850.0),
                        segment(180.0, 60.0, 60.0, 0.0, 7200.0),
                    ],
                ),
                mass: 16.079_4,
                balance_mm: 674.626,
                inertia_cm: 0.305_887,
                moment: 98.494_2,
                inertia_grip: 6.579_39,
                period_about_knob: 1.682_07,
            },
        ]
    }

    #[test]
    fn four_clubs_from_their_shapes_m2b() {
        for body in bodies() {
            let found = body.club.mechanics();
            close(body.name, found.mass.value().kg(), body.mass, 5e-6);
            close(
                body.name,
                found.balance.unwrap().value().mm(),
                body.balance_mm,
                5e-6,
            );
            close(
                body.name,
                found.inertia_cm.unwrap().value().kgm2(),
                body.inertia_cm,
                5e-6,
            );
            close(
                body.name,
                found.static_moment.unwrap().value().nm(),
                body.moment,
                5e-6,
            );
            close(
                body.name,
                found.inertia_grip.unwrap().value().kgm2(),
                body.inertia_grip,
                5e-6,
            );
        }
    }

    // The same four clubs, weighed, balanced and swung from the knob: the pendulum gives back the inertia of the shape.
    #[test]
    fn the_same_four_clubs_from_a_swing_test_m2a() {
        for body in bodies() {
            let weighed = club(&format!(
                r#"{{"mass_kg":{},"length_mm":800,"balance_mm":{},"period_s":{},"pivot_mm":0}}"#,
                body.mass, body.balance_mm, body.period_about_knob
            ));
            let found = weighed.mechanics();
            // The period is printed to six figures; I_cm is a small difference of larger terms.
            close(
                body.name,
                found.inertia_cm.unwrap().value().kgm2(),
                body.inertia_cm,
                2e-4,
            );
            assert!(found.static_moment.is_none() && found.inertia_grip.is_none());
        }
    }

    // OpenStax University Physics vol. 1, "Pendulums": a uniform beam hung at its end swinging with T = 2 s is 1.49 m
    // long with g = 9.81; with standard gravity 1.49043. Turned round: that beam's I_cm is mL²/12.
    #[test]
    fn the_textbook_beam() {
        let length = 3.0 * STANDARD_GRAVITY * 4.0 / (8.0 * PI * PI);
        close("length", length, 1.490_94 * STANDARD_GRAVITY / 9.81, 1e-5);
        let beam = club(&format!(
            r#"{{"mass_kg":6,"length_mm":{},"balance_mm":{},"grip_mm":0,"period_s":2,"pivot_mm":0}}"#,
            length * 1000.0,
            length * 500.0
        ));
        let found = beam.mechanics();
        close(
            "I_cm",
            found.inertia_cm.unwrap().value().kgm2(),
            0.5 * length * length,
            1e-9,
        );
        close(
            "I_end",
            found.inertia_grip.unwrap().value().kgm2(),
            2.0 * length * length,
            1e-9,
        );
    }

    // M1 by hand: 10 kg, balanced 450 mm from the knob, held at 50 mm: 10 · 9.80665 · 0.4 = 39.2266 N·m.
    // M3 by hand: √((g·0.4·0.01)² + 2·(10·g·0.005)²) = √(0.0392266² + 2·0.4903325²) = 0.694545.
    #[test]
    fn a_weighed_club_has_a_moment_and_its_plus_minus() {
        let found =
            *club(r#"{"mass_kg":10,"length_mm":700,"balance_mm":450,"grip_mm":50}"#).mechanics();
        let moment = found.static_moment.unwrap();
        close("S", moment.value().nm(), 39.226_6, 1e-12);
        close("±S", moment.plus_minus(), 0.694_545, 1e-5);
        close("±m", found.mass.plus_minus(), 0.010, 1e-12);
        close("±b", found.balance.unwrap().plus_minus(), 0.005, 1e-12);
        let length = found.length.unwrap();
        assert_eq!(length.value(), Length::from_mm(700.0).unwrap());
        close("±L", length.plus_minus(), 0.005, 1e-12);
        assert!(found.inertia_cm.is_none() && found.inertia_grip.is_none());
    }

    // M3 against the partial derivatives worked out by hand, with the person's own ±.
    // With d = b − p, h = b − r, k = T²/4π²: I_cm = m(g·d·k − d²), I = I_cm + m·h².
    #[test]
    fn plus_minus_is_the_first_order_one() {
        let found = *club(
            r#"{"mass_kg":11.7,"length_mm":660,"balance_mm":463,"grip_mm":50,"period_s":1.453,"pivot_mm":0,
                "mass_plus_minus_kg":0.02,"length_plus_minus_mm":3,"period_plus_minus_s":0.004}"#,
        )
        .mechanics();
        let (m, d, h, t) = (11.7, 0.463, 0.413, 1.453);
        let (um, ul, ut) = (0.02f64, 0.003f64, 0.004f64);
        let k = t * t / (4.0 * PI * PI);
        let g = STANDARD_GRAVITY;
        let by_mass = (g * d * k - d * d) * um;
        let by_arm = m * (g * k - 2.0 * d) * ul;
        let by_time = m * g * d * t / (2.0 * PI * PI) * ut;
        // Balance point and pivot both move d, by the same amount.
        let cm = (by_mass.powi(2) + 2.0 * by_arm.powi(2) + by_time.powi(2)).sqrt();
        close("±I_cm", found.inertia_cm.unwrap().plus_minus(), cm, 1e-3);
        let grip = ((by_mass + h * h * um).powi(2)
            + (by_arm + 2.0 * m * h * ul).powi(2)
            + by_arm.powi(2)
            + by_time.powi(2)
            + (2.0 * m * h * ul).powi(2))
        .sqrt();
        close("±I", found.inertia_grip.unwrap().plus_minus(), grip, 1e-3);
    }

    /// A small linear congruential generator (the constants of Knuth's MMIX) and a sum of twelve uniforms for a normal.
    struct Noise(u64);

    impl Noise {
        fn uniform(&mut self) -> f64 {
            self.0 = self
                .0
                .wrapping_mul(6_364_136_223_846_793_005)
                .wrapping_add(1_442_695_040_888_963_407);
            f64::from((self.0 >> 32) as u32) / f64::from(u32::MAX)
        }

        fn normal(&mut self) -> f64 {
            (0..12).map(|_| self.uniform()).sum::<f64>() - 6.0
        }
    }

    // M3 against a simulation: draw every input with its ± as a standard deviation, and look at the spread. Every way of
    // knowing a club, and every result that it gives: weighed alone, balanced, swung from the knob and from beyond the
    // balance point, from its shape, solid, hollow or of wood, and each with plates.
    #[test]
    fn plus_minus_is_the_spread_of_repeated_measurements() {
        let plates = r#""plates":[
            {"mass_kg":5,"offset_mm":620,"radius_mm":110,"bore_radius_mm":16,"thickness_mm":30},
            {"mass_kg":2.5,"offset_mm":650,"radius_mm":85,"bore_radius_mm":16,"thickness_mm":25}]"#;
        let weighed = |rest: &str| club(&format!(r#"{{"mass_kg":4.2,"length_mm":760{rest}}}"#));
        let swung = r#","balance_mm":440,"grip_mm":60,"period_s":1.52,"pivot_mm":10"#;
        let tube = format!(
            "{},{}",
            segment(620.0, 17.0, 17.0, 14.0, 7850.0),
            segment(60.0, 30.0, 25.0, 10.0, 7200.0)
        );
        let [rod, head, maple, hollow] = bodies().map(|body| body.club);
        let clubs = [
            ("weighed", weighed("")),
            ("balanced", weighed(r#","balance_mm":440,"grip_mm":60"#)),
            ("swung", weighed(swung)),
            (
                "swung from the head",
                weighed(r#","balance_mm":440,"grip_mm":60,"period_s":1.3,"pivot_mm":740"#),
            ),
            ("swung, with plates", weighed(&format!("{swung},{plates}"))),
            (
                "balanced, with plates",
                weighed(&format!(r#","balance_mm":440,"grip_mm":60,{plates}"#)),
            ),
            ("rod", rod),
            ("head", head),
            ("maple", maple),
            ("hollow", hollow),
            (
                "shape, with plates",
                club(&format!(r#"{{"grip_mm":50,"segments":[{tube}],{plates}}}"#)),
            ),
        ];
        let of = |results: &Results| {
            [
                Some(results.mass),
                results.balance,
                results.static_moment,
                results.inertia_cm,
                results.inertia_grip,
            ]
        };
        for (name, measured) in clubs {
            let pm = PlusMinus::default();
            let numbers = Numbers::new(measured.bare(), measured.grip(), measured.plates());
            let mut noise = Noise(20_261_125);
            let runs = 8000;
            let drawn: Vec<_> = (0..runs)
                .map(|_| {
                    let mut drawn = numbers.clone();
                    for (input, by) in drawn.inputs(pm) {
                        *input += by * noise.normal();
                    }
                    of(&drawn.results())
                })
                .collect();
            let found = measured.mechanics();
            let stated = [
                Some(found.mass.plus_minus()),
                found.balance.map(|it| it.plus_minus()),
                found.static_moment.map(|it| it.plus_minus()),
                found.inertia_cm.map(|it| it.plus_minus()),
                found.inertia_grip.map(|it| it.plus_minus()),
            ];
            for (index, stated) in stated.into_iter().enumerate() {
                let values: Option<Vec<f64>> = drawn.iter().map(|run| run[index]).collect();
                assert_eq!(values.is_some(), stated.is_some(), "{name} {index}");
                let Some((values, stated)) = values.zip(stated) else {
                    continue;
                };
                let n = values.len() as f64;
                let mean = values.iter().sum::<f64>() / n;
                let square: f64 = values.iter().map(|value| (value - mean).powi(2)).sum();
                let spread = (square / (n - 1.0)).sqrt();
                close(&format!("{name} {index}"), spread, stated, 0.03);
            }
        }
    }

    // A bare handle with known mass, balance point and inertia, and one ring on it, joined by hand.
    #[test]
    fn plates_add_by_the_parallel_axis_theorem() {
        let bare = r#""mass_kg":3,"length_mm":700,"balance_mm":350,"grip_mm":50,"period_s":1.4,"pivot_mm":0"#;
        let without = *club(&format!("{{{bare}}}")).mechanics();
        let with = *club(&format!(
            r#"{{{bare},"plates":[{{"mass_kg":6,"offset_mm":650,"radius_mm":100,"bore_radius_mm":15,"thickness_mm":40}}]}}"#
        ))
        .mechanics();
        close("m", with.mass.value().kg(), 9.0, 1e-12);
        close(
            "b",
            with.balance.unwrap().value().mm(),
            (3.0 * 350.0 + 6.0 * 650.0) / 9.0,
            1e-12,
        );
        let ring = 6.0 * (3.0 * (0.1f64.powi(2) + 0.015f64.powi(2)) + 0.04f64.powi(2)) / 12.0;
        let expected = without.inertia_grip.unwrap().value().kgm2() + ring + 6.0 * 0.6 * 0.6;
        close(
            "I",
            with.inertia_grip.unwrap().value().kgm2(),
            expected,
            1e-12,
        );
    }

    #[test]
    fn nothing_is_guessed() {
        let bare = *club(r#"{"mass_kg":8}"#).mechanics();
        assert!(bare.length.is_none());
        assert!(bare.balance.is_none() && bare.static_moment.is_none());
        assert!(bare.inertia_cm.is_none() && bare.inertia_grip.is_none());
        let no_grip = *club(r#"{"mass_kg":8,"length_mm":600,"balance_mm":400}"#).mechanics();
        assert!(no_grip.balance.is_some() && no_grip.static_moment.is_none());
        let no_balance =
            *club(r#"{"mass_kg":8,"length_mm":600,"grip_mm":40,"period_s":1.4,"pivot_mm":0}"#)
                .mechanics();
        assert!(no_balance.static_moment.is_none() && no_balance.inertia_cm.is_none());
    }

    #[test]
    fn the_file_says_value_and_plus_minus_or_null() {
        let found =
            *club(r#"{"mass_kg":10,"length_mm":700,"balance_mm":450,"grip_mm":50}"#).mechanics();
        let json: serde_json::Value = serde_json::to_value(found).unwrap();
        assert_eq!(json["mass_kg"]["value"], 10.0);
        assert_eq!(json["balance_mm"]["value"], 450.0);
        assert!((json["balance_mm"]["plus_minus"].as_f64().unwrap() - 5.0).abs() < 1e-9);
        assert!((json["static_moment_nm"]["value"].as_f64().unwrap() - 39.2266).abs() < 1e-9);
        assert!(json["inertia_cm_kgm2"].is_null() && json["inertia_grip_kgm2"].is_null());
        assert_eq!(json.as_object().unwrap().len(), 5);
    }

    /// Half of its mass at each end gives a club of 10 kg and 700 mm 1.225 kg·m², a head 30 cm wide 0.225 more. With the
    /// balance point 450 mm from the pivot that is a swing of 1.772 s, by `T = 2π√(I/mgd)` (OpenStax University
    /// Physics vol. 1, 15.4).
    #[test]
    fn a_swing_slower_than_any_body_has_is_refused() {
        let timed = |period: f64| {
            let json = format!(
                r#"{{"mass_kg":10,"length_mm":700,"balance_mm":450,"grip_mm":50,"period_s":{period},"pivot_mm":0}}"#
            );
            serde_json::from_str::<ClubMeasure>(&json).map_err(|why| why.to_string())
        };
        assert!(timed(1.70).is_ok() && timed(1.76).is_ok());
        assert!(timed(1.78).unwrap_err().contains("period_s"));
    }

    #[test]
    fn plates_are_weighed_with_a_club_that_balances_nobody_knows_where() {
        let loaded = club(
            r#"{"mass_kg":4,"length_mm":700,"plates":[{"mass_kg":1.5,"offset_mm":600,"radius_mm":80,
                "bore_radius_mm":15,"thickness_mm":20}]}"#,
        );
        let mechanics = loaded.mechanics();
        assert!((mechanics.mass.value().kg() - 5.5).abs() < 1e-12);
        assert_eq!((mechanics.balance, mechanics.static_moment), (None, None));
    }
}
