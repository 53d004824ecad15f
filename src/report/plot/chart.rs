//! The frame of a plot: title, axes, numbered marks, and the key below.

use plotters::chart::{ChartBuilder, LabelAreaPosition};
use plotters::drawing::{DrawingArea, DrawingAreaErrorKind};
use plotters::series::LineSeries;
use plotters::style::{Color, IntoFont};

use super::axis::Axis;
use super::backend::{SUB, SceneBackend};
use super::curve::stretches;
use super::ink::{AXIS, GRID, Ink, TICK};
use super::picture::{Bounds, Kind, Scene, Step, Style, cells, fit};

/// Where the curves are; a cell of an eye is a whole number of pixels there.
pub(super) const PLOT: Bounds = Bounds { x0: 72.0, y0: 72.0, x1: 760.0, y1: 432.0 };
/// The width of a plot.
const WIDTH: f64 = 800.0;
/// The left and the right edge of what is written.
const EDGES: (f64, f64) = (16.0, 784.0);
/// The height of a row of the key.
const ROW: f64 = 18.0;
/// So many marks get a number and a row; the rest are counted.
pub(super) const MOST_MARKS: usize = 12;

/// Where the number of a mark may stand, from its point.
const SIDES: [(f64, f64); 10] = [
    (0.0, -20.0),
    (0.0, 20.0),
    (20.0, -12.0),
    (-20.0, -12.0),
    (20.0, 12.0),
    (-20.0, 12.0),
    (0.0, -38.0),
    (0.0, 38.0),
    (34.0, -30.0),
    (-34.0, -30.0),
];

/// A plot that is being drawn.
pub(super) struct Chart {
    pub(super) scene: Scene,
    pub(super) x: Axis,
    pub(super) y: Axis,
    /// Where the next row of the key goes.
    row: f64,
}

impl Chart {
    /// A plot with its title and the names of its axes.
    pub(super) fn new(title: &str, x: Axis, y: Axis) -> Self {
        let mut scene = Scene { width: WIDTH, ..Scene::default() };
        scene.title = fit(title, 200);
        let width = EDGES.1 - EDGES.0;
        scene.text(Kind::Text, Style::TITLE, EDGES.0, 24.0, &fit(title, Style::TITLE.cells_in(width)));
        scene.text(Kind::Text, Style::NOTE, EDGES.0, 54.0, &fit(&y.name, Style::NOTE.cells_in(width)));
        let name = fit(&x.name, Style::NOTE.cells_in(width));
        let middle = (PLOT.x0 + PLOT.x1 - Style::NOTE.width(cells(&name))) / 2.0;
        scene.text(Kind::Text, Style::NOTE, middle, PLOT.y1 + 38.0, &name);
        Chart { scene, x, y, row: PLOT.y1 + 66.0 }
    }

    /// Draws the axes, with lines across or without.
    pub(super) fn axes(&mut self, grid: bool) {
        // drawing into memory can't fail
        let _ = self.try_axes(grid);
    }

    fn try_axes(&mut self, grid: bool) -> Drawn {
        let below = 26.0;
        let backend = SceneBackend { scene: &mut self.scene, size: (tenths(WIDTH), tenths(PLOT.y1 + below)) };
        let area: DrawingArea<SceneBackend<'_>, _> = backend.into();
        let mut chart = ChartBuilder::on(&area)
            .margin_top(tenths(PLOT.y0))
            .margin_right(tenths(WIDTH - PLOT.x1))
            .set_label_area_size(LabelAreaPosition::Left, tenths(PLOT.x0))
            .set_label_area_size(LabelAreaPosition::Bottom, tenths(below))
            .build_cartesian_2d(self.x.range(), self.y.range())?;
        let (x, y) = (&self.x, &self.y);
        let (across, up) = (|value: &f64| x.label(*value), |value: &f64| y.label(*value));
        let mut mesh = chart.configure_mesh();
        mesh.x_labels(10)
            .y_labels(8)
            .max_light_lines(0)
            .bold_line_style(GRID.colour.stroke_width(1))
            .axis_style(AXIS.colour.stroke_width(1))
            .label_style(("monospace", 110).into_font().color(&TICK.colour))
            .set_all_tick_mark_size(50)
            .x_label_formatter(&across)
            .y_label_formatter(&up);
        if !grid {
            mesh.disable_mesh();
        }
        mesh.draw()
    }

    /// Where a point lies, in pixels.
    pub(super) fn place(&self, x: f64, y: f64) -> (f64, f64) {
        let (width, height) = (PLOT.x1 - PLOT.x0, PLOT.y1 - PLOT.y0);
        (PLOT.x0 + self.x.share(x) * width, PLOT.y1 - self.y.share(y) * height)
    }

    /// A line of the points that can be drawn, with a dot where one stands alone; gives back how many can't be drawn.
    pub(super) fn curve(&mut self, points: &[[f64; 2]], ink: Ink, dot: &'static str) -> usize {
        let (stretches, lost) = stretches(points);
        let (x, y) = (self.x.clone(), self.y.clone());
        for stretch in stretches {
            if let [point] = stretch[..] {
                let (x, y) = self.place(point[0], point[1]);
                self.scene.rect(Kind::Frame, dot, Bounds::around(x, y, 6.0, 6.0), 3.0);
                continue;
            }
            let line = stretch.into_iter().map(|point| (x.label_value(point[0]), y.label_value(point[1])));
            let _ = self.try_line(LineSeries::new(line, ink.colour));
        }
        lost
    }

