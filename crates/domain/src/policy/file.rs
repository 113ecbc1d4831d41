//! A policy as a TOML file: a line a threshold, with all that is known of it in comments above.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use toml::{Spanned, Value};

use super::{Policy, PolicyVersion, Threshold};
use crate::rules::help::FAMILIES;
use crate::text::capitalised;

/// Something in a file that cannot be used.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileFault {
    /// The line, from 1; none for what the file leaves out.
    pub line: Option<usize>,
    /// The threshold, or whatever stands there in its place; empty where the file cannot be read.
    pub name: String,
    /// What is wrong with it.
    pub what: String,
}

impl std::fmt::Display for FileFault {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        if let Some(line) = self.line {
            write!(f, "line {line}: ")?;
        }
        if !self.name.is_empty() {
            write!(f, "{} ", self.name)?;
        }
        f.write_str(&self.what)
    }
}

/// The name without its place among several values.
fn line_name(threshold: &Threshold) -> &'static str {
    threshold.name.split('[').next().unwrap_or(threshold.name)
}

/// The thresholds that stand in one line.
fn in_line(name: &str) -> Vec<&'static Threshold> {
    Threshold::ALL
        .iter()
        .filter(|threshold| line_name(threshold) == name)
        .collect()
}

fn number(threshold: &Threshold, policy: &Policy) -> String {
    let value = threshold.of(policy);
    if threshold.whole {
        value.to_string()
    } else {
        // With its point, so that it is seen to take one.
        format!("{value:?}")
    }
}

/// Writes a policy out.
#[must_use]
pub fn write(policy: &Policy) -> String {
    let mut text = format!(
        "# The thresholds of the rules. What is left out is as shipped.\n\nversion = {}\n",
        policy.version.0
    );
    for (letter, family) in FAMILIES {
        let mut heading = format!("\n\n# {letter} · {family}\n");
        for threshold in Threshold::ALL.iter().filter(|it| it.family() == letter) {
            text.push_str(&std::mem::take(&mut heading));
            // Writing to a String cannot fail.
            let _ = write!(
                text,
                "\n# {} ({})\n# {}\n# {}; as shipped {}. {}\n",
                threshold.words,
                threshold.rules.join(", "),
                threshold.sentence,
                capitalised(&threshold.range_words()),
                number(threshold, &Policy::default()),
                threshold.source
            );
            let name = line_name(threshold);
            let line = in_line(name);
            if line.last() == Some(&threshold) {
                let numbers: Vec<String> = line.iter().map(|it| number(it, policy)).collect();
                let _ = match numbers.as_slice() {
                    [one] => writeln!(text, "{name} = {one}"),
                    several => writeln!(text, "{name} = [{}]", several.join(", ")),
                };
            }
        }
    }
    text
}

/// Reads a policy. What the file leaves out is as shipped.
///
/// # Errors
/// Everything that is wrong with it, in order of line.
pub fn read(text: &str) -> Result<Policy, Vec<FileFault>> {
    let line_at = |at: usize| 1 + text[..at].matches('\n').count();
    let entries: BTreeMap<Spanned<String>, Spanned<Value>> =
        toml::from_str(text).map_err(|error| {
            vec![FileFault {
                line: error.span().map(|span| line_at(span.start)),
                name: String::new(),
                what: error.message().replace('\n', ", "),
            }]
        })?;
    let mut policy = Policy::default();
    let mut faults = Vec::new();
    let mut lines: BTreeMap<&str, usize> = BTreeMap::new();
    for (name, value) in &entries {
        let line = line_at(name.span().start);
        lines.insert(name.as_ref(), line);
        for (name, what) in put(&mut policy, name.as_ref(), value.as_ref()) {
            faults.push(FileFault {
                line: Some(line),
                name,
                what,
            });
        }
    }
    let out_of_order = if faults.is_empty() {
        policy.refused()
    } else {
        Vec::new()
    };
    for refused in out_of_order {
        // The line itself, else that of the threshold that it does not go with.
        let other = refused.threshold.not_under.and_then(Threshold::named);
        let line = std::iter::once(refused.threshold)
            .chain(other)
            .find_map(|it| lines.get(line_name(it)).copied());
        faults.push(FileFault {
            line,
            name: refused.threshold.name.to_owned(),
            what: refused.in_file(),
        });
    }
    if faults.is_empty() {
        return Ok(policy);
    }
    faults.sort_by_key(|fault| fault.line);
    Err(faults)
}

/// Puts one entry of a file into a policy; gives back what is wrong with it, by name.
fn put(policy: &mut Policy, name: &str, value: &Value) -> Vec<(String, String)> {
    let wrong = |what: &str| vec![(name.to_owned(), what.to_owned())];
    if name == "version" {
        return match value.as_integer().map(i32::try_from) {
            Some(Ok(version @ 0..)) => {
                policy.version = PolicyVersion(version);
                Vec::new()
            }
            _ => wrong("must be the whole number of a version"),
        };
    }
    let line = in_line(name);
    let numbers = match value {
        Value::Array(several) if line.len() > 1 => several.iter().map(as_number).collect(),
        one if line.len() == 1 => as_number(one).map(|one| vec![one]),
        _ => None,
    };
    match numbers {
        _ if line.is_empty() => wrong("is no threshold"),
        Some(numbers) if numbers.len() == line.len() => line
            .iter()
            .zip(numbers)
            .filter_map(|(threshold, number)| threshold.set(policy, number).err())
            .map(|refused| (refused.threshold.name.to_owned(), refused.in_file()))
            .collect(),
        _ if line.len() == 1 => wrong("must be a number"),
        _ => wrong("must be two numbers, like [10, 20]"),
    }
}

fn as_number(value: &Value) -> Option<f64> {
    match value {
        Value::Integer(whole) => Some(*whole as f64),
        Value::Float(number) => Some(*number),
        _ => None,
    }
}
