//! Impedance along the cable.

use super::axis::{Axis, four_digits};
use super::chart::{Chart, MOST_MARKS, PLOT};
use super::curve::{Curve, drawable, is_drawable, lost_words};
use super::ink::CURVES;
use super::picture::{Bounds, Kind, Scene};

/// A place where the impedance changes.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Spot {
    /// How far along the cable, in metres.
    pub metres: f64,
    /// The impedance there, in ohm.
    pub ohm: f64,
    /// What it is, in a few words; may be empty.
    pub words: String,
}

impl Spot {
    /// A place so many metres along the cable, with its impedance in ohm and what it is.
    #[must_use]
    pub fn new(metres: f64, ohm: f64, words: impl Into<String>) -> Self {
        Self { metres, ohm, words: words.into() }
    }
}

/// The impedance along a cable, or along many, with the band that it should stay in.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct ProfilePicture {
    /// What is shown.
    pub title: String,
    /// Metres against ohm. The first four differ in their line.
    pub curves: Vec<Curve>,
    /// The nominal band in ohm, from and to.
    pub nominal: Option<[f64; 2]>,
    /// The places worth a mark; twelve get a number, in their order.
    pub spots: Vec<Spot>,
}

impl ProfilePicture {
    /// Curves of the impedance, metres against ohm, without a band and without marks.
    #[must_use]
    pub fn new(title: impl Into<String>, curves: Vec<Curve>) -> Self {
        Self { title: title.into(), curves, nominal: None, spots: Vec::new() }
    }

    /// The nominal band in ohm, from and to.
    #[must_use]
    pub fn with_nominal(self, nominal: [f64; 2]) -> Self {
        Self { nominal: Some(nominal), ..self }
    }

    /// One more place worth a mark; twelve get a number, in their order.
    #[must_use]
    pub fn with_spot(mut self, spot: Spot) -> Self {
        self.spots.push(spot);
        self
    }

    /// Lays the picture out.
    #[must_use]
    pub fn scene(&self) -> Scene {
        let band = self.nominal.filter(is_drawable).map(|[a, b]| [a.min(b), a.max(b)]);
        let spots: Vec<&Spot> = self.spots.iter().filter(|spot| is_drawable(&[spot.metres, spot.ohm])).collect();
        let mut all: Vec<[f64; 2]> = drawable(self.curves.iter().map(|curve| curve.points.as_slice())).collect();
        all.extend(spots.iter().map(|spot| [spot.metres, spot.ohm]));
        let x = Axis::around("Distance, m", all.iter().map(|point| point[0]), 0.0);
        let heights = all.iter().map(|point| point[1]).chain(band.into_iter().flatten());
        let y = Axis::around("Impedance, ohm", heights, 0.12);
        let mut chart = Chart::new(&self.title, x, y);
        if let Some([low, high]) = band {
            let (top, bottom) = (chart.place(0.0, high).1, chart.place(0.0, low).1);
            chart.scene.rect(Kind::Frame, "nominal", Bounds { y0: top, y1: bottom, ..PLOT }, 0.0);
            for y in [top, bottom] {
                chart.scene.line("nominal-edge", (PLOT.x0, y), (PLOT.x1, y));
            }
        }
        chart.axes(true);
        let mut lost = Vec::new();
        for (nth, curve) in self.curves.iter().enumerate() {
            let dot = ["dot1", "dot2", "dot3", "dot4"][nth % 4];
            lost.extend(lost_words(&curve.name, chart.curve(&curve.points, CURVES[nth % 4], dot)));
        }
        let marked: Vec<[f64; 2]> = spots.iter().take(MOST_MARKS).map(|spot| [spot.metres, spot.ohm]).collect();
        chart.marks(&marked);
        for (nth, curve) in self.curves.iter().enumerate() {
            chart.key_line(CURVES[nth % 4].class, &curve.name);
        }
        if let Some([low, high]) = band {
            chart.key_field(&["nominal"], &format!("nominal: {} to {} ohm", four_digits(low), four_digits(high)));
        }
        for (nth, spot) in spots.iter().take(MOST_MARKS).enumerate() {
            let outside = band.is_some_and(|[low, high]| !(low..=high).contains(&spot.ohm));
            chart.key_mark(nth + 1, &spot_words(spot), outside);
        }
        if spots.len() > MOST_MARKS {
            chart.note(&format!("Left out: {} further places.", spots.len() - MOST_MARKS));
        }
        lost.extend(lost_words("the places", self.spots.len() - spots.len()));
        for words in lost {
            chart.note(&words);
        }
        chart.finish()
    }
}

fn spot_words(spot: &Spot) -> String {
    let place = format!("{} ohm at {} m", four_digits(spot.ohm), four_digits(spot.metres));
    if spot.words.is_empty() { place } else { format!("{place}: {}", spot.words) }
}
