//! Shapes with their places: what a picture is made of, before it is written in a format.

use super::cells;

/// A count as a length; a picture has far fewer of anything than would be lost here.
pub(in super::super) fn number(count: usize) -> f64 {
    u32::try_from(count).map_or(f64::from(u32::MAX), f64::from)
}

/// A rectangle; lengths are in pixels, y grows downwards.
#[derive(Clone, Copy, Debug, PartialEq)]
#[expect(clippy::exhaustive_structs, reason = "a rectangle")]
pub struct Bounds {
    /// Left.
    pub x0: f64,
    /// Top.
    pub y0: f64,
    /// Right.
    pub x1: f64,
    /// Bottom.
    pub y1: f64,
}

impl Bounds {
    /// A rectangle around a centre.
    #[must_use]
    pub fn around(x: f64, y: f64, width: f64, height: f64) -> Self {
        Bounds { x0: x - width / 2.0, y0: y - height / 2.0, x1: x + width / 2.0, y1: y + height / 2.0 }
    }

    /// Whether two rectangles share any area.
    #[must_use]
    pub fn overlaps(&self, other: &Bounds) -> bool {
        self.x0 < other.x1 && other.x0 < self.x1 && self.y0 < other.y1 && other.y0 < self.y1
    }

    /// Whether another rectangle lies inside this one.
    #[must_use]
    pub fn holds(&self, other: &Bounds) -> bool {
        self.x0 <= other.x0 && self.y0 <= other.y0 && self.x1 >= other.x1 && self.y1 >= other.y1
    }

    fn grown(self, by: f64) -> Self {
        Bounds { x0: self.x0 - by, y0: self.y0 - by, x1: self.x1 + by, y1: self.y1 + by }
    }
}

/// What a shape is for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum Kind {
    /// Text that stands free.
    Text,
    /// Text inside a contact, a mark or a plate.
    Inscription,
    /// A contact.
    Contact,
    /// The mark of a finding.
    Mark,
    /// A conductor, or a stretch of one.
    Line,
    /// Outlines and grounds.
    Frame,
}

/// How a text is set. A character is 0.6 times its size wide.
#[derive(Clone, Copy, Debug)]
pub struct Style {
    /// The class that gives it its colour and weight.
    pub class: &'static str,
    /// Its size in pixels.
    pub size: f64,
}

impl Style {
    pub(in super::super) const TITLE: Style = Style { class: "title", size: 20.0 };
    pub(in super::super) const HEAD: Style = Style { class: "head", size: 12.0 };
    pub(in super::super) const LABEL: Style = Style { class: "label", size: 11.0 };
    pub(in super::super) const NUMBER: Style = Style { class: "number", size: 10.0 };
    pub(in super::super) const SMALL: Style = Style { class: "small", size: 10.0 };
    pub(in super::super) const NOTE: Style = Style { class: "note", size: 12.0 };

    pub(in super::super) fn class(self, class: &'static str) -> Style {
        Style { class, ..self }
    }

    /// The width of so many cells.
    pub(in super::super) fn width(self, cells: usize) -> f64 {
        number(cells) * self.size * 0.6
    }

    /// How many cells fit a width.
    pub(in super::super) fn cells_in(self, width: f64) -> usize {
        (0..1000).take_while(|cells| self.width(cells + 1) <= width).count()
    }
}

/// The outline of a shape.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum Form {
    /// A rectangle with rounded corners.
    Rect {
        /// The radius of its corners.
        radius: f64,
    },
    /// A way of points; curves are cubic.
    Path(Vec<Step>),
    /// A text on one line, from its left edge.
    Text {
        /// What it says.
        text: String,
        /// The y of its baseline.
        baseline: f64,
        /// Its size.
        size: f64,
    },
}

/// A step of a path.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub enum Step {
    /// Goes to a point without drawing.
    Move(f64, f64),
    /// Draws a straight line.
    Line(f64, f64),
    /// Draws a curve to the last point, by two points that it bends to.
    Curve([f64; 6]),
    /// Closes the outline.
    Close,
}

