//! Ladders of link rates as their files hold them.

use std::ops::Range;
use std::sync::{Arc, LazyLock};

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};
use toml::Spanned;

use crate::finding::Problem;
use crate::text::{Source, Span};

use super::super::eye::{Ctle, Disturbance, Drive};
use super::{Limits, words};

/// The files of the ladders, each with its name.
const FILES: [(&str, &str); 6] = [
    ("displayport", include_str!("data/displayport.toml")),
    ("tmds", include_str!("data/tmds.toml")),
    ("frl", include_str!("data/frl.toml")),
    ("usb2", include_str!("data/usb2.toml")),
    ("usb3", include_str!("data/usb3.toml")),
    ("ethernet", include_str!("data/ethernet.toml")),
];

/// The rates of a kind of link, from the slowest up.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Ladder {
    /// Its short name.
    pub name: String,
    /// What kind of link it is.
    pub title: String,
    /// The numbers of lanes that a link may have.
    pub lanes: Vec<u32>,
    /// The rates.
    pub rates: Vec<Rate>,
}

/// One rate of a ladder.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Rate {
    /// Its name in the standard.
    pub name: String,
    /// Other usual names.
    pub also: Vec<String>,
    /// Gbit/s a lane, before coding is taken off.
    pub gbits: f64,
    /// The numbers of lanes that it may have.
    pub lanes: Vec<u32>,
    /// How many lanes carry one direction, where that isn't all of them.
    pub carriers: Option<u32>,
    /// The line coding.
    pub coding: String,
    /// Payload bits, and the line bits that they take.
    pub payload_bits: (u32, u32),
    /// Where the rate comes from.
    pub source: String,
    /// What a lane is judged by.
    pub judged: Judged,
}

/// What a lane is judged by.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Judged {
    /// The eye behind a reference receiver.
    Eye(Box<EyeRule>),
    /// Limit lines over frequency.
    Lines(LineRule),
}

/// How an eye is made and what it must reach.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct EyeRule {
    /// What is launched, from 0 to 1, in mV peak to peak, differential.
    pub launch_mv: f64,
    /// The height that the eye must have, in mV.
    pub height_mv: f64,
    /// The width that it must have, in unit intervals.
    pub width_ui: f64,
    /// Where height and width come from.
    pub mask: String,
    /// Whether they are a published mask, or an own estimate.
    pub published: bool,
    /// One bit in how many may be wrong: the ratio at which height and width are read.
    pub error_ratio: f64,
    /// The launched edge from 10 to 90 %, in ps (own estimate).
    pub edge_ps: f64,
    /// Noise at the receiver, root mean square, in mV (own estimate).
    pub noise_mv: f64,
    /// Random jitter, standard deviation in unit intervals (own estimate).
    pub random_ui: f64,
    /// Deterministic jitter, distance of the two Dirac pulses in unit intervals (own estimate).
    pub deterministic_ui: f64,
    /// What the boards at both ends lose at the Nyquist frequency beyond what transmit emphasis makes good, in dB (own
    /// estimate).
    pub boards_db: f64,
    /// The reference receiver's equaliser; it may always be off.
    pub equaliser: Option<Equaliser>,
    /// A limit of loss at one frequency besides.
    pub loss: Option<LossRule>,
}

/// The settings that a reference receiver may choose from.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct Equaliser {
    /// Its name in the ladder.
    pub name: String,
    /// Where its figures come from.
    pub source: String,
    /// The most that its feedback takes off, in mV; zero where it has none.
    pub tap_mv: f64,
    /// The settings of its filter.
    pub settings: Vec<Ctle>,
}

/// A limit of loss at one frequency.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LossRule {
    /// The frequency in MHz.
    pub mhz: f64,
    /// The loss in dB, at most.
    pub db: f64,
    /// Where it comes from.
    pub source: String,
}

/// Which limit lines count, and up to where.
#[derive(Clone, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct LineRule {
    /// The lines.
    pub limits: Limits,
    /// The highest frequency that counts, in MHz.
    pub to_mhz: f64,
}

/// How a source says that it was recalled.
const FROM_MEMORY: &str = "from memory";

impl Rate {
    /// The Nyquist frequency in Hz: half the bit rate of a lane of two levels; the end of the limit lines otherwise.
    #[must_use]
    pub fn nyquist(&self) -> f64 {
        match &self.judged {
            Judged::Eye(_) => self.gbits * 0.5e9,
            Judged::Lines(rule) => rule.to_mhz * 1e6,
        }
    }

    /// Whether what it is judged by has a published source that was looked up: no own estimate, and nothing from memory.
    #[must_use]
    pub fn has_source(&self) -> bool {
        match &self.judged {
            Judged::Eye(rule) => rule.published && !rule.mask.contains(FROM_MEMORY),
            Judged::Lines(rule) => !rule.limits.source().contains(FROM_MEMORY),
        }
    }

    /// Gbit/s of so many lanes in one direction, before coding is taken off.
    #[must_use]
    pub fn raw(&self, lanes: u32) -> f64 {
        self.gbits * f64::from(self.carriers.unwrap_or(lanes))
    }

