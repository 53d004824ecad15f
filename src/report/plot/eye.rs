//! The eye as a picture of densities.

use std::ops::Range;

use super::axis::Axis;
use super::chart::{Chart, PLOT};
use super::curve::{Curve, is_drawable, lost_words, outline, stretches};
use super::ink::{COARSE_DENSITIES, CONTOUR, DENSITIES, MASK, MASK_EDGE, SWATCHES};
use super::picture::{Kind, Scene, Step, number};

/// The plot in pixels; its cells are squares of two pixels, or of four where the fine ones would make the document large.
const PIXELS: (usize, usize) = (688, 360);
const FINE: usize = 2;
const COARSE: usize = 4;
/// So many strokes make a document of about 300 kB.
const MOST_STROKES: usize = 18_000;
/// At most so many powers of ten below the peak are shown.
const DECADES: f64 = 16.0;

/// An eye: how likely each amplitude is at each time within a unit interval.
///
/// A mask or a contour that leaves the axes is drawn along their edge.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct EyePicture {
    /// What is shown.
    pub title: String,
    /// How many columns the densities have.
    pub columns: usize,
    /// The densities, row by row from the lowest amplitude, each row from the earliest time. The scale is free; what isn't
    /// finite or positive, or lies below 1e-16 of the largest, counts as nothing.
    pub densities: Vec<f32>,
    /// From when to when, in unit intervals.
    pub times: [f64; 2],
    /// From which amplitude to which.
    pub amplitudes: [f64; 2],
    /// The name of the amplitude with its unit: `Amplitude, share of the launched step`.
    pub amplitude: String,
    /// The corners of the mask, if there is one; unit intervals against amplitude.
    pub mask: Vec<[f64; 2]>,
    /// The contours at an error ratio, each a line; the name says which ratio.
    pub contours: Vec<Curve>,
}

impl EyePicture {
    /// An eye of one unit interval, its amplitude from -1 to 1, with so many columns of densities, row by row from the
    /// lowest amplitude.
    #[must_use]
    pub fn new(title: impl Into<String>, columns: usize, densities: Vec<f32>) -> Self {
        Self {
            title: title.into(),
            columns,
            densities,
            times: [-0.5, 0.5],
            amplitudes: [-1.0, 1.0],
            amplitude: "Amplitude".to_owned(),
            mask: Vec::new(),
            contours: Vec::new(),
        }
    }

    /// From when to when, in unit intervals.
    #[must_use]
    pub fn with_times(self, times: [f64; 2]) -> Self {
        Self { times, ..self }
    }

    /// From which amplitude to which.
    #[must_use]
    pub fn with_amplitudes(self, amplitudes: [f64; 2]) -> Self {
        Self { amplitudes, ..self }
    }

    /// The name of the amplitude with its unit: `Amplitude, share of the launched step`.
    #[must_use]
    pub fn with_amplitude(self, amplitude: impl Into<String>) -> Self {
        Self { amplitude: amplitude.into(), ..self }
    }

    /// The corners of the mask, if there is one; unit intervals against amplitude.
    #[must_use]
    pub fn with_mask(self, mask: Vec<[f64; 2]>) -> Self {
        Self { mask, ..self }
    }

    /// One more contour at an error ratio; its name says which ratio.
    #[must_use]
    pub fn with_contour(mut self, contour: Curve) -> Self {
        self.contours.push(contour);
        self
    }

    /// Lays the picture out.
    #[must_use]
    pub fn scene(&self) -> Scene {
        let mut chart =
            Chart::new(&self.title, Self::axis("Time, unit intervals", self.times), Self::axis(&self.amplitude, self.amplitudes));
        let fine = self.levels(FINE);
        let levels = if fine.strokes() > MOST_STROKES { self.levels(COARSE) } else { fine };
        levels.paint(&mut chart.scene);
        chart.axes(false);
        let (mask, gone) = outline(&self.mask);
        polygon(&mut chart, &mask);
        let mut lost: Vec<String> = lost_words("the mask", gone).into_iter().collect();
        for contour in &self.contours {
            // a light edge keeps the line apart from what is dark beneath it
            for stretch in stretches(&contour.points).0.into_iter().filter(|stretch| stretch.len() > 1) {
                let way = way(&chart, &stretch);
                chart.scene.path(Kind::Frame, "casing-wide", way);
            }
            lost.extend(lost_words(&contour.name, chart.curve(&contour.points, CONTOUR, "mark")));
        }
        match levels.decades {
            Some(decades) => {
                let words =
                    format!("density, from 1e-{:.0} of the peak to the peak; finer steps near it", (decades - 0.01).ceil());
                chart.key_fields(&SWATCHES, &words);
            }
            None => chart.note("No density above zero."),
        }
        if !mask.is_empty() {
            chart.key_field(&[MASK, MASK_EDGE], "mask: nothing may come in here");
        }
        for contour in &self.contours {
            chart.key_line(CONTOUR.class, &contour.name);
        }
        if !is_drawable(&self.times) || !is_drawable(&self.amplitudes) {
            chart.note("The ends of an axis aren't finite figures: its labels mean nothing.");
        }
        let gone = self.densities.iter().filter(|density| !density.is_finite() || **density < 0.0).count();
        if gone > 0 {
            lost.push(format!("Left out: {gone} densities that are negative or not finite."));
        }
        for words in lost {
            chart.note(&words);
        }
        chart.finish()
    }

