//! `backshell report`.

use std::io::{self, Write};
use std::path::PathBuf;

use clap::{Args, ValueEnum};

use crate::finding::Problem;
use crate::lot::{Decision, SortBy};
use crate::report::{HtmlFace, HtmlReport, HtmlSaid, LotOptions, lot_report};
use crate::text::visible;
use crate::verify::{Options, Outcome, check_file};

use super::folders::{netlists_in, say_left_out};
use super::input::Input;
use super::sampling::Sampling;
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Netlists, tables or print-outs of the units, and folders of them with all that lies in these; `-` reads the standard input
    #[arg(value_name = "NETLIST", required = true)]
    netlists: Vec<PathBuf>,
    #[command(flatten)]
    input: Input,
    #[command(flatten)]
    sampling: Sampling,
    /// Write to this file instead of the standard output
    #[arg(short, long, value_name = "FILE.html")]
    output: Option<PathBuf>,
    /// Which paper
    #[arg(long, value_enum, default_value_t = Face::Report)]
    face: Face,
    /// The date on the paper; without it there is none
    #[arg(long, value_name = "TEXT")]
    date: Option<String>,
    /// The order and its line
    #[arg(long, value_name = "TEXT")]
    order: Option<String>,
    /// The instrument, its serial number, and when its calibration is due
    #[arg(long, value_name = "TEXT")]
    instrument: Option<String>,
    /// The number of the paper
    #[arg(long, value_name = "TEXT")]
    number: Option<String>,
}

/// The face of a report.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Face {
    /// Verdict, findings, figures, what wasn't tested, where it comes from
    Report,
    /// A certificate of conformity, to be signed; only where every unit conforms
    Certificate,
    /// A non-conformance report; a person decides what becomes of the units
    NonConformance,
}

impl From<Face> for HtmlFace {
    fn from(face: Face) -> Self {
        match face {
            Face::Report => HtmlFace::Report,
            Face::Certificate => HtmlFace::Certificate,
            Face::NonConformance => HtmlFace::NonConformance,
        }
    }
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    let history = match arguments.sampling.history() {
        Ok(history) => history,
        Err(problems) => return super::unusable(&problems),
    };
    let (files, left_out) = match netlists_in(&arguments.netlists, arguments.input.reads_all()) {
        Ok(found) => found,
        Err(problems) => return super::unusable(&problems),
    };
    let options = match arguments.input.options(&files) {
        Ok(options) => Options { lot: true, about: true, wiring: true, measured: true, ..options },
        Err(problems) => return super::unusable(&problems),
    };
    say_left_out(&left_out);
    let mut html = HtmlReport::new();
    let mut total = Outcome::default();
    for path in &files {
        check_file(path, &options, |batch| {
            total.add(Outcome::of(&batch));
            for problem in &batch.problems {
                let _ = write!(io::stderr().lock(), "{}", settings().problem_text(problem));
            }
            html.batch(path, &batch);
        });
    }
    if let Some(problem) = arguments.sampling.fits(html.summary()) {
        write!(io::stderr().lock(), "{}", settings().problem_text(&problem))?;
        html.problem(&problem);
        total.problems += 1;
    }
    let lot_options = LotOptions {
        size: arguments.sampling.size,
        asked: arguments.sampling.asked(history.as_ref()),
        history,
        sort_by: SortBy::Worst,
    };
    let lot = lot_report(html.summary(), &lot_options, &[]);
    let said = HtmlSaid {
        date: arguments.date.clone(),
        order: arguments.order.clone(),
        instrument: arguments.instrument.clone(),
        number: arguments.number.clone(),
    };
    let page = match html.page(&lot, &said, arguments.face.into()) {
        Ok(page) => page,
        Err(why) => {
            super::complain(&visible(&why));
            return Ok(match arguments.face {
                // nothing to report is no fault of a unit
                Face::NonConformance => 2,
                _ => total.status().max(1),
            });
        }
    };
    let written = match &arguments.output {
        Some(path) => std::fs::write(path, page)
            .map_err(|error| Problem::new(format!("{}: can't be written: {error}", visible(&path.display().to_string())))),
        None => {
            out.write_all(page.as_bytes())?;
            Ok(())
        }
    };
    if let Err(problem) = written {
        return super::unusable(&[problem]);
    }
    // a unit that failed and conforms after something was done to it counts as the lot says
    let sound = lot.decision == Decision::Accept && html.drawings_not_sound() == 0;
    Ok(match total.status() {
        1 if !lot.groups.is_empty() => u8::from(!sound),
        0 if !lot.groups.is_empty() => u8::from(lot.decision != Decision::Accept),
        status => status,
    })
}
