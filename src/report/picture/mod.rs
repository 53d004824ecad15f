//! Pictures of a unit: its contact fields, its conductors between them, its faults marked.
//!
//! A report with its [`Wiring`](crate::verify::Wiring) becomes a [`Picture`], which knows what is to be seen but not where;
//! [`scene`] lays it out as shapes, [`svg`] writes these, and [`terminal`] draws the same picture in characters.

mod contacts;
mod diagram;
mod header;
mod layout;
mod mark;
mod model;
mod order;
mod routes;
mod scene;
mod svg;
mod terminal;

pub use layout::scene;
pub use mark::Mark;
pub use model::{Contact, Face, Note, Part, Picture, State};
pub use routes::{Bridge, Group, Leg, Line, Track};
pub use scene::{Bounds, Form, Kind, Scene, Shape, Step};
#[cfg(feature = "signal")]
pub(super) use scene::{Style, number};
pub use svg::svg;
pub(super) use svg::{STYLES, styled};
pub use terminal::terminal;

use unicode_width::{UnicodeWidthChar, UnicodeWidthStr};

use crate::text::visible;

/// The width of a text, in cells of a terminal or of a typewriter face.
pub(super) fn cells(text: &str) -> usize {
    text.width()
}

/// A text of a netlist or of a map, made safe to show, on one line and at most so many cells wide.
pub(super) fn fit(text: &str, most: usize) -> String {
    let clean = visible(text);
    if cells(&clean) <= most {
        return clean.into_owned();
    }
    let mut out = String::new();
    let mut left = most.saturating_sub(1);
    for c in clean.chars() {
        let width = c.width().unwrap_or(0);
        if width > left {
            break;
        }
        left -= width;
        out.push(c);
    }
    out.push('…');
    out
}

/// A text in lines of at most so many cells, and at most so many lines.
fn wrap(text: &str, width: usize, most: usize) -> Vec<String> {
    let clean = visible(text);
    let mut lines: Vec<String> = textwrap::wrap(&clean, width.max(8)).into_iter().map(|line| line.into_owned()).collect();
    if lines.len() > most {
        lines.truncate(most);
        if let Some(last) = lines.last_mut() {
            *last = fit(&format!("{last} …"), width.max(8));
            if !last.ends_with('…') {
                last.push('…');
            }
        }
    }
    lines
}