    fn axis(name: &str, [from, to]: [f64; 2]) -> Axis {
        let known = is_drawable(&[from, to]);
        Axis::around(name, [from.min(to), from.max(to)].into_iter().filter(|_| known), 0.0)
    }

    /// The level of each cell of so many pixels: 0 for nothing, 8 for the most.
    fn levels(&self, size: usize) -> Levels {
        let (across, down) = (PIXELS.0 / size, PIXELS.1 / size);
        let rows = self.densities.len().checked_div(self.columns).unwrap_or(0);
        let columns = if rows > 0 { self.columns } else { 0 };
        let mut cells = Vec::with_capacity(across * down);
        for row in 0..down {
            // the picture grows downwards, the amplitudes upwards
            let rows = sources(if is_falling(self.amplitudes) { row } else { down - 1 - row }, down, rows);
            let column = |column| if is_falling(self.times) { across - 1 - column } else { column };
            cells.extend((0..across).map(|nth| self.largest(rows.clone(), sources(column(nth), across, columns))));
        }
        let peak = cells.iter().copied().fold(0.0, f64::max);
        let floor = peak * 10_f64.powf(-DECADES);
        let is_shown = |density: f64| density > 0.0 && density >= floor;
        let least = cells.iter().copied().filter(|density| is_shown(*density)).fold(f64::INFINITY, f64::min);
        let decades = (peak > 0.0).then(|| (peak / least).log10().clamp(1.0, DECADES));
        let steps = number(DENSITIES.len());
        // most of a sound eye lies near its peak, so the steps are finer there: they go by the root of the decades
        let level = |density: f64| {
            let below = steps * ((peak / density).log10() / decades.unwrap_or(1.0)).sqrt();
            (1..=DENSITIES.len()).rev().find(|level| steps - number(*level) + 1.0 > below).unwrap_or(1)
        };
        let cells = cells.into_iter().map(|density| if is_shown(density) { level(density) } else { 0 }).collect();
        Levels { size, cells, decades }
    }

    /// The largest of the densities that a cell shows.
    fn largest(&self, rows: Range<usize>, columns: Range<usize>) -> f64 {
        let all = rows.flat_map(|row| self.densities.get(row * self.columns + columns.start..row * self.columns + columns.end));
        all.flatten().map(|density| if density.is_finite() { f64::from(*density) } else { 0.0 }).fold(0.0, f64::max)
    }
}

/// Whether a span runs backwards.
fn is_falling([from, to]: [f64; 2]) -> bool {
    from > to
}

/// The levels of the cells, row by row from the top.
struct Levels {
    /// The pixels of a cell.
    size: usize,
    cells: Vec<usize>,
    /// How many powers of ten the densities span; none where there are none.
    decades: Option<f64>,
}

impl Levels {
    /// How many strokes draw them.
    fn strokes(&self) -> usize {
        let rows = self.cells.chunks(PIXELS.0 / self.size);
        rows.map(|row| row.chunk_by(|a, b| a == b).filter(|run| run.first() != Some(&0)).count()).sum()
    }

    /// Draws the cells of each level as level strokes.
    fn paint(&self, scene: &mut Scene) {
        let size = number(self.size);
        let mut steps: [Vec<Step>; DENSITIES.len()] = Default::default();
        for (row, line) in self.cells.chunks(PIXELS.0 / self.size).enumerate() {
            let y = PLOT.y0 + (number(row) + 0.5) * size;
            let mut at = 0;
            for run in line.chunk_by(|a, b| a == b) {
                let level = run.first().and_then(|level| level.checked_sub(1));
                if let Some(steps) = level.and_then(|level| steps.get_mut(level)) {
                    steps.push(Step::Move(PLOT.x0 + number(at) * size, y));
                    steps.push(Step::Line(PLOT.x0 + number(at + run.len()) * size, y));
                }
                at += run.len();
            }
        }
        let classes = if self.size == FINE { DENSITIES } else { COARSE_DENSITIES };
        for (class, steps) in classes.into_iter().zip(steps).filter(|(_, steps)| !steps.is_empty()) {
            scene.path(Kind::Frame, class, steps);
        }
    }
}

/// Which of so many sources a cell shows: those that begin in it, or the one that it lies in.
fn sources(cell: usize, cells: usize, sources: usize) -> Range<usize> {
    let from = cell * sources / cells;
    let to = ((cell + 1) * sources / cells).max(from + 1);
    from.min(sources)..to.min(sources)
}

fn way(chart: &Chart, points: &[[f64; 2]]) -> Vec<Step> {
    let places = points.iter().map(|point| chart.place(point[0], point[1]));
    places.enumerate().map(|(nth, (x, y))| if nth == 0 { Step::Move(x, y) } else { Step::Line(x, y) }).collect()
}

fn polygon(chart: &mut Chart, corners: &[[f64; 2]]) {
    if corners.len() < 3 {
        return;
    }
    let mut steps = way(chart, corners);
    steps.push(Step::Close);
    chart.scene.path(Kind::Frame, MASK, steps.clone());
    chart.scene.path(Kind::Frame, MASK_EDGE, steps);
}
