//! Reading and writing any such file: header, rows, problems, and cells that a spreadsheet would
//! take for a formula.

use std::collections::HashMap;
use std::fmt;

/// A column of a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Column {
    /// Its name in the header.
    pub name: &'static str,
    /// Whether a file without it is refused.
    pub required: bool,
}

impl Column {
    /// A column that must be there.
    pub const fn required(name: &'static str) -> Self {
        Self {
            name,
            required: true,
        }
    }

    /// A column that may be missing, which is the same as empty in every row.
    pub const fn optional(name: &'static str) -> Self {
        Self {
            name,
            required: false,
        }
    }
}

/// How much of a file is taken.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Limits {
    /// Rows below the header.
    pub rows: usize,
    /// Characters in one cell.
    pub cell_chars: usize,
    /// Problems told before reading stops.
    pub problems: usize,
}

impl Default for Limits {
    fn default() -> Self {
        Self {
            rows: 1_000_000,
            cell_chars: 4_000,
            problems: 500,
        }
    }
}

/// One thing wrong with a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Problem {
    /// The line, from 1; 0 where the whole file is meant.
    pub line: u64,
    /// The column's name; empty where the whole line is meant.
    pub column: String,
    /// What is wrong, and what would be right.
    pub what: String,
    /// What stands there, cut short; empty where that says nothing.
    pub excerpt: String,
}

impl Problem {
    /// A problem with a whole line.
    pub fn line(line: u64, what: impl Into<String>) -> Self {
        Self {
            line,
            column: String::new(),
            what: what.into(),
            excerpt: String::new(),
        }
    }
}

impl fmt::Display for Problem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        if self.line > 0 {
            write!(f, "line {}", self.line)?;
            if !self.column.is_empty() {
                write!(f, ", column {}", self.column)?;
            }
            write!(f, ": ")?;
        }
        write!(f, "{}", self.what)?;
        if !self.excerpt.is_empty() {
            write!(f, " (found {:?})", self.excerpt)?;
        }
        Ok(())
    }
}

/// The first characters of a cell, for showing it beside a problem.
fn excerpt(text: &str) -> String {
    const SHOWN: usize = 40;
    let mut shown: String = text.chars().take(SHOWN).collect();
    if text.chars().nth(SHOWN).is_some() {
        shown.push('…');
    }
    shown
}

/// One row, read by column name. What does not parse becomes a problem.
#[derive(Debug)]
pub struct Row<'a> {
    line: u64,
    cells: Vec<(&'static str, &'a str)>,
    problems: Vec<Problem>,
}

impl Row<'_> {
    /// The line on which the row begins.
    pub const fn line(&self) -> u64 {
        self.line
    }

    /// The cell as it stands, inner and outer white space kept; empty where the column is missing.
    pub fn text(&self, column: &str) -> &str {
        self.cells
            .iter()
            .find(|(name, _)| *name == column)
            .map_or("", |(_, text)| text)
    }

    /// Whether there is anything but white space in the cell.
    pub fn has(&self, column: &str) -> bool {
        !self.text(column).trim().is_empty()
    }

    /// Notes a problem with a cell.
    pub fn refuse(&mut self, column: &str, what: impl Into<String>) {
        let problem = Problem {
            line: self.line,
            column: column.to_owned(),
            what: what.into(),
            excerpt: excerpt(self.text(column)),
        };
        self.problems.push(problem);
    }

    /// Reads a cell, trimmed; `None`, with a problem noted, where it does not parse or is empty.
    pub fn need<T, E: fmt::Display>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        if !self.has(column) {
            self.refuse(column, "is empty");
            return None;
        }
        self.may(column, parse)
    }

    /// Reads a cell, trimmed; `None` where it is empty, or, with a problem noted, does not parse.
    pub fn may<T, E: fmt::Display>(
        &mut self,
        column: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let text = self.text(column).trim();
        if text.is_empty() {
            return None;
        }
        match parse(text) {
            Ok(value) => Some(value),
            Err(what) => {
                let what = what.to_string();
                self.refuse(column, what);
                None
            }
        }
    }
}

