//! The contact fields: each end as its mating face shows it, turned a quarter clockwise, so that every contact has a lane of
//! its own towards the middle.

use crate::pinmap::Role;

use super::diagram::{MARK, draw_mark};
use super::model::{Picture, State};
use super::routes::Line;
use super::scene::{Bounds, Kind, Scene, Step, Style, number};
use super::{cells, fit, wrap};

/// From the lane of a contact to the next.
pub(super) const LANE: f64 = 20.0;
/// The height of a contact.
const CONTACT: f64 = 15.0;
/// Between two rows of the face.
const ROW_GAP: f64 = 10.0;
const PAD: f64 = 10.0;
/// What stands above a field: the end, and the connector in two lines.
const HEAD: f64 = 50.0;
/// Between two brackets of parts.
const BRACKET: f64 = 13.0;
/// From the words of one part to those of the next.
const WORDS: f64 = 20.0;
const MOST_SIGNAL: usize = 22;

/// One end, measured but not yet placed.
pub(super) struct Block {
    face: usize,
    left: bool,
    pins: usize,
    row: f64,
    field: f64,
    labels: f64,
    parts: Vec<Bracket>,
    connector: Vec<String>,
    /// The whole width.
    pub width: f64,
    /// The whole height.
    pub height: f64,
}

/// A part with its place beside the field.
struct Bracket {
    part: usize,
    column: usize,
    words: String,
    /// The finding that concerns it, and its word.
    note: Option<(usize, String)>,
}

impl Bracket {
    fn width(&self) -> f64 {
        let note = self.note.as_ref().map(|(_, word)| MARK + 14.0 + Style::LABEL.width(cells(word)));
        Style::LABEL.width(cells(&self.words)) + note.unwrap_or(0.0)
    }
}

/// Where a contact's lane meets the middle, for each contact of the picture.
pub(super) type Lanes = Vec<(f64, f64)>;

impl Block {
    /// Measures an end.
    pub(super) fn new(picture: &Picture, face: usize) -> Block {
        let of = &picture.faces[face];
        let in_rows = of.contacts.iter().filter(|at| picture.contacts[**at].row.is_some());
        let pins = in_rows.map(|at| cells(&picture.contacts[*at].number())).max().unwrap_or(1).max(2);
        let labels = of.contacts.iter().map(|at| cells(&label(picture, *at))).max().unwrap_or(0);
        let row = Style::NUMBER.width(pins) + 8.0;
        let rows = number(of.rows);
        let field = rows * row + (rows - 1.0) * ROW_GAP + 2.0 * PAD;
        let labels = Style::LABEL.width(labels) + 26.0;
        let parts = brackets(picture, face);
        let columns = parts.iter().map(|bracket| bracket.column + 1).max().unwrap_or(0);
        let words = parts.iter().map(Bracket::width).fold(0.0, f64::max);
        let parts_width = if columns > 0 { number(columns) * BRACKET + words + 24.0 } else { 0.0 };
        let width = (parts_width + field + labels).max(230.0);
        let height = HEAD + 2.0 * PAD + number(of.contacts.len()) * LANE + 8.0;
        let connector = wrap(&of.connector, Style::SMALL.cells_in(width), 2);
        Block { face, left: face == 0, pins, row, field, labels, parts, connector, width, height }
    }