/// A shape in its place.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Shape {
    /// What it is for.
    pub kind: Kind,
    /// The class that gives it its colours.
    pub class: &'static str,
    /// The rectangle that it needs.
    pub bounds: Bounds,
    /// Its outline.
    pub form: Form,
}

/// A picture as shapes, in the order in which they are drawn.
#[derive(Clone, Debug, Default)]
#[non_exhaustive]
pub struct Scene {
    /// Width in pixels.
    pub width: f64,
    /// Height in pixels.
    pub height: f64,
    /// What the picture is, for those who can't see it.
    pub title: String,
    /// What it shows, in words.
    pub description: String,
    /// The shapes.
    pub shapes: Vec<Shape>,
}

impl Scene {
    /// A text from its left edge, its middle at `y`; gives back the place that it takes.
    pub(in super::super) fn text(&mut self, kind: Kind, style: Style, x: f64, y: f64, text: &str) -> Bounds {
        let bounds = Bounds { x0: x, y0: y - style.size * 0.55, x1: x + style.width(cells(text)), y1: y + style.size * 0.6 };
        if !text.is_empty() {
            let form = Form::Text { text: text.to_owned(), baseline: y + style.size * 0.35, size: style.size };
            self.shapes.push(Shape { kind, class: style.class, bounds, form });
        }
        bounds
    }

    /// A text around its centre.
    pub(in super::super) fn centred(&mut self, style: Style, x: f64, y: f64, text: &str) {
        self.text(Kind::Inscription, style, x - style.width(cells(text)) / 2.0, y, text);
    }

    /// A text on a plate that hides what runs behind it.
    pub(in super::super) fn plated(&mut self, style: Style, x: f64, y: f64, text: &str) -> Bounds {
        let bounds = Bounds { x0: x, y0: y - style.size * 0.55, x1: x + style.width(cells(text)), y1: y + style.size * 0.6 };
        self.rect(Kind::Frame, "plate", Bounds { x0: bounds.x0 - 4.0, x1: bounds.x1 + 4.0, ..bounds }, 2.0);
        self.text(Kind::Text, style, x, y, text)
    }

    pub(in super::super) fn rect(&mut self, kind: Kind, class: &'static str, bounds: Bounds, radius: f64) {
        self.shapes.push(Shape { kind, class, bounds, form: Form::Rect { radius } });
    }

    /// A straight line.
    pub(in super::super) fn line(&mut self, class: &'static str, from: (f64, f64), to: (f64, f64)) {
        self.path(Kind::Line, class, vec![Step::Move(from.0, from.1), Step::Line(to.0, to.1)]);
    }

    /// A line that leaves and arrives level.
    pub(super) fn curve(&mut self, class: &'static str, from: (f64, f64), to: (f64, f64)) {
        let bend = (to.0 - from.0) * 0.5;
        let steps = vec![Step::Move(from.0, from.1), Step::Curve([from.0 + bend, from.1, to.0 - bend, to.1, to.0, to.1])];
        self.path(Kind::Line, class, steps);
    }

    pub(in super::super) fn path(&mut self, kind: Kind, class: &'static str, steps: Vec<Step>) {
        let mut bounds = Bounds { x0: f64::MAX, y0: f64::MAX, x1: f64::MIN, y1: f64::MIN };
        for step in &steps {
            // a curve stays between the points that it bends to
            let points: &[[f64; 2]] = match *step {
                Step::Move(x, y) | Step::Line(x, y) => &[[x, y]],
                Step::Curve([a, b, c, d, e, f]) => &[[a, b], [c, d], [e, f]],
                Step::Close => &[],
            };
            for [x, y] in points {
                bounds = Bounds { x0: bounds.x0.min(*x), y0: bounds.y0.min(*y), x1: bounds.x1.max(*x), y1: bounds.y1.max(*y) };
            }
        }
        self.shapes.push(Shape { kind, class, bounds: bounds.grown(1.0), form: Form::Path(steps) });
    }
}
