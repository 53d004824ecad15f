//! `backshell signal`.

use std::io::{self, Write};
use std::path::{Path, PathBuf};

use clap::Args;

use crate::finding::Problem;
use crate::report::{SignalFileEntry, SignalReport, signal_pictures, signal_schema, signal_text_within};
use crate::signal::rates::{self, Carries, Ladder, Lane, Rate};
use crate::signal::{PortOrder, Settings, analyse, touchstone};
use crate::text::visible;

use super::check::Format;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// Touchstone files of one cable (.s4p for a pair, .s8p for two), a lane each, in the order of the link's lanes
    #[arg(value_name = "FILE", required_unless_present_any = ["print_schema"])]
    files: Vec<PathBuf>,
    /// Which port is where; without it the through paths tell
    #[arg(long, value_name = "ORDER", value_parser = order)]
    order: Option<PortOrder>,
    /// The link that the pairs carry: displayport, tmds, frl, usb2, usb3 or ethernet
    #[arg(long, value_name = "LADDER")]
    ladder: Option<String>,
    /// The rate that the cable is sold for, such as HBR3, "FRL 10", "USB 3.2 Gen 2" or 10GBASE-T
    #[arg(long, value_name = "RATE")]
    rated: Option<String>,
    /// The differential impedance to see the pairs from, in ohm [default: twice the reference of the file]
    #[arg(long, value_name = "OHM")]
    impedance: Option<f64>,
    /// The length of the cable in metres: places are then given in metres
    #[arg(long, value_name = "METRES", conflicts_with = "velocity")]
    length: Option<f64>,
    /// The velocity in the cable as a share of that of light, where the length isn't known
    #[arg(long, value_name = "SHARE")]
    velocity: Option<f64>,
    /// The resistance of both conductors of a pair in series, in ohm, from a measurement with direct current
    #[arg(long, value_name = "OHM")]
    loop_resistance: Option<f64>,
    /// Write the pictures (loss, return loss, impedance along the cable, eyes) as SVG files into this folder
    #[arg(long, value_name = "FOLDER")]
    pictures: Option<PathBuf>,
    /// How to report
    #[arg(long, value_enum, default_value_t = Format::Human)]
    format: Format,
    /// Print the JSON Schema of `--format json` and stop
    #[arg(long)]
    print_schema: bool,
}

fn order(name: &str) -> Result<PortOrder, String> {
    PortOrder::named(name).ok_or_else(|| {
        let all: Vec<String> = PortOrder::ALL.iter().map(|order| format!("{} ({})", order.name(), order.shown(4))).collect();
        format!("the orders are {}", all.join("; "))
    })
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.print_schema {
        writeln!(out, "{}", signal_schema())?;
        return Ok(0);
    }
    let (ladder, rated) = match link(arguments) {
        Ok(link) => link,
        Err(problem) => return super::unusable(&[problem]),
    };
    let settings = Settings {
        differential_ohm: arguments.impedance,
        length_m: arguments.length,
        velocity_factor: arguments.velocity,
        loop_ohm: arguments.loop_resistance,
        ..Settings::default()
    };
    if let Err(why) = settings.check() {
        return super::unusable(&[Problem::new(why)]);
    }
    let (mut entries, mut lanes, mut problems) = (Vec::new(), Vec::new(), Vec::new());
    for path in &arguments.files {
        match read(path, arguments.order, &settings) {
            Ok((entry, own)) => {
                entries.push(entry);
                lanes.extend(own);
            }
            Err(why) => problems.extend(why),
        }
    }
    if !problems.is_empty() {
        return super::unusable(&problems);
    }
    let grade = ladder.map(|ladder| rates::grade(ladder, &lanes, rated));
    let carried = grade.as_ref().and_then(|grade| grade.rated.as_ref()).is_none_or(|rated| rated.carries == Carries::Yes);
    let report = SignalReport::new(entries, grade);
    match arguments.format {
        Format::Json => writeln!(out, "{}", serde_json::to_string_pretty(&report)?)?,
        Format::Human => write!(out, "{}", signal_text_within(&report, super::settings::settings().columns()))?,
    }
    if let Some(folder) = &arguments.pictures
        && let Err(error) = pictures(folder, &report, &lanes, ladder, &settings)
    {
        let folder = folder.display().to_string();
        return super::unusable(&[Problem::new(format!("no pictures can be written into {}: {error}", visible(&folder)))]);
    }
    Ok(u8::from(!carried))
}

