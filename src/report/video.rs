//! What a picture format needs and what a link carries, as text and as data.

use std::fmt::Write as _;

use schemars::JsonSchema;
use serde::Serialize;

use super::json::schema_of;
use super::page::Page;
use super::terminal::WIDTH;
use crate::signal::video::{Carrier, Chroma, Link, Mode, Need, Standard, Timing, lowest, timings};

/// The fields of `video --format json`.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct VideoReport {
    /// Which form this is: `backshell.video/1`.
    pub schema: &'static str,
    /// The link that was asked about; null where the lowest one of every kind is wanted.
    pub link: Option<LinkEntry>,
    /// The modes.
    pub modes: Vec<ModeEntry>,
}

/// A link.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LinkEntry {
    /// `DisplayPort`, `HDMI, TMDS` or `HDMI, FRL`.
    pub carrier: &'static str,
    /// The name of its rate; for TMDS with the largest character rate in MHz.
    pub rate: &'static str,
    /// Its lanes.
    pub lanes: u8,
    /// Gbit/s of a lane, on the wire.
    pub lane_gbit_s: f64,
    /// What it has for pictures, in Gbit/s.
    pub payload_gbit_s: f64,
    /// The same where they are compressed, which costs some links an error correction; null where it carries none such.
    pub compressed_payload_gbit_s: Option<f64>,
}

/// A picture format.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct ModeEntry {
    /// As it is written: `3840x2160@120, 8 bits, 4:4:4`.
    pub mode: String,
    /// Bits of a pixel without compression.
    pub bits_a_pixel: u32,
    /// Its timings.
    pub timings: Vec<TimingEntry>,
}

/// A timing of a mode, with the links that carry it.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct TimingEntry {
    /// `CTA-861`, `CVT-RB v2`, `CVT-RB` or `CVT`.
    pub standard: &'static str,
    /// The video identification code of a CTA-861 format.
    pub vic: Option<u8>,
    /// Active pixels of a line.
    pub width: u32,
    /// Active lines.
    pub height: u32,
    /// Pixels of a line with its blanking.
    pub h_total: u64,
    /// Lines of a picture with its blanking.
    pub v_total: u64,
    /// The pixel clock in MHz.
    pub clock_mhz: f64,
    /// The refresh rate that comes out, in Hz.
    pub refresh_hz: f64,
    /// A row for each kind of link, plain and compressed.
    pub links: Vec<FitEntry>,
}

/// How a picture fits a kind of link.
#[derive(Debug, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct FitEntry {
    /// The kind of link.
    pub carrier: &'static str,
    /// Its lanes, where the kind has so many; null where the rate brings them with it and none fits.
    pub lanes: Option<u8>,
    /// Whether the stream is compressed.
    pub compressed: bool,
    /// What the picture needs, in Gbit/s.
    pub need_gbit_s: f64,
    /// Whether it fits.
    pub fits: bool,
    /// The lowest rate that carries it, or the one that was asked about; null where none does.
    pub rate: Option<&'static str>,
    /// How much of that rate's room for pictures it takes, in percent.
    pub used_percent: Option<f64>,
}

/// The JSON Schema of `video --format json`, as text.
#[must_use]
pub fn video_schema() -> String {
    schema_of::<VideoReport>()
}

/// What modes need, as data; with a link, how they fit that one, else the lowest of every kind.
#[must_use]
pub fn video_report(modes: &[Mode], link: Option<&Link>) -> VideoReport {
    let modes = modes.iter().map(|mode| ModeEntry {
        mode: mode.to_string(),
        bits_a_pixel: mode.bits_a_pixel(),
        timings: timings(mode).iter().map(|timing| timing_entry(mode, timing, link)).collect(),
    });
    let asked = link.map(|link| LinkEntry {
        carrier: link.rate.carrier.name(),
        rate: link.rate.name,
        lanes: link.lanes,
        lane_gbit_s: f64::from(link.rate.lane_mbit) / 1000.0,
        payload_gbit_s: gbit(link.payload(false)),
        compressed_payload_gbit_s: link.rate.carrier.compresses().then(|| gbit(link.payload(true))),
    });
    VideoReport { schema: "backshell.video/1", link: asked, modes: modes.collect() }
}

