//! What was measured of a club, and the one file format for it: the database, `leverbook mechanics` and the rack's form
//! all read and write [`ClubFields`], numbers in the units that their names say.

use serde::{Deserialize, Serialize};

use super::mechanics::Mechanics;
use super::shape::{Plate, Segment};
use super::swing_test::SwingTest;
use crate::units::{Length, Mass, MaterialDensity, OutOfRange, Period};

/// A club without its plates.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum BareClub {
    /// Put on the scale and the tape; perhaps balanced on an edge, perhaps swung from a pivot.
    Weighed {
        /// Of the club as weighed.
        mass: Mass,
        /// From the knob end to the far end; `None` when not measured.
        length: Option<Length>,
        /// From the knob end to where it balances on an edge; `None` when not measured.
        balance: Option<Length>,
        /// M2a; without a balance point it says nothing yet, and is kept.
        swing: Option<SwingTest>,
    },
    /// M2b: described piece by piece from the knob end on; at least one piece.
    Shape(Vec<Segment>),
}

/// M3: the ± of what was measured, where a person gave their own.
///
/// The defaults: mass 10 g; lengths along the club 5 mm; period 0.01 s, the 0.2 s that a hand on a stopwatch is off,
/// spread over 20 swings. For shapes, whose cross-section is read with a caliper and whose material comes from a
/// handbook (common practice, no source): radii, bores and thicknesses 0.5 mm; densities 3 %, which is half the
/// handbook range of grey iron, 6950 to 7350 kg/m³.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PlusMinus {
    mass_kg: Option<f64>,
    length_mm: Option<f64>,
    period_s: Option<f64>,
    radius_mm: Option<f64>,
    density_percent: Option<f64>,
}

impl PlusMinus {
    /// kg.
    pub(super) fn mass(self) -> f64 {
        self.mass_kg.unwrap_or(0.010)
    }

    /// m, along the club.
    pub(super) fn length(self) -> f64 {
        self.length_mm.unwrap_or(5.0) / 1000.0
    }

    /// s, of one swing.
    pub(super) fn period(self) -> f64 {
        self.period_s.unwrap_or(0.01)
    }

    /// m, across the club.
    pub(super) fn radius(self) -> f64 {
        self.radius_mm.unwrap_or(0.5) / 1000.0
    }

    /// As a fraction of the density.
    pub(super) fn density_fraction(self) -> f64 {
        self.density_percent.unwrap_or(3.0) / 100.0
    }
}

/// One club, or one loading of a plate-loaded club, as measured. One that exists is possible, and has
/// [`mechanics`](Self::mechanics).
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(try_from = "ClubFields", into = "ClubFields")]
pub struct ClubMeasure {
    bare: BareClub,
    grip: Option<Length>,
    plates: Vec<Plate>,
    plus_minus: PlusMinus,
    mechanics: Mechanics,
}

impl ClubMeasure {
    /// Takes measurements that belong together.
    ///
    /// # Errors
    /// [`MeasureError`] naming the field: a point past the end of the club, a bore not inside its radius, a grip past
    /// the balance point, or a swing test that no club of this size can have.
    pub fn new(
        bare: BareClub,
        grip: Option<Length>,
        plates: Vec<Plate>,
        plus_minus: PlusMinus,
    ) -> Result<Self, MeasureError> {
        let length = consistent_length(&bare, grip, &plates)?;
        let mechanics = Mechanics::new(&bare, length, grip, &plates, plus_minus)?;
        Ok(Self {
            bare,
            grip,
            plates,
            plus_minus,
            mechanics,
        })
    }

    /// The same club with other plates on.
    ///
    /// # Errors
    /// [`MeasureError`] when a plate does not fit, or the whole is over the allowed mass.
    pub fn with_plates(&self, plates: Vec<Plate>) -> Result<Self, MeasureError> {
        Self::new(self.bare.clone(), self.grip, plates, self.plus_minus)
    }

