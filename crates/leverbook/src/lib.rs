//! The `leverbook` command: each subcommand is a file in `commands/`. Those that need no database can be called from
//! outside, so that they can be fuzzed.

pub mod commands;
mod database;
mod gym;
mod signals;

use std::io::stderr;
use std::process::ExitCode;

use clap::{Parser, Subcommand};
use commands::refused::Refused;
use tracing_subscriber::EnvFilter;

/// A training book for heavy-club coaching: plan, log, review, export.
#[derive(Debug, Parser)]
#[command(version, propagate_version = true, disable_help_subcommand = true)]
struct Cli {
    #[command(subcommand)]
    command: Command,
}

#[derive(Debug, Subcommand)]
enum Command {
    /// Make accounts, and help people who are locked out
    #[command(subcommand)]
    Account(commands::account::Command),
    Assess(commands::assess::Arguments),
    Backup(commands::backup::Arguments),
    /// Serve an invented gym to look around in; a book that is in use is left as it is
    Demo(commands::serve::Arguments),
    Export(commands::export::Arguments),
    Import(commands::import::Arguments),
    Mechanics(commands::mechanics::Arguments),
    Migrate(commands::migrate::Arguments),
    Restore(commands::restore::Arguments),
    Serve(commands::serve::Arguments),
}

/// What is logged unless `LEVERBOOK_LOG` says otherwise: not every file that could be served, nor
/// what a migration did not have to do.
const USUAL_LOG: &str = "info,memory_serve=warn,sqlx::postgres::notice=warn";

/// Runs the command that the arguments ask for.
#[tokio::main]
pub async fn run() -> ExitCode {
    let command = Cli::parse().command;
    let usual = match command {
        // Whoever looks around wants to see how to sign in, not a line for each page.
        Command::Demo(_) => "warn",
        _ => USUAL_LOG,
    };
    let wanted = EnvFilter::try_from_env("LEVERBOOK_LOG").unwrap_or_else(|_| EnvFilter::new(usual));
    tracing_subscriber::fmt()
        .with_env_filter(wanted)
        .with_writer(stderr)
        .init();
    let done = match command {
        Command::Account(command) => commands::account::run(command).await,
        Command::Assess(arguments) => commands::assess::run(&arguments),
        Command::Backup(arguments) => commands::backup::run(arguments).await,
        Command::Demo(arguments) => commands::demo::run(arguments).await,
        Command::Export(arguments) => commands::export::run(arguments).await,
        Command::Import(arguments) => commands::import::run(arguments).await,
        Command::Mechanics(arguments) => commands::mechanics::run(&arguments),
        Command::Migrate(arguments) => commands::migrate::run(arguments).await,
        Command::Restore(arguments) => commands::restore::run(arguments).await,
        Command::Serve(arguments) => commands::serve::run(arguments).await,
    };
    match done {
        Ok(()) => ExitCode::SUCCESS,
        Err(error) if error.is::<Refused>() => {
            eprintln!("{error}");
            ExitCode::from(2)
        }
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
