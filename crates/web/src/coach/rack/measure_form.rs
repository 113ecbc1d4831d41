//! A club's measurements as a form: what was put on the scale and the tape, or the pieces that it is
//! built from, with plates. Fields speak the person's units; what is kept is SI.
//!
//! The form grows by rows: "more rows" sends it, and it comes back longer with nothing lost. Rows
//! that are left empty are not there.

use leverbook_domain::club::{ClubFields, ClubMeasure, PlateFields, SegmentFields};
use leverbook_domain::units::{KILOGRAMS_PER_POUND, METRES_PER_INCH, UnitSystem};

use crate::form::{FieldErrors, Form};
use crate::numbers::{decimal, plain};
use crate::posted::Posted;

/// Pieces a form begins with, and the most it grows to.
const PIECES: (usize, usize) = (3, 12);

/// Plates a form begins with, and the most it grows to.
const PLATES: (usize, usize) = (2, 12);

/// Rows that "more rows" adds.
const MORE: usize = 3;

/// Swings that a person times; the rules know the time of one.
const SWINGS: f64 = 20.0;

/// Columns of a piece: name in the form, field of [`SegmentFields`].
const PIECE: [(&str, &str); 5] = [
    ("piece_length", "length_mm"),
    ("piece_start", "start_radius_mm"),
    ("piece_end", "end_radius_mm"),
    ("piece_bore", "bore_radius_mm"),
    ("piece_density", "density_kg_m3"),
];

/// Columns of a plate: name in the form, field of [`PlateFields`].
const PLATE: [(&str, &str); 5] = [
    ("plate_mass", "mass_kg"),
    ("plate_offset", "offset_mm"),
    ("plate_across", "radius_mm"),
    ("plate_bore", "bore_radius_mm"),
    ("plate_thickness", "thickness_mm"),
];

/// Single fields: name in the form, field of [`ClubFields`].
const SINGLE: [(&str, &str); 11] = [
    ("mass", "mass_kg"),
    ("length", "length_mm"),
    ("balance", "balance_mm"),
    ("grip", "grip_mm"),
    ("swings_time", "period_s"),
    ("pivot", "pivot_mm"),
    ("mass_off", "mass_plus_minus_kg"),
    ("length_off", "length_plus_minus_mm"),
    ("swings_time_off", "period_plus_minus_s"),
    ("across_off", "radius_plus_minus_mm"),
    ("density_off", "density_plus_minus_percent"),
];

/// How many rows of pieces and of plates a form shows.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rows {
    /// Pieces.
    pub(super) pieces: usize,
    /// Plates.
    pub(super) plates: usize,
}

impl Rows {
    /// Rows for a measure, with room for a few more.
    fn of(fields: &ClubFields) -> Self {
        let pieces = fields.segments.as_ref().map_or(0, Vec::len);
        Self {
            pieces: pieces.max(PIECES.0),
            plates: fields.plates.len().max(PLATES.0),
        }
    }

    /// The rows that were sent, and more where more were asked for.
    pub(super) fn sent(posted: &Posted) -> Self {
        let count = |name: &str, (fewest, most): (usize, usize), more: &str| {
            let shown: usize = posted.text(name).parse().unwrap_or(fewest);
            let added = if posted.text("more") == more { MORE } else { 0 };
            added.saturating_add(shown).clamp(fewest, most)
        };
        Self {
            pieces: count("pieces", PIECES, "pieces"),
            plates: count("plates", PLATES, "plates"),
        }
    }

    /// The rows with their fields named, for the page.
    pub(super) fn named(self, units: UnitSystem) -> MeasureRows {
        let length = units.length_unit();
        let cells =
            |columns: &[(&str, &str); 5], words: [(&'static str, &'static str); 5], number| {
                columns
                    .iter()
                    .zip(words)
                    .map(|((name, _), (label, unit))| Cell {
                        name: format!("{name}_{number}"),
                        label,
                        unit,
                    })
                    .collect()
            };
        let rows = |count, columns, words| {
            (1..=count)
                .map(|number| Row {
                    number,
                    cells: cells(columns, words, number),
                })
                .collect()
        };
        let piece = [
            ("Length", length),
            ("Across at the knob side", length),
            ("Across at the head side", length),
            ("Bore, if hollow", length),
            ("Density", "kg/m³"),
        ];
        let plate = [
            ("Mass", units.mass_unit()),
            ("Knob end to its middle", length),
            ("Across", length),
            ("Hole across", length),
            ("Thickness", length),
        ];
        MeasureRows {
            mass_unit: units.mass_unit(),
            length_unit: length,
            metres: Scale::Length.factor(units) / 1000.0,
            may_add_pieces: self.pieces < PIECES.1,
            may_add_plates: self.plates < PLATES.1,
            pieces: rows(self.pieces, &PIECE, piece),
            plates: rows(self.plates, &PLATE, plate),
        }
    }
}

