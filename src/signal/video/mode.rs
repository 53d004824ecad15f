//! What a picture format is called: `3840x2160@120, 10 bits, 4:2:0`.

use std::fmt;
use std::ops::RangeInclusive;
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};

/// The widths and heights that a mode may have, in pixels and lines.
const SIZES: RangeInclusive<u32> = 64..=16_384;
/// The refresh rates that a mode may have, in thousandths of a hertz.
const REFRESHES: RangeInclusive<u32> = 10_000..=1_000_000;
/// The depths of a colour in bits that both connectors know.
const DEPTHS: [u8; 4] = [8, 10, 12, 16];
/// What a mode looks like, for messages.
const EXAMPLE: &str = "a mode is written as 3840x2160@120, with `, 10 bits` and `, 4:2:0` after it where they are wanted";

/// The modes that tables of a link show: what screens commonly offer, from small to large. 8 bits, 4:4:4.
pub const COMMON_MODES: [Mode; 14] = [
    Mode::plain(1280, 720, 60),
    Mode::plain(1920, 1080, 60),
    Mode::plain(1920, 1080, 120),
    Mode::plain(1920, 1080, 240),
    Mode::plain(1920, 1200, 60),
    Mode::plain(2560, 1440, 60),
    Mode::plain(2560, 1440, 144),
    Mode::plain(3440, 1440, 100),
    Mode::plain(3840, 2160, 30),
    Mode::plain(3840, 2160, 60),
    Mode::plain(3840, 2160, 120),
    Mode::plain(3840, 2160, 144),
    Mode::plain(5120, 2880, 60),
    Mode::plain(7680, 4320, 60),
];

/// How often a picture is shown, in thousandths of a hertz as written.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Refresh(u32);

impl Refresh {
    /// A rate in thousandths of a hertz; none outside 10 to 1000 Hz.
    #[must_use]
    pub fn new(millihertz: u32) -> Option<Self> {
        REFRESHES.contains(&millihertz).then_some(Refresh(millihertz))
    }

    /// The rate as a fraction of whole numbers, in Hz: 59.94 is meant as 60000/1001, as video has it.
    #[must_use]
    pub fn ratio(self) -> (u64, u64) {
        match self.video_base() {
            Some(base) => (1000 * u64::from(base), 1001),
            None => (u64::from(self.0), 1000),
        }
    }

    /// The rate in Hz, where it is a whole number.
    #[must_use]
    pub fn whole(self) -> Option<u32> {
        self.0.is_multiple_of(1000).then_some(self.0 / 1000)
    }

    /// The whole rate of which this is 1000/1001, as 60 is for 59.94 and 24 for 23.976 or 23.98; from 24 Hz on.
    #[must_use]
    pub fn video_base(self) -> Option<u32> {
        let base = self.0.div_ceil(1000);
        let slowed = (u64::from(base) * 1_000_000 + 500) / 1001;
        (base >= 24 && !self.0.is_multiple_of(1000) && slowed.abs_diff(u64::from(self.0)) < 5).then_some(base)
    }
}

impl fmt::Display for Refresh {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let text = format!("{}.{:03}", self.0 / 1000, self.0 % 1000);
        f.write_str(text.trim_end_matches('0').trim_end_matches('.'))
    }
}

/// How much of the colour of a picture is sent.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Chroma {
    /// Red, green and blue, or luma and both chroma, of every pixel.
    Full,
    /// The chroma of every second pixel of a line.
    Half,
    /// The chroma of every second pixel of every second line.
    Quarter,
}

impl Chroma {
    /// All of them.
    pub const ALL: [Chroma; 3] = [Chroma::Full, Chroma::Half, Chroma::Quarter];

    /// Its name, as in `4:2:0`.
    #[must_use]
    pub fn text(self) -> &'static str {
        match self {
            Chroma::Full => "4:4:4",
            Chroma::Half => "4:2:2",
            Chroma::Quarter => "4:2:0",
        }
    }
}

/// A picture format.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Mode {
    /// Pixels in a line, 64 to 16384.
    pub width: u32,
    /// Lines, 64 to 16384.
    pub height: u32,
    /// Pictures a second, 10 to 1000 Hz.
    pub refresh: Refresh,
    /// Bits of each colour of a pixel: 8, 10, 12 or 16.
    pub bits: u8,
    /// How much of the colour is sent.
    pub chroma: Chroma,
}

impl Mode {
    /// So many pixels by so many lines, so many times a second, with 8 bits of each colour and all of the colour.
    #[must_use]
    pub fn new(width: u32, height: u32, refresh: Refresh) -> Self {
        Self { width, height, refresh, bits: 8, chroma: Chroma::Full }
    }

