//! `backshell maps`.

use std::io::{self, Write};
use std::path::Path;

use clap::Args;

use crate::pinmap::{Catalogue, sound_netlist};
use crate::report::picture::Picture;
use crate::report::{catalogue_table, map_page, problem_text};
use crate::verify::{Options, check_text};

use super::draw::Form;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// A cable of the catalogue, or the path of a cable file; without one, the catalogue
    name: Option<String>,
    /// Print a netlist of a sound cable instead, to start from
    #[arg(long, requires = "name")]
    sample: bool,
    /// Draw a sound cable instead
    #[arg(long, requires = "name", conflicts_with = "sample")]
    draw: bool,
    #[command(flatten)]
    form: Form,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.form.is_given() && !arguments.draw {
        super::complain("`--format` and `--output` go with `--draw`");
        return Ok(2);
    }
    let mut catalogue = Catalogue::new();
    let Some(name) = &arguments.name else {
        write!(out, "{}", catalogue_table(&mut catalogue))?;
        return Ok(0);
    };
    match catalogue.cable(name, Path::new("")) {
        Ok(cable) if arguments.sample => write!(out, "{}", sound_netlist(&cable, false))?,
        Ok(cable) if arguments.draw => {
            let options = Options { cable: Some(name.clone()), wiring: true, ..Options::default() };
            let mut picture = None;
            check_text(name, &sound_netlist(&cable, true), &options, |batch| {
                picture = batch.reports.first().and_then(Picture::of_map);
            });
            match picture {
                Some(picture) => arguments.form.draw(&picture, out)?,
                None => {
                    super::complain("a sound sample of this map has no verdict, so that there is nothing to draw");
                    return Ok(2);
                }
            }
        }
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
