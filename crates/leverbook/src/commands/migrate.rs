use clap::Args;

use crate::database::Place;

/// Bring the database's tables up to date; `serve` does so by itself
#[derive(Debug, Args)]
pub(crate) struct Arguments {
    #[command(flatten)]
    place: Place,
}

pub(crate) async fn run(arguments: Arguments) -> anyhow::Result<()> {
    let database = arguments.place.open().await?;
    let migrated = leverbook_store::migrate(&database.as_owner()).await;
    database.stop().await?;
    migrated?;
    println!("The database is up to date");
    Ok(())
}