/// The rows of a form as the page shows them.
#[derive(Debug, Clone)]
pub(super) struct MeasureRows {
    /// Unit of masses.
    pub(super) mass_unit: &'static str,
    /// Unit of lengths.
    pub(super) length_unit: &'static str,
    /// One of it in metres.
    pub(super) metres: f64,
    /// Pieces, from the knob end on.
    pub(super) pieces: Vec<Row>,
    /// Plates.
    pub(super) plates: Vec<Row>,
    /// Whether there may be more pieces.
    pub(super) may_add_pieces: bool,
    /// Whether there may be more plates.
    pub(super) may_add_plates: bool,
}

/// A row of fields.
#[derive(Debug, Clone)]
pub(super) struct Row {
    /// From 1.
    pub(super) number: usize,
    /// Its fields.
    pub(super) cells: Vec<Cell>,
}

/// A field of a row.
#[derive(Debug, Clone)]
pub(super) struct Cell {
    /// Its name in the form.
    pub(super) name: String,
    /// Its label.
    pub(super) label: &'static str,
    /// Its unit.
    pub(super) unit: &'static str,
}

/// What one number of the form is, and how it is turned into what is kept.
#[derive(Debug, Clone, Copy)]
enum Scale {
    Mass,
    Length,
    /// Typed as a diameter, kept as a radius.
    Across,
    /// Typed as the time of 20 swings, kept as that of one.
    Swings,
    AsTyped,
}

impl Scale {
    fn of(name: &str) -> Self {
        match name
            .trim_end_matches(|c: char| c.is_ascii_digit())
            .trim_end_matches('_')
        {
            "mass" | "mass_off" | "plate_mass" => Self::Mass,
            "piece_start" | "piece_end" | "piece_bore" | "plate_across" | "plate_bore"
            | "across_off" => Self::Across,
            "swings_time" | "swings_time_off" => Self::Swings,
            "piece_density" | "density_off" => Self::AsTyped,
            _ => Self::Length,
        }
    }

    /// What one of the form's unit is in the unit that is kept.
    fn factor(self, units: UnitSystem) -> f64 {
        let mm = match units {
            UnitSystem::Kilogram => 1.0,
            UnitSystem::Pound => METRES_PER_INCH * 1000.0,
        };
        match self {
            Self::Mass => match units {
                UnitSystem::Kilogram => 1.0,
                UnitSystem::Pound => KILOGRAMS_PER_POUND,
            },
            Self::Length => mm,
            Self::Across => mm / 2.0,
            Self::Swings => 1.0 / SWINGS,
            Self::AsTyped => 1.0,
        }
    }

    fn shown(self, kept: f64, units: UnitSystem) -> String {
        let decimals = match (self, units) {
            (Self::Mass, _) | (Self::Length | Self::Across, UnitSystem::Pound) => 3,
            (Self::Length | Self::Across, UnitSystem::Kilogram) | (Self::AsTyped, _) => 1,
            (Self::Swings, _) => 2,
        };
        plain(kept / self.factor(units), decimals)
    }
}

/// Reads numbers, keeping to the digit what was shown and not typed over: a mass of 12 kg shown as
/// 26.455 lb stays 12 kg.
struct Reader<'a> {
    posted: &'a Posted,
    units: UnitSystem,
    shown: Vec<(String, String, f64)>,
    errors: &'a mut FieldErrors,
}

