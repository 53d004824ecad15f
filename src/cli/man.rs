//! `backshell man`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::{Args, Command};
use clap_mangen::Man;

use crate::finding::Problem;
use crate::text::visible;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Write a page for each command into this folder (made where it isn't there); without it, print the page of backshell
    #[arg(value_name = "FOLDER")]
    folder: Option<PathBuf>,
}

pub(super) fn run(arguments: &Arguments, mut command: Command, out: &mut impl Write) -> io::Result<u8> {
    // `help` repeats every command, and is no page of its own
    command = command.disable_help_subcommand(true);
    command.build();
    let Some(folder) = &arguments.folder else {
        Man::new(command).render(out)?;
        return Ok(0);
    };
    match std::fs::create_dir_all(folder).and_then(|()| pages(&command, folder)) {
        Ok(count) => writeln!(out, "{count} pages in {}", visible(&folder.display().to_string()))?,
        Err(error) => {
            let folder = folder.display().to_string();
            return super::unusable(&[Problem::new(format!("no pages can be written into {}: {error}", visible(&folder)))]);
        }
    }
    Ok(0)
}

/// Writes the page of a command, and those of the commands below it; gives how many.
fn pages(command: &Command, folder: &Path) -> io::Result<usize> {
    let page = Man::new(command.clone());
    let mut text = Vec::new();
    page.render(&mut text)?;
    std::fs::write(folder.join(page.get_filename()), text)?;
    command.get_subcommands().try_fold(1, |count, below| Ok(count + pages(below, folder)?))
}
