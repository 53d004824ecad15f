//! `backshell maps`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::finding::Problem;
use crate::pinmap::{Catalogue, sound_netlist};
use crate::report::picture::Picture;
use crate::report::{catalogue_table, map_page, own_table};
use crate::verify::{Options, check_text};

use super::draw::Form;
use super::input::no_folder;

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
    /// A folder of your own cables and connectors: without a name, every file of it is read and its errors are shown
    #[arg(long, value_name = "FOLDER")]
    maps: Vec<PathBuf>,
    #[command(flatten)]
    form: Form,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.form.is_given() && !arguments.draw {
        super::complain("`--format` and `--output` go with `--draw`");
        return Ok(2);
    }
    let missing: Vec<Problem> = arguments.maps.iter().filter_map(|folder| no_folder(folder)).collect();
    if !missing.is_empty() {
        return super::unusable(&missing);
    }
    let mut catalogue = Catalogue::with_folders(&arguments.maps);
    let Some(name) = &arguments.name else {
        write!(out, "{}", catalogue_table(&mut catalogue))?;
        return own_files(&mut catalogue, out);
    };
    match catalogue.cable(name, Path::new("")) {
        Ok(cable) if arguments.sample => write!(out, "{}", sound_netlist(&cable, false))?,
        Ok(cable) if arguments.draw => {
            let options = Options { cable: Some(name.clone()), maps: arguments.maps.clone(), wiring: true, ..Options::default() };
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
        Err(problems) => return super::unusable(&problems),
    }
    Ok(0)
}

/// Lists the files of one's own folders, and shows the errors in them.
fn own_files(catalogue: &mut Catalogue, out: &mut impl Write) -> io::Result<u8> {
    let files = match catalogue.own() {
        Ok(files) => files,
        Err(problem) => return super::unusable(&[problem]),
    };
    let (mut sound, mut problems) = (Vec::new(), Vec::new());
    for (path, read) in files {
        match read {
            Ok(file) => sound.push((path, file)),
            Err(more) => problems.extend(more),
        }
    }
    if !sound.is_empty() {
        write!(out, "\n{}", own_table(&sound))?;
    }
    if problems.is_empty() { Ok(0) } else { super::unusable(&problems) }
}
