//! A netlist as it was read.
//!
//! Facts, points and figures lie in one table each for the whole file, and refer to each other by number, so that
//! reading a line allocates nothing of its own.

use std::ops::Range;
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span};
use crate::units::Quantity;

use super::settings::Settings;

/// A file, or a part of one, as it was read.
#[derive(Debug)]
#[non_exhaustive]
pub struct Netlist {
    /// The text that every span lies in.
    pub source: Arc<Source>,
    /// The header lines above the first unit, or those that were given with a table.
    pub head: Settings,
    /// The text that the spans of the header lines lie in; another one where they were given apart.
    pub head_source: Arc<Source>,
    /// The units in their order; one without a name where the file has facts but no `unit` line.
    pub units: Vec<Unit>,
    /// Every fact of every unit.
    pub facts: Vec<Fact>,
    /// Every point of every fact.
    pub points: Vec<Point>,
    /// Every figure of every fact.
    pub figures: Vec<Figure>,
    /// What could not be read, or contradicts itself.
    pub problems: Vec<Problem>,
    /// True where an unreadable line stands above the first unit, so that it touches every unit.
    pub head_broken: bool,
}

/// One cable assembly of the netlist.
#[derive(Debug)]
#[non_exhaustive]
pub struct Unit {
    /// The name, without quotation marks; none where the file holds one unnamed unit.
    pub name: Option<Span>,
    /// Which test of this unit it is: 1, or what `attempt` on the `unit` line says.
    pub attempt: u8,
    /// The `unit` line, or the first fact of an unnamed unit.
    pub line: Span,
    /// Header lines inside the unit, if there are any.
    pub settings: Option<Box<Settings>>,
    /// Its facts, as indices into [`Netlist::facts`].
    pub facts: Range<u32>,
    /// True where a line of the unit could not be read.
    pub broken: bool,
}

/// A point: END`.`PIN.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Point {
    /// The whole point.
    pub span: Span,
    /// How many bytes the end takes, before the dot.
    pub end_len: u32,
}

/// Points of one fact, as indices into [`Netlist::points`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_structs, reason = "a plain pair of places")]
pub struct PointRange {
    /// The first one.
    pub first: u32,
    /// How many.
    pub count: u32,
}

/// A figure, by its index into [`Netlist::figures`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_structs, reason = "an index with a type")]
pub struct FigureId(pub u32);

/// A figure as it was written.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Figure {
    /// The bytes from the bound to the end of the tolerance.
    pub span: Span,
    /// What they say.
    pub quantity: Quantity,
}

/// One line that states a fact.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Fact {
    /// From the first word to the last, without the comment.
    pub span: Span,
    /// What it states.
    pub kind: FactKind,
}

/// What a fact states.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum FactKind {
    /// The points are one net; with two points there may be a resistance between them, in ohm.
    Join {
        /// Two points or more.
        points: PointRange,
        /// The resistance between two points.
        figure: Option<FigureId>,
    },
    /// Each of the points touches nothing else.
    Open {
        /// One point or more.
        points: PointRange,
    },
    /// The two points are not joined.
    Apart {
        /// Two points.
        points: PointRange,
    },
    /// The insulation between two points, in ohm.
    Isolation {
        /// Two points.
        points: PointRange,
        /// The figure.
        figure: FigureId,
    },
    /// A part inside a plug; a diode's anode comes first.
    Component {
        /// Which kind of part.
        kind: ComponentKind,
        /// Two points.
        points: PointRange,
        /// Its value in ohm or farad; a diode has none.
        figure: Option<FigureId>,
    },
    /// Two conductors twisted together, with the point where their screen's drain lands.
    Pair {
        /// Two points, and the screen's point as a third where one is named.
        points: PointRange,
    },
    /// One wire, known by its colour or number at both ends.
    Conductor {
        /// The colour or number, without quotation marks.
        label: Span,
        /// Two points.
        points: PointRange,
        /// Its size, where that isn't the header's.
        gauge: Option<FigureId>,
    },
    /// From one point to everything else tied together, the far end open, in farad.
    Capacitance {
        /// One point.
        points: PointRange,
        /// The figure.
        figure: FigureId,
    },
    /// A Touchstone file; its ports 1 to 4 in this order of points.
    SParameters {
        /// Four points.
        points: PointRange,
        /// The path, without quotation marks.
        path: Span,
    },
}

/// A kind of part inside a plug.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum ComponentKind {
    /// A resistor, in ohm.
    Resistor,
    /// A capacitor, in farad.
    Capacitor,
    /// A diode, anode first.
    Diode,
}

impl ComponentKind {
    /// The word for it, as the language writes it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            ComponentKind::Resistor => "resistor",
            ComponentKind::Capacitor => "capacitor",
            ComponentKind::Diode => "diode",
        }
    }
}

impl FactKind {
    /// The points that the fact names.
    #[must_use]
    pub fn points(mut self) -> PointRange {
        *self.points_mut()
    }

    /// The same with its points at another place of [`Netlist::points`].
    pub(super) fn with_points_at(mut self, first: u32) -> Self {
        self.points_mut().first = first;
        self
    }

    fn points_mut(&mut self) -> &mut PointRange {
        match self {
            FactKind::Join { points, .. }
            | FactKind::Open { points }
            | FactKind::Apart { points }
            | FactKind::Isolation { points, .. }
            | FactKind::Component { points, .. }
            | FactKind::Pair { points }
            | FactKind::Conductor { points, .. }
            | FactKind::Capacitance { points, .. }
            | FactKind::SParameters { points, .. } => points,
        }
    }
}

impl Netlist {
    /// A netlist that says nothing yet.
    pub(super) fn empty(source: &Arc<Source>) -> Self {
        Netlist {
            source: Arc::clone(source),
            head: Settings::default(),
            head_source: Arc::clone(source),
            units: Vec::new(),
            facts: Vec::new(),
            points: Vec::new(),
            figures: Vec::new(),
            problems: Vec::new(),
            head_broken: false,
        }
    }

    /// The points of a range.
    #[must_use]
    pub fn points_of(&self, range: PointRange) -> &[Point] {
        let first = range.first as usize;
        self.points.get(first..first + range.count as usize).unwrap_or_default()
    }

    /// The facts of a unit.
    #[must_use]
    pub fn facts_of(&self, unit: &Unit) -> &[Fact] {
        self.facts.get(unit.facts.start as usize..unit.facts.end as usize).unwrap_or_default()
    }

    /// A figure by its number.
    #[must_use]
    pub fn figure(&self, id: FigureId) -> Option<&Figure> {
        self.figures.get(id.0 as usize)
    }

    /// The name of a unit.
    #[must_use]
    pub fn name_of(&self, unit: &Unit) -> Option<&str> {
        unit.name.map(|span| self.source.slice(span))
    }
}

impl Point {
    /// The whole point as text.
    #[must_use]
    pub fn text(self, source: &Source) -> &str {
        source.slice(self.span)
    }

    /// The end, before the dot.
    #[must_use]
    pub fn end(self, source: &Source) -> &str {
        self.text(source).get(..self.end_len as usize).unwrap_or_default()
    }

    /// The pin, after the dot.
    #[must_use]
    pub fn pin(self, source: &Source) -> &str {
        self.text(source).get(self.end_len as usize + 1..).unwrap_or_default()
    }
}
