//! `backshell completions`.

use std::io::{self, Write};

use clap::{Args, Command};
use clap_complete::Shell;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The shell that shall complete the commands and options of backshell
    #[arg(value_name = "SHELL", value_enum)]
    shell: Shell,
}

pub(super) fn run(arguments: &Arguments, mut command: Command, out: &mut impl Write) -> io::Result<u8> {
    // the generator panics where it can't write, and a list in memory always takes more
    let mut script = Vec::new();
    let name = command.get_name().to_owned();
    clap_complete::generate(arguments.shell, &mut command, name, &mut script);
    out.write_all(&script)?;
    Ok(0)
}
