//! `clubs.csv`: one club, or one loading of a plate-loaded club, a row.

use std::collections::HashMap;

use leverbook_domain::club::{ClubFields, ClubMeasure};
use leverbook_domain::roster::Handle;

use super::cells::{name, number, whole, word};
use super::table::{Column, Limits, Problem, Row, Writer, read as read_table};

/// The columns. All but the first two may be empty or missing; then what follows from them is
/// unknown. Those after `pivot_mm` place the club in a gym: the plate-loaded club that this is a
/// loading of, whether it is loadable, how many of it there are, the handle of the athlete who owns
/// it, and, where the columns cannot hold the measure (a club built from its shape), all of it as
/// JSON.
pub const COLUMNS: [Column; 12] = [
    Column::required("club"),
    Column::required("mass_kg"),
    Column::optional("length_mm"),
    Column::optional("balance_mm"),
    Column::optional("grip_mm"),
    Column::optional("period_s"),
    Column::optional("pivot_mm"),
    Column::optional("part_of"),
    Column::optional("loadable"),
    Column::optional("count"),
    Column::optional("athlete"),
    Column::optional("measure"),
];

/// Most of one club that a gym may have, as the database has it.
const COUNT_AT_MOST: i64 = 500;

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct ClubRow {
    /// The line it stands on.
    pub line: u64,
    /// The name that sets call it by.
    pub club: String,
    /// What was measured.
    pub measure: ClubMeasure,
    /// The plate-loaded club that this is a loading of; `None` for a club of its own.
    pub part_of: Option<String>,
    /// Whether it has fasteners to inspect.
    pub loadable: bool,
    /// How many there are.
    pub count: u16,
    /// The handle of the athlete who owns it; `None` for the gym's.
    pub athlete: Option<Handle>,
}

/// Reads the file.
///
/// # Errors
/// Every problem by line and column, among them a name given twice and measurements that
/// contradict each other.
pub fn read(bytes: &[u8], limits: Limits) -> Result<Vec<ClubRow>, Vec<Problem>> {
    let mut first = HashMap::new();
    read_table(bytes, &COLUMNS, limits, |row| {
        let club = row.need("club", name::<80>);
        if let Some(club) = &club {
            match first.get(club) {
                None => {
                    first.insert(club.clone(), row.line());
                }
                Some(line) => {
                    let what = format!("the same name stands on line {line}");
                    row.refuse("club", what);
                }
            }
        }
        let measure = if row.has("measure") {
            row.may("measure", |text| {
                serde_json::from_str(text).map_err(|why| format!("is not a club's measure: {why}"))
            })
        } else {
            measure(row)
        };
        let part_of = row.may("part_of", name::<60>);
        let loadable = row.may("loadable", |text| word(text, yes_no, "yes or no"));
        let count = row.may("count", |text| {
            whole(text).and_then(|count| match u16::try_from(count) {
                Ok(fits) if (1..=COUNT_AT_MOST).contains(&count) => Ok(fits),
                _ => Err("is not from 1 to 500"),
            })
        });
        let athlete = row.may("athlete", Handle::new);
        Some(ClubRow {
            line: row.line(),
            club: club?,
            measure: measure?,
            part_of,
            loadable: loadable.unwrap_or(false),
            count: count.unwrap_or(1),
            athlete,
        })
    })
}

fn yes_no(text: &str) -> Option<bool> {
    match text {
        "yes" => Some(true),
        "no" => Some(false),
        _ => None,
    }
}

/// Reads the measurements, which must make a club that can be.
fn measure(row: &mut Row<'_>) -> Option<ClubMeasure> {
    let mass = row.need("mass_kg", number);
    let mut measured = |column| {
        let given = row.has(column);
        let value = row.may(column, number);
        (value.is_some() || !given).then_some(value)
    };
    let (length_mm, balance_mm, grip_mm, period_s, pivot_mm) = (
        measured("length_mm"),
        measured("balance_mm"),
        measured("grip_mm"),
        measured("period_s"),
        measured("pivot_mm"),
    );
    let fields = ClubFields {
        mass_kg: Some(mass?),
        length_mm: length_mm?,
        balance_mm: balance_mm?,
        grip_mm: grip_mm?,
        period_s: period_s?,
        pivot_mm: pivot_mm?,
        ..ClubFields::default()
    };
    ClubMeasure::try_from(fields)
        .map_err(|why| row.refuse(&why.field, why.refusal.to_string()))
        .ok()
}

