//! `cargo run --release -p leverbook-stall-study`: how good the stall flag is. Same seed, same output.

use std::path::PathBuf;

use anyhow::Context;
use clap::Parser;
use leverbook_stall_study::{HELD_OUT, Study, plot};

/// Plays simulated athletes against the stall rule (T5) and others beside it.
#[derive(Parser)]
struct Options {
    /// Seed of the athletes.
    #[arg(long, default_value_t = HELD_OUT)]
    seed: u64,
    /// Athletes for each row of the first two tables; a quarter of them for the others.
    #[arg(long, default_value_t = 8_000, value_parser = clap::value_parser!(u64).range(1..=1_000_000))]
    athletes: u64,
    /// Where the plot goes.
    #[arg(long, default_value = "target/stall-study.svg")]
    plot: PathBuf,
}

fn main() -> anyhow::Result<()> {
    let options = Options::parse();
    let study = Study {
        seed: options.seed,
        athletes: options.athletes,
    };
    print!("{}", study.tables());
    std::fs::write(&options.plot, plot(study))
        .with_context(|| format!("cannot write {}", options.plot.display()))?;
    println!("\nPlot: {}", options.plot.display());
    Ok(())
}