impl Reader<'_> {
    fn number(&mut self, name: &str) -> Option<f64> {
        let typed = self.posted.text(name).trim();
        let kept = self
            .shown
            .iter()
            .find(|(shown, text, _)| shown == name && text == typed);
        if let Some((_, _, kept)) = kept {
            return Some(*kept);
        }
        let factor = Scale::of(name).factor(self.units);
        self.errors
            .read_optional(self.posted, name, decimal)
            .map(|typed| typed * factor)
    }

    /// The rows of which anything was filled in, with their numbers. Wholly empty ones are skipped.
    fn filled(&self, columns: &[(&str, &str)], rows: usize) -> Vec<usize> {
        (1..=rows)
            .filter(|row| {
                columns
                    .iter()
                    .any(|(name, _)| !self.posted.text(&format!("{name}_{row}")).trim().is_empty())
            })
            .collect()
    }

    /// The numbers of a row; those named in `may_be_empty` are 0 then.
    fn row(
        &mut self,
        columns: &[(&str, &str); 5],
        row: usize,
        may_be_empty: &str,
    ) -> Option<[f64; 5]> {
        let mut numbers = [0.0; 5];
        let mut whole = true;
        for (number, (column, _)) in numbers.iter_mut().zip(columns) {
            let name = format!("{column}_{row}");
            let empty = self.posted.text(&name).trim().is_empty();
            match self.number(&name) {
                Some(value) => *number = value,
                None if empty && *column == may_be_empty => {}
                None => {
                    if empty {
                        self.errors.add(&name, "is needed for this row");
                    }
                    whole = false;
                }
            }
        }
        whole.then_some(numbers)
    }
}

/// Reads the measure. What was wrong is noted at its field. `before` is the measure that the form
/// was filled with, where there was one.
pub(super) fn read(
    posted: &Posted,
    units: UnitSystem,
    before: Option<&ClubMeasure>,
    errors: &mut FieldErrors,
) -> Option<ClubMeasure> {
    let shown = before
        .map(|measure| kept_values(measure, units))
        .unwrap_or_default();
    let rows = Rows::sent(posted);
    let mut reader = Reader {
        posted,
        units,
        shown,
        errors,
    };
    let shaped = posted.text("how") == "shape";

    let plate_rows = reader.filled(&PLATE, rows.plates);
    let plates: Option<Vec<PlateFields>> = plate_rows
        .iter()
        .map(|row| {
            let [mass_kg, offset_mm, radius_mm, bore_radius_mm, thickness_mm] =
                reader.row(&PLATE, *row, "")?;
            Some(PlateFields {
                mass_kg,
                offset_mm,
                radius_mm,
                bore_radius_mm,
                thickness_mm,
            })
        })
        .collect();
    let mut fields = ClubFields {
        grip_mm: reader.number("grip"),
        mass_plus_minus_kg: reader.number("mass_off"),
        length_plus_minus_mm: reader.number("length_off"),
        period_plus_minus_s: reader.number("swings_time_off"),
        radius_plus_minus_mm: reader.number("across_off"),
        density_plus_minus_percent: reader.number("density_off"),
        ..ClubFields::default()
    };
    let mut piece_rows = Vec::new();
    if shaped {
        piece_rows = reader.filled(&PIECE, rows.pieces);
        let pieces: Option<Vec<SegmentFields>> = piece_rows
            .iter()
            .map(|row| {
                let [
                    length_mm,
                    start_radius_mm,
                    end_radius_mm,
                    bore_radius_mm,
                    density_kg_m3,
                ] = reader.row(&PIECE, *row, "piece_bore")?;
                Some(SegmentFields {
                    length_mm,
                    start_radius_mm,
                    end_radius_mm,
                    bore_radius_mm,
                    density_kg_m3,
                })
            })
            .collect();
        fields.segments = Some(pieces?);
    } else {
        fields.mass_kg = reader.number("mass");
        fields.length_mm = reader.number("length");
        fields.balance_mm = reader.number("balance");
        fields.period_s = reader.number("swings_time");
        fields.pivot_mm = reader.number("pivot");
    }
    fields.plates = plates?;
    if errors.any() {
        return None;
    }
    ClubMeasure::try_from(fields)
        .map_err(|wrong| {
            errors.add(
                &field_name(&wrong.field, &piece_rows, &plate_rows),
                wrong.refusal,
            );
        })
        .ok()
}

/// The form's field for one of [`ClubFields`]: `segments[1].bore_radius_mm` is `piece_bore_4` where
/// the second filled row is the fourth.
fn field_name(field: &str, pieces: &[usize], plates: &[usize]) -> String {
    let in_row = |field: &str, list: &str, rows: &[usize], columns: &[(&str, &str)]| {
        let (index, column) = field
            .strip_prefix(list)?
            .strip_prefix('[')?
            .split_once("].")?;
        let row = rows.get(index.parse::<usize>().ok()?)?;
        let (name, _) = columns.iter().find(|(_, field)| *field == column)?;
        Some(format!("{name}_{row}"))
    };
    in_row(field, "segments", pieces, &PIECE)
        .or_else(|| in_row(field, "plates", plates, &PLATE))
        .or_else(|| {
            SINGLE
                .iter()
                .find(|(_, known)| *known == field)
                .map(|(name, _)| (*name).to_owned())
        })
        .unwrap_or_else(|| "piece_length_1".to_owned())
}

