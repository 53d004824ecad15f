//! `backshell maps`.

use std::io::{self, Write};
use std::path::Path;

use clap::Args;

use crate::pinmap::{Catalogue, sound_netlist};
use crate::report::{catalogue_table, map_page, problem_text};

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// A cable of the catalogue, or the path of a cable file; without one, the catalogue
    name: Option<String>,
    /// Print a netlist of a sound cable instead, to start from
    #[arg(long, requires = "name")]
    sample: bool,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    let mut catalogue = Catalogue::new();
    let Some(name) = &arguments.name else {
        write!(out, "{}", catalogue_table(&mut catalogue))?;
        return Ok(0);
    };
    match catalogue.cable(name, Path::new("")) {
        Ok(cable) if arguments.sample => write!(out, "{}", sound_netlist(&cable, false))?,
        Ok(cable) => write!(out, "{}", map_page(&cable))?,
        Err(problems) => {
            for problem in &problems {
                write!(io::stderr().lock(), "{}", problem_text(problem, false))?;
            }
            return Ok(2);
        }
    }
    Ok(0)
}