    /// Bits of each colour of a pixel: 8, 10, 12 or 16.
    #[must_use]
    pub fn with_bits(self, bits: u8) -> Self {
        Self { bits, ..self }
    }

    /// How much of the colour is sent.
    #[must_use]
    pub fn with_chroma(self, chroma: Chroma) -> Self {
        Self { chroma, ..self }
    }

    const fn plain(width: u32, height: u32, hertz: u32) -> Self {
        Mode { width, height, refresh: Refresh(hertz * 1000), bits: 8, chroma: Chroma::Full }
    }

    /// Bits of a pixel before any compression: 24 for 8 bits and 4:4:4, two thirds of it for 4:2:2, half for 4:2:0.
    #[must_use]
    pub fn bits_a_pixel(&self) -> u32 {
        let bits = u32::from(self.bits);
        match self.chroma {
            Chroma::Full => 3 * bits,
            Chroma::Half => 2 * bits,
            Chroma::Quarter => 3 * bits / 2,
        }
    }

    /// Bits of a pixel under stream compression (VESA DSC), in sixteenths of a bit.
    ///
    /// A third of the plain bits, which is common practice, no source; but not below 8 bits for 4:4:4, 7 for 4:2:2 and 6 for
    /// 4:2:0 (from memory).
    #[must_use]
    pub fn compressed_sixteenths(&self) -> u32 {
        let least = match self.chroma {
            Chroma::Full => 8,
            Chroma::Half => 7,
            Chroma::Quarter => 6,
        };
        (16 * self.bits_a_pixel()).div_ceil(3).max(16 * least)
    }

    /// Its size and refresh rate alone, as in `3840x2160@120`.
    #[must_use]
    pub fn size(&self) -> String {
        format!("{}x{}@{}", self.width, self.height, self.refresh)
    }

    /// Reads a mode: `WIDTHxHEIGHT@REFRESH`, then the depth and the chroma in either order, each after a comma.
    ///
    /// Without them it has 8 bits and 4:4:4.
    ///
    /// # Errors
    /// Where something can't be read or is out of range, with the place in the text.
    pub fn parse(text: &str) -> Result<Self, Problem> {
        let source = Source::new("MODE", text);
        let mut parts = Parts::new(&source);
        let mut size = parts.next().ok_or_else(|| parts.wrong(Span::default(), "nothing here"))?;
        let width = size.whole("the width", &SIZES, "pixels")?;
        size.sign(&['x', 'X', '×'], "`x` between width and height")?;
        let height = size.whole("the height", &SIZES, "lines")?;
        size.sign(&['@'], "`@` before the refresh rate")?;
        let refresh = size.refresh()?;
        let (mut bits, mut chroma) = (None, None);
        for part in parts {
            let words = part.rest();
            if let Some(found) = chroma_of(words) {
                if chroma.replace(found).is_some() {
                    return Err(part.wrong("the chroma a second time"));
                }
            } else if bits.replace(depth_of(words).map_err(|what| part.wrong(&what))?).is_some() {
                return Err(part.wrong("the depth a second time"));
            }
        }
        Ok(Mode { width, height, refresh, bits: bits.unwrap_or(8), chroma: chroma.unwrap_or(Chroma::Full) })
    }

    /// Reads a depth of colour, such as `10` or `10 bits`.
    ///
    /// # Errors
    /// Where it isn't 8, 10, 12 or 16 bits.
    pub fn parse_bits(text: &str) -> Result<u8, String> {
        depth_of(text.trim())
    }

    /// Reads a chroma, such as `4:2:0`.
    ///
    /// # Errors
    /// Where it is none of the three.
    pub fn parse_chroma(text: &str) -> Result<Chroma, String> {
        chroma_of(text.trim()).ok_or_else(|| "expected 4:4:4, 4:2:2 or 4:2:0".to_owned())
    }
}

impl fmt::Display for Mode {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, {} bits, {}", self.size(), self.bits, self.chroma.text())
    }
}

fn chroma_of(words: &str) -> Option<Chroma> {
    let known = Chroma::ALL.into_iter().find(|chroma| chroma.text() == words);
    known.or_else(|| words.eq_ignore_ascii_case("rgb").then_some(Chroma::Full))
}

fn depth_of(words: &str) -> Result<u8, String> {
    let figure = words.trim_end_matches(|c: char| c.is_ascii_alphabetic());
    let unit = words.get(figure.len()..).unwrap_or_default();
    let known = ["", "bit", "bits", "bpc"].iter().any(|word| unit.eq_ignore_ascii_case(word));
    let figure = figure.trim_end_matches([' ', '-']);
    match figure.parse() {
        Ok(bits) if known && DEPTHS.contains(&bits) => Ok(bits),
        Ok(_) if known => Err("the depth is 8, 10, 12 or 16 bits a colour".to_owned()),
        _ => Err("expected a depth such as `10 bits`, or 4:4:4, 4:2:2 or 4:2:0".to_owned()),
    }
}