    /// Gbit/s of payload of so many lanes in one direction: what coding leaves. Packets and forward error correction take more.
    #[must_use]
    pub fn payload(&self, lanes: u32) -> f64 {
        let (payload, line) = self.payload_bits;
        self.raw(lanes) * f64::from(payload) / f64::from(line)
    }
}

impl EyeRule {
    /// What is sent at so many Gbit/s.
    #[must_use]
    pub fn drive(&self, gbits: f64) -> Drive {
        Drive { rate: gbits * 1e9, rise: self.edge_ps * 1e-12 }
    }

    /// What disturbs the eye; noise is made louder by so much.
    #[must_use]
    pub fn disturbance(&self, noise_gain: f64) -> Disturbance {
        Disturbance {
            noise: self.noise_mv / self.launch_mv * noise_gain,
            random: self.random_ui,
            deterministic: self.deterministic_ui,
        }
    }
}

impl Ladder {
    /// The rate that a word means: its name (`HBR3`, `USB 3.2 Gen 2`, `10GBASE-T`), another usual one (`DP8K`, `Cat 6A`), or
    /// its speed a lane or in all (`8.1 Gbit/s`), where only one rate has it. Case, spaces and hyphens don't count.
    #[must_use]
    pub fn rate(&self, word: &str) -> Option<&Rate> {
        words::find(&self.rates, word)
    }

    /// How many steps above the slowest a rate of this ladder stands.
    #[must_use]
    pub fn step(&self, name: &str) -> Option<usize> {
        self.rates.iter().position(|rate| rate.name == name)
    }
}

static LADDERS: LazyLock<Vec<Ladder>> = LazyLock::new(|| {
    FILES.iter().filter_map(|(name, text)| read(&Source::new(format!("{name}.toml"), (*text).to_owned())).ok()).collect()
});

/// Every ladder.
#[must_use]
pub fn ladders() -> &'static [Ladder] {
    &LADDERS
}