/// Writes a file that reads back the same.
pub fn write<'a>(clubs: impl IntoIterator<Item = &'a ClubRow>) -> Vec<u8> {
    let mut writer = Writer::new(&COLUMNS);
    for row in clubs {
        let fields = ClubFields::from(row.measure.clone());
        let text = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
        let in_columns = ClubFields {
            mass_kg: fields.mass_kg,
            length_mm: fields.length_mm,
            balance_mm: fields.balance_mm,
            grip_mm: fields.grip_mm,
            period_s: fields.period_s,
            pivot_mm: fields.pivot_mm,
            ..ClubFields::default()
        };
        let whole = if fields == in_columns {
            String::new()
        } else {
            serde_json::to_string(&fields).unwrap_or_default()
        };
        writer.row([
            row.club.clone(),
            text(Some(row.measure.mechanics().mass.value().kg())),
            text(fields.length_mm),
            text(fields.balance_mm),
            text(fields.grip_mm),
            text(fields.period_s),
            text(fields.pivot_mm),
            row.part_of.clone().unwrap_or_default(),
            if row.loadable { "yes" } else { "" }.to_owned(),
            if row.count == 1 {
                String::new()
            } else {
                row.count.to_string()
            },
            row.athlete
                .as_ref()
                .map(ToString::to_string)
                .unwrap_or_default(),
            whole,
        ]);
    }
    writer.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn told(text: &str) -> Vec<String> {
        read(text.as_bytes(), Limits::default())
            .unwrap_err()
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    #[test]
    fn all_but_name_and_mass_may_be_empty() {
        let rows = read(
            b"club,mass_kg,length_mm,balance_mm,grip_mm,period_s,pivot_mm\n\
              Oak 8,8,,,,,\n\
              Iron 12,11.7,660,463,50,1.453,0\n",
            Limits::default(),
        )
        .unwrap();
        assert_eq!(rows[0].club, "Oak 8");
        assert!(rows[0].measure.mechanics().static_moment.is_none());
        // M1 by hand: 11.7 · 9.80665 · 0.413 = 47.387 N·m.
        let moment = rows[1].measure.mechanics().static_moment.unwrap();
        assert!((moment.value().nm() - 47.387).abs() < 1e-3);
        assert_eq!(
            read(b"mass_kg,club\n8,Oak 8", Limits::default())
                .unwrap()
                .len(),
            1
        );
    }

    #[test]
    fn what_was_written_reads_back() {
        let bytes = b"club,mass_kg,length_mm,balance_mm,grip_mm,period_s,pivot_mm,part_of,loadable,count,athlete,measure\r\n\
                      \"Ash, long\",4.25,900.5,500,,,,,,,,\r\n\
                      Iron,11.7,660,463,50,1.453,0,Iron bar,yes,3,ada,\r\n\
                      '=8,8,,,,,,,,,,\r\n";
        let rows = read(bytes, Limits::default()).unwrap();
        assert_eq!(rows[2].club, "=8");
        let again = write(&rows);
        assert_eq!(
            String::from_utf8(again).unwrap(),
            String::from_utf8_lossy(bytes)
        );
    }

    #[test]
    fn a_club_built_from_its_shape_reads_back() {
        let shape = r#"{"grip_mm":50,"segments":[{"length_mm":800,"start_radius_mm":12,"end_radius_mm":12,"bore_radius_mm":0,"density_kg_m3":7850}]}"#;
        let mut file = Writer::new(&COLUMNS);
        file.row(["Rod", "1", "", "", "", "", "", "", "", "", "", shape]);
        let rows = read(&file.finish(), Limits::default()).unwrap();
        // A uniform steel rod: 7850 · π · 0.012² · 0.8 = 2.841 kg, whatever the mass column says.
        assert!((rows[0].measure.mechanics().mass.value().kg() - 2.841).abs() < 1e-3);
        assert_eq!(read(&write(&rows), Limits::default()).unwrap(), rows);
        let mut broken = Writer::new(&COLUMNS);
        broken.row([
            "Rod",
            "1",
            "",
            "",
            "",
            "",
            "",
            "",
            "maybe",
            "0",
            "two words",
            "{",
        ]);
        assert_eq!(
            read(&broken.finish(), Limits::default()).unwrap_err().len(),
            4
        );
    }

    #[test]
    fn every_problem_is_told_at_its_cell() {
        assert_eq!(
            told(
                "club,mass_kg,length_mm,balance_mm,period_s,pivot_mm\n\
                 Oak,,x,,,\n\
                 Oak,8,600,700,,\n\
                 Ash,NaN,600,,,\n\
                 Elm,-3,,,1.4,\n\
                 Fir,\"7,5\",,,,\n\
                 ,1e9,,,,\n"
            ),
            [
                "line 2, column mass_kg: is empty",
                "line 2, column length_mm: is not a number; write it like 12.5 (found \"x\")",
                "line 3, column club: the same name stands on line 2 (found \"Oak\")",
                "line 3, column balance_mm: lies past the end of the club; measure from the knob end (found \"700\")",
                "line 4, column mass_kg: is not a number; write it like 12.5 (found \"NaN\")",
                "line 5, column mass_kg: mass must be over 0 and at most 100 kg (220 lb) (found \"-3\")",
                "line 6, column mass_kg: is not a number; write it like 12.5 (found \"7,5\")",
                "line 7, column club: is empty",
                "line 7, column mass_kg: is not a number; write it like 12.5 (found \"1e9\")",
            ]
        );
    }
}
