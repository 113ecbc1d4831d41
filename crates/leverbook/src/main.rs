//! The `leverbook` program.

use std::process::ExitCode;

fn main() -> ExitCode {
    leverbook::run()
}
