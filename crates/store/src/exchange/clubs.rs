//! `clubs.csv`: one club, or one loading of a plate-loaded club, a row.

use std::collections::HashMap;

use leverbook_domain::club::{ClubFields, ClubMeasure};

use super::cells::{name, number};
use super::table::{Column, Limits, Problem, Row, Writer, read as read_table};

/// The columns. All but the first two may be empty or missing; then what follows from them is
/// unknown.
pub const COLUMNS: [Column; 7] = [
    Column::required("club"),
    Column::required("mass_kg"),
    Column::optional("length_mm"),
    Column::optional("balance_mm"),
    Column::optional("grip_mm"),
    Column::optional("period_s"),
    Column::optional("pivot_mm"),
];

/// One row.
#[derive(Debug, Clone, PartialEq)]
pub struct ClubRow {
    /// The line it stands on.
    pub line: u64,
    /// The name that sets call it by.
    pub club: String,
    /// What was measured.
    pub measure: ClubMeasure,
}

/// Reads the file.
///
/// # Errors
/// Every problem by line and column, among them a name given twice and measurements that
/// contradict each other.
pub fn read(bytes: &[u8], limits: Limits) -> Result<Vec<ClubRow>, Vec<Problem>> {
    let mut first = HashMap::new();
    read_table(bytes, &COLUMNS, limits, |row| {
        let club = row.need("club", name(80));
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
        let measure = measure(row);
        Some(ClubRow {
            line: row.line(),
            club: club?,
            measure: measure?,
        })
    })
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

/// Writes a file of weighed clubs that reads back the same.
pub fn write<'a>(clubs: impl IntoIterator<Item = (&'a str, &'a ClubMeasure)>) -> Vec<u8> {
    let mut writer = Writer::new(&COLUMNS);
    for (club, measure) in clubs {
        let fields = ClubFields::from(measure.clone());
        let text = |value: Option<f64>| value.map(|value| value.to_string()).unwrap_or_default();
        writer.row([
            club.to_owned(),
            text(fields.mass_kg),
            text(fields.length_mm),
            text(fields.balance_mm),
            text(fields.grip_mm),
            text(fields.period_s),
            text(fields.pivot_mm),
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
        let bytes = b"club,mass_kg,length_mm,balance_mm,grip_mm,period_s,pivot_mm\r\n\
                      \"Ash, long\",4.25,900.5,500,,,\r\nIron,11.7,660,463,50,1.453,0\r\n'=8,8,,,,,\r\n";
        let rows = read(bytes, Limits::default()).unwrap();
        assert_eq!(rows[2].club, "=8");
        let again = write(rows.iter().map(|row| (row.club.as_str(), &row.measure)));
        assert_eq!(
            String::from_utf8(again).unwrap(),
            String::from_utf8_lossy(bytes)
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