/// Reads a file: the header by name and in any order, then every row through `parse`. Rows whose
/// cells are all empty are passed over.
///
/// # Errors
/// Every problem found, in order of line: with the file, its header, its cells, and what `parse`
/// noted. If there is one, no row is given.
pub fn read<T>(
    bytes: &[u8],
    columns: &[Column],
    limits: Limits,
    mut parse: impl FnMut(&mut Row<'_>) -> Option<T>,
) -> Result<Vec<T>, Vec<Problem>> {
    let bytes = bytes.strip_prefix(b"\xef\xbb\xbf").unwrap_or(bytes);
    let mut reader = csv::ReaderBuilder::new()
        .has_headers(false)
        .flexible(true)
        .from_reader(bytes);
    let mut lines = Lines::of(bytes);
    let mut record = csv::ByteRecord::new();
    let mut next = |record: &mut csv::ByteRecord| -> Result<Option<u64>, Vec<Problem>> {
        match reader.read_byte_record(record) {
            Ok(true) => Ok(Some(
                lines.at(record.position().map_or(0, csv::Position::byte)),
            )),
            Ok(false) => Ok(None),
            Err(why) => Err(vec![Problem::line(0, format!("cannot be read: {why}"))]),
        }
    };

    let Some(header_line) = next(&mut record)? else {
        return Err(vec![Problem::line(
            0,
            "the file is empty; its first line names the columns",
        )]);
    };
    let header = header(&record, header_line, columns)?;

    let mut rows = Vec::new();
    let mut problems = Vec::new();
    let mut count = 0;
    while let Some(line) = next(&mut record)? {
        if record.iter().all(|cell| cell.trim_ascii().is_empty()) {
            continue;
        }
        count += 1;
        if count > limits.rows {
            problems.push(Problem::line(
                line,
                format!("too many rows: a file has {} at most", limits.rows),
            ));
            break;
        }
        if record.len() != header.len() {
            problems.push(Problem::line(
                line,
                format!(
                    "has {} cells, but the header names {} columns; is a quote or a comma missing?",
                    record.len(),
                    header.len()
                ),
            ));
        } else {
            let mut row = Row {
                line,
                cells: Vec::with_capacity(header.len()),
                problems: Vec::new(),
            };
            for (&name, cell) in header.iter().zip(&record) {
                match clean(cell, limits) {
                    Ok(text) => row.cells.push((name, bare(text))),
                    Err((what, found)) => row.problems.push(Problem {
                        line,
                        column: name.to_owned(),
                        what,
                        excerpt: excerpt(&found),
                    }),
                }
            }
            // A row with a broken cell would only be told the same thing twice by its parser.
            if row.problems.is_empty() {
                rows.extend(parse(&mut row));
            }
            problems.append(&mut row.problems);
        }
        if problems.len() >= limits.problems {
            problems.push(Problem::line(
                line,
                "too many problems: the rest was not read",
            ));
            break;
        }
    }
    if problems.is_empty() {
        Ok(rows)
    } else {
        Err(problems)
    }
}

/// The columns in the order of the file.
fn header(
    record: &csv::ByteRecord,
    line: u64,
    columns: &[Column],
) -> Result<Vec<&'static str>, Vec<Problem>> {
    let mut found = Vec::new();
    let mut problems = Vec::new();
    let mut seen = HashMap::new();
    for (position, cell) in record.iter().enumerate() {
        let text = String::from_utf8_lossy(cell);
        let name = text.trim();
        let problem = |what: &str| Problem {
            line,
            column: excerpt(name),
            what: what.to_owned(),
            excerpt: String::new(),
        };
        match columns.iter().find(|column| column.name == name) {
            Some(column) if seen.insert(column.name, position).is_none() => {
                found.push(column.name);
            }
            Some(_) => problems.push(problem("this column stands twice in the header")),
            None if name.is_empty() => {
                problems.push(problem("a column of the header has no name"));
            }
            None => problems.push(problem("is not a column of this file")),
        }
    }
    for column in columns {
        if column.required && !seen.contains_key(column.name) {
            problems.push(Problem {
                line,
                column: column.name.to_owned(),
                what: "this column is missing from the header".to_owned(),
                excerpt: String::new(),
            });
        }
    }
    if !problems.is_empty() && record.len() == 1 {
        let only = &record[0];
        if only.contains(&b';') || only.contains(&b'\t') {
            problems = vec![Problem::line(line, "cells must be parted by commas")];
        }
    }
    if problems.is_empty() {
        Ok(found)
    } else {
        Err(problems)
    }
}

/// The cell as text, or what is wrong with it and what was found.
fn clean(cell: &[u8], limits: Limits) -> Result<&str, (String, String)> {
    let Ok(text) = std::str::from_utf8(cell) else {
        let what = "is not UTF-8 text; save the file as UTF-8".to_owned();
        return Err((what, String::from_utf8_lossy(cell).into_owned()));
    };
    if text.chars().nth(limits.cell_chars).is_some() {
        let what = format!("is longer than {} characters", limits.cell_chars);
        return Err((what, text.to_owned()));
    }
    let unprintable = |c: &char| c.is_control() && !matches!(c, '\t' | '\n' | '\r');
    if let Some(c) = text.chars().find(unprintable) {
        let what = format!("holds a control character, U+{:04X}", u32::from(c));
        return Err((what, text.to_owned()));
    }
    Ok(text)
}

