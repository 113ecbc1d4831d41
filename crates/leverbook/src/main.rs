//! The `leverbook` command: each subcommand is a file in `commands/`.

mod commands;
mod database;

use std::process::ExitCode;

use clap::{Parser, Subcommand};

/// A training book for heavy-club coaching: plan, log, review, export.
#[derive(Debug, Parser)]
#[command(version, propagate_version = true, disable_help_subcommand = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    Backup(commands::backup::Arguments),
    Mechanics(commands::mechanics::Arguments),
    Migrate(commands::migrate::Arguments),
    Restore(commands::restore::Arguments),
}

#[tokio::main]
async fn main() -> ExitCode {
    let done = match Cli::parse().command {
        Command::Backup(arguments) => commands::backup::run(arguments).await,
        Command::Mechanics(arguments) => commands::mechanics::run(&arguments),
        Command::Migrate(arguments) => commands::migrate::run(arguments).await,
        Command::Restore(arguments) => commands::restore::run(arguments).await,
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) => {
            eprintln!("leverbook: {error:#}");
            ExitCode::FAILURE
        }
    }
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::Cli;

    #[test]
    fn the_commands_do_not_contradict_each_other() {
        Cli::command().debug_assert();
    }
}