    /// The club without its plates.
    #[must_use]
    pub const fn bare(&self) -> &BareClub {
        &self.bare
    }

    /// Middle of the hands, from the knob end. Without it there is no moment about the grip, and steps go by mass.
    #[must_use]
    pub const fn grip(&self) -> Option<Length> {
        self.grip
    }

    /// The plates on it.
    #[must_use]
    pub fn plates(&self) -> &[Plate] {
        &self.plates
    }

    /// M1, M2 and M3 of this loading.
    #[must_use]
    pub const fn mechanics(&self) -> &Mechanics {
        &self.mechanics
    }
}

/// The club's length from knob end to far end, where it is known, once nothing in its geometry contradicts anything else.
fn consistent_length(
    bare: &BareClub,
    grip: Option<Length>,
    plates: &[Plate],
) -> Result<Option<Length>, MeasureError> {
    let zero = |length: Length| length.m() == 0.0;
    let beyond = |point: Option<Length>, length: Option<Length>| {
        point
            .zip(length)
            .is_some_and(|(point, length)| point > length)
    };
    let length = match bare {
        BareClub::Weighed {
            length,
            balance,
            swing,
            ..
        } => {
            if length.is_some_and(zero) {
                return Err(MeasureError::at("length_mm", Refusal::Zero));
            }
            if beyond(*balance, *length) {
                return Err(MeasureError::at("balance_mm", Refusal::BeyondClub));
            }
            if beyond(swing.map(|test| test.pivot), *length) {
                return Err(MeasureError::at("pivot_mm", Refusal::BeyondClub));
            }
            *length
        }
        BareClub::Shape(segments) => {
            if segments.is_empty() {
                return Err(MeasureError::at("segments", Refusal::NoSegments));
            }
            for (index, segment) in segments.iter().enumerate() {
                let at = |field: &str, refusal| {
                    Err(MeasureError::at(
                        &format!("segments[{index}].{field}"),
                        refusal,
                    ))
                };
                if zero(segment.length) {
                    return at("length_mm", Refusal::Zero);
                }
                if zero(segment.start_radius) && zero(segment.end_radius) {
                    return at("end_radius_mm", Refusal::Zero);
                }
                let narrowest = segment.start_radius.min(segment.end_radius);
                if !zero(segment.bore_radius) && segment.bore_radius >= narrowest {
                    return at("bore_radius_mm", Refusal::BoreTooWide);
                }
            }
            Length::from_m(segments.iter().map(|segment| segment.length.m()).sum())
                .map(Some)
                .map_err(|refused| MeasureError::at("segments", refused.into()))?
        }
    };
    if beyond(grip, length) {
        return Err(MeasureError::at("grip_mm", Refusal::BeyondClub));
    }
    for (index, plate) in plates.iter().enumerate() {
        let at = |field: &str, refusal| {
            Err(MeasureError::at(
                &format!("plates[{index}].{field}"),
                refusal,
            ))
        };
        if plate.bore_radius >= plate.radius {
            return at("bore_radius_mm", Refusal::BoreTooWide);
        }
        let near_face = plate.offset.m() - plate.thickness.m() / 2.0;
        if length.is_some_and(|length| near_face > length.m()) {
            return at("offset_mm", Refusal::BeyondClub);
        }
    }
    Ok(length)
}

/// A measurement refused, at the field that should change.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
#[error("{field}: {refusal}")]
pub struct MeasureError {
    /// As named in [`ClubFields`]: `balance_mm`, `segments[1].bore_radius_mm`.
    pub field: String,
    /// Why, and what to do.
    pub refusal: Refusal,
}

impl MeasureError {
    pub(super) fn at(field: &str, refusal: Refusal) -> Self {
        Self {
            field: field.to_owned(),
            refusal,
        }
    }
}

