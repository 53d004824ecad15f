//! What links carry, and the lowest rate that carries a picture.
//!
//! All figures are whole kbit/s, so that a mode which fills a link to the last bit fits.

use super::mode::{Chroma, Mode};
use super::timing::Timing;
use crate::finding::Problem;

/// A way in which pictures travel.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Carrier {
    /// DisplayPort, over one, two or four lanes; USB-C carries it over two or four.
    DisplayPort,
    /// HDMI with a clock beside three lanes (TMDS).
    Tmds,
    /// HDMI at a fixed rate over three or four lanes (FRL).
    Frl,
}

impl Carrier {
    /// All of them.
    pub const ALL: [Carrier; 3] = [Carrier::DisplayPort, Carrier::Tmds, Carrier::Frl];

    /// Its name.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Carrier::DisplayPort => "DisplayPort",
            Carrier::Tmds => "HDMI, TMDS",
            Carrier::Frl => "HDMI, FRL",
        }
    }

    /// The counts of lanes that are each a link of their own kind; empty where the rate brings its lanes with it.
    #[must_use]
    pub fn lane_choices(self) -> &'static [u8] {
        match self {
            Carrier::DisplayPort => &[4, 2, 1],
            Carrier::Tmds | Carrier::Frl => &[],
        }
    }

    /// Whether it takes compressed pictures: TMDS doesn't (HDMI 2.1; from memory).
    #[must_use]
    pub fn compresses(self) -> bool {
        self != Carrier::Tmds
    }
}

/// Payload bits and the bits on the wire that carry them.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
struct Coding(u64, u64);

/// 8b/10b, and TMDS, which also sends eight bits in a character of ten.
const EIGHT_IN_TEN: Coding = Coding(8, 10);
/// 128b/132b with the link's other overhead: VESA states 77.37 of 80 Gbit/s (press release for DisplayPort 2.0, 2019).
const VESA_STATED: Coding = Coding(7737, 8000);
/// 16b/18b.
const SIXTEEN_IN_EIGHTEEN: Coding = Coding(16, 18);
/// What error correction and packets leave of FRL; they take 2 to 3 %, here 3 (from memory).
const FRL_PACKETS: Coding = Coding(97, 100);
/// What the error correction leaves that 8b/10b links add for compressed pictures; it takes 2.4 % (from memory).
const COMPRESSED_CORRECTION: Coding = Coding(976, 1000);

/// A rate of a carrier.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Rate {
    /// Whose rate it is.
    pub carrier: Carrier,
    /// Its name in the standard; for TMDS the largest character rate in MHz.
    pub name: &'static str,
    /// Mbit/s of a lane, on the wire.
    pub lane_mbit: u32,
    /// The lanes that it may have.
    pub lanes: &'static [u8],
    coding: Coding,
}

const fn display(name: &'static str, lane_mbit: u32, coding: Coding) -> Rate {
    Rate { carrier: Carrier::DisplayPort, name, lane_mbit, lanes: &[1, 2, 4], coding }
}

const fn tmds(name: &'static str, lane_mbit: u32) -> Rate {
    Rate { carrier: Carrier::Tmds, name, lane_mbit, lanes: &[3], coding: EIGHT_IN_TEN }
}

const fn frl(name: &'static str, lane_mbit: u32, lanes: &'static [u8]) -> Rate {
    Rate { carrier: Carrier::Frl, name, lane_mbit, lanes, coding: SIXTEEN_IN_EIGHTEEN }
}

/// The link rates, by carrier and rising.
///
/// Sources: VESA's public descriptions of DisplayPort 1.4 and 2.1; for HDMI the public summaries of 1.4, 2.0 and 2.1.
pub const RATES: [Rate; 15] = [
    display("RBR", 1620, EIGHT_IN_TEN),
    display("HBR", 2700, EIGHT_IN_TEN),
    display("HBR2", 5400, EIGHT_IN_TEN),
    display("HBR3", 8100, EIGHT_IN_TEN),
    display("UHBR10", 10_000, VESA_STATED),
    display("UHBR13.5", 13_500, VESA_STATED),
    display("UHBR20", 20_000, VESA_STATED),
    tmds("TMDS 165", 1650),
    tmds("TMDS 340", 3400),
    tmds("TMDS 600", 6000),
    frl("FRL 3", 3000, &[3]),
    frl("FRL 6", 6000, &[3, 4]),
    frl("FRL 8", 8000, &[4]),
    frl("FRL 10", 10_000, &[4]),
    frl("FRL 12", 12_000, &[4]),
];