fn pictures(
    folder: &Path,
    report: &SignalReport,
    lanes: &[Lane],
    ladder: Option<&Ladder>,
    settings: &Settings,
) -> io::Result<()> {
    std::fs::create_dir_all(folder)?;
    for picture in signal_pictures(report, lanes, ladder, settings) {
        std::fs::write(folder.join(picture.name).with_extension("svg"), picture.svg)?;
    }
    Ok(())
}

/// The ladder and the rated rate: of `--rated` alone, the one ladder that knows it.
fn link(arguments: &Arguments) -> Result<(Option<&'static Ladder>, Option<&'static Rate>), Problem> {
    let names = || rates::ladders().iter().map(|ladder| ladder.name.as_str()).collect::<Vec<_>>().join(", ");
    let ladder = match &arguments.ladder {
        Some(name) => match rates::ladder(name) {
            Some(ladder) => Some(ladder),
            None => return Err(Problem::new(format!("no ladder of rates is called {}", visible(name))).help(names())),
        },
        None => None,
    };
    let Some(word) = &arguments.rated else { return Ok((ladder, None)) };
    match ladder {
        Some(ladder) => match ladder.rate(word) {
            Some(rate) => Ok((Some(ladder), Some(rate))),
            None => {
                let rates: Vec<&str> = ladder.rates.iter().map(|rate| rate.name.as_str()).collect();
                let problem = Problem::new(format!("{} has no rate {}", ladder.title, visible(word)));
                Err(problem.help(format!("its rates are {}", rates.join(", "))))
            }
        },
        None => {
            let mut known = rates::ladders().iter().filter_map(|ladder| Some((ladder, ladder.rate(word)?)));
            match (known.next(), known.next()) {
                (Some((ladder, rate)), None) => Ok((Some(ladder), Some(rate))),
                (None, _) => {
                    Err(Problem::new(format!("no ladder has a rate {}", visible(word))).help(format!("ladders: {}", names())))
                }
                _ => Err(Problem::new(format!("more than one ladder has a rate {}", visible(word)))
                    .help(format!("say which with `--ladder`: {}", names()))),
            }
        }
    }
}

/// A file, analysed, and the lanes in it.
fn read(path: &Path, order: Option<PortOrder>, settings: &Settings) -> Result<(SignalFileEntry, Vec<Lane>), Vec<Problem>> {
    let file = path.display().to_string();
    let named = |why: String| vec![Problem::new(format!("{}: {why}", visible(&file)))];
    let read = touchstone::read_file(path)?;
    let ports = read.network.ports();
    if PortOrder::Sequential.sequence(ports).is_none() {
        return Err(named(format!("a pair has four ports and two pairs have eight, not {ports}")));
    }
    let guess = PortOrder::guess(&read.network);
    let known = match (order, &guess) {
        (Some(order), _) => order,
        (None, Ok(order)) => *order,
        (None, Err(why)) => {
            let problem = Problem::new(format!("{}: which port is where can't be told: {}", visible(&file), why));
            return Err(vec![problem.help("say it with `--order sequential`, `odd-even` or `crossed`")]);
        }
    };
    let sequence =
        known.sequence(ports).ok_or_else(|| named(format!("a pair has four ports, two pairs have eight, not {ports}")))?;
    let network = read.network.reordered(&sequence).ok_or_else(|| named("its ports can't be put in order".to_owned()))?;
    let mut analysis = analyse(&network, settings).map_err(named)?;
    if let (Some(stated), Ok(seen)) = (order, &guess)
        && stated != *seen
    {
        analysis.cautions.push(format!("The order was stated as {}, but the through paths show {}.", stated.name(), seen.name()));
    }
    let stem = path.file_stem().map_or_else(|| file.clone(), |stem| stem.to_string_lossy().into_owned());
    let lanes = Lane::of_network(&stem, &network, settings.differential_ohm, settings.loop_ohm)
        .ok_or_else(|| named("no lane can be made of it".to_owned()))?;
    let entry = SignalFileEntry {
        lanes: lanes.iter().map(|lane| lane.name.clone()).collect(),
        file,
        ports,
        ports_from: read.ports_from.words().to_owned(),
        order: known.shown(ports),
        order_guessed: order.is_none(),
        analysis,
    };
    Ok((entry, lanes))
}
