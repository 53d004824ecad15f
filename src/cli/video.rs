//! `backshell video`.

use std::io::{self, Write};

use clap::Args;

use crate::report::{link_text_within, video_report, video_schema, video_text_within};
use crate::signal::video::{COMMON_MODES, Chroma, Link, Mode};

use super::check::Format;
use super::settings::settings;

#[derive(Debug, Args)]
pub(super) struct Arguments {
    /// The picture format, such as 3840x2160@120 or "2560x1440@59.94, 10 bits, 4:2:2"
    #[arg(value_name = "MODE", required_unless_present_any = ["rate", "print_schema"])]
    mode: Option<String>,
    /// Bits of each colour: 8, 10, 12 or 16; goes before what MODE says [default: 8]
    #[arg(long, value_name = "BITS", value_parser = Mode::parse_bits)]
    bits: Option<u8>,
    /// How much of the colour is sent: 4:4:4, 4:2:2 or 4:2:0; goes before what MODE says [default: 4:4:4]
    #[arg(long, value_name = "CHROMA", value_parser = Mode::parse_chroma)]
    chroma: Option<Chroma>,
    /// A rate that a cable is good for, such as HBR3 or "FRL 12": which modes it carries
    #[arg(long, value_name = "RATE")]
    rate: Option<String>,
    /// The lanes of that rate [default: as many as it may have]
    #[arg(long, value_name = "LANES", requires = "rate")]
    lanes: Option<u8>,
    /// How to report
    #[arg(long, value_enum, default_value_t = Format::Human)]
    format: Format,
    /// Print the JSON Schema of `--format json` and stop
    #[arg(long)]
    print_schema: bool,
}

pub(super) fn run(arguments: &Arguments, out: &mut impl Write) -> io::Result<u8> {
    if arguments.print_schema {
        writeln!(out, "{}", video_schema())?;
        return Ok(0);
    }
    let modes = match arguments.mode.as_deref().map(Mode::parse) {
        Some(Ok(mode)) => vec![mode],
        Some(Err(problem)) => return super::unusable(&[problem]),
        None => COMMON_MODES.to_vec(),
    };
    let link = match arguments.rate.as_deref().map(|rate| Link::named(rate, arguments.lanes)) {
        Some(Ok(link)) => Some(link),
        Some(Err(problem)) => return super::unusable(&[problem]),
        None => None,
    };
    let modes: Vec<Mode> = modes
        .into_iter()
        .map(|mode| Mode { bits: arguments.bits.unwrap_or(mode.bits), chroma: arguments.chroma.unwrap_or(mode.chroma), ..mode })
        .collect();
    let columns = settings().columns();
    match (arguments.format, &link) {
        (Format::Json, _) => writeln!(out, "{}", serde_json::to_string_pretty(&video_report(&modes, link.as_ref()))?)?,
        (Format::Human, Some(link)) => write!(out, "{}", link_text_within(&modes, link, columns))?,
        (Format::Human, None) => {
            for mode in &modes {
                write!(out, "{}", video_text_within(mode, columns))?;
            }
        }
    }
    Ok(0)
}
