//! The quantities of the trade as types: parsed once at the edge, trusted after.
//!
//! Inside, everything is SI (kilogram, metre, second). Every constructor refuses what is not a number, what is
//! negative and what no swung club or training session can be, and its error says the allowed range. The same
//! constructors guard deserialisation, so a wrong value cannot come in through a file or a database row. Nothing here
//! implements `Display`: what a person reads depends on their [`UnitSystem`], so the formatting functions ask for it.

use std::cmp::Ordering;

use serde::{Deserialize, Serialize};

/// Standard gravity, m/s². Exact by definition (3rd CGPM, 1901; NIST SP 811).
pub const STANDARD_GRAVITY: f64 = 9.806_65;

/// One pound in kilograms. Exact (international yard and pound agreement, 1959; NIST SP 811).
pub const KILOGRAMS_PER_POUND: f64 = 0.453_592_37;

/// One inch in metres. Exact (international yard and pound agreement, 1959; NIST SP 811).
pub const METRES_PER_INCH: f64 = 0.025_4;

/// A value outside the range of its quantity. The message names the quantity and the allowed range, ready to stand
/// beside a form field.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{quantity} must be {allowed}")]
pub struct OutOfRange {
    /// The quantity in plain words: "mass", "effort".
    pub quantity: &'static str,
    /// The allowed range in plain words, with its unit: "over 0 and at most 100 kg".
    pub allowed: &'static str,
}

/// A finite real quantity within a fixed range, ordered and comparable because it is never NaN nor negative zero.
macro_rules! real_quantity {
    (
        $(#[$doc:meta])*
        $name:ident, $what:literal, $allowed:literal, |$v:ident| $ok:expr
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
        #[serde(try_from = "f64", into = "f64")]
        pub struct $name(f64);

        impl $name {
            const REFUSED: OutOfRange = OutOfRange { quantity: $what, allowed: $allowed };

            fn checked($v: f64) -> Result<Self, OutOfRange> {
                if $v.is_finite() && $ok { Ok(Self($v + 0.0)) } else { Err(Self::REFUSED) }
            }
        }

        impl Eq for $name {}

        impl PartialOrd for $name {
            fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
                Some(self.cmp(other))
            }
        }

        impl Ord for $name {
            fn cmp(&self, other: &Self) -> Ordering {
                self.0.total_cmp(&other.0)
            }
        }

        impl TryFrom<f64> for $name {
            type Error = OutOfRange;
            fn try_from(value: f64) -> Result<Self, OutOfRange> {
                Self::checked(value)
            }
        }

        impl From<$name> for f64 {
            fn from(quantity: $name) -> f64 {
                quantity.0
            }
        }
    };
}

