use std::path::{Path, PathBuf};

use anyhow::{Context, bail};
use clap::Args;
use leverbook_local_postgres::Role;
use sqlx::{Connection, PgConnection};

use crate::database::{Database, Place};

/// Read a backup into an empty database: all of it or nothing
#[derive(Debug, Args)]
pub(crate) struct Arguments {
    /// A file that `leverbook backup` wrote
    file: PathBuf,

    #[command(flatten)]
    place: Place,
}

/// Restores a backup with `pg_restore`.
pub(crate) async fn run(arguments: Arguments) -> anyhow::Result<()> {
    let file = &arguments.file;
    std::fs::File::open(file).with_context(|| format!("cannot read {}", file.display()))?;
    let database = arguments.place.open().await?;
    let restored = restore(&database, file).await;
    database.stop().await?;
    restored?;
    println!("Restored {}", file.display());
    Ok(())
}

async fn restore(database: &Database, file: &Path) -> anyhow::Result<()> {
    let mut connection = PgConnection::connect_with(&database.as_overseer()).await?;
    let tables: i64 = sqlx::query_scalar(
        "SELECT count(*) FROM pg_class \
         WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p')",
    )
    .fetch_one(&mut connection)
    .await?;
    if tables > 0 {
        bail!(
            "the database is not empty, and a restore never mixes two books: restore into a \
             new data folder or a new database"
        );
    }
    leverbook_store::make_server_role(&mut connection).await?;
    connection.close().await?;

    let owner = format!("--role={}", Role::Owner.name());
    let mut options = vec!["--exit-on-error", "--single-transaction", "--no-owner"];
    match database {
        Database::Private(_) => options.push(&owner),
        Database::Given(_) => {}
    }
    let name = format!(
        "--dbname={}",
        database.as_overseer().get_database().unwrap_or_default()
    );
    options.push(&name);
    let mut arguments: Vec<_> = options.into_iter().map(AsRef::as_ref).collect();
    arguments.push(file.as_os_str());
    database.run_program("pg_restore", &arguments).await
}
