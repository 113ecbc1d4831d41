use std::ffi::OsString;
use std::fs::{self, File};
use std::os::unix::fs::OpenOptionsExt;
use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;

use crate::database::{Database, Place};

/// Write the whole book into one file, while it is in use
#[derive(Debug, Args)]
pub(crate) struct Arguments {
    /// The file to write; it must not exist. It holds health data: keep it as safe as the book
    file: PathBuf,

    #[command(flatten)]
    place: Place,
}

/// Writes a backup with `pg_dump`. The file appears under its name only when it is whole.
pub(crate) async fn run(arguments: Arguments) -> anyhow::Result<()> {
    let file = &arguments.file;
    if file
        .try_exists()
        .with_context(|| format!("cannot look for {}", file.display()))?
    {
        bail!(
            "{} exists: name a new file, so that no older backup is lost",
            file.display()
        );
    }
    let mut unfinished = file.clone().into_os_string();
    unfinished.push(".unfinished");
    let unfinished = PathBuf::from(unfinished);
    File::options()
        .write(true)
        .create(true)
        .truncate(true)
        .mode(0o600)
        .open(&unfinished)
        .with_context(|| format!("cannot write {}", unfinished.display()))?;

    let database = arguments.place.open().await?;
    let dumped = dump(&database, &unfinished).await;
    database.stop().await?;
    if dumped.is_err() {
        // Half a backup helps nobody; why it failed matters more than whether this works.
        let _ = fs::remove_file(&unfinished);
    }
    dumped?;

    File::open(&unfinished)
        .and_then(|written| written.sync_all())
        .and_then(|()| fs::rename(&unfinished, file))
        .with_context(|| format!("cannot write {}", file.display()))?;
    println!("Wrote {}", file.display());
    Ok(())
}

async fn dump(database: &Database, file: &Path) -> anyhow::Result<()> {
    let mut to = OsString::from("--file=");
    to.push(file);
    database
        .run_program("pg_dump", &["--format=custom".as_ref(), to.as_ref()])
        .await
}
