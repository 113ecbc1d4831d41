use std::fs;
use std::path::PathBuf;

use anyhow::Context;
use clap::Args;
use leverbook_domain::club::ClubMeasure;

/// Work out what one club asks of the hands, from its measurements
#[derive(Debug, Args)]
pub(crate) struct Arguments {
    /// A JSON file: `mass_kg` and `length_mm`, with `balance_mm`, `grip_mm`, `period_s` (of one swing) and
    /// `pivot_mm` where known; or `segments` from the knob end on, with `grip_mm`; `plates` for either
    file: PathBuf,
}

/// Prints mass, balance point, static moment and moments of inertia, each with its ±, null where unknown.
pub(crate) fn run(arguments: &Arguments) -> anyhow::Result<()> {
    let name = arguments.file.display();
    let text =
        fs::read_to_string(&arguments.file).with_context(|| format!("cannot read {name}"))?;
    let club = read(&text).with_context(|| format!("{name} describes no club"))?;
    println!("{}", serde_json::to_string_pretty(club.mechanics())?);
    Ok(())
}

/// Reads a club's measurements, and passes over the `club` that a row of a rack's file is named by.
///
/// # Errors
/// What is wrong with the file, and where.
pub fn read(text: &str) -> serde_json::Result<ClubMeasure> {
    let mut value: serde_json::Value = serde_json::from_str(text)?;
    if let Some(fields) = value.as_object_mut() {
        fields.remove("club");
    }
    serde_json::from_value(value)
}
