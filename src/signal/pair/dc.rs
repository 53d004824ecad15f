//! What a pair does at 0 Hz, where an analyser doesn't measure and every response over time begins.
//!
//! A straight line through the real parts of the first rows, the usual recipe, fails as soon as the delay turns the phase by
//! more than some tens of degrees a row; so the magnitude is carried down instead, along the root of frequency, as skin effect
//! goes. Where the resistance of the loop is known, it is better than any extrapolation.

use num_complex::Complex64;
use schemars::JsonSchema;
use serde::Serialize;

use super::fit::least_squares;
use super::mixed::{Pair, Term};
use super::phase::Phase;

/// Where the values at 0 Hz are from.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum DcSource {
    /// A row of the file at 0 Hz.
    FileRow,
    /// The resistance of the loop, measured by other means.
    LoopResistance,
    /// The line of |Sdd21| over √f through the first four rows, at most 1.
    RootLine,
}

impl DcSource {
    /// The same in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            DcSource::FileRow => "the file's row at 0 Hz",
            DcSource::LoopResistance => "as measured with direct current",
            DcSource::RootLine => "from the first rows, as there is none at 0 Hz",
        }
    }
}

/// The differential terms at 0 Hz, as plain numbers: there is no phase.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, JsonSchema)]
#[non_exhaustive]
pub struct DcPoint {
    /// Sdd21 at 0 Hz; below zero where P and N are exchanged at one end.
    pub sdd21: f64,
    /// Sdd11 at 0 Hz.
    pub sdd11: f64,
    /// Sdd22 at 0 Hz.
    pub sdd22: f64,
    /// The resistance of the loop in ohm that Sdd21 stands for, both conductors in series.
    pub loop_ohm: f64,
    /// Where the values are from.
    pub source: DcSource,
}

/// How many of the first rows the line is drawn through.
const ROWS: usize = 4;

impl DcPoint {
    /// The values of a pair at 0 Hz: its own row, else the known resistance of its loop in ohm, else the line over √f.
    ///
    /// A series resistance R gives Sdd21 = 2Z/(2Z + R) and Sdd11 = 1 − Sdd21, Z the differential reference. None without
    /// frequencies.
    #[must_use]
    pub fn of(pair: &Pair, loop_ohm: Option<f64>) -> Option<Self> {
        let twice = 2.0 * pair.differential_ohm();
        let through = pair.term(Term::Sdd21);
        if *pair.frequencies().first()? == 0.0 {
            let at_zero = |term| pair.term(term).first().map_or(0.0, |value| value.re);
            let sdd21 = at_zero(Term::Sdd21);
            let loop_ohm = (twice / sdd21.abs().max(1e-9) - twice).max(0.0);
            let [sdd11, sdd22] = [at_zero(Term::Sdd11), at_zero(Term::Sdd22)];
            return Some(DcPoint { sdd21, sdd11, sdd22, loop_ohm, source: DcSource::FileRow });
        }
        let known = loop_ohm.filter(|ohm| ohm.is_finite() && *ohm >= 0.0);
        let (size, source) = match known {
            Some(ohm) => (twice / (twice + ohm), DcSource::LoopResistance),
            None => (root_line(pair.frequencies(), &through)?, DcSource::RootLine),
        };
        let inverted = Phase::of(pair.frequencies(), &through).is_some_and(|phase| phase.inverted());
        let sdd11 = 1.0 - size;
        let loop_ohm = known.unwrap_or(twice / size.max(1e-9) - twice);
        Some(DcPoint { sdd21: if inverted { -size } else { size }, sdd11, sdd22: sdd11, loop_ohm, source })
    }

    /// What to be wary of, in words, beside the loop resistance known by other means, if there is one.
    #[must_use]
    pub fn cautions(&self, known_ohm: Option<f64>) -> Vec<String> {
        let mut cautions = Vec::new();
        if self.source == DcSource::RootLine {
            cautions.push(format!(
                "There is no row at 0 Hz. |Sdd21| was carried down along the root of frequency to {:.4}; the impedance along the cable \
                 may rise wrongly by some ohm towards the far end. Give the loop resistance from a DC measurement to do better.",
                self.sdd21.abs()
            ));
        }
        if let (DcSource::FileRow, Some(ohm)) = (self.source, known_ohm)
            && (ohm - self.loop_ohm).abs() > (0.2 * ohm).max(0.2)
        {
            cautions.push(format!(
                "The row at 0 Hz stands for a loop of {:.3} ohm, the DC measurement says {ohm:.3} ohm. The row is used; many \
                 analysers make it up.",
                self.loop_ohm
            ));
        }
        if self.sdd21 < 0.0 {
            cautions.push(
                "The far end comes out inverted: P and N are exchanged at one end, in the cable or in the order of the ports."
                    .to_owned(),
            );
        }
        cautions
    }
}

/// The line of the magnitude over the root of frequency through the first rows, at 0 Hz; at least 0 and at most 1.
fn root_line(frequencies: &[f64], through: &[Complex64]) -> Option<f64> {
    let rows = frequencies.len().min(ROWS);
    let top = frequencies.get(rows.checked_sub(1)?)?.sqrt();
    let sizes: Vec<f64> = through.iter().take(rows).map(|value| value.norm()).collect();
    let roots = frequencies[..rows].iter().map(|hertz| hertz.sqrt() / top).collect();
    let line = least_squares(vec![vec![1.0; rows], roots], sizes.clone());
    let at_zero = line.and_then(|line| line.first().copied()).or(sizes.first().copied())?;
    Some(at_zero.clamp(0.0, 1.0))
}
