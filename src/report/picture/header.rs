//! What stands above and below the diagram: the verdict, the findings, and what the lines and shapes mean.

use crate::finding::Verdict;

use super::diagram::draw_mark;
use super::mark::Mark;
use super::model::{MOST_TITLE, Picture, State};
use super::scene::{Bounds, Kind, Scene, Style};
use super::{cells, fit, wrap};

/// How many findings are quoted, and in how many lines each.
const MOST_NOTES: usize = 16;
const MOST_LINES: usize = 4;

/// The height of what stands above the diagram.
pub(super) const ABOVE: f64 = 78.0;

/// Title, verdict and cable; `from` and `to` are the left and the right edge.
pub(super) fn above(scene: &mut Scene, picture: &Picture, from: f64, to: f64, y: f64) {
    let title = scene.text(Kind::Text, Style::TITLE, from, y + 12.0, &fit(&picture.title, MOST_TITLE));
    let mut x = title.x1 + 18.0;
    let mut badge = |scene: &mut Scene, class: &'static str, style: &'static str, text: &str| {
        let width = Style::HEAD.width(cells(text)) + 20.0;
        let bounds = Bounds { x0: x, y0: y, x1: x + width, y1: y + 24.0 };
        scene.rect(Kind::Frame, class, bounds, 3.0);
        scene.centred(Style::HEAD.class(style), x + width / 2.0, y + 12.0, text);
        x += width + 12.0;
    };
    if let Some(verdict) = picture.verdict {
        let (class, style) = match verdict {
            Verdict::Fails => ("fails", "light"),
            Verdict::Conforms => ("conforms", "strong"),
            Verdict::Inconclusive => ("inconclusive", "strong"),
        };
        badge(scene, class, style, &verdict.word().to_uppercase());
    }
    if picture.is_hazard() {
        badge(scene, "stop", "alarm", "DO NOT CONNECT");
    }
    let cable = fit(&picture.cable, Style::NOTE.cells_in(to - from));
    scene.text(Kind::Text, Style::NOTE, from, y + 42.0, &cable);
    scene.line("rule", (from, y + 58.0), (to, y + 58.0));
}

/// The findings, the key, and how the fields are seen; gives back where it ends.
pub(super) fn below(scene: &mut Scene, picture: &Picture, from: f64, to: f64, mut y: f64) -> f64 {
    scene.line("rule", (from, y), (to, y));
    y += 20.0;
    for (nth, note) in picture.notes.iter().take(MOST_NOTES).enumerate() {
        draw_mark(scene, note.mark, from + 10.0, y, nth + 1);
        let style = Style::NOTE.class(if note.mark == Mark::Doubt { "grey" } else { "bad" });
        let word = scene.text(Kind::Text, style, from + 28.0, y, &note.word);
        let (x, width) = (word.x1 + 12.0, to - word.x1 - 12.0);
        for line in wrap(&note.message, Style::NOTE.cells_in(width), MOST_LINES) {
            scene.text(Kind::Text, Style::NOTE, x, y, &line);
            y += 17.0;
        }
        y += 6.0;
    }
    if picture.notes.len() > MOST_NOTES {
        let text = format!("and {} findings more", picture.notes.len() - MOST_NOTES);
        scene.text(Kind::Text, Style::NOTE, from + 28.0, y, &text);
        y += 23.0;
    }
    y = key(scene, picture, from, to, y + 4.0);
    let mut lines: Vec<String> = Vec::new();
    if picture.faces.iter().any(|face| face.laid_out && face.rows > 0) {
        let mut text =
            "Contact fields: the mating face of a plug with pins (sockets are its mirror image), turned a quarter clockwise, \
                        so that its top row stands on the right."
                .to_owned();
        if picture.faces.iter().any(|face| !face.laid_out) {
            text.push_str(" A single column without a map of the face is in the order of the list.");
        }
        lines.push(text);
    } else {
        lines.push("Contact fields: in the order of the list; the map doesn't say how the contacts lie.".to_owned());
    }
    lines.extend(picture.left_out.clone());
    for text in lines {
        for line in wrap(&text, Style::SMALL.cells_in(to - from), 4) {
            scene.text(Kind::Text, Style::SMALL, from, y, &line);
            y += 14.0;
        }
    }
    y
}

/// What the lines and shapes of this picture mean.
fn key(scene: &mut Scene, picture: &Picture, from: f64, to: f64, mut y: f64) -> f64 {
    let state = |state: State| picture.contacts.iter().any(|contact| contact.state == state);
    let uses = |class: &str| scene.shapes.iter().any(|shape| shape.class == class);
    let lines = [
        ("signal", "conductor"),
        ("ground", "ground, screen"),
        ("supply", "supply"),
        ("missing", "should be here, isn't"),
        ("wrong", "here, shouldn't be"),
        ("pair", "pair"),
        ("screen", "pair in its screen"),
    ];
    let lines: Vec<(&'static str, &str)> = lines.into_iter().filter(|(class, _)| uses(class)).collect();
    let mut x = from;
    let mut next = |scene: &mut Scene, words: &str, draw: &dyn Fn(&mut Scene, f64, f64)| {
        let width = 44.0 + Style::SMALL.width(cells(words)) + 22.0;
        if x > from && x + width > to {
            x = from;
            y += 22.0;
        }
        draw(scene, x, y);
        scene.text(Kind::Text, Style::SMALL, x + 42.0, y, words);
        x += width;
    };
    for (class, words) in lines {
        next(scene, words, &|scene, x, y| match class {
            "pair" | "screen" => scene.rect(Kind::Frame, class, Bounds::around(x + 18.0, y, 34.0, 12.0), 6.0),
            _ => scene.line(class, (x + 2.0, y), (x + 34.0, y)),
        });
    }
    if state(State::Free) {
        next(scene, "no wire, and none wanted", &|scene, x, y| {
            scene.line("free", (x + 10.0, y), (x + 26.0, y));
            scene.line("free", (x + 26.0, y - 5.0), (x + 26.0, y + 5.0));
        });
    }
    for mark in Mark::ALL {
        let Some(first) = picture.notes.iter().position(|note| note.mark == mark) else { continue };
        next(scene, mark.words(), &|scene, x, y| draw_mark(scene, mark, x + 26.0, y, first + 1));
    }
    y + 24.0
}