/// Turns byte offsets, asked for in rising order, into lines. A line ends with LF, CR LF or CR.
struct Lines<'a> {
    bytes: &'a [u8],
    at: usize,
    line: u64,
}

impl<'a> Lines<'a> {
    const fn of(bytes: &'a [u8]) -> Self {
        Self {
            bytes,
            at: 0,
            line: 1,
        }
    }

    /// The line of the first byte from `offset` on that does not itself end a line: a reader that
    /// passes over empty lines gives the offset before them.
    fn at(&mut self, offset: u64) -> u64 {
        let offset = usize::try_from(offset).unwrap_or(usize::MAX);
        while let Some(&byte) = self.bytes.get(self.at) {
            if self.at >= offset && !matches!(byte, b'\n' | b'\r') {
                break;
            }
            let second_half = byte == b'\n' && self.at > 0 && self.bytes[self.at - 1] == b'\r';
            if matches!(byte, b'\n' | b'\r') && !second_half {
                self.line += 1;
            }
            self.at += 1;
        }
        self.line
    }
}

/// What a spreadsheet may take for the start of a formula (OWASP, CSV Injection).
const FORMULA_STARTS: [char; 7] = ['=', '+', '-', '@', '\t', '\r', '\n'];

/// Whether a spreadsheet could run the cell, behind however many apostrophes.
fn could_run(text: &str) -> bool {
    text.trim_start_matches('\'').starts_with(FORMULA_STARTS)
}

/// Takes back the one apostrophe that [`Writer`] set before a cell that could run.
fn bare(text: &str) -> &str {
    match text.strip_prefix('\'') {
        Some(rest) if could_run(rest) => rest,
        _ => text,
    }
}

/// Writes such a file: CR LF, quotes where needed, and an apostrophe before every cell that a
/// spreadsheet could take for a formula.
#[derive(Debug)]
pub struct Writer {
    inner: csv::Writer<Vec<u8>>,
}

impl Writer {
    /// A file with these columns.
    pub fn new(columns: &[Column]) -> Self {
        let mut writer = Self::bare();
        writer.row(columns.iter().map(|column| column.name));
        writer
    }

    /// A file whose first row, the header, is still to be written.
    pub fn bare() -> Self {
        Self {
            inner: csv::WriterBuilder::new()
                .terminator(csv::Terminator::CRLF)
                .flexible(true)
                .from_writer(Vec::new()),
        }
    }

    /// Adds a row; the cells stand in the order of the columns.
    pub fn row<I>(&mut self, cells: I)
    where
        I: IntoIterator,
        I::Item: AsRef<str>,
    {
        for cell in cells {
            let cell = cell.as_ref();
            let written = if could_run(cell) {
                self.inner.write_field(format!("'{cell}"))
            } else {
                self.inner.write_field(cell)
            };
            written.expect("memory takes every cell");
        }
        self.inner
            .write_record(None::<&[u8]>)
            .expect("memory takes every row");
    }

