//! A form as it is shown: what was typed, and what was wrong with it.

use std::fmt::Display;

use leverbook_domain::policy::Threshold;
use leverbook_store::StoreError;

use crate::posted::Posted;

/// What to show in a form's fields.
#[derive(Debug, Clone, Default, PartialEq, Eq)]
pub struct Form {
    values: Vec<(String, String)>,
    errors: Vec<(String, String)>,
}

impl Form {
    /// A form with these values, for a first look at it.
    pub fn with<N: Into<String>, V: Into<String>>(
        values: impl IntoIterator<Item = (N, V)>,
    ) -> Self {
        Self {
            values: values
                .into_iter()
                .map(|(name, value)| (name.into(), value.into()))
                .collect(),
            errors: Vec::new(),
        }
    }

    /// A form with these values, and what is wrong with them.
    #[must_use]
    pub fn wrong<N: Into<String>, V: Into<String>>(
        values: impl IntoIterator<Item = (N, V)>,
        errors: FieldErrors,
    ) -> Self {
        Self {
            errors: errors.errors,
            ..Self::with(values)
        }
    }

    /// The form once more, with everything that was typed except passwords.
    #[must_use]
    pub fn again(posted: &Posted, errors: FieldErrors) -> Self {
        Self {
            values: posted.shown_again(),
            errors: errors.errors,
        }
    }

    /// What stands in a field; empty if nothing does.
    #[must_use]
    pub fn value(&self, name: &str) -> &str {
        self.values
            .iter()
            .find(|(n, _)| n == name)
            .map_or("", |(_, value)| value)
    }

    /// Puts a value into a field in place of what stood there.
    pub fn set(&mut self, name: &str, value: impl Into<String>) {
        self.values.retain(|(other, _)| other != name);
        self.values.push((name.to_owned(), value.into()));
    }

    /// Ticks one box more of several of that name.
    pub fn tick(&mut self, name: &str, value: String) {
        if !self.checked(name, &value) {
            self.values.push((name.to_owned(), value));
        }
    }

    /// What stands in all fields of a name.
    #[must_use]
    pub fn all(&self, name: &str) -> Vec<String> {
        self.values
            .iter()
            .filter(|(other, _)| other == name)
            .map(|(_, value)| value.clone())
            .collect()
    }

    /// What was wrong with a field.
    #[must_use]
    pub fn error(&self, name: &str) -> Option<&str> {
        self.errors
            .iter()
            .find(|(n, _)| n == name)
            .map(|(_, error)| error.as_str())
    }

    /// Whether a box, or one of several of that name, is ticked.
    #[must_use]
    pub fn checked(&self, name: &str, value: &str) -> bool {
        self.values.iter().any(|(n, v)| n == name && v == value)
    }

    /// Whether anything was wrong.
    #[must_use]
    pub fn any(&self) -> bool {
        !self.errors.is_empty()
    }

    /// Field and sentence of everything that was wrong, in the order it was read.
    pub fn errors(&self) -> impl Iterator<Item = (&str, &str)> {
        self.errors
            .iter()
            .map(|(name, error)| (name.as_str(), error.as_str()))
    }

    /// What the list above a form calls a field: its label, for the fields whose name is another.
    #[must_use]
    pub fn word_for(name: &str) -> String {
        let word = match name {
            "at_once" => "how many swing at once",
            "athlete" => "who",
            "words" => "note",
            "afterwards" => "what becomes of the plan",
            "because" => "why it goes ahead",
            "by" => "where the values come from",
            "coach" => "who looks after them",
            "count" => "how many",
            "cues" => "coaching notes",
            "faults" => "common faults",
            "day" => "day of the week",
            "fingertip_reps" | "ladder_reps" => "reps a set",
            "fingertip_rest" | "interval_rest" | "ladder_rest" => "rest between sets",
            "fingertip_sets" | "interval_sets" | "sets" => "sets a side",
            "interval_goal" => "goal",
            "interval_seconds" => "each set lasts",
            "found" => "what was found",
            "here" => "who comes",
            "in" => "who it is for",
            "kind" => "what it was",
            "known_email" => "email",
            "known_password" => "password",
            "ladder_add" => "sets added a week",
            "ladder_start" => "sets a side in week 1",
            "ladder_target" => "target sets a side",
            "loading_name" => "name of this loading",
            "next_in_days" => "inspect again in",
            "on" => "to the day",
            "member" => "who usually comes",
            "password_new" => "new password",
            "starts_at" => "time of day",
            "started_on" => "first day of training",
            "threshold" => "number",
            "template_name" => "name of the template",
            "swings_time" => "time of 20 swings",
            "turn" => "from that day it is",
            "until" => "quiet until",
            "value" => "their value",
            "weekday" => "days of the week",
            "zone" => "time zone",
            other if other.starts_with("club-") => "club",
            other if other.starts_with("or-") => "the other club",
            other => match Threshold::named(other) {
                Some(threshold) => threshold.words,
                None => return other.replace('_', " "),
            },
        };
        word.to_owned()
    }
}

