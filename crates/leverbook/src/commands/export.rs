use std::io::Write;
use std::path::PathBuf;

use anyhow::Context;
use clap::{Args, ValueEnum};
use leverbook_domain::policy::file;
use leverbook_store::attendance::{self, CalendarMonth};
use leverbook_store::exchange::{self, Scope};
use leverbook_store::{Store, policies};
use leverbook_web::Clock;

use crate::database::Place;
use crate::gym::Which;

/// Take a file out of a gym
#[derive(Debug, Args)]
pub(crate) struct Arguments {
    /// Which file
    what: What,

    #[command(flatten)]
    place: Place,

    #[command(flatten)]
    which: Which,

    /// For attendance: the month, such as 2026-11 [default: this month]
    #[arg(long, value_name = "YYYY-MM")]
    month: Option<CalendarMonth>,

    /// Where to write it [default: standard output]
    #[arg(long, value_name = "FILE")]
    out: Option<PathBuf>,
}

/// The files there are.
#[derive(Debug, Clone, Copy, PartialEq, Eq, ValueEnum)]
enum What {
    /// Who trains here
    Athletes,
    /// The rack
    Clubs,
    /// The training log, a set a row; health data
    Log,
    /// Who came when, in a month
    Attendance,
    /// The thresholds in force, as assess reads them
    Policy,
}

pub(crate) async fn run(arguments: Arguments) -> anyhow::Result<()> {
    let database = arguments.place.open().await?;
    let content = take_out(&arguments, &database.as_server()).await;
    database.stop().await?;
    let content = content?;
    match &arguments.out {
        Some(path) => std::fs::write(path, content)
            .with_context(|| format!("cannot write {}", path.display())),
        None => Ok(std::io::stdout().write_all(&content)?),
    }
}

async fn take_out(
    arguments: &Arguments,
    options: &leverbook_store::PgConnectOptions,
) -> anyhow::Result<Vec<u8>> {
    let store = Store::connect(options.clone(), 1).await?;
    let (mut tx, gym) = arguments
        .which
        .enter(&store, Clock::machine().now())
        .await?;
    Ok(match arguments.what {
        What::Athletes => exchange::athletes_csv(&mut tx, Scope::WholeGym).await?,
        What::Clubs => exchange::clubs_csv(&mut tx).await?,
        What::Log => exchange::sets_csv(&mut tx, Scope::WholeGym).await?,
        What::Policy => file::write(&policies::in_force(&mut tx).await?).into_bytes(),
        What::Attendance => {
            let month = arguments
                .month
                .unwrap_or_else(|| CalendarMonth::of(gym.today));
            exchange::attendance_csv(&attendance::month(&mut tx, month, None).await?)
        }
    })
}