fn timing_entry(mode: &Mode, timing: &Timing, link: Option<&Link>) -> TimingEntry {
    let kinds = kinds().into_iter().filter(|(kind, _)| link.is_none_or(|link| *kind == Kind::of(link)));
    let links = kinds.filter_map(|(kind, compressed)| {
        let need = Need::of(mode, timing, kind.carrier, compressed)?;
        let found = match link {
            Some(link) => Some(*link),
            None => lowest(kind.carrier, kind.lanes, &need),
        };
        Some(FitEntry {
            carrier: kind.carrier.name(),
            lanes: found.map(|link| link.lanes).or(kind.lanes),
            compressed,
            need_gbit_s: gbit(need.kbit),
            fits: found.is_some_and(|link| link.carries(&need)),
            rate: found.map(|link| link.rate.name),
            used_percent: found.map(|link| (10.0 * link.used(&need)).round() / 10.0),
        })
    });
    TimingEntry {
        standard: timing.standard.name(),
        vic: if let Standard::Cta(code) = timing.standard { Some(code) } else { None },
        width: timing.width,
        height: timing.height,
        h_total: timing.h_total,
        v_total: timing.v_total,
        clock_mhz: timing.clock_mhz(),
        refresh_hz: timing.refresh(),
        links: links.collect(),
    }
}

/// A kind of link: a carrier, and its lanes where they make a difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Kind {
    carrier: Carrier,
    lanes: Option<u8>,
}

impl Kind {
    fn of(link: &Link) -> Self {
        let lanes = (!link.rate.carrier.lane_choices().is_empty()).then_some(link.lanes);
        Kind { carrier: link.rate.carrier, lanes }
    }

    fn words(self) -> String {
        match self.lanes {
            Some(1) => format!("{}, 1 lane", self.carrier.name()),
            Some(lanes) => format!("{}, {lanes} lanes", self.carrier.name()),
            None => self.carrier.name().to_owned(),
        }
    }
}

/// Every kind of link, without compression and, where it takes it, with.
fn kinds() -> Vec<(Kind, bool)> {
    let mut all = Vec::new();
    for carrier in Carrier::ALL {
        let choices = carrier.lane_choices();
        let lanes = choices.iter().map(|lanes| Some(*lanes)).chain(choices.is_empty().then_some(None));
        for kind in lanes.map(|lanes| Kind { carrier, lanes }) {
            all.push((kind, false));
            all.extend(carrier.compresses().then_some((kind, true)));
        }
    }
    all
}

fn gbit(kbit: u64) -> f64 {
    kbit as f64 / 1e6
}

const COMPRESSED: &str = "Compressed: VESA DSC at about a third of the bits, which the source and the screen must both have.";
const ESTIMATE: &str = "The source and the screen choose the timing. An engineering estimate from link rates, no certification; lengths and \
                        losses of a cable are another matter.";

/// What a mode needs, as text: its timings, and the lowest link of every kind that carries it.
#[must_use]
pub fn video_text(mode: &Mode) -> String {
    video_text_within(mode, WIDTH)
}

/// The same with texts of so many columns; tables keep theirs.
#[must_use]
pub fn video_text_within(mode: &Mode, width: usize) -> String {
    let all = timings(mode);
    let mut out = Page::new(width);
    let _ = write!(out, "{mode}: {} bits a pixel\n\n", mode.bits_a_pixel());
    let _ = writeln!(
        out,
        "  {:<17}{:>10}  {:>13}  {:>9}  {:>9}  {:>12}",
        "timing", "clock MHz", "total", "Hz", "Gbit/s", "compressed"
    );
    for timing in &all {
        let name = match timing.standard {
            Standard::Cta(code) => format!("CTA-861 (VIC {code})"),
            other => other.name().to_owned(),
        };
        let need = |compressed| Need::of(mode, timing, Carrier::DisplayPort, compressed).map_or(0, |need| need.kbit);
        let _ = writeln!(
            out,
            "  {name:<17}{:>10.3}  {:>13}  {:>9.3}  {:>9.3}  {:>12.3}",
            timing.clock_mhz(),
            format!("{} x {}", timing.h_total, timing.v_total),
            timing.refresh(),
            gbit(need(false)),
            gbit(need(true)),
        );
    }
    out.push_str("\n");
    out.paragraph("  ", "The lowest rate that carries it, and how much of that rate's room for pictures it takes:");
    let _ = write!(out, "\n  {:<22}", "");
    heads(&mut out, &all);
    let mut nowhere: Vec<String> = Vec::new();
    for (kind, compressed) in kinds() {
        let cells: Vec<Option<String>> = all.iter().map(|timing| lowest_cell(mode, timing, kind, compressed)).collect();
        if cells.iter().all(Option::is_none) {
            nowhere.push(if compressed { format!("{}, compressed", kind.words()) } else { kind.words() });
        }
        let label = if compressed { "  compressed".to_owned() } else { kind.words() };
        row(&mut out, &format!("{label:<22}"), cells.into_iter().map(|cell| cell.unwrap_or_else(|| "doesn't fit".to_owned())));
    }
    out.push_str("\n");
    if !nowhere.is_empty() {
        out.paragraph("  ", &format!("Doesn't fit with any of these timings: {}.", nowhere.join("; ")));
    }
    notes(&mut out, mode, &all);
    out.into_text()
}

