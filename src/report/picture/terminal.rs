//! The picture in characters: the contact fields as they lie, and a line a conductor. Faults show without colour.

use std::fmt::Write as _;

use super::mark::Mark;
use super::model::{Face, MOST_TITLE, Picture, State};
use super::routes::{Group, Line, Track};
use super::{cells, fit, wrap};

/// The widest line.
const WIDTH: usize = 100;
/// The most conductors, those of a finding first.
const MOST_TRACKS: usize = 120;
const MOST_NOTES: usize = 16;
/// The most cells for the contacts of one side.
const MOST_SIDE: usize = 26;
const MOST_SIGNAL: usize = 22;
const STRETCH: usize = 14;

const BAD: &str = "\u{1b}[1;35m";
const ALARM: &str = "\u{1b}[1;7m";
const BOLD: &str = "\u{1b}[1m";
const PLAIN: &str = "\u{1b}[0m";

/// Draws a picture in characters, with or without colour.
#[must_use]
pub fn terminal(picture: &Picture, colour: bool) -> String {
    let mut pen = Pen { out: String::new(), colour };
    pen.head(picture);
    pen.fields(picture);
    pen.tracks(picture);
    pen.alone(picture);
    pen.notes(picture);
    pen.out
}

struct Pen {
    out: String,
    colour: bool,
}

impl Pen {
    fn styled(&self, style: &str, text: &str) -> String {
        if self.colour && !style.is_empty() && !text.is_empty() { format!("{style}{text}{PLAIN}") } else { text.to_owned() }
    }

    fn line(&mut self, text: &str) {
        self.out.push_str(text.trim_end());
        self.out.push('\n');
    }

    fn head(&mut self, picture: &Picture) {
        let verdict = picture.verdict.map(|verdict| format!("  {}", verdict.word())).unwrap_or_default();
        let stop = if picture.is_hazard() { self.styled(ALARM, "DO NOT CONNECT") } else { String::new() };
        let first = format!("{}{verdict}  {stop}", self.styled(BOLD, &fit(&picture.title, MOST_TITLE)));
        self.line(&first);
        self.line(&fit(&picture.cable, WIDTH));
        self.out.push('\n');
    }

    /// The contact fields: side by side where they fit, else one below the other.
    fn fields(&mut self, picture: &Picture) {
        let drawn: Vec<Vec<String>> = picture.faces.iter().map(|face| field(picture, face)).collect();
        let width = |lines: &Vec<String>| lines.iter().map(|line| cells(line)).max().unwrap_or(0);
        if let [a, b] = drawn.as_slice()
            && (width(a) + 2).max(WIDTH / 2 - 4) + width(b) <= WIDTH
        {
            let left = (width(a) + 2).max(WIDTH / 2 - 4);
            for nth in 0..a.len().max(b.len()) {
                let (one, two) = (a.get(nth).map_or("", String::as_str), b.get(nth).map_or("", String::as_str));
                let gap = " ".repeat(left - cells(one));
                self.line(&format!("{one}{gap}{two}"));
            }
        } else {
            for lines in &drawn {
                for text in lines {
                    self.line(text);
                }
            }
        }
        self.out.push('\n');
    }