/// A ladder by its name: `displayport`, `tmds`, `frl`, `usb2`, `usb3`, `ethernet`.
#[must_use]
pub fn ladder(name: &str) -> Option<&'static Ladder> {
    LADDERS.iter().find(|ladder| ladder.name == name)
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawLadder {
    name: String,
    title: String,
    lanes: Vec<u32>,
    #[serde(default)]
    rate: Vec<Spanned<RawRate>>,
    #[serde(default)]
    equaliser: Vec<Spanned<RawEqualiser>>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawRate {
    name: String,
    #[serde(default)]
    also: Vec<String>,
    gbits: f64,
    lanes: Option<Vec<u32>>,
    carriers: Option<u32>,
    coding: String,
    payload: (u32, u32),
    source: String,
    eye: Option<RawEyeOrName>,
    loss: Option<RawLoss>,
    lines: Option<RawLines>,
}

#[derive(Debug, Deserialize)]
#[serde(untagged)]
enum RawEyeOrName {
    Name(String),
    Eye(RawEye),
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawEye {
    launch_mv: f64,
    height_mv: f64,
    width_ui: f64,
    mask: String,
    published: bool,
    error_ratio: f64,
    edge_ps: f64,
    noise_mv: f64,
    random_ui: f64,
    deterministic_ui: f64,
    boards_db: f64,
    equaliser: Option<String>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawLoss {
    mhz: f64,
    db: f64,
    source: String,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawLines {
    limits: Limits,
    to_mhz: f64,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawEqualiser {
    name: String,
    source: String,
    #[serde(default)]
    tap_mv: f64,
    settings: Vec<RawSetting>,
}

#[derive(Debug, Deserialize)]
#[serde(rename_all = "kebab-case", deny_unknown_fields)]
struct RawSetting {
    dc_db: f64,
    zero_ghz: f64,
    poles_ghz: Vec<f64>,
}

/// A ladder from its file.
///
/// # Errors
/// What can't be read, what is out of range, and names that nothing has, each at its place.
pub fn read(source: &Arc<Source>) -> Result<Ladder, Problem> {
    let what = format!("the ladder of rates {}", source.name());
    let raw: RawLadder = toml::from_str(source.text()).map_err(|error| Problem::toml(&what, source, &error))?;
    let wrong =
        |span: Range<usize>, text: String| Problem::new(format!("{what} can't be used")).at(source, Span::from(span), text);
    let mut rates: Vec<Rate> = Vec::new();
    for rate in &raw.rate {
        let made = rate_of(rate.get_ref(), &raw).map_err(|text| wrong(rate.span(), text))?;
        if rates.iter().any(|known| known.name == made.name) {
            return Err(wrong(rate.span(), format!("`{}` stands here a second time", made.name)));
        }
        rates.push(made);
    }
    if rates.is_empty() || raw.lanes.is_empty() || raw.lanes.contains(&0) {
        return Err(wrong(0..0, "a ladder needs at least one rate, and lanes of one and more".to_owned()));
    }
    Ok(Ladder { name: raw.name, title: raw.title, lanes: raw.lanes, rates })
}

fn rate_of(raw: &RawRate, ladder: &RawLadder) -> Result<Rate, String> {
    let positive = |name: &str, value: f64| {
        if value.is_finite() && value > 0.0 { Ok(value) } else { Err(format!("`{name}` must be above zero")) }
    };
    positive("gbits", raw.gbits)?;
    if raw.payload.0 == 0 || raw.payload.0 > raw.payload.1 {
        return Err("`payload` is bits of payload, then the line bits that they take".to_owned());
    }
    let judged = match (&raw.eye, &raw.lines) {
        (Some(eye), None) => Judged::Eye(Box::new(eye_of(eye, raw, ladder)?)),
        (None, Some(lines)) => Judged::Lines(LineRule { limits: lines.limits, to_mhz: positive("to-mhz", lines.to_mhz)? }),
        _ => return Err("a rate is judged by an `eye` or by `lines`, one of them".to_owned()),
    };
    Ok(Rate {
        name: raw.name.clone(),
        also: raw.also.clone(),
        gbits: raw.gbits,
        lanes: raw.lanes.clone().unwrap_or_else(|| ladder.lanes.clone()),
        carriers: raw.carriers,
        coding: raw.coding.clone(),
        payload_bits: raw.payload,
        source: raw.source.clone(),
        judged,
    })
}

/// The rule of a rate's eye, or that of the rate that it names.
fn eye_of(eye: &RawEyeOrName, rate: &RawRate, ladder: &RawLadder) -> Result<EyeRule, String> {
    let (raw, loss) = match eye {
        RawEyeOrName::Eye(eye) => (eye, &rate.loss),
        RawEyeOrName::Name(name) => {
            let other = ladder.rate.iter().map(Spanned::get_ref).find(|other| other.name == *name);
            match other.map(|other| (&other.eye, &other.loss)) {
                Some((Some(RawEyeOrName::Eye(eye)), loss)) => (eye, loss),
                _ => return Err(format!("no rate `{name}` with an eye of its own")),
            }
        }
    };
    let within = |name: &str, value: f64, range: std::ops::RangeInclusive<f64>| {
        if range.contains(&value) { Ok(()) } else { Err(format!("`{name}` must lie from {} to {}", range.start(), range.end())) }
    };
    within("launch-mv", raw.launch_mv, 1.0..=10_000.0)?;
    within("height-mv", raw.height_mv, 0.001..=raw.launch_mv)?;
    within("width-ui", raw.width_ui, 0.001..=1.0)?;
    within("error-ratio", raw.error_ratio, 1e-13..=0.1)?;
    within("edge-ps", raw.edge_ps, 0.0..=1e6)?;
    within("noise-mv", raw.noise_mv, 0.0..=raw.launch_mv / 10.0)?;
    within("random-ui", raw.random_ui, 0.0..=0.1)?;
    within("deterministic-ui", raw.deterministic_ui, 0.0..=0.9)?;
    within("boards-db", raw.boards_db, 0.0..=40.0)?;
    let equaliser = raw.equaliser.as_ref().map(|name| equaliser_of(name, ladder)).transpose()?;
    let loss = loss.as_ref().map(|loss| {
        within("mhz", loss.mhz, 0.001..=1e6)?;
        within("db", loss.db, 0.0..=200.0)?;
        Ok::<_, String>(LossRule { mhz: loss.mhz, db: loss.db, source: loss.source.clone() })
    });
    Ok(EyeRule {
        launch_mv: raw.launch_mv,
        height_mv: raw.height_mv,
        width_ui: raw.width_ui,
        mask: raw.mask.clone(),
        published: raw.published,
        error_ratio: raw.error_ratio,
        edge_ps: raw.edge_ps,
        noise_mv: raw.noise_mv,
        random_ui: raw.random_ui,
        deterministic_ui: raw.deterministic_ui,
        boards_db: raw.boards_db,
        equaliser,
        loss: loss.transpose()?,
    })
}

fn equaliser_of(name: &str, ladder: &RawLadder) -> Result<Equaliser, String> {
    let raw = ladder.equaliser.iter().map(Spanned::get_ref).find(|raw| raw.name == name);
    let raw = raw.ok_or_else(|| format!("no equaliser `{name}`"))?;
    let corner = |ghz: &f64| (0.001..=1000.0).contains(ghz);
    let fit = |setting: &RawSetting| {
        (-60.0..=60.0).contains(&setting.dc_db)
            && corner(&setting.zero_ghz)
            && !setting.poles_ghz.is_empty()
            && setting.poles_ghz.iter().all(corner)
    };
    if raw.settings.is_empty() || !raw.settings.iter().all(fit) || !(0.0..=1e4).contains(&raw.tap_mv) {
        return Err(format!(
            "the settings of `{name}`: gains from -60 to 60 dB, corners from 0.001 to 1000 GHz, a tap from 0 mV"
        ));
    }
    let settings = raw.settings.iter().map(|setting| Ctle {
        dc_db: setting.dc_db,
        zero: setting.zero_ghz * 1e9,
        poles: setting.poles_ghz.iter().map(|ghz| ghz * 1e9).collect(),
    });
    Ok(Equaliser { name: raw.name.clone(), source: raw.source.clone(), tap_mv: raw.tap_mv, settings: settings.collect() })
}
