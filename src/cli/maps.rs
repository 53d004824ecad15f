//! `backshell maps`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use clap::Args;

use crate::finding::{Problem, Severity, Verdict};
use crate::pinmap::{Cable, Catalogue, sound_netlist};
use crate::report::picture::Picture;
use crate::report::{catalogue_table, derived_map, map_page_within, own_table};
use crate::text::{Source, visible};
use crate::verify::{Options, UnitReport, check_text, derive_file};

use super::draw::Form;
use super::input::Input;
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// A cable of the catalogue, or the path of a cable file; without one, the catalogue
    #[arg(id = "catalogue_name", value_name = "NAME")]
    cable: Option<String>,
    /// Print a netlist of a sound cable instead, to start from
    #[arg(long, requires = "catalogue_name")]
    sample: bool,
    /// Draw a sound cable instead
    #[arg(long, requires = "catalogue_name", conflicts_with = "sample")]
    draw: bool,
    /// Write a cable file for review instead, derived from this netlist of a known-good sample, or of a drawing
    #[arg(long, value_name = "NETLIST", conflicts_with_all = ["catalogue_name", "sample", "draw"])]
    new: Option<PathBuf>,
    /// Which unit of it, where there are several
    #[arg(long, value_name = "UNIT", requires = "new")]
    unit: Option<String>,
    /// The name of the new cable; without it, that of the output file
    #[arg(long, value_name = "NAME", requires = "new")]
    name: Option<String>,
    #[command(flatten)]
    input: Input,
    #[command(flatten)]
    form: Form,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.new.is_some() && arguments.form.has_format()
        || arguments.new.is_none() && arguments.form.is_given() && !arguments.draw
    {
        super::complain("`--format` goes with `--draw`, and `--output` with `--draw` or `--new`");
        return Ok(2);
    }
    let options = match arguments.input.options(arguments.new.as_slice()) {
        Ok(options) => options,
        Err(problems) => return super::unusable(&problems),
    };
    if let Some(netlist) = &arguments.new {
        return new_map(arguments, netlist, &options, out);
    }
    let mut catalogue = Catalogue::with_folders(&options.maps);
    let Some(name) = &arguments.cable else {
        write!(out, "{}", catalogue_table(&mut catalogue, settings().columns()))?;
        return own_files(&mut catalogue, out);
    };
    match catalogue.cable(name, Path::new("")) {
        Ok(cable) if arguments.sample => write!(out, "{}", sound_netlist(&cable, false))?,
        Ok(cable) if arguments.draw => {
            let options = Options { cable: Some(name.clone()), wiring: true, ..options };
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
        Ok(cable) => write!(out, "{}", map_page_within(&cable, settings().columns()))?,
        Err(problems) => return super::unusable(&problems),
    }
    Ok(0)
}

/// Writes the cable file that a sample gives, and says whether the sample conforms to it.
fn new_map(arguments: &Arguments, netlist: &Path, options: &Options, out: &mut impl Write) -> io::Result<u8> {
    let of_file = arguments.form.output().and_then(Path::file_stem).map(|stem| stem.to_string_lossy().into_owned());
    let name = arguments.name.clone().or(of_file);
    let derived = match derive_file(netlist, arguments.unit.as_deref(), name.as_deref(), options) {
        Ok(derived) => derived,
        Err(problems) => return super::unusable(&problems),
    };
    if let Some(path) = arguments.form.output().filter(|path| path.exists()) {
        let shown = path.display().to_string();
        let problem = Problem::new(format!("{} is there already", visible(&shown)));
        return super::unusable(&[
            problem.help("a map that was reviewed isn't written over: choose another name, or move it away")
        ]);
    }
    let text = derived_map(&derived);
    // it must read back, and its own sample must conform to it, before anybody reviews it
    let source = Source::new(format!("{}.toml", derived.name), text.clone());
    let no_other = |name: &str| vec![Problem::new(format!("no connector `{}`", visible(name)))];
    let read = Cable::read(&source, &mut |name| derived.known_connector(name).cloned().ok_or_else(|| no_other(name)));
    let report = match read.and_then(|cable| derived.check(&Arc::new(cable))) {
        Ok(report) => report,
        Err(problems) => return super::unusable(&problems),
    };
    // a map that is made of a bad sample calls every cable like it good
    let named = derived.check_as_named(options).filter(|report| report.verdict == Verdict::Fails);
    if let Some(failed) = &named {
        let dangerous = failed.findings.iter().any(|finding| finding.hazard);
        super::complain(&format!(
            "the sample fails the cable that it names, {}: it is no known-good sample{}",
            visible(&failed.cable.name),
            if dangerous { ", and no map is made of it" } else { "; a map of it calls every cable like it good" }
        ));
        say_why(failed);
        if dangerous {
            return Ok(1);
        }
    }
    match arguments.form.output() {
        Some(path) => {
            let todo = text.matches("TODO").count();
            std::fs::write(path, text)?;
            writeln!(out, "{}: {todo} places to review, each with the word TODO", visible(&path.display().to_string()))?;
        }
        None => out.write_all(text.as_bytes())?,
    }
    if report.verdict == Verdict::Conforms {
        return Ok(u8::from(named.is_some()));
    }
    super::complain("the sample doesn't conform to the map that was derived from it, so one of the two is wrong:");
    say_why(&report);
    Ok(1)
}

/// The findings that keep a unit from conforming, a line each.
fn say_why(report: &UnitReport) {
    for finding in report.findings.iter().filter(|finding| finding.severity == Severity::Fail || finding.undecided) {
        super::complain(&format!("{}: {}", finding.code, visible(&finding.message)));
    }
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