    fn tracks(&mut self, picture: &Picture) {
        let mut shown: Vec<usize> = (0..picture.tracks.len()).collect();
        shown.sort_by_key(|at| is_sound(&picture.tracks[*at]));
        shown.truncate(MOST_TRACKS);
        let side = |track: &Track, left: bool| ends(picture, track, left);
        let longest = |words: &dyn Fn(&Track) -> usize| shown.iter().map(|at| words(&picture.tracks[*at])).max().unwrap_or(0);
        let widths = [
            longest(&|track| cells(&side(track, true))),
            longest(&|track| cells(&fit(&track.signal, MOST_SIGNAL))),
            longest(&|track| cells(&side(track, false))),
        ];
        for group in &picture.groups {
            for (nth, at) in group.tracks.iter().enumerate().filter(|(_, at)| shown.contains(at)) {
                let track = &picture.tracks[*at];
                let pad = |text: &str, width: usize| format!("{text}{}", " ".repeat(width.saturating_sub(cells(text))));
                let style = if is_sound(track) { "" } else { BAD };
                let stretch = self.styled(style, stretch(track));
                let more = if track.more > 0 { format!("  + {} contacts", track.more) } else { String::new() };
                let text = format!(
                    "{} {}  {} {stretch} {}{more}  {}",
                    bracket(group, nth),
                    self.styled(style, &pad(&side(track, true), widths[0])),
                    pad(&fit(&track.signal, MOST_SIGNAL), widths[1]),
                    self.styled(style, &pad(&side(track, false), widths[2])),
                    self.flags(picture, track),
                );
                self.line(&text);
            }
        }
        if picture.tracks.len() > shown.len() {
            let text = format!("  and {} conductors more", picture.tracks.len() - shown.len());
            self.line(&text);
        }
        for part in &picture.parts {
            let [a, b] = part.contacts.map(|contact| name(picture, contact));
            let lost = if part.missing { " (not found)" } else { "" };
            let flags: Vec<String> = part.notes.iter().map(|note| self.flag(picture, *note)).collect();
            let text = format!("  {a}  {b}  {}{lost}  {}", fit(&part.words, 30), flags.join("  "));
            self.line(&text);
        }
    }

    fn flags(&self, picture: &Picture, track: &Track) -> String {
        let flags: Vec<String> = track.notes.iter().take(3).map(|note| self.flag(picture, *note)).collect();
        flags.join("  ")
    }

    fn flag(&self, picture: &Picture, note: usize) -> String {
        let of = &picture.notes[note];
        let style = match of.mark {
            Mark::Danger => ALARM,
            Mark::Doubt => "",
            _ => BAD,
        };
        self.styled(style, &format!("{}{} {}", of.mark.character(), note + 1, of.word))
    }

    /// Contacts without a wire.
    fn alone(&mut self, picture: &Picture) {
        for (state, words) in [(State::Free, "no wire, and none wanted:"), (State::NotProbed, "not probed:")] {
            let names = picture.contacts.iter().enumerate().filter(|(_, contact)| contact.state == state);
            let names: Vec<String> = names.map(|(at, _)| name(picture, at)).collect();
            if !names.is_empty() {
                for text in wrap(&format!("{words} {}", names.join(" ")), WIDTH - 2, 3) {
                    self.line(&format!("  {text}"));
                }
            }
        }
    }

    fn notes(&mut self, picture: &Picture) {
        let brackets = picture.tracks.iter().any(|track| !track.legs.iter().all(|leg| leg.line == Line::Sound));
        if brackets {
            self.line("  [ ] here, shouldn't be   ( ) should be here, isn't");
        }
        if !picture.notes.is_empty() || picture.left_out.is_some() {
            self.out.push('\n');
        }
        for (nth, note) in picture.notes.iter().take(MOST_NOTES).enumerate() {
            let flag = self.flag(picture, nth);
            for (at, text) in wrap(&note.message, WIDTH - 4, 4).iter().enumerate() {
                if at == 0 {
                    self.line(&flag);
                }
                self.line(&format!("    {text}"));
            }
        }
        if picture.notes.len() > MOST_NOTES {
            let text = format!("and {} findings more", picture.notes.len() - MOST_NOTES);
            self.line(&text);
        }
        if let Some(text) = &picture.left_out {
            for line in wrap(text, WIDTH, 3) {
                self.line(&line);
            }
        }
    }
}

fn is_sound(track: &Track) -> bool {
    track.notes.is_empty() && track.middle != Some(Line::Wrong) && track.legs.iter().all(|leg| leg.line == Line::Sound)
}

fn name(picture: &Picture, contact: usize) -> String {
    let contact = &picture.contacts[contact];
    format!("{}.{}", fit(&picture.faces[contact.end].end, 12), fit(&contact.pin, 12))
}