    /// Draws the end with its left upper corner at a point, and notes where each lane meets the middle.
    pub(super) fn draw(&self, scene: &mut Scene, picture: &Picture, x: f64, y: f64, lanes: &mut Lanes) {
        let face = &picture.faces[self.face];
        let inner = if self.left { x + self.width } else { x };
        let field_x0 = if self.left { inner - self.labels - self.field } else { inner + self.labels };
        let name = fit(&face.name, Style::HEAD.cells_in(self.width));
        scene.text(Kind::Text, Style::HEAD, x, y + 8.0, &name);
        for (nth, line) in self.connector.iter().enumerate() {
            let down = if nth == 0 { 24.0 } else { 37.0 };
            scene.text(Kind::Text, Style::SMALL, x, y + down, line);
        }
        let top = y + HEAD;
        let laid = face.contacts.iter().filter(|at| picture.contacts[**at].row.is_some()).count();
        let lane = |nth: usize| top + PAD + (number(nth) + 0.5) * LANE;
        let bottom = lane(laid) - LANE / 2.0 + PAD;
        let field = Bounds { x0: field_x0, y0: top, x1: field_x0 + self.field, y1: bottom };
        if laid > 0 {
            scene.rect(Kind::Frame, "field", field, if face.rows > 1 { 12.0 } else { 6.0 });
        }
        let places: Vec<(usize, f64, f64)> = (0..)
            .zip(&face.contacts)
            .map(|(nth, at)| match picture.contacts[*at].row {
                Some(row) => {
                    let from_right = number(row);
                    (*at, field.x1 - PAD - self.row / 2.0 - from_right * (self.row + ROW_GAP), lane(nth))
                }
                None => (*at, (field.x0 + field.x1) / 2.0, lane(nth) + if laid > 0 { PAD + 8.0 } else { 0.0 }),
            })
            .collect();
        for (at, cx, cy) in &places {
            lanes[*at] = (inner, *cy);
            if picture.contacts[*at].row.is_none() && laid > 0 {
                let edge = if picture.contacts[*at].role == Role::Shell { bottom } else { *cy };
                scene.line("brace", (*cx, edge), (*cx, *cy));
            }
            self.lead(scene, picture, *at, (*cx, *cy), inner, &field);
        }
        self.brackets(scene, picture, &places, &field);
        for (at, cx, cy) in places {
            self.contact(scene, picture, at, cx, cy);
        }
    }

    /// The way from a contact out of the field, past its signal, to the middle.
    fn lead(&self, scene: &mut Scene, picture: &Picture, at: usize, (cx, cy): (f64, f64), inner: f64, field: &Bounds) {
        let text = label(picture, at);
        let width = Style::LABEL.width(cells(&text));
        let (text_x, near, far) = if self.left {
            (field.x1 + 8.0, field.x1 + 8.0 - 4.0, field.x1 + 8.0 + width + 4.0)
        } else {
            (field.x0 - 8.0 - width, field.x0 - 8.0 + 4.0, field.x0 - 8.0 - width - 4.0)
        };
        let contact = &picture.contacts[at];
        let (class, style) = match contact.state {
            State::Sound => (line_class(Line::Sound, contact.role), Style::LABEL),
            State::Wrong => ("wrong", Style::LABEL.class("strong")),
            State::Missing => ("missing", Style::LABEL),
            State::Free | State::NotProbed => ("free", Style::LABEL.class("grey")),
        };
        scene.line(class, (cx, cy), (near, cy));
        scene.text(Kind::Text, style, text_x, cy, &text);
        if contact.state == State::Free {
            // no wire: the lead ends at a bar
            let x = if self.left { far + 2.0 } else { far - 2.0 };
            scene.line("free", (x, cy - 5.0), (x, cy + 5.0));
        } else if contact.state != State::NotProbed {
            scene.line(class, (far, cy), (inner, cy));
        }
    }

    fn contact(&self, scene: &mut Scene, picture: &Picture, at: usize, cx: f64, cy: f64) {
        let contact = &picture.contacts[at];
        let number = contact.number();
        let width = if contact.row.is_some() { self.row } else { Style::NUMBER.width(cells(&number).max(self.pins)) + 8.0 };
        let class = match (contact.state, contact.role) {
            (State::Wrong, _) => "contact-wrong",
            (State::Missing, _) => "contact-missing",
            (State::NotProbed, _) => "contact-unknown",
            (State::Free, _) if contact.marked => "contact-wrong",
            (State::Free, _) => "contact-free",
            (State::Sound, Role::Supply) => "contact-supply",
            (State::Sound, Role::Ground | Role::Return | Role::Drain | Role::Shell | Role::Earth) => "contact-ground",
            (State::Sound, _) => "contact",
        };
        let radius = if contact.role == Role::Shell { 2.0 } else { CONTACT / 2.0 };
        scene.rect(Kind::Contact, class, Bounds::around(cx, cy, width, CONTACT), radius);
        scene.centred(Style::NUMBER, cx, cy, &number);
    }