/// Collects what is wrong while a form is read, so that everything is told at once.
#[derive(Debug, Default)]
pub struct FieldErrors {
    errors: Vec<(String, String)>,
}

impl FieldErrors {
    /// Nothing wrong yet.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// Notes what is wrong with a field.
    pub fn add(&mut self, name: &str, sentence: impl Display) {
        self.errors.push((name.to_owned(), sentence.to_string()));
    }

    /// Whether anything was wrong.
    #[must_use]
    pub fn any(&self) -> bool {
        !self.errors.is_empty()
    }

    /// Takes what is wrong in a part of the form.
    pub fn extend(&mut self, part: Self) {
        self.errors.extend(part.errors);
    }

    /// Refuses a field that is no UTF-8, and says whether it did.
    pub fn refuse_broken(&mut self, posted: &Posted, name: &str) -> bool {
        let broken = posted.is_broken(name);
        if broken {
            self.add(name, "has characters that could not be read: type it again");
        }
        broken
    }

    /// Reads a field, without the blanks around it. Control characters and broken UTF-8 are
    /// refused before `parse` sees them.
    pub fn read<T, E: Display>(
        &mut self,
        posted: &Posted,
        name: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let text = posted.text(name).trim();
        if self.refuse_broken(posted, name) {
            return None;
        }
        if text
            .chars()
            .any(|c| c.is_control() && !"\n\r\t".contains(c))
        {
            self.add(name, "has control characters in it: type it again");
            return None;
        }
        match parse(text) {
            Ok(value) => Some(value),
            Err(error) => {
                self.add(name, error);
                None
            }
        }
    }

    /// Reads a field that may be empty: `None` if it is, or if it was wrong.
    pub fn read_optional<T, E: Display>(
        &mut self,
        posted: &Posted,
        name: &str,
        parse: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        if posted.text(name).trim().is_empty() && !posted.is_broken(name) {
            return None;
        }
        self.read(posted, name, parse)
    }

    /// Turns the refusal of a constraint into a sentence at its field: (constraint, field,
    /// sentence).
    ///
    /// # Errors
    /// The error itself if it is none of these refusals.
    pub fn refused(
        &mut self,
        error: StoreError,
        fields: &[(&str, &str, &str)],
    ) -> Result<(), StoreError> {
        match fields
            .iter()
            .find(|(constraint, _, _)| error.is_constraint(constraint))
        {
            Some((_, name, sentence)) => {
                self.add(name, sentence);
                Ok(())
            }
            None => Err(error),
        }
    }
}

/// Parses text of so many characters, on one line or several.
///
/// # Errors
/// A sentence that says how long it may be.
pub fn text_of(
    allowed: std::ops::RangeInclusive<usize>,
) -> impl Fn(&str) -> Result<String, String> {
    move |text| {
        let length = text.chars().count();
        if length == 0 && *allowed.start() > 0 {
            Err("is needed".to_owned())
        } else if length < *allowed.start() {
            Err(format!("needs at least {} characters", allowed.start()))
        } else if length > *allowed.end() {
            Err(format!(
                "has {length} characters; at most {} fit",
                allowed.end()
            ))
        } else {
            Ok(text.to_owned())
        }
    }
}