    /// The file.
    pub fn finish(self) -> Vec<u8> {
        self.inner.into_inner().expect("memory takes every file")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    const NOTES: [Column; 2] = [Column::required("name"), Column::optional("note")];

    fn written(rows: &[[&str; 2]]) -> String {
        let mut writer = Writer::new(&NOTES);
        for row in rows {
            writer.row(row);
        }
        String::from_utf8(writer.finish()).unwrap()
    }

    fn notes(bytes: &[u8]) -> Result<Vec<(u64, String, String)>, Vec<Problem>> {
        read(bytes, &NOTES, Limits::default(), |row| {
            let name = row.text("name").to_owned();
            Some((row.line(), name, row.text("note").to_owned()))
        })
    }

    fn told(bytes: &[u8], limits: Limits) -> Vec<String> {
        read(bytes, &NOTES, limits, |_| Some(()))
            .unwrap_err()
            .iter()
            .map(ToString::to_string)
            .collect()
    }

    // RFC 4180 § 2, rules 1 to 7: CR LF, same number of cells, white space kept, quotes round
    // commas, line breaks and quotes, inner quotes doubled. Bytes as Python's csv writes them with
    // lineterminator CR LF.
    #[test]
    fn rows_are_written_as_rfc_4180_has_them() {
        let rows = [
            ["Ann, B.", "said \"ok\""],
            ["line\nbreak", " lead"],
            ["plain", ""],
        ];
        assert_eq!(
            written(&rows),
            "name,note\r\n\"Ann, B.\",\"said \"\"ok\"\"\"\r\n\"line\nbreak\", lead\r\nplain,\r\n"
        );
        let again = notes(written(&rows).as_bytes()).unwrap();
        assert_eq!(
            again,
            [
                (2, "Ann, B.".into(), "said \"ok\"".into()),
                (3, "line\nbreak".into(), " lead".into()),
                (5, "plain".into(), String::new()),
            ]
        );
    }

    // OWASP, CSV Injection: prefix an apostrophe, wrap in quotes, double the quotes inside. The two
    // payloads and their safe forms are that page's.
    #[test]
    fn what_a_spreadsheet_would_run_is_made_harmless() {
        let line = |cell: &str| written(&[[cell, ""]]).lines().nth(1).unwrap().to_owned();
        assert_eq!(line(r#"=1+2";=1+2"#), r#""'=1+2"";=1+2","#);
        assert_eq!(line(r#"=1+2'" ;,=1+2"#), r#""'=1+2'"" ;,=1+2","#);
        for start in ["=1", "+1", "-1", "@a", "\ta", "\ra", "\na"] {
            let text = written(&[[start, "x"]]);
            let cell = text.strip_prefix("name,note\r\n").unwrap();
            assert!(cell.trim_start_matches('"').starts_with('\''), "{cell:?}");
        }
        assert_eq!(line("plain"), "plain,");
        assert_eq!(line("5-3"), "5-3,");
    }

    #[test]
    fn what_was_written_reads_back() {
        let rows = [
            ["=1+2", "'=1+2"],
            ["''-x", "'quoted'"],
            ["-", "\t"],
            ["'", "a\r\nb"],
            ["مطرقة", "\u{1f3cb}\u{fe0f} one\u{2026}"],
        ];
        let again = notes(written(&rows).as_bytes()).unwrap();
        let cells: Vec<[&str; 2]> = again
            .iter()
            .map(|(_, name, note)| [name.as_str(), note.as_str()])
            .collect();
        assert_eq!(cells, rows);
    }

    #[test]
    fn a_spreadsheets_habits_are_taken() {
        // A byte order mark, columns in another order, empty lines and rows of nothing at the end.
        let rows = notes(b"\xef\xbb\xbf note , name\n\nx,Ann\n,\n,,,\n").unwrap();
        assert_eq!(rows, [(3, "Ann".into(), "x".into())]);
        // An optional column may be missing, and the last line end too.
        assert_eq!(
            notes(b"name\r\nAnn").unwrap(),
            [(2, "Ann".into(), String::new())]
        );
        // Old line ends.
        assert_eq!(notes(b"name\rAnn\rBob\r").unwrap()[1].0, 3);
    }

    #[test]
    fn every_problem_is_told_by_line_and_column() {
        let limits = Limits {
            rows: 9,
            cell_chars: 5,
            ..Limits::default()
        };
        assert_eq!(
            told(
                b"name,note\r\nAnn,\xff\r\nBo\0b,\r\n\"two\nlines\",longer\r\na,b,c\r\n",
                limits
            ),
            [
                "line 2, column note: is not UTF-8 text; save the file as UTF-8 (found \"\u{fffd}\")",
                "line 3, column name: holds a control character, U+0000 (found \"Bo\\0b\")",
                "line 4, column name: is longer than 5 characters (found \"two\\nlines\")",
                "line 4, column note: is longer than 5 characters (found \"longer\")",
                "line 6: has 3 cells, but the header names 2 columns; is a quote or a comma missing?",
            ]
        );
        let two = Limits {
            rows: 2,
            ..Limits::default()
        };
        assert_eq!(
            told(b"name\na\nb\nc\n", two),
            ["line 4: too many rows: a file has 2 at most"]
        );
        let one = Limits {
            problems: 1,
            ..Limits::default()
        };
        assert_eq!(told(b"name\na\xff\nb\xff\n", one).len(), 2);
    }

    #[test]
    fn a_wrong_header_is_told_before_any_row() {
        let all = |bytes| told(bytes, Limits::default());
        assert_eq!(
            all(b"note,note,,colour\n1,2\n"),
            [
                "line 1, column note: this column stands twice in the header",
                "line 1: a column of the header has no name",
                "line 1, column colour: is not a column of this file",
                "line 1, column name: this column is missing from the header",
            ]
        );
        assert_eq!(
            all(b"name;note\nAnn;x\n"),
            ["line 1: cells must be parted by commas"]
        );
        assert_eq!(
            all(b""),
            ["the file is empty; its first line names the columns"]
        );
    }
}