/// A whole-number quantity within a fixed range.
macro_rules! whole_quantity {
    (
        $(#[$doc:meta])*
        $name:ident($repr:ty), $what:literal, $allowed:literal, $range:expr
    ) => {
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
        #[serde(try_from = "i64", into = "i64")]
        pub struct $name($repr);

        impl $name {
            /// Takes a whole number.
            ///
            /// # Errors
            /// [`OutOfRange`] when the number is outside the range above.
            pub fn new(value: i64) -> Result<Self, OutOfRange> {
                let refused = OutOfRange { quantity: $what, allowed: $allowed };
                if !($range).contains(&value) {
                    return Err(refused);
                }
                <$repr>::try_from(value).map(Self).map_err(|_| refused)
            }

            /// The number.
            #[must_use]
            pub const fn get(self) -> $repr {
                self.0
            }
        }

        impl TryFrom<i64> for $name {
            type Error = OutOfRange;
            fn try_from(value: i64) -> Result<Self, OutOfRange> {
                Self::new(value)
            }
        }

        impl From<$name> for i64 {
            fn from(quantity: $name) -> i64 {
                quantity.0.into()
            }
        }
    };
}

real_quantity!(
    /// Mass of a club, a loading or a plate: over 0, at most 100 kg. Serialised as kilograms.
    Mass, "mass", "over 0 and at most 100 kg (220 lb)", |v| v > 0.0 && v <= 100.0
);

impl Mass {
    /// Takes kilograms.
    ///
    /// # Errors
    /// [`OutOfRange`] outside (0, 100] kg.
    pub fn from_kg(kilograms: f64) -> Result<Self, OutOfRange> {
        Self::checked(kilograms)
    }

    /// Takes a number in the unit that the person reads: kilograms or pounds.
    ///
    /// # Errors
    /// [`OutOfRange`] outside (0, 100] kg.
    pub fn from_system(value: f64, system: UnitSystem) -> Result<Self, OutOfRange> {
        match system {
            UnitSystem::Kilogram => Self::checked(value),
            UnitSystem::Pound => Self::checked(value * KILOGRAMS_PER_POUND),
        }
    }

    /// Kilograms.
    #[must_use]
    pub const fn kg(self) -> f64 {
        self.0
    }

    /// The number in the unit that the person reads: kilograms or pounds.
    #[must_use]
    pub fn in_system(self, system: UnitSystem) -> f64 {
        match system {
            UnitSystem::Kilogram => self.0,
            UnitSystem::Pound => self.0 / KILOGRAMS_PER_POUND,
        }
    }
}

real_quantity!(
    /// A length or a distance from the knob end: 0 to 3 m. Serialised as metres.
    Length, "length", "0 to 3000 mm (118 in)", |v| (0.0..=3.0).contains(&v)
);

impl Length {
    /// Takes metres.
    ///
    /// # Errors
    /// [`OutOfRange`] outside 0 to 3 m.
    pub fn from_m(metres: f64) -> Result<Self, OutOfRange> {
        Self::checked(metres)
    }

    /// Takes millimetres.
    ///
    /// # Errors
    /// [`OutOfRange`] outside 0 to 3000 mm.
    pub fn from_mm(millimetres: f64) -> Result<Self, OutOfRange> {
        Self::checked(millimetres / 1000.0)
    }

    /// Takes a number in the unit that the person reads: millimetres or inches.
    ///
    /// # Errors
    /// [`OutOfRange`] outside 0 to 3 m.
    pub fn from_system(value: f64, system: UnitSystem) -> Result<Self, OutOfRange> {
        match system {
            UnitSystem::Kilogram => Self::from_mm(value),
            UnitSystem::Pound => Self::checked(value * METRES_PER_INCH),
        }
    }

    /// Metres.
    #[must_use]
    pub const fn m(self) -> f64 {
        self.0
    }

    /// Millimetres.
    #[must_use]
    pub fn mm(self) -> f64 {
        self.0 * 1000.0
    }

    /// The number in the unit that the person reads: millimetres or inches.
    #[must_use]
    pub fn in_system(self, system: UnitSystem) -> f64 {
        match system {
            UnitSystem::Kilogram => self.mm(),
            UnitSystem::Pound => self.0 / METRES_PER_INCH,
        }
    }
}

real_quantity!(
    /// Time of **one** small swing there and back: over 0, at most 10 s. Serialised as seconds.
    Period, "swing period", "over 0 and at most 10 s for one swing", |v| v > 0.0 && v <= 10.0
);

impl Period {
    /// Takes seconds of one swing.
    ///
    /// # Errors
    /// [`OutOfRange`] outside (0, 10] s.
    pub fn from_seconds(seconds: f64) -> Result<Self, OutOfRange> {
        Self::checked(seconds)
    }

    /// Seconds of one swing.
    #[must_use]
    pub const fn seconds(self) -> f64 {
        self.0
    }
}

real_quantity!(
    /// M1: static moment about the grip, over 0, at most 3000 N·m (100 kg at 3 m is 2942). Serialised as N·m.
    StaticMoment, "static moment", "over 0 and at most 3000 N·m", |v| v > 0.0 && v <= 3000.0
);

impl StaticMoment {
    /// Takes newton metres.
    ///
    /// # Errors
    /// [`OutOfRange`] outside (0, 3000] N·m.
    pub fn from_nm(newton_metres: f64) -> Result<Self, OutOfRange> {
        Self::checked(newton_metres)
    }

    /// Newton metres.
    #[must_use]
    pub const fn nm(self) -> f64 {
        self.0
    }

    /// The number in the unit that the person reads: N·m or lbf·ft.
    #[must_use]
    pub fn in_system(self, system: UnitSystem) -> f64 {
        match system {
            UnitSystem::Kilogram => self.0,
            UnitSystem::Pound => {
                self.0 / (KILOGRAMS_PER_POUND * STANDARD_GRAVITY * 12.0 * METRES_PER_INCH)
            }
        }
    }
}

real_quantity!(
    /// M2: moment of inertia, 0 to 1000 kg·m² (100 kg at 3 m is 900). Serialised as kg·m².
    Inertia, "moment of inertia", "0 to 1000 kg·m²", |v| (0.0..=1000.0).contains(&v)
);

impl Inertia {
    /// Takes kg·m².
    ///
    /// # Errors
    /// [`OutOfRange`] outside 0 to 1000 kg·m².
    pub fn from_kgm2(value: f64) -> Result<Self, OutOfRange> {
        Self::checked(value)
    }

    /// kg·m².
    #[must_use]
    pub const fn kgm2(self) -> f64 {
        self.0
    }

    /// The number in the unit that the person reads: kg·m² or lb·ft².
    #[must_use]
    pub fn in_system(self, system: UnitSystem) -> f64 {
        match system {
            UnitSystem::Kilogram => self.0,
            UnitSystem::Pound => {
                let foot = 12.0 * METRES_PER_INCH;
                self.0 / (KILOGRAMS_PER_POUND * foot * foot)
            }
        }
    }
}

real_quantity!(
    /// T2: density, reps per minute of work: 0 to 1000. Serialised as reps per minute.
    Density, "density", "0 to 1000 reps a minute", |v| (0.0..=1000.0).contains(&v)
);

impl Density {
    /// Takes reps per minute.
    ///
    /// # Errors
    /// [`OutOfRange`] outside 0 to 1000.
    pub fn from_rpm(reps_per_minute: f64) -> Result<Self, OutOfRange> {
        Self::checked(reps_per_minute)
    }

    /// T2: `60·Σreps/Σseconds`.
    ///
    /// # Errors
    /// [`OutOfRange`] when no time was worked, or the result is over 1000.
    pub fn of_work(reps: u32, seconds: u32) -> Result<Self, OutOfRange> {
        Self::checked(60.0 * f64::from(reps) / f64::from(seconds))
    }

    /// Reps per minute.
    #[must_use]
    pub const fn rpm(self) -> f64 {
        self.0
    }
}

/// T2: what so many reps a minute are in a set of so many seconds, not rounded.
#[must_use]
pub fn reps_a_set(reps_per_minute: f64, seconds: Seconds) -> f64 {
    reps_per_minute * f64::from(seconds.get()) / 60.0
}

real_quantity!(
    /// M2b: density of a material: 1 to 25 000 kg/m³ (osmium, the densest metal, is 22 590). Serialised as kg/m³.
    MaterialDensity, "material density", "1 to 25000 kg/m³", |v| (1.0..=25_000.0).contains(&v)
);

impl MaterialDensity {
    /// Takes kg/m³.
    ///
    /// # Errors
    /// [`OutOfRange`] outside 1 to 25 000 kg/m³.
    pub fn from_kgm3(value: f64) -> Result<Self, OutOfRange> {
        Self::checked(value)
    }

    /// kg/m³.
    #[must_use]
    pub const fn kgm3(self) -> f64 {
        self.0
    }
}

whole_quantity!(
    /// Reps of one set: 0 to 1000.
    Reps(u16), "reps", "a whole number from 0 to 1000", 0..=1000
);

whole_quantity!(
    /// Work time of one interval set: 1 to 3600 s.
    Seconds(u16), "interval", "a whole number of seconds from 1 to 3600", 1..=3600
);

whole_quantity!(
    /// L1: length of a session: 1 to 600 minutes.
    Minutes(u16), "session length", "a whole number of minutes from 1 to 600", 1..=600
);

whole_quantity!(
    /// L4: pain on the 0 to 10 numeric rating. Health data.
    Pain(u8), "pain", "a whole number from 0 to 10", 0..=10
);

/// L1: exertion on the 0 to 10 category-ratio scale (CR10), in half steps. Serialised as a number such as `7.5`.
/// Health data.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(try_from = "f64", into = "f64")]
pub struct Effort {
    half_steps: u8,
}

impl Effort {
    const REFUSED: OutOfRange = OutOfRange {
        quantity: "effort",
        allowed: "from 0 to 10, in steps of 0.5",
    };

    /// Takes a rating from 0 to 10, whole or half.
    ///
    /// # Errors
    /// [`OutOfRange`] outside 0 to 10, or between the half steps.
    pub fn new(rating: f64) -> Result<Self, OutOfRange> {
        (0..=20u8)
            .find(|half_steps| f64::from(*half_steps) == rating * 2.0)
            .map(|half_steps| Self { half_steps })
            .ok_or(Self::REFUSED)
    }

    /// Takes the rating doubled, as it is stored: 0 to 20.
    ///
    /// # Errors
    /// [`OutOfRange`] over 20.
    pub const fn from_half_steps(half_steps: u8) -> Result<Self, OutOfRange> {
        if half_steps <= 20 {
            Ok(Self { half_steps })
        } else {
            Err(Self::REFUSED)
        }
    }

    /// The rating doubled, 0 to 20.
    #[must_use]
    pub const fn half_steps(self) -> u8 {
        self.half_steps
    }

    /// The rating, 0 to 10.
    #[must_use]
    pub fn rating(self) -> f64 {
        f64::from(self.half_steps) / 2.0
    }
}

impl TryFrom<f64> for Effort {
    type Error = OutOfRange;
    fn try_from(rating: f64) -> Result<Self, OutOfRange> {
        Self::new(rating)
    }
}

impl From<Effort> for f64 {
    fn from(effort: Effort) -> f64 {
        effort.rating()
    }
}

/// Which units a person reads and writes. Storage and rules are SI whatever this says.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash, Default, Serialize, Deserialize)]
#[serde(rename_all = "lowercase")]
pub enum UnitSystem {
    /// kg, mm, N·m, kg·m².
    #[default]
    Kilogram,
    /// lb, in, lbf·ft, lb·ft².
    Pound,
}

impl UnitSystem {
    /// The word stored and sent in forms: `kilogram` or `pound`.
    #[must_use]
    pub const fn word(self) -> &'static str {
        match self {
            Self::Kilogram => "kilogram",
            Self::Pound => "pound",
        }
    }

    /// The system of that word.
    #[must_use]
    pub fn from_word(word: &str) -> Option<Self> {
        [Self::Kilogram, Self::Pound]
            .into_iter()
            .find(|system| system.word() == word)
    }

    /// Label of masses.
    #[must_use]
    pub const fn mass_unit(self) -> &'static str {
        match self {
            Self::Kilogram => "kg",
            Self::Pound => "lb",
        }
    }

    /// Label of lengths.
    #[must_use]
    pub const fn length_unit(self) -> &'static str {
        match self {
            Self::Kilogram => "mm",
            Self::Pound => "in",
        }
    }

    /// Label of static moments.
    #[must_use]
    pub const fn moment_unit(self) -> &'static str {
        match self {
            Self::Kilogram => "N·m",
            Self::Pound => "lbf·ft",
        }
    }

    /// Label of moments of inertia.
    #[must_use]
    pub const fn inertia_unit(self) -> &'static str {
        match self {
            Self::Kilogram => "kg·m²",
            Self::Pound => "lb·ft²",
        }
    }

    /// A mass as read: at most two decimals, no trailing zeros: "12.5 kg".
    #[must_use]
    pub fn format_mass(self, mass: Mass) -> String {
        format!("{} {}", trimmed(mass.in_system(self), 2), self.mass_unit())
    }

    /// A length as read: whole millimetres, or inches to one decimal: "660 mm", "26 in".
    #[must_use]
    pub fn format_length(self, length: Length) -> String {
        let decimals = match self {
            Self::Kilogram => 0,
            Self::Pound => 1,
        };
        format!(
            "{} {}",
            trimmed(length.in_system(self), decimals),
            self.length_unit()
        )
    }

    /// A static moment as read, to one decimal: "47.6 N·m".
    #[must_use]
    pub fn format_moment(self, moment: StaticMoment) -> String {
        format!("{:.1} {}", moment.in_system(self), self.moment_unit())
    }

    /// A moment of inertia as read, to three decimals: "2.338 kg·m²".
    #[must_use]
    pub fn format_inertia(self, inertia: Inertia) -> String {
        format!("{:.3} {}", inertia.in_system(self), self.inertia_unit())
    }
}