/// Name, text and exact value of every number that the form of a measure shows.
fn kept_values(measure: &ClubMeasure, units: UnitSystem) -> Vec<(String, String, f64)> {
    let fields = ClubFields::from(measure.clone());
    let single = [
        fields.mass_kg,
        fields.length_mm,
        fields.balance_mm,
        fields.grip_mm,
        fields.period_s,
        fields.pivot_mm,
        fields.mass_plus_minus_kg,
        fields.length_plus_minus_mm,
        fields.period_plus_minus_s,
        fields.radius_plus_minus_mm,
        fields.density_plus_minus_percent,
    ];
    let mut values: Vec<(String, f64)> = SINGLE
        .iter()
        .zip(single)
        .filter_map(|((name, _), value)| Some(((*name).to_owned(), value?)))
        .collect();
    let mut row = |columns: &[(&str, &str); 5], number: usize, numbers: [f64; 5]| {
        let named = columns.iter().zip(numbers);
        values.extend(named.map(|((name, _), value)| (format!("{name}_{number}"), value)));
    };
    for (number, piece) in (1..).zip(fields.segments.iter().flatten()) {
        let numbers = [
            piece.length_mm,
            piece.start_radius_mm,
            piece.end_radius_mm,
            piece.bore_radius_mm,
            piece.density_kg_m3,
        ];
        row(&PIECE, number, numbers);
    }
    for (number, plate) in (1..).zip(&fields.plates) {
        let numbers = [
            plate.mass_kg,
            plate.offset_mm,
            plate.radius_mm,
            plate.bore_radius_mm,
            plate.thickness_mm,
        ];
        row(&PLATE, number, numbers);
    }
    values
        .into_iter()
        .map(|(name, value)| {
            let text = Scale::of(&name).shown(value, units);
            (name, text, value)
        })
        .collect()
}

/// The fields of a form that shows a measure, and the rows it needs.
pub(super) fn shown(measure: &ClubMeasure, units: UnitSystem) -> (Vec<(String, String)>, Rows) {
    let fields = ClubFields::from(measure.clone());
    let how = if fields.segments.is_some() {
        "shape"
    } else {
        "measured"
    };
    let values = kept_values(measure, units)
        .into_iter()
        .map(|(name, text, _)| (name, text));
    let values = std::iter::once(("how".to_owned(), how.to_owned()))
        .chain(values)
        .collect();
    (values, Rows::of(&fields))
}

