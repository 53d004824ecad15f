//! The `backshell` command.

use std::process::ExitCode;

fn main() -> ExitCode {
    backshell::cli::run()
}