    /// The parts of this plug, as brackets on the outer side of the field.
    fn brackets(&self, scene: &mut Scene, picture: &Picture, places: &[(usize, f64, f64)], field: &Bounds) {
        let place = |contact: usize| places.iter().find(|(at, ..)| *at == contact).map(|(_, x, y)| (*x, *y));
        let outward = if self.left { -1.0 } else { 1.0 };
        let edge = if self.left { field.x0 } else { field.x1 };
        let columns = self.parts.iter().map(|bracket| bracket.column + 1).max().unwrap_or(0);
        let at_column = |column: usize| edge + outward * (8.0 + BRACKET * number(column));
        let text_edge = at_column(columns) + outward * 4.0;
        let mut taken: Vec<f64> = Vec::new();
        for bracket in &self.parts {
            let part = &picture.parts[bracket.part];
            let [Some(a), Some(b)] = part.contacts.map(place) else { continue };
            let x = at_column(bracket.column);
            let class = if part.missing { "missing" } else { "brace" };
            for (cx, cy) in [a, b] {
                scene.line(class, (cx, cy), (x, cy));
            }
            scene.line(class, (x, a.1), (x, b.1));
            let middle = (a.1 + b.1) / 2.0;
            let body = Bounds::around(x, middle, 8.0, (a.1 - b.1).abs().min(26.0) * 0.6);
            scene.rect(Kind::Frame, if part.missing { "part-missing" } else { "part" }, body, 1.5);
            // the words at the same height, or at the next free one
            let mut y = middle;
            while taken.iter().any(|other| (other - y).abs() < WORDS) {
                y += WORDS;
            }
            taken.push(y);
            let text_x = if self.left { text_edge - bracket.width() } else { text_edge };
            scene.line("free", (x + outward * 5.0, middle), (text_edge - outward * 2.0, y));
            let words = scene.text(Kind::Text, Style::LABEL, text_x, y, &bracket.words);
            if let Some((note, word)) = &bracket.note {
                draw_mark(scene, picture.notes[*note].mark, words.x1 + 8.0 + MARK / 2.0, y, note + 1);
                scene.text(Kind::Text, Style::LABEL.class("bad"), words.x1 + MARK + 14.0, y, word);
            }
        }
    }

    /// The lowest that words of parts may reach below the field: they are put one below the other.
    pub(super) fn overhang(&self) -> f64 {
        number(self.parts.len()) * WORDS
    }
}

/// The class of a conductor's line.
pub(super) fn line_class(line: Line, role: Role) -> &'static str {
    match (line, role) {
        (Line::Missing, _) => "missing",
        (Line::Wrong, _) => "wrong",
        (Line::Sound, Role::Supply) => "supply",
        (Line::Sound, Role::Ground | Role::Return | Role::Drain | Role::Shell | Role::Earth) => "ground",
        (Line::Sound, _) => "signal",
    }
}

/// What stands beside a contact.
fn label(picture: &Picture, contact: usize) -> String {
    let contact = &picture.contacts[contact];
    let more = if contact.state == State::NotProbed { ", not probed" } else { "" };
    format!("{}{more}", fit(&contact.signal, MOST_SIGNAL))
}

/// How many parts a field shows at most.
const MOST_PARTS: usize = 12;

fn brackets(picture: &Picture, face: usize) -> Vec<Bracket> {
    let here = |contacts: [usize; 2]| contacts.iter().all(|contact| picture.contacts[*contact].end == face);
    let mut found: Vec<usize> = (0..picture.parts.len()).filter(|at| here(picture.parts[*at].contacts)).collect();
    found.sort_by_key(|at| picture.parts[*at].notes.is_empty());
    let left_out = found.len().saturating_sub(MOST_PARTS);
    found.truncate(MOST_PARTS);
    let mut list: Vec<Bracket> = found
        .into_iter()
        .enumerate()
        .map(|(column, part)| {
            let of = &picture.parts[part];
            let note = of.notes.first().map(|note| (*note, picture.notes[*note].word.clone()));
            let missing = if of.missing && note.is_none() { " (not found)" } else { "" };
            Bracket { part, column, words: format!("{}{missing}", fit(&of.words, 26)), note }
        })
        .collect();
    if let Some(last) = list.last_mut().filter(|_| left_out > 0) {
        last.words.push_str(&format!(" + {left_out} more"));
    }
    list
}

/// A cross-bar, an arrow head or another small outline.
pub(super) fn outline(points: &[(f64, f64)]) -> Vec<Step> {
    let mut steps: Vec<Step> = Vec::with_capacity(points.len() + 1);
    for (nth, (x, y)) in points.iter().enumerate() {
        steps.push(if nth == 0 { Step::Move(*x, *y) } else { Step::Line(*x, *y) });
    }
    steps.push(Step::Close);
    steps
}