    /// Lets plotters draw a line in the frame, without the axes.
    fn try_line(&mut self, line: LineSeries<SceneBackend<'_>, (f64, f64)>) -> Drawn {
        let backend = SceneBackend { scene: &mut self.scene, size: (tenths(WIDTH), tenths(PLOT.y1)) };
        let area: DrawingArea<SceneBackend<'_>, _> = backend.into();
        let mut chart = ChartBuilder::on(&area)
            .margin_top(tenths(PLOT.y0))
            .margin_right(tenths(WIDTH - PLOT.x1))
            .margin_left(tenths(PLOT.x0))
            .build_cartesian_2d(self.x.range(), self.y.range())?;
        chart.draw_series(line).map(|_| ())
    }

    /// A ring around each point, and its number beside it where there is room; they count from 1.
    pub(super) fn marks(&mut self, points: &[[f64; 2]]) {
        let places: Vec<(f64, f64)> = points.iter().map(|point| self.place(point[0], point[1])).collect();
        let mut taken: Vec<Bounds> = places.iter().map(|(x, y)| Bounds::around(*x, *y, 10.0, 10.0)).collect();
        for (x, y) in &places {
            self.scene.rect(Kind::Frame, "spot", Bounds::around(*x, *y, 9.0, 9.0), 4.5);
        }
        for (nth, (x, y)) in places.into_iter().enumerate() {
            let free = SIDES.into_iter().find(|(dx, dy)| {
                let place = Bounds::around(x + dx, y + dy, 16.0, 16.0);
                PLOT.holds(&place) && taken.iter().all(|other| !other.overlaps(&place))
            });
            let Some((dx, dy)) = free else { continue };
            let place = Bounds::around(x + dx, y + dy, 16.0, 16.0);
            let length = dx.hypot(dy);
            let along = |by: f64| (x + dx / length * by, y + dy / length * by);
            self.scene.line("leader", along(4.5), along(length - 8.0));
            self.badge(place, nth + 1);
            taken.push(place);
        }
    }

    fn badge(&mut self, place: Bounds, nth: usize) {
        self.scene.rect(Kind::Mark, "mark", place, 8.0);
        let style = Style::NUMBER.class("light");
        self.scene.centred(style, (place.x0 + place.x1) / 2.0, (place.y0 + place.y1) / 2.0, &nth.to_string());
    }

    /// A row of the key for a line.
    pub(super) fn key_line(&mut self, class: &'static str, text: &str) {
        let y = self.row;
        self.scene.path(Kind::Line, class, vec![Step::Move(EDGES.0, y), Step::Line(EDGES.0 + 40.0, y)]);
        self.words(EDGES.0 + 52.0, Style::NOTE, text);
    }

    /// A row of the key for a field, with all its classes one over the other.
    pub(super) fn key_field(&mut self, classes: &[&'static str], text: &str) {
        let y = self.row;
        for class in classes {
            self.scene.rect(Kind::Frame, class, Bounds { x0: EDGES.0, y0: y - 6.0, x1: EDGES.0 + 40.0, y1: y + 6.0 }, 0.0);
        }
        self.words(EDGES.0 + 52.0, Style::NOTE, text);
    }

    /// A row of the key for many fields side by side.
    pub(super) fn key_fields(&mut self, classes: &[&'static str], text: &str) {
        let y = self.row;
        let mut x = EDGES.0;
        for class in classes {
            self.scene.rect(Kind::Frame, class, Bounds { x0: x, y0: y - 6.0, x1: x + 16.0, y1: y + 6.0 }, 0.0);
            x += 16.0;
        }
        self.words(x + 12.0, Style::NOTE, text);
    }

    /// A row of the key for a mark.
    pub(super) fn key_mark(&mut self, nth: usize, text: &str, bad: bool) {
        self.badge(Bounds::around(EDGES.0 + 20.0, self.row, 16.0, 16.0), nth);
        let style = if bad { Style::NOTE.class("bad") } else { Style::NOTE };
        self.words(EDGES.0 + 52.0, style, text);
    }

    /// A row of words alone.
    pub(super) fn note(&mut self, text: &str) {
        self.words(EDGES.0, Style::NOTE.class("small"), text);
    }

    fn words(&mut self, x: f64, style: Style, text: &str) {
        let text = fit(text, style.cells_in(EDGES.1 - x));
        if !self.scene.description.is_empty() {
            self.scene.description.push_str("; ");
        }
        self.scene.description.push_str(text.trim_end_matches('.'));
        self.scene.text(Kind::Text, style, x, self.row, &text);
        self.row += ROW;
    }

    /// The finished plot.
    pub(super) fn finish(mut self) -> Scene {
        self.scene.height = self.row + 4.0;
        self.scene
    }
}

/// What drawing gives back.
type Drawn = Result<(), DrawingAreaErrorKind<std::convert::Infallible>>;

/// A length in tenths of a pixel; no length of the frame is below zero.
fn tenths(pixels: f64) -> u32 {
    (pixels * SUB).round() as u32
}