/// The parts of a mode between commas.
struct Parts<'a> {
    source: &'a Arc<Source>,
    next: Option<usize>,
}

impl<'a> Parts<'a> {
    fn new(source: &'a Arc<Source>) -> Self {
        Parts { source, next: Some(0) }
    }

    fn wrong(&self, span: Span, what: &str) -> Problem {
        wrong(self.source, span, what)
    }
}

impl<'a> Iterator for Parts<'a> {
    type Item = Part<'a>;

    fn next(&mut self) -> Option<Part<'a>> {
        let start = self.next?;
        let text = self.source.text();
        let rest = text.get(start..)?;
        let length = rest.find(',').unwrap_or(rest.len());
        self.next = (length < rest.len()).then_some(start + length + 1);
        let words = rest.get(..length)?;
        let indent = words.len() - words.trim_start().len();
        Some(Part { source: self.source, at: start + indent, end: start + indent + words.trim().len() })
    }
}

/// One part of a mode, read from the left.
struct Part<'a> {
    source: &'a Arc<Source>,
    at: usize,
    end: usize,
}

impl<'a> Part<'a> {
    /// What hasn't been read yet.
    fn rest(&self) -> &'a str {
        self.source.text().get(self.at..self.end).unwrap_or_default()
    }

    fn wrong(&self, what: &str) -> Problem {
        wrong(self.source, Span::from(self.at..self.end), what)
    }

    /// Takes the characters from here on that belong to a figure.
    fn figure(&mut self) -> (&'a str, Span) {
        let rest = self.rest();
        let figure = rest.get(..rest.find(|c: char| !c.is_ascii_digit() && c != '.').unwrap_or(rest.len())).unwrap_or_default();
        let span = Span::from(self.at..self.at + figure.len());
        self.at += figure.len();
        self.space();
        (figure, span)
    }

    fn space(&mut self) {
        let rest = self.rest();
        self.at += rest.len() - rest.trim_start().len();
    }

    fn whole(&mut self, what: &str, range: &RangeInclusive<u32>, unit: &str) -> Result<u32, Problem> {
        let (figure, span) = self.figure();
        if figure.is_empty() {
            return Err(self.wrong(&format!("expected {what} in {unit}")));
        }
        let within = figure.parse().ok().filter(|value| range.contains(value));
        within.ok_or_else(|| {
            let (least, most) = (range.start(), range.end());
            wrong(self.source, span, &format!("{what} is a whole number from {least} to {most} {unit}"))
        })
    }

    fn sign(&mut self, signs: &[char], what: &str) -> Result<(), Problem> {
        let rest = self.rest();
        let Some(after) = rest.strip_prefix(signs) else { return Err(self.wrong(&format!("expected {what}"))) };
        self.at += rest.len() - after.len();
        self.space();
        Ok(())
    }

    /// The refresh rate, which ends its part; `Hz` may follow it.
    fn refresh(&mut self) -> Result<Refresh, Problem> {
        let (figure, span) = self.figure();
        if figure.is_empty() {
            return Err(self.wrong("expected the refresh rate in Hz"));
        }
        let unit = self.rest();
        if !unit.is_empty() && !unit.eq_ignore_ascii_case("hz") {
            return Err(self.wrong("expected a comma or the end"));
        }
        let refresh = thousandths(figure).and_then(Refresh::new);
        refresh.ok_or_else(|| wrong(self.source, span, "the refresh rate is from 10 to 1000 Hz, with at most three decimals"))
    }
}

/// A figure with at most three decimals, in thousandths.
fn thousandths(figure: &str) -> Option<u32> {
    let (whole, decimals) = figure.split_once('.').unwrap_or((figure, "0"));
    let decimal = |text: &str| !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit());
    if !decimal(whole) || !decimal(decimals) || decimals.len() > 3 {
        return None;
    }
    whole.parse::<u32>().ok()?.checked_mul(1000)?.checked_add(format!("{decimals:0<3}").parse().ok()?)
}

fn wrong(source: &Arc<Source>, span: Span, what: &str) -> Problem {
    let problem = Problem::new(format!("this mode can't be read: {what}")).help(EXAMPLE);
    // where nothing stands at the place, the character before it is shown
    let last = source.text().char_indices().next_back().map(|(at, c)| Span::from(at..at + c.len_utf8()));
    match last {
        _ if span.len > 0 => problem.at(source, span, "here"),
        Some(last) => problem.at(source, last, "after this"),
        None => problem,
    }
}