/// Why a measurement is refused.
#[derive(Debug, Clone, PartialEq, thiserror::Error)]
pub enum Refusal {
    /// Outside the range of the quantity.
    #[error(transparent)]
    OutOfRange(#[from] OutOfRange),
    /// Needed, and not given.
    #[error("is missing")]
    Missing,
    /// A length or radius of nothing.
    #[error("must be over 0")]
    Zero,
    /// Past the far end.
    #[error("lies past the end of the club; measure from the knob end")]
    BeyondClub,
    /// A hole as wide as the piece.
    #[error("must be less than the radius")]
    BoreTooWide,
    /// No pieces.
    #[error("needs at least one piece, from the knob end on")]
    NoSegments,
    /// The hands are at or past the balance point.
    #[error("must be nearer the knob than the balance point")]
    GripPastBalance,
    /// Half of a swing test.
    #[error("a swing test needs both the period and the pivot")]
    HalfASwingTest,
    /// Hung from where it balances it does not swing.
    #[error("is the balance point, where a club does not swing; hang it from the knob end")]
    PivotAtBalance,
    /// M2a: a negative moment of inertia.
    #[error(
        "gives a negative moment of inertia: the swing is too quick for this pivot and balance point; time 20 swings \
         there and back, divide by 20, and check both distances"
    )]
    SwingTooQuick,
    /// M2a: more than any body of this mass and length has.
    #[error(
        "gives a moment of inertia that no club of this mass and length has; time 20 swings there and back and give \
         the time of one"
    )]
    SwingTooSlow,
    /// Two descriptions of one club.
    #[error("cannot stand beside `segments`, which already give it")]
    GivenTwice,
}

/// The measurements as files, forms and the database hold them. All may be empty but what [`ClubMeasure`] needs:
/// either `mass_kg` or `segments`.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct ClubFields {
    /// Of the club without the plates listed below.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_kg: Option<f64>,
    /// From the knob end to the far end.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_mm: Option<f64>,
    /// From the knob end to where it balances.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub balance_mm: Option<f64>,
    /// From the knob end to the middle of the hands.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub grip_mm: Option<f64>,
    /// Time of **one** small swing there and back.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub period_s: Option<f64>,
    /// From the knob end to where it hung for the swing test.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub pivot_mm: Option<f64>,
    /// The pieces from the knob end on, instead of mass, length, balance point and swing test.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub segments: Option<Vec<SegmentFields>>,
    /// The plates on it.
    #[serde(skip_serializing_if = "Vec::is_empty")]
    pub plates: Vec<PlateFields>,
    /// M3, in place of 0.010.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub mass_plus_minus_kg: Option<f64>,
    /// M3, in place of 5.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub length_plus_minus_mm: Option<f64>,
    /// M3, in place of 0.01, of one swing.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub period_plus_minus_s: Option<f64>,
    /// M3 of radii, bores and thicknesses, in place of 0.5.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub radius_plus_minus_mm: Option<f64>,
    /// M3 of material densities, in place of 3.
    #[serde(skip_serializing_if = "Option::is_none")]
    pub density_plus_minus_percent: Option<f64>,
}

/// One piece of a shape.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SegmentFields {
    /// Along the club.
    pub length_mm: f64,
    /// At the face nearer the knob.
    pub start_radius_mm: f64,
    /// At the face nearer the head.
    pub end_radius_mm: f64,
    /// Of the hole; 0 when solid.
    #[serde(default)]
    pub bore_radius_mm: f64,
    /// Of the material.
    pub density_kg_m3: f64,
}

/// One plate.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct PlateFields {
    /// Of the plate.
    pub mass_kg: f64,
    /// From the knob end to the middle of the plate's thickness.
    pub offset_mm: f64,
    /// Outer radius.
    pub radius_mm: f64,
    /// Radius of the hole.
    pub bore_radius_mm: f64,
    /// Along the club.
    pub thickness_mm: f64,
}

