use std::path::{Path, PathBuf};

use anyhow::{Context, anyhow, bail};
use clap::Args;
use leverbook_domain::policy::{Policy, file};
use leverbook_domain::text::Reason;
use leverbook_store::exchange::{self, Files, Import, ImportError, Scope};
use leverbook_store::policies::{self, NewVersion, NotChanged};
use leverbook_store::{GymTx, Store, athletes, flags};
use leverbook_web::Clock;
use time::OffsetDateTime;

use crate::database::Place;
use crate::gym::Which;

/// Bring athletes, clubs, training logs and the policy into a gym from files: all of it or nothing
#[derive(Debug, Args)]
#[group(id = "files", required = true, multiple = true, args = ["athletes", "clubs", "log", "policy"])]
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

    /// Thresholds, as export gives them; what the file leaves out is as shipped
    #[arg(long, value_name = "policy.toml", requires = "because")]
    policy: Option<PathBuf>,

    /// Why the policy changes; it stays in the history
    #[arg(long, value_name = "REASON", requires = "policy", value_parser = Reason::new)]
    because: Option<Reason>,

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
    let policy = arguments.policy.as_deref().map(read_policy).transpose()?;
    let (mut tx, gym) = arguments.which.enter(&store, now).await?;
    let actor = tx.actor();
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
            if let (Some(policy), Some(because)) = (&policy, &arguments.because) {
                change_policy(&mut tx, policy, because, now).await?;
            }
            if !arguments.dry_run {
                tx.commit().await?;
                if policy.is_some() {
                    flags::bring_up_to_date(&store, gym.id, actor, gym.today).await?;
                }
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

fn read_policy(path: &Path) -> anyhow::Result<Policy> {
    let name = path.display();
    let text = std::fs::read_to_string(path).with_context(|| format!("cannot read {name}"))?;
    file::read(&text).map_err(|faults| {
        for fault in &faults {
            eprintln!("{name}: {fault}");
        }
        anyhow!(
            "nothing was imported: {} problems in the policy",
            faults.len()
        )
    })
}

/// Makes a version of it, and says what is different.
async fn change_policy(
    tx: &mut GymTx,
    policy: &Policy,
    because: &Reason,
    now: OffsetDateTime,
) -> anyhow::Result<()> {
    let standing = policies::in_force(tx).await?;
    let mut different = false;
    for threshold in standing.differing(policy) {
        let [from, to] = [&standing, policy].map(|policy| threshold.of(policy));
        println!("policy: {} from {from} to {to}", threshold.name);
        different = true;
    }
    if !different {
        println!("policy: the same");
        return Ok(());
    }
    let new = NewVersion {
        policy: policy.clone(),
        after: standing.version,
        reason: because.clone(),
        at: now,
    };
    match policies::change(tx, &new).await {
        Ok(version) => {
            println!("policy: version {}", version.0);
            Ok(())
        }
        Err(NotChanged::OutOfOrder(wrong)) => {
            for (athlete, refused) in wrong {
                let handle = athletes::get(tx, athlete).await?.handle;
                eprintln!("the policy does not go with an exception for {handle}: {refused}");
            }
            bail!("nothing was imported")
        }
        Err(other) => Err(other.into()),
    }
}