/// A form with nothing measured yet.
pub(super) fn empty() -> (Form, Rows) {
    (
        Form::with([("how", "measured"), ("count", "1")]),
        Rows::of(&ClubFields::default()),
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    fn posted(values: &[(String, String)], typed: &[(&str, &str)]) -> Posted {
        let mut body = form_urlencoded::Serializer::new(String::new());
        for (name, value) in values {
            if !typed.iter().any(|(typed, _)| typed == name) {
                body.append_pair(name, value);
            }
        }
        body.extend_pairs(typed);
        Posted::from_urlencoded(body.finish().as_bytes())
    }

    fn measure(json: &str) -> ClubMeasure {
        serde_json::from_str(json).expect("a possible club")
    }

    const SHAPED: &str = r#"{"grip_mm": 60, "segments": [
        {"length_mm": 150, "start_radius_mm": 16, "end_radius_mm": 16, "density_kg_m3": 700},
        {"length_mm": 500, "start_radius_mm": 16, "end_radius_mm": 55, "bore_radius_mm": 5, "density_kg_m3": 700}],
        "plates": [{"mass_kg": 1.25, "offset_mm": 500, "radius_mm": 80, "bore_radius_mm": 26, "thickness_mm": 20}]}"#;

    #[test]
    fn what_is_shown_and_not_typed_over_is_kept_to_the_digit() {
        let weighed = r#"{"mass_kg": 11.7, "length_mm": 660, "balance_mm": 463, "grip_mm": 50,
            "period_s": 1.453, "pivot_mm": 0, "mass_plus_minus_kg": 0.02}"#;
        for measure in [measure(weighed), measure(SHAPED)] {
            for units in [UnitSystem::Kilogram, UnitSystem::Pound] {
                let (values, _) = shown(&measure, units);
                let mut errors = FieldErrors::new();
                let again = read(&posted(&values, &[]), units, Some(&measure), &mut errors);
                assert_eq!(again, Some(measure.clone()), "{units:?}: {errors:?}");
            }
        }
    }

    // 1 lb = 0.45359237 kg, 1 in = 25.4 mm, both exact (NIST SP 811).
    #[test]
    fn pounds_inches_and_twenty_swings_are_kept_in_si() {
        let typed = [
            ("how", "measured"),
            ("mass", "25"),
            ("length", "26"),
            ("balance", "18"),
            ("grip", "2"),
            ("swings_time", "29,06"),
            ("pivot", "0"),
        ];
        let mut errors = FieldErrors::new();
        let measure = read(&posted(&[], &typed), UnitSystem::Pound, None, &mut errors);
        let fields = ClubFields::from(measure.expect("a possible club"));
        let close = |value: Option<f64>, wanted: f64| {
            assert!(
                (value.expect("given") - wanted).abs() < 1e-9,
                "{value:?} is not {wanted}"
            );
        };
        close(fields.mass_kg, 11.339_809_25);
        close(fields.length_mm, 660.4);
        close(fields.balance_mm, 457.2);
        close(fields.grip_mm, 50.8);
        close(fields.period_s, 1.453);
    }

    #[test]
    fn what_is_wrong_is_told_at_its_field() {
        let table: &[(&[(&str, &str)], &str)] = &[
            (&[("mass", "")], "mass"),
            (&[("mass", "-3")], "mass"),
            (&[("mass", "NaN")], "mass"),
            (&[("mass", "1e9")], "mass"),
            (&[("mass", "101")], "mass"),
            (&[("mass", "8"), ("length", "9000")], "length"),
            (
                &[("mass", "8"), ("length", "600"), ("balance", "700")],
                "balance",
            ),
            (
                &[("mass", "8"), ("balance", "300"), ("grip", "310")],
                "grip",
            ),
            (&[("mass", "8"), ("swings_time", "29")], "pivot"),
            (&[("mass", "8"), ("pivot", "0")], "swings_time"),
            (&[("mass", "8"), ("mass_off", "-1")], "mass_off"),
            (&[("mass", "8"), ("plate_mass_2", "1")], "plate_offset_2"),
            (
                &[
                    ("mass", "8"),
                    ("plate_mass_2", "1"),
                    ("plate_offset_2", "400"),
                    ("plate_across_2", "50"),
                    ("plate_bore_2", "60"),
                    ("plate_thickness_2", "10"),
                ],
                "plate_bore_2",
            ),
            (&[("how", "shape")], "piece_length_1"),
            (
                &[("how", "shape"), ("piece_length_3", "200")],
                "piece_start_3",
            ),
            (
                &[
                    ("how", "shape"),
                    ("piece_length_2", "200"),
                    ("piece_start_2", "30"),
                    ("piece_end_2", "30"),
                    ("piece_bore_2", "30"),
                    ("piece_density_2", "700"),
                ],
                "piece_bore_2",
            ),
        ];
        for (typed, field) in table {
            let mut errors = FieldErrors::new();
            let sent = posted(&[], typed);
            assert_eq!(
                read(&sent, UnitSystem::Kilogram, None, &mut errors),
                None,
                "{typed:?}"
            );
            let form = Form::again(&sent, errors);
            assert!(
                form.error(field).is_some(),
                "{typed:?} told {:?}",
                form.errors().collect::<Vec<_>>()
            );
        }
    }

    #[test]
    fn rows_grow_when_asked_and_not_past_the_most() {
        let rows = |typed: &[(&str, &str)]| Rows::sent(&posted(&[], typed));
        assert_eq!(
            rows(&[]),
            Rows {
                pieces: 3,
                plates: 2
            }
        );
        assert_eq!(
            rows(&[("pieces", "3"), ("more", "pieces")]),
            Rows {
                pieces: 6,
                plates: 2
            }
        );
        assert_eq!(rows(&[("plates", "11"), ("more", "plates")]).plates, 12);
        assert_eq!(rows(&[("pieces", "999999999999999999999")]).pieces, 3);
        assert_eq!(rows(&[("pieces", "4000000000")]).pieces, 12);
    }
}