/// Parses a field that must be there.
fn required<T>(
    field: &str,
    value: f64,
    parse: impl Fn(f64) -> Result<T, OutOfRange>,
) -> Result<T, MeasureError> {
    parse(value).map_err(|refused| MeasureError::at(field, refused.into()))
}

/// Parses a field that may be empty.
fn optional<T>(
    field: &str,
    value: Option<f64>,
    parse: impl Fn(f64) -> Result<T, OutOfRange>,
) -> Result<Option<T>, MeasureError> {
    value.map(|value| required(field, value, parse)).transpose()
}

/// A ± from 0 to the given bound.
fn plus_minus_up_to(most: f64, allowed: &'static str) -> impl Fn(f64) -> Result<f64, OutOfRange> {
    move |value| {
        if (0.0..=most).contains(&value) {
            Ok(value)
        } else {
            Err(OutOfRange {
                quantity: "±",
                allowed,
            })
        }
    }
}

impl SegmentFields {
    fn parse(self, index: usize) -> Result<Segment, MeasureError> {
        let at = |field: &str| format!("segments[{index}].{field}");
        Ok(Segment {
            length: required(&at("length_mm"), self.length_mm, Length::from_mm)?,
            start_radius: required(
                &at("start_radius_mm"),
                self.start_radius_mm,
                Length::from_mm,
            )?,
            end_radius: required(&at("end_radius_mm"), self.end_radius_mm, Length::from_mm)?,
            bore_radius: required(&at("bore_radius_mm"), self.bore_radius_mm, Length::from_mm)?,
            density: required(
                &at("density_kg_m3"),
                self.density_kg_m3,
                MaterialDensity::from_kgm3,
            )?,
        })
    }
}

impl PlateFields {
    fn parse(self, index: usize) -> Result<Plate, MeasureError> {
        let at = |field: &str| format!("plates[{index}].{field}");
        Ok(Plate {
            mass: required(&at("mass_kg"), self.mass_kg, Mass::from_kg)?,
            offset: required(&at("offset_mm"), self.offset_mm, Length::from_mm)?,
            radius: required(&at("radius_mm"), self.radius_mm, Length::from_mm)?,
            bore_radius: required(&at("bore_radius_mm"), self.bore_radius_mm, Length::from_mm)?,
            thickness: required(&at("thickness_mm"), self.thickness_mm, Length::from_mm)?,
        })
    }
}

impl ClubFields {
    /// The fields of a weighed club.
    fn weighed(&self) -> Result<BareClub, MeasureError> {
        let mass = optional("mass_kg", self.mass_kg, Mass::from_kg)?
            .ok_or_else(|| MeasureError::at("mass_kg", Refusal::Missing))?;
        let length = optional("length_mm", self.length_mm, Length::from_mm)?;
        let period = optional("period_s", self.period_s, Period::from_seconds)?;
        let pivot = optional("pivot_mm", self.pivot_mm, Length::from_mm)?;
        let swing = match (period, pivot) {
            (Some(period), Some(pivot)) => Some(SwingTest { period, pivot }),
            (None, None) => None,
            (Some(_), None) => return Err(MeasureError::at("pivot_mm", Refusal::HalfASwingTest)),
            (None, Some(_)) => return Err(MeasureError::at("period_s", Refusal::HalfASwingTest)),
        };
        let balance = optional("balance_mm", self.balance_mm, Length::from_mm)?;
        Ok(BareClub::Weighed {
            mass,
            length,
            balance,
            swing,
        })
    }

