//! `athletes.csv`: one athlete a row.

use std::collections::HashMap;

use leverbook_domain::roster::{Handle, PersonName, Status};
use time::Date;

use super::cells::{day, word};
use super::table::{Column, Limits, Problem, Writer, read as read_table};

/// The columns. An empty `status` is active, an empty `status_since` is `started_on`. `coach` names
/// coaches of the gym by their addresses, with spaces between; where it is empty, a new athlete
/// comes onto the roster of whoever imports.
pub const COLUMNS: [Column; 7] = [
    Column::required("athlete"),
    Column::required("name"),
    Column::required("started_on"),
    Column::optional("status"),
    Column::optional("status_since"),
    Column::optional("coach"),
    Column::optional("notes"),
];

/// Most characters of the coaches' notes, as the database has it.
const NOTES_AT_MOST: usize = 4_000;

/// One row.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct AthleteRow {
    /// The line it stands on.
    pub line: u64,
    /// The handle.
    pub athlete: Handle,
    /// The name.
    pub name: PersonName,
    /// First day of training here.
    pub started_on: Date,
    /// Whether they are here.
    pub status: Status,
    /// Since when.
    pub status_since: Date,
    /// Addresses of the coaches, lower case.
    pub coaches: Vec<String>,
    /// The coaches' notes. Health data.
    pub notes: String,
}

/// Reads the file.
///
/// # Errors
/// Every problem by line and column, among them a handle given twice.
pub fn read(bytes: &[u8], limits: Limits) -> Result<Vec<AthleteRow>, Vec<Problem>> {
    let mut first: HashMap<Handle, u64> = HashMap::new();
    read_table(bytes, &COLUMNS, limits, |row| {
        let athlete = row.need("athlete", Handle::new);
        if let Some(handle) = &athlete
            && let Some(line) = first.insert(handle.clone(), row.line())
        {
            row.refuse("athlete", format!("the same handle stands on line {line}"));
        }
        let name = row.need("name", PersonName::new);
        let started_on = row.need("started_on", day);
        let status = row
            .may("status", |text| {
                word(text, Status::from_word, "active, paused or left")
            })
            .unwrap_or_default();
        let status_since = row.may("status_since", day).or(started_on);
        let coaches = row
            .text("coach")
            .split_whitespace()
            .map(str::to_lowercase)
            .collect();
        let notes = row.text("notes").to_owned();
        if notes.chars().nth(NOTES_AT_MOST).is_some() {
            row.refuse(
                "notes",
                format!("is longer than {NOTES_AT_MOST} characters"),
            );
        }
        Some(AthleteRow {
            line: row.line(),
            athlete: athlete?,
            name: name?,
            started_on: started_on?,
            status,
            status_since: status_since?,
            coaches,
            notes,
        })
    })
}

/// Writes a file that reads back the same.
pub fn write<'a>(athletes: impl IntoIterator<Item = &'a AthleteRow>) -> Vec<u8> {
    let mut writer = Writer::new(&COLUMNS);
    for row in athletes {
        writer.row([
            row.athlete.as_str(),
            row.name.as_str(),
            &row.started_on.to_string(),
            row.status.word(),
            &row.status_since.to_string(),
            &row.coaches.join(" "),
            &row.notes,
        ]);
    }
    writer.finish()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_was_written_reads_back() {
        let bytes = "athlete,name,started_on,status,status_since,coach,notes\r\n\
            ada,Ada Quill,2025-01-06,active,2025-01-06,m@x.example t@x.example,\"two, \"\"old\"\" scars\r\nsecond line\"\r\n\
            שרה,שרה 🏋,2024-12-29,paused,2026-01-01,,'=1+1\r\n";
        let rows = read(bytes.as_bytes(), Limits::default()).unwrap();
        assert_eq!(rows[0].coaches.len(), 2);
        assert_eq!(rows[1].notes, "=1+1");
        assert_eq!(String::from_utf8(write(&rows)).unwrap(), bytes);
    }

    #[test]
    fn every_problem_is_told_at_its_cell() {
        let told: Vec<String> = read(
            b"athlete,name,started_on,status\n\
              ada,Ada,2025-01-06,\n\
              ada,,tomorrow,here\n\
              two words,Bo,1492-10-12,left\n",
            Limits::default(),
        )
        .unwrap_err()
        .iter()
        .map(ToString::to_string)
        .collect();
        assert_eq!(
            told,
            [
                "line 3, column athlete: the same handle stands on line 2 (found \"ada\")",
                "line 3, column name: is empty",
                "line 3, column started_on: is not a day; write it like 2026-11-25 (found \"tomorrow\")",
                "line 3, column status: must be active, paused or left (found \"here\")",
                "line 4, column athlete: a handle is 1 to 60 letters, digits, dots, dashes or underscores, without spaces (found \"two words\")",
                "line 4, column started_on: is not between 1950-01-01 and 2200-01-01 (found \"1492-10-12\")",
            ]
        );
    }
}