/// A number with at most `decimals` decimals and no trailing zeros.
fn trimmed(value: f64, decimals: usize) -> String {
    let text = format!("{value:.decimals$}");
    if text.contains('.') {
        text.trim_end_matches('0').trim_end_matches('.').to_owned()
    } else {
        text
    }
}

/// M3: a quantity worked out from measurements, with its ± in the same unit (one standard uncertainty, taking each
/// measured ± as one).
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Measured<T> {
    value: T,
    plus_minus: f64,
}

impl<T> Measured<T> {
    /// Pairs a value with its ±, in the SI unit of the quantity.
    ///
    /// # Errors
    /// [`OutOfRange`] when the ± is negative or not a finite number.
    pub fn new(value: T, plus_minus: f64) -> Result<Self, OutOfRange> {
        if plus_minus.is_finite() && plus_minus >= 0.0 {
            Ok(Self { value, plus_minus })
        } else {
            Err(OutOfRange {
                quantity: "±",
                allowed: "0 or more",
            })
        }
    }

    /// The ± in the SI unit of the quantity: kg, m, N·m, kg·m².
    #[must_use]
    pub const fn plus_minus(&self) -> f64 {
        self.plus_minus
    }
}

impl<T: Copy> Measured<T> {
    /// The value.
    #[must_use]
    pub const fn value(&self) -> T {
        self.value
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    /// Relative agreement.
    fn close(a: f64, b: f64, tolerance: f64) -> bool {
        (a - b).abs() <= tolerance * b.abs()
    }

    // scipy.constants 1.17.1 for lb, inch, lbf; the rest are products of exact definitions (NIST SP 811 App. B).
    #[test]
    fn pounds_and_inches_are_exact() {
        let pound = UnitSystem::Pound;
        assert!(close(
            Mass::from_system(25.0, pound).unwrap().kg(),
            11.339_809_25,
            1e-12
        ));
        assert!(close(
            Mass::from_system(45.0, pound).unwrap().kg(),
            20.411_656_65,
            1e-12
        ));
        assert!(close(
            Length::from_system(36.0, pound).unwrap().m(),
            0.914_4,
            1e-12
        ));
        let one_lbf_ft = StaticMoment::from_nm(1.355_817_948_331_4).unwrap();
        assert!(close(one_lbf_ft.in_system(pound), 1.0, 1e-12));
        let one_lb_ft2 = Inertia::from_kgm2(144.0 * 0.000_292_639_653_429_2).unwrap();
        assert!(close(one_lb_ft2.in_system(pound), 1.0, 1e-11));
    }

    proptest! {
        #[test]
        fn a_mass_read_and_typed_again_is_the_same_mass(kg in 0.001..100.0f64) {
            let mass = Mass::from_kg(kg).unwrap();
            for system in [UnitSystem::Kilogram, UnitSystem::Pound] {
                let again = Mass::from_system(mass.in_system(system), system);
                // The top of the range may be left by one rounding error, which a person cannot type.
                if let Ok(again) = again {
                    prop_assert!(close(again.kg(), kg, 1e-15 * 4.0));
                } else {
                    prop_assert!(kg > 99.999_999);
                }
            }
        }

        #[test]
        fn a_length_read_and_typed_again_is_the_same_length(m in 0.0..2.999f64) {
            let length = Length::from_m(m).unwrap();
            for system in [UnitSystem::Kilogram, UnitSystem::Pound] {
                let again = Length::from_system(length.in_system(system), system).unwrap();
                prop_assert!(close(again.m(), m, 1e-15 * 4.0));
            }
        }

        #[test]
        fn every_real_is_kept_or_refused_never_bent(value in proptest::num::f64::ANY) {
            if let Ok(mass) = Mass::from_kg(value) {
                prop_assert_eq!(mass.kg(), value);
            }
            if let Ok(density) = Density::from_rpm(value) {
                prop_assert_eq!(density.rpm(), value);
            }
        }
    }

    #[test]
    fn absurd_values_are_refused_with_the_range() {
        for value in [
            f64::NAN,
            f64::INFINITY,
            f64::NEG_INFINITY,
            -1.0,
            -0.0,
            0.0,
            100.1,
        ] {
            let refused = Mass::from_kg(value).unwrap_err();
            assert_eq!(
                refused.to_string(),
                "mass must be over 0 and at most 100 kg (220 lb)"
            );
        }
        for value in [f64::NAN, f64::INFINITY, -1e-9, 3.01] {
            assert!(Length::from_m(value).is_err(), "{value} m");
        }
        for value in [f64::NAN, 0.0, -1.0, 10.5] {
            assert!(Period::from_seconds(value).is_err(), "{value} s");
        }
        for value in [f64::NAN, 0.0, -1.0, 3001.0] {
            assert!(StaticMoment::from_nm(value).is_err(), "{value} N·m");
        }
        for value in [f64::NAN, -1e-12, 1001.0] {
            assert!(Inertia::from_kgm2(value).is_err(), "{value} kg·m²");
        }
        assert!(Reps::new(-1).is_err() && Reps::new(1001).is_err() && Reps::new(1000).is_ok());
        assert!(Seconds::new(0).is_err() && Seconds::new(3601).is_err() && Seconds::new(1).is_ok());
        assert!(Minutes::new(0).is_err() && Minutes::new(601).is_err());
        assert!(Pain::new(-1).is_err() && Pain::new(11).is_err() && Pain::new(10).is_ok());
        assert!(Density::of_work(10, 0).is_err() && Density::of_work(0, 0).is_err());
    }

    #[test]
    fn negative_zero_is_plain_zero() {
        let zero = Length::from_m(-0.0).unwrap();
        assert_eq!(zero.cmp(&Length::from_m(0.0).unwrap()), Ordering::Equal);
        assert!(zero.m().is_sign_positive());
    }

    #[test]
    fn effort_takes_half_steps_only() {
        assert_eq!(Effort::new(7.5).unwrap().rating(), 7.5);
        assert_eq!(
            Effort::new(7.5).unwrap(),
            Effort::from_half_steps(15).unwrap()
        );
        assert!(Effort::new(7.0).unwrap() < Effort::new(7.5).unwrap());
        for value in [-0.5, 10.5, 7.3, f64::NAN, f64::INFINITY] {
            assert!(Effort::new(value).is_err(), "{value}");
        }
        assert!(Effort::from_half_steps(21).is_err());
    }

    #[test]
    fn density_is_reps_per_minute_of_work() {
        // T2 by hand: five 30 s sets of 15, 15, 14, 14 and 14 reps.
        assert!(close(Density::of_work(72, 150).unwrap().rpm(), 28.8, 1e-12));
    }

    #[test]
    fn wrong_values_cannot_be_deserialised() {
        assert!(serde_json::from_str::<Mass>("12.5").is_ok());
        for text in ["-1", "0", "1e9", "null", "\"12\""] {
            assert!(serde_json::from_str::<Mass>(text).is_err(), "{text}");
        }
        assert!(serde_json::from_str::<Reps>("1001").is_err());
        assert!(serde_json::from_str::<Reps>("12.5").is_err());
        assert!(serde_json::from_str::<Effort>("7.25").is_err());
        assert_eq!(
            serde_json::to_string(&Effort::new(7.0).unwrap()).unwrap(),
            "7.0"
        );
        assert_eq!(serde_json::to_string(&Pain::new(3).unwrap()).unwrap(), "3");
        assert_eq!(
            serde_json::from_str::<UnitSystem>("\"pound\"").unwrap(),
            UnitSystem::Pound
        );
        assert_eq!(UnitSystem::from_word("pound"), Some(UnitSystem::Pound));
    }

    #[test]
    fn people_read_their_own_units() {
        let mass = Mass::from_kg(12.5).unwrap();
        assert_eq!(UnitSystem::Kilogram.format_mass(mass), "12.5 kg");
        assert_eq!(UnitSystem::Pound.format_mass(mass), "27.56 lb");
        let length = Length::from_mm(660.4).unwrap();
        assert_eq!(UnitSystem::Kilogram.format_length(length), "660 mm");
        assert_eq!(UnitSystem::Pound.format_length(length), "26 in");
        let moment = StaticMoment::from_nm(47.5954).unwrap();
        assert_eq!(UnitSystem::Kilogram.format_moment(moment), "47.6 N·m");
        assert_eq!(UnitSystem::Pound.format_moment(moment), "35.1 lbf·ft");
        let inertia = Inertia::from_kgm2(2.338_37).unwrap();
        assert_eq!(UnitSystem::Kilogram.format_inertia(inertia), "2.338 kg·m²");
        assert_eq!(UnitSystem::Pound.format_inertia(inertia), "55.490 lb·ft²");
    }
}