/// A rate over so many lanes.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Link {
    /// The rate.
    pub rate: Rate,
    /// The lanes.
    pub lanes: u8,
}

impl Link {
    /// The links of a carrier, rising by what they carry; with `lanes`, only those with so many.
    pub fn of(carrier: Carrier, lanes: Option<u8>) -> impl Iterator<Item = Link> {
        let rates = RATES.into_iter().filter(move |rate| rate.carrier == carrier);
        let links = rates.flat_map(|rate| rate.lanes.iter().map(move |lanes| Link { rate, lanes: *lanes }));
        links.filter(move |link| lanes.is_none_or(|lanes| lanes == link.lanes))
    }

    /// The link by the name of its rate, in capitals or not, with or without its space; without `lanes`, with the most that
    /// the rate may have.
    ///
    /// # Errors
    /// Where there is no such rate, or it doesn't go over so many lanes.
    pub fn named(name: &str, lanes: Option<u8>) -> Result<Link, Problem> {
        let plain = |name: &str| name.replace([' ', '-'], "").to_ascii_lowercase();
        let Some(rate) = RATES.into_iter().find(|rate| plain(rate.name) == plain(name)) else {
            let known: Vec<&str> = RATES.iter().map(|rate| rate.name).collect();
            let message = format!("no link rate `{}`", crate::text::visible(name));
            return Err(Problem::new(message).help(format!("the rates are {}", known.join(", "))));
        };
        let lanes = lanes.or(rate.lanes.last().copied()).unwrap_or(1);
        if !rate.lanes.contains(&lanes) {
            let choices: Vec<String> = rate.lanes.iter().map(ToString::to_string).collect();
            let message = format!("{} doesn't go over {lanes} lanes", rate.name);
            return Err(Problem::new(message).help(format!("it has {} lanes", choices.join(" or "))));
        }
        Ok(Link { rate, lanes })
    }

    /// What it carries after its line coding alone, in kbit/s.
    #[must_use]
    pub fn coded(&self) -> u64 {
        u64::from(self.rate.lane_mbit) * 1000 * u64::from(self.lanes) * self.rate.coding.0 / self.rate.coding.1
    }

    /// What it has for pictures, in kbit/s: after line coding, error correction and packets as far as they are known.
    #[must_use]
    pub fn payload(&self, compressed: bool) -> u64 {
        let further = match self.rate.carrier {
            Carrier::Frl => FRL_PACKETS,
            Carrier::DisplayPort if compressed && self.rate.coding == EIGHT_IN_TEN => COMPRESSED_CORRECTION,
            _ => Coding(1, 1),
        };
        self.coded() * further.0 / further.1
    }

    /// Whether it carries what a picture needs.
    #[must_use]
    pub fn carries(&self, need: &Need) -> bool {
        need.kbit <= self.payload(need.compressed)
    }

    /// How much of it a picture takes, in percent; more than 100 where it doesn't fit.
    #[must_use]
    pub fn used(&self, need: &Need) -> f64 {
        100.0 * need.kbit as f64 / self.payload(need.compressed) as f64
    }
}

/// What a picture needs of a carrier.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Need {
    /// Whether its stream is compressed.
    pub compressed: bool,
    /// Payload in kbit/s, rounded up; the blanking counts like pixels.
    pub kbit: u64,
}

impl Need {
    /// What a mode at a timing needs; none where the carrier has no form for it.
    ///
    /// HDMI sends 4:2:2 of at most 12 bits like 24 bits a pixel, whatever its depth (HDMI 1.4; from memory).
    #[must_use]
    pub fn of(mode: &Mode, timing: &Timing, carrier: Carrier, compressed: bool) -> Option<Need> {
        let hdmi = carrier != Carrier::DisplayPort;
        let sixteenths = match mode.chroma {
            _ if compressed && !carrier.compresses() => return None,
            _ if compressed => mode.compressed_sixteenths(),
            Chroma::Half if hdmi && mode.bits > 12 => return None,
            Chroma::Half if hdmi => 24 * 16,
            _ => mode.bits_a_pixel() * 16,
        };
        Some(Need { compressed, kbit: (timing.clock_khz * u64::from(sixteenths)).div_ceil(16) })
    }
}

/// The lowest link of a carrier that has room for a need; none where none has.
#[must_use]
pub fn lowest(carrier: Carrier, lanes: Option<u8>, need: &Need) -> Option<Link> {
    Link::of(carrier, lanes).find(|link| link.carries(need))
}