    /// The fields of a club given by its shape, which leave no room for measured ones.
    fn shaped(&self, segments: &[SegmentFields]) -> Result<BareClub, MeasureError> {
        let measured = [
            ("mass_kg", self.mass_kg),
            ("length_mm", self.length_mm),
            ("balance_mm", self.balance_mm),
            ("period_s", self.period_s),
            ("pivot_mm", self.pivot_mm),
        ];
        if let Some((field, _)) = measured.iter().find(|(_, value)| value.is_some()) {
            return Err(MeasureError::at(field, Refusal::GivenTwice));
        }
        let parse = |(index, segment): (usize, &SegmentFields)| segment.parse(index);
        segments
            .iter()
            .enumerate()
            .map(parse)
            .collect::<Result<_, _>>()
            .map(BareClub::Shape)
    }

    /// M3, as given.
    fn plus_minus(&self) -> Result<PlusMinus, MeasureError> {
        let given =
            |field, value, most, allowed| optional(field, value, plus_minus_up_to(most, allowed));
        Ok(PlusMinus {
            mass_kg: given(
                "mass_plus_minus_kg",
                self.mass_plus_minus_kg,
                5.0,
                "0 to 5 kg",
            )?,
            length_mm: given(
                "length_plus_minus_mm",
                self.length_plus_minus_mm,
                100.0,
                "0 to 100 mm",
            )?,
            period_s: given(
                "period_plus_minus_s",
                self.period_plus_minus_s,
                1.0,
                "0 to 1 s",
            )?,
            radius_mm: given(
                "radius_plus_minus_mm",
                self.radius_plus_minus_mm,
                20.0,
                "0 to 20 mm",
            )?,
            density_percent: given(
                "density_plus_minus_percent",
                self.density_plus_minus_percent,
                50.0,
                "0 to 50 %",
            )?,
        })
    }
}

impl TryFrom<ClubFields> for ClubMeasure {
    type Error = MeasureError;

    fn try_from(fields: ClubFields) -> Result<Self, MeasureError> {
        let bare = match &fields.segments {
            None => fields.weighed()?,
            Some(segments) => fields.shaped(segments)?,
        };
        let grip = optional("grip_mm", fields.grip_mm, Length::from_mm)?;
        let parse = |(index, plate): (usize, &PlateFields)| plate.parse(index);
        let plates = fields
            .plates
            .iter()
            .enumerate()
            .map(parse)
            .collect::<Result<_, _>>()?;
        Self::new(bare, grip, plates, fields.plus_minus()?)
    }
}

/// Millimetres as they were typed: the division by 1000 on the way in leaves a last digit that nobody wrote.
fn typed_mm(length: Length) -> f64 {
    (length.mm() * 1e6).round() / 1e6
}

