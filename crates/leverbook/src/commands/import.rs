use std::path::PathBuf;

use anyhow::{Context, bail};
use clap::Args;
use leverbook_store::Store;
use leverbook_store::exchange::{self, Files, Import, ImportError, Scope};
use leverbook_web::Clock;

use crate::database::Place;
use crate::gym::Which;

/// Bring athletes, clubs and training logs into a gym from CSV files: all of it or nothing
#[derive(Debug, Args)]
#[group(id = "files", required = true, multiple = true, args = ["athletes", "clubs", "log"])]
pub(crate) struct Arguments {
    #[command(flatten)]
    place: Place,

    #[command(flatten)]
    which: Which,

    /// Athletes
    #[arg(long, value_name = "athletes.csv")]
    athletes: Option<PathBuf>,

    /// Clubs
    #[arg(long, value_name = "clubs.csv")]
    clubs: Option<PathBuf>,

    /// The training log, a set a row
    #[arg(long, value_name = "sets.csv")]
    log: Option<PathBuf>,

    /// Say what would happen, and write nothing
    #[arg(long)]
    dry_run: bool,
}

pub(crate) async fn run(arguments: Arguments) -> anyhow::Result<()> {
    let database = arguments.place.open().await?;
    let done = bring_in(&arguments, &database.as_server()).await;
    database.stop().await?;
    done
}

async fn bring_in(
    arguments: &Arguments,
    options: &leverbook_store::PgConnectOptions,
) -> anyhow::Result<()> {
    let store = Store::connect(options.clone(), 2).await?;
    let now = Clock::machine().now();
    let [athletes, clubs, log] =
        [&arguments.athletes, &arguments.clubs, &arguments.log].map(|path| {
            path.as_ref()
                .map(|path| {
                    std::fs::read(path).with_context(|| format!("cannot read {}", path.display()))
                })
                .transpose()
        });
    let (athletes, clubs, log) = (athletes?, clubs?, log?);
    let files = Files {
        athletes: athletes.as_deref(),
        clubs: clubs.as_deref(),
        sets: log.as_deref(),
    };
    let (mut tx, gym) = arguments.which.enter(&store, now).await?;
    let how = Import {
        scope: Scope::WholeGym,
        now,
        today: gym.today,
        dry_run: arguments.dry_run,
    };
    match exchange::import(&mut tx, files, how).await {
        Err(ImportError::Store(why)) => Err(why.into()),
        Err(ImportError::Refused(problems)) => {
            for (file, problem) in &problems {
                eprintln!("{}: {problem}", file.name());
            }
            bail!(
                "nothing was imported: {} problems in the files",
                problems.len()
            )
        }
        Ok(report) => {
            if !arguments.dry_run {
                tx.commit().await?;
            }
            for (what, counted) in [
                ("athletes", report.athletes),
                ("clubs", report.clubs),
                ("sessions", report.sessions),
            ] {
                println!(
                    "{what}: {} new, {} changed, {} the same",
                    counted.added, counted.changed, counted.unchanged
                );
            }
            for movement in &report.movements {
                println!("new movement: {movement}");
            }
            if arguments.dry_run {
                println!("Nothing was written");
            }
            Ok(())
        }
    }
}