fn lowest_cell(mode: &Mode, timing: &Timing, kind: Kind, compressed: bool) -> Option<String> {
    let need = Need::of(mode, timing, kind.carrier, compressed)?;
    let link = lowest(kind.carrier, kind.lanes, &need)?;
    let lanes = if kind.carrier == Carrier::Frl { format!(" x{}", link.lanes) } else { String::new() };
    Some(format!("{}{lanes} {:.1} %", link.rate.name, link.used(&need)))
}

/// Which modes a link carries, as text.
#[must_use]
pub fn link_text(modes: &[Mode], link: &Link) -> String {
    link_text_within(modes, link, WIDTH)
}

/// The same with texts of so many columns; tables keep theirs.
#[must_use]
pub fn link_text_within(modes: &[Mode], link: &Link, columns: usize) -> String {
    let kind = Kind::of(link);
    let mut out = Page::new(columns);
    let _ = write!(
        out,
        "{} over {} ({}): {:.3} Gbit/s for pictures\n\n",
        link.rate.name,
        if link.lanes == 1 { "1 lane".to_owned() } else { format!("{} lanes", link.lanes) },
        kind.carrier.name(),
        gbit(link.payload(false)),
    );
    // what all modes share is said once
    let shared = modes.first().filter(|one| modes.iter().all(|mode| (mode.bits, mode.chroma) == (one.bits, one.chroma)));
    let names: Vec<String> = modes.iter().map(|mode| if shared.is_some() { mode.size() } else { mode.to_string() }).collect();
    let width = names.iter().map(String::len).max().unwrap_or(0) + 2;
    let depth = shared.map_or_else(String::new, |one| format!(" with {} bits and {}", one.bits, one.chroma.text()));
    out.paragraph("  ", &format!("How much of it a mode takes{depth}:"));
    let _ = write!(out, "\n  {:<width$}", "");
    // a mode outside CTA-861 leaves its place empty
    let columns = [Standard::Cta(0), Standard::ReducedV2, Standard::Reduced, Standard::Cvt];
    let heads: Vec<&str> = columns.iter().map(|standard| standard.name()).collect();
    row_end(&mut out, heads.into_iter().map(str::to_owned));
    for (mode, name) in modes.iter().zip(&names) {
        let all = timings(mode);
        let cells = columns.iter().map(|standard| {
            let timing = all.iter().find(|timing| timing.standard.name() == standard.name());
            timing.map_or_else(|| "-".to_owned(), |timing| link_cell(mode, timing, link))
        });
        row(&mut out, &format!("{name:<width$}"), cells);
    }
    out.push_str("\n");
    if let Some(mode) = shared {
        chroma_note(&mut out, mode, link.rate.carrier == Carrier::DisplayPort);
    }
    let compressed = if link.rate.carrier.compresses() { COMPRESSED } else { "This link takes no compressed pictures." };
    out.paragraph("  ", compressed);
    out.paragraph("  ", ESTIMATE);
    out.into_text()
}

fn link_cell(mode: &Mode, timing: &Timing, link: &Link) -> String {
    let used = |compressed| Need::of(mode, timing, link.rate.carrier, compressed).filter(|need| link.carries(need));
    match (used(false), used(true)) {
        (Some(need), _) => format!("{:.1} %", link.used(&need)),
        (None, Some(need)) => format!("compressed {:.1} %", link.used(&need)),
        (None, None) => "doesn't fit".to_owned(),
    }
}

fn heads(out: &mut Page, all: &[Timing]) {
    row_end(out, all.iter().map(|timing| timing.standard.name().to_owned()));
}

fn row(out: &mut Page, label: &str, cells: impl Iterator<Item = String>) {
    let _ = write!(out, "  {label}");
    row_end(out, cells);
}

fn row_end(out: &mut Page, cells: impl Iterator<Item = String>) {
    let line = cells.fold(String::new(), |line, cell| format!("{line}{cell:<19}"));
    let _ = writeln!(out, "{}", line.trim_end());
}

fn notes(out: &mut Page, mode: &Mode, all: &[Timing]) {
    if let Some(timing) = all.iter().find(|timing| timing.width != mode.width) {
        out.paragraph("  ", &format!("CVT and CVT-RB step the width by 8 pixels: they show {} of {}.", timing.width, mode.width));
    }
    chroma_note(out, mode, false);
    out.paragraph("  ", COMPRESSED);
    out.paragraph("  ", ESTIMATE);
}

fn chroma_note(out: &mut Page, mode: &Mode, display_port_alone: bool) {
    match mode.chroma {
        Chroma::Half if !display_port_alone => {
            let bits = if mode.bits > 12 { "It has no form for 16 bits" } else { "It sends up to 12 bits so" };
            let text = format!("HDMI sends 4:2:2 in the room of 24 bits a pixel, whatever its depth. {bits} (from memory).");
            out.paragraph("  ", &text);
        }
        Chroma::Quarter => out.paragraph("  ", "Screens take 4:2:0 only for the modes that they list for it."),
        _ => {}
    }
}