impl From<ClubMeasure> for ClubFields {
    fn from(club: ClubMeasure) -> Self {
        let mut fields = Self {
            grip_mm: club.grip.map(typed_mm),
            plates: club
                .plates
                .iter()
                .map(|plate| PlateFields {
                    mass_kg: plate.mass.kg(),
                    offset_mm: typed_mm(plate.offset),
                    radius_mm: typed_mm(plate.radius),
                    bore_radius_mm: typed_mm(plate.bore_radius),
                    thickness_mm: typed_mm(plate.thickness),
                })
                .collect(),
            mass_plus_minus_kg: club.plus_minus.mass_kg,
            length_plus_minus_mm: club.plus_minus.length_mm,
            period_plus_minus_s: club.plus_minus.period_s,
            radius_plus_minus_mm: club.plus_minus.radius_mm,
            density_plus_minus_percent: club.plus_minus.density_percent,
            ..Self::default()
        };
        match club.bare {
            BareClub::Weighed {
                mass,
                length,
                balance,
                swing,
            } => {
                fields.mass_kg = Some(mass.kg());
                fields.length_mm = length.map(typed_mm);
                fields.balance_mm = balance.map(typed_mm);
                fields.period_s = swing.map(|test| test.period.seconds());
                fields.pivot_mm = swing.map(|test| typed_mm(test.pivot));
            }
            BareClub::Shape(segments) => {
                let segment = |segment: &Segment| SegmentFields {
                    length_mm: typed_mm(segment.length),
                    start_radius_mm: typed_mm(segment.start_radius),
                    end_radius_mm: typed_mm(segment.end_radius),
                    bore_radius_mm: typed_mm(segment.bore_radius),
                    density_kg_m3: segment.density.kgm3(),
                };
                fields.segments = Some(segments.iter().map(segment).collect());
            }
        }
        fields
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    const WEIGHED: ClubFields = ClubFields {
        mass_kg: Some(10.0),
        length_mm: Some(700.0),
        balance_mm: Some(450.0),
        grip_mm: Some(50.0),
        period_s: Some(1.45),
        pivot_mm: Some(0.0),
        segments: None,
        plates: Vec::new(),
        mass_plus_minus_kg: None,
        length_plus_minus_mm: None,
        period_plus_minus_s: None,
        radius_plus_minus_mm: None,
        density_plus_minus_percent: None,
    };

    const HEAD: SegmentFields = SegmentFields {
        length_mm: 360.0,
        start_radius_mm: 20.0,
        end_radius_mm: 45.0,
        bore_radius_mm: 0.0,
        density_kg_m3: 7850.0,
    };

    const PLATE: PlateFields = PlateFields {
        mass_kg: 5.0,
        offset_mm: 650.0,
        radius_mm: 110.0,
        bore_radius_mm: 15.0,
        thickness_mm: 30.0,
    };

    fn weighed(change: impl FnOnce(&mut ClubFields)) -> Result<ClubMeasure, MeasureError> {
        let mut fields = WEIGHED;
        change(&mut fields);
        fields.try_into()
    }

    fn head(change: impl FnOnce(&mut SegmentFields)) -> Result<ClubMeasure, MeasureError> {
        let mut segment = HEAD;
        change(&mut segment);
        let segments = Some(vec![segment]);
        ClubFields {
            segments,
            ..ClubFields::default()
        }
        .try_into()
    }

    fn plate(change: impl FnOnce(&mut PlateFields)) -> Result<ClubMeasure, MeasureError> {
        let mut plate = PLATE;
        change(&mut plate);
        weighed(|fields| fields.plates = vec![plate])
    }

    #[test]
    fn bad_measurements_are_refused_at_their_field() {
        let nan = Some(f64::NAN);
        let cases: Vec<(Result<ClubMeasure, MeasureError>, &str, &str)> = vec![
            (weighed(|f| f.mass_kg = None), "mass_kg", "missing"),
            (weighed(|f| f.mass_kg = nan), "mass_kg", "at most 100 kg"),
            (weighed(|f| f.mass_kg = Some(-4.0)), "mass_kg", "over 0"),
            (
                weighed(|f| f.mass_kg = Some(1e9)),
                "mass_kg",
                "at most 100 kg",
            ),
            (
                weighed(|f| f.mass_kg = Some(f64::INFINITY)),
                "mass_kg",
                "at most 100 kg",
            ),
            (weighed(|f| f.length_mm = Some(0.0)), "length_mm", "over 0"),
            (
                weighed(|f| f.length_mm = Some(3001.0)),
                "length_mm",
                "3000 mm",
            ),
            (
                weighed(|f| f.balance_mm = Some(701.0)),
                "balance_mm",
                "past the end",
            ),
            (weighed(|f| f.balance_mm = nan), "balance_mm", "3000 mm"),
            (
                weighed(|f| f.grip_mm = Some(701.0)),
                "grip_mm",
                "past the end",
            ),
            (
                weighed(|f| f.grip_mm = Some(-1.0)),
                "grip_mm",
                "0 to 3000 mm",
            ),
            (
                weighed(|f| f.grip_mm = Some(450.0)),
                "grip_mm",
                "nearer the knob",
            ),
            (
                weighed(|f| f.grip_mm = Some(500.0)),
                "grip_mm",
                "nearer the knob",
            ),
            (
                weighed(|f| f.pivot_mm = Some(701.0)),
                "pivot_mm",
                "past the end",
            ),
            (
                weighed(|f| f.pivot_mm = Some(450.0)),
                "pivot_mm",
                "does not swing",
            ),
            (
                weighed(|f| f.pivot_mm = None),
                "pivot_mm",
                "both the period and the pivot",
            ),
            (
                weighed(|f| f.period_s = None),
                "period_s",
                "both the period and the pivot",
            ),
            (
                weighed(|f| f.period_s = Some(0.0)),
                "period_s",
                "for one swing",
            ),
            (
                weighed(|f| f.period_s = Some(29.0)),
                "period_s",
                "for one swing",
            ),
            // Half a swing, and two swings, taken for one.
            (
                weighed(|f| f.period_s = Some(0.725)),
                "period_s",
                "negative moment of inertia",
            ),
            (
                weighed(|f| f.period_s = Some(2.9)),
                "period_s",
                "the time of one",
            ),
            (
                weighed(|f| f.segments = Some(vec![HEAD])),
                "mass_kg",
                "beside `segments`",
            ),
            (
                weighed(|f| f.mass_plus_minus_kg = Some(-0.1)),
                "mass_plus_minus_kg",
                "0 to 5 kg",
            ),
            (
                weighed(|f| f.length_plus_minus_mm = nan),
                "length_plus_minus_mm",
                "0 to 100 mm",
            ),
            (
                head(|s| s.length_mm = 0.0),
                "segments[0].length_mm",
                "over 0",
            ),
            (
                head(|s| s.length_mm = f64::NAN),
                "segments[0].length_mm",
                "3000 mm",
            ),
            (
                head(|s| s.bore_radius_mm = 20.0),
                "segments[0].bore_radius_mm",
                "less than",
            ),
            (
                head(|s| s.bore_radius_mm = 30.0),
                "segments[0].bore_radius_mm",
                "less than",
            ),
            (
                head(|s| s.end_radius_mm = -1.0),
                "segments[0].end_radius_mm",
                "0 to 3000",
            ),
            (
                head(|s| s.density_kg_m3 = 0.0),
                "segments[0].density_kg_m3",
                "kg/m³",
            ),
            (
                head(|s| s.end_radius_mm = 2000.0),
                "segments",
                "at most 100 kg",
            ),
            (
                head(|s| (s.start_radius_mm, s.end_radius_mm) = (0.0, 0.0)),
                "segments[0].end_radius_mm",
                "over 0",
            ),
            (
                plate(|p| p.bore_radius_mm = 110.0),
                "plates[0].bore_radius_mm",
                "less than",
            ),
            (
                plate(|p| p.offset_mm = 720.0),
                "plates[0].offset_mm",
                "past the end",
            ),
            (plate(|p| p.mass_kg = 0.0), "plates[0].mass_kg", "over 0"),
            (plate(|p| p.mass_kg = 95.0), "mass_kg", "at most 100 kg"),
        ];
        for (index, (result, field, reason)) in cases.into_iter().enumerate() {
            let refused = result.expect_err(&format!("case {index} at {field}"));
            assert_eq!(refused.field, field, "case {index}: {refused}");
            assert!(
                refused.to_string().contains(reason),
                "case {index}: {refused}"
            );
        }
        let empty = ClubFields {
            segments: Some(Vec::new()),
            ..ClubFields::default()
        };
        assert_eq!(ClubMeasure::try_from(empty).unwrap_err().field, "segments");
        let long = ClubFields {
            segments: Some(vec![
                SegmentFields {
                    length_mm: 1600.0,
                    ..HEAD
                };
                2
            ]),
            ..ClubFields::default()
        };
        assert_eq!(ClubMeasure::try_from(long).unwrap_err().field, "segments");
    }

    /// The usual ± of each measurement (M3): a kitchen scale, a tape, a stopwatch over 20 swings, a calliper, and a
    /// handbook's density. Common practice, no source.
    #[test]
    fn each_measurement_has_its_usual_plus_minus() {
        let usual = PlusMinus {
            mass_kg: None,
            length_mm: None,
            period_s: None,
            radius_mm: None,
            density_percent: None,
        };
        assert_eq!(
            (usual.mass(), usual.length(), usual.period()),
            (0.01, 0.005, 0.01)
        );
        assert_eq!((usual.radius(), usual.density_fraction()), (0.0005, 0.03));
    }

    #[test]
    fn a_misspelt_field_is_not_passed_over() {
        let text = r#"{"mass_kg":10,"length_mm":700,"balnce_mm":450}"#;
        let refused = serde_json::from_str::<ClubMeasure>(text).unwrap_err();
        assert!(refused.to_string().contains("balnce_mm"), "{refused}");
        let impossible = r#"{"mass_kg":10,"length_mm":700,"balance_mm":750}"#;
        let refused = serde_json::from_str::<ClubMeasure>(impossible).unwrap_err();
        assert!(
            refused
                .to_string()
                .contains("balance_mm: lies past the end"),
            "{refused}"
        );
    }

    /// The very end of a club still belongs to it; a plate may hang over it by half of its thickness, a head's width.
    #[test]
    fn what_lies_at_the_very_end_is_taken() {
        let at_the_end = weighed(|fields| {
            fields.balance_mm = Some(700.0);
            fields.pivot_mm = None;
            fields.period_s = None;
        });
        assert!(at_the_end.is_ok(), "{at_the_end:?}");
        for (offset, thickness, fits) in [
            (700.0, 0.0, true),
            (700.1, 0.0, false),
            (715.0, 30.0, true),
            (715.1, 30.0, false),
        ] {
            let club = plate(|plate| (plate.offset_mm, plate.thickness_mm) = (offset, thickness));
            assert_eq!(
                club.is_ok(),
                fits,
                "{offset} mm, {thickness} mm thick: {club:?}"
            );
        }
    }

    #[test]
    fn every_plus_minus_comes_back() {
        let fields = ClubFields {
            mass_plus_minus_kg: Some(0.02),
            length_plus_minus_mm: Some(2.0),
            period_plus_minus_s: Some(0.004),
            radius_plus_minus_mm: Some(0.7),
            density_plus_minus_percent: Some(1.5),
            ..WEIGHED
        };
        let club = ClubMeasure::try_from(fields.clone()).unwrap();
        assert_eq!(ClubFields::from(club), fields);
    }

    #[test]
    fn a_cone_may_end_in_a_point() {
        assert!(head(|segment| segment.start_radius_mm = 0.0).is_ok());
    }

    proptest! {
        // What was typed comes back as it was typed, through the file and back.
        #[test]
        fn files_come_back_as_they_were(
            mass in 1u32..=9_900,
            length in 4_000u32..=20_000,
            balance in 500u32..=3_999,
            grip in proptest::option::of(0u32..=499),
            plate in proptest::option::of(1u32..=2_000),
        ) {
            let fields = ClubFields {
                mass_kg: Some(f64::from(mass) / 100.0),
                length_mm: Some(f64::from(length) / 10.0),
                balance_mm: Some(f64::from(balance) / 10.0),
                grip_mm: grip.map(|tenths| f64::from(tenths) / 10.0),
                plates: plate
                    .map(|hundredths| PlateFields {
                        mass_kg: f64::from(hundredths) / 10_000.0,
                        offset_mm: 390.0,
                        ..PLATE
                    })
                    .into_iter()
                    .collect(),
                ..ClubFields::default()
            };
            let club = ClubMeasure::try_from(fields.clone()).unwrap();
            let text = serde_json::to_string(&club).unwrap();
            prop_assert_eq!(&serde_json::from_str::<ClubMeasure>(&text).unwrap(), &club);
            prop_assert_eq!(ClubFields::from(club), fields);
        }
    }
}