/// The contacts of a track on one side.
fn ends(picture: &Picture, track: &Track, left: bool) -> String {
    let mut legs: Vec<_> = track.legs.iter().filter(|leg| picture.is_left(leg.contact) == left).collect();
    legs.sort_by_key(|leg| (leg.line == Line::Missing, leg.line));
    let mut text = String::new();
    for (nth, leg) in legs.iter().enumerate() {
        let name = name(picture, leg.contact);
        let name = match leg.line {
            Line::Sound => name,
            Line::Wrong => format!("[{name}]"),
            Line::Missing => format!("({name})"),
        };
        if cells(&text) + cells(&name) + 5 > MOST_SIDE {
            let _ = write!(text, " +{}", legs.len() - nth);
            break;
        }
        let _ = write!(text, "{}{name}", if nth > 0 { " " } else { "" });
    }
    text
}

/// The stretch of a track between its two sides.
fn stretch(track: &Track) -> &'static str {
    let text = match (track.middle, track.is_screen) {
        (Some(Line::Sound), true) => "══════════════",
        (Some(Line::Sound), false) => "──────────────",
        (Some(Line::Wrong), _) => "━━━━━━━━━━━━━━",
        (Some(Line::Missing), _) => "· · · · · · · ",
        (None, _) => "──┤           ",
    };
    debug_assert_eq!(cells(text), STRETCH);
    text
}

/// What holds the lines of a group together.
fn bracket(group: &Group, nth: usize) -> char {
    let last = nth + 1 == group.tracks.len();
    match (group.tracks.len(), group.screened) {
        (1, _) => ' ',
        (_, false) => [['│', '╰'][usize::from(last)], '╭'][usize::from(nth == 0)],
        (_, true) => [['║', '╚'][usize::from(last)], '╔'][usize::from(nth == 0)],
    }
}

/// The contact field of an end, as its mating face shows it.
fn field(picture: &Picture, face: &Face) -> Vec<String> {
    let mut lines = vec![fit(&format!("{}  {}", face.name, face.connector), WIDTH / 2 - 4)];
    let in_rows = face.contacts.iter().filter(|at| picture.contacts[**at].row.is_some());
    let pins = in_rows.map(|at| cells(&picture.contacts[*at].number())).max().unwrap_or(1);
    // even, so that a half column is a whole number of cells
    let cell = (pins + 3) / 2 * 2;
    let cell_of = |at: usize| {
        let contact = &picture.contacts[at];
        let pin = contact.number();
        match contact.state {
            State::Wrong => format!("[{pin}]"),
            State::Missing => format!("({pin})"),
            State::Free if contact.marked => format!("[{pin}]"),
            _ => format!(" {pin} "),
        }
    };
    for row in 0..face.rows {
        let of_row: Vec<usize> = face.contacts.iter().copied().filter(|at| picture.contacts[*at].row == Some(row)).collect();
        let first = face.contacts.iter().filter(|at| picture.contacts[**at].row.is_some());
        let first = first.map(|at| picture.contacts[*at].column).min().unwrap_or(0);
        let widest = of_row.iter().map(|at| (picture.contacts[*at].column - first) * cell / 2 + cell).max().unwrap_or(0);
        if widest > WIDTH - 4 {
            let all: Vec<String> = of_row.iter().map(|at| cell_of(*at)).collect();
            lines.extend(wrap(&all.join(""), WIDTH - 4, 6).into_iter().map(|line| format!("  {}", line.trim_start())));
            continue;
        }
        let mut line = String::from("  ");
        for at in of_row {
            let text = cell_of(at);
            let place = 2 + (picture.contacts[at].column - first) * cell / 2 + (cell - cells(&text).min(cell)) / 2;
            while cells(&line) < place {
                line.push(' ');
            }
            line.push_str(&text);
        }
        lines.push(line);
    }
    let apart: Vec<String> =
        face.contacts.iter().filter(|at| picture.contacts[**at].row.is_none()).map(|at| cell_of(*at)).collect();
    if !apart.is_empty() {
        lines.push(format!("  {}", apart.join(" ")));
    }
    lines
}
