//! The middle: a track for each conductor, pairs in their screens, fans from the contact fields to the tracks.

use crate::pinmap::Role;

use super::contacts::{Lanes, line_class, outline};
use super::mark::Mark;
use super::model::Picture;
use super::routes::{Group, Line, Track};
use super::scene::{Bounds, Kind, Scene, Step, Style, number};
use super::{cells, fit};

/// From a track to the next of its group.
const TRACK: f64 = 22.0;
/// Between two groups.
const APART: f64 = 12.0;
/// From the overall screen to what it holds.
const SCREEN: f64 = 22.0;
/// How far the overall screen stands out on either side.
const OUT: f64 = 12.0;
/// Between two bridges.
const BRIDGE: f64 = 14.0;
pub(super) const MARK: f64 = 17.0;
const MOST_SIGNAL: usize = 26;
const MOST_FLAGS: usize = 3;

/// The middle, measured but not yet placed.
pub(super) struct Middle {
    labels: f64,
    flags: f64,
    bridges: Vec<(usize, usize)>,
    /// The width of each fan.
    pub fan: f64,
    /// The width between the fans.
    pub width: f64,
    /// The height.
    pub height: f64,
}

impl Middle {
    /// Measures the middle; `lanes` is the height of the higher side.
    pub(super) fn new(picture: &Picture, lanes: f64) -> Middle {
        let longest = |words: &dyn Fn(&Track) -> f64| picture.tracks.iter().map(words).fold(0.0, f64::max);
        let labels = longest(&|track| Style::LABEL.width(cells(&label(track))));
        let flags = longest(&|track| flags_width(picture, track));
        let bridges = columns(picture);
        let bridge_columns = bridges.iter().map(|(_, column)| column + 1).max().unwrap_or(0);
        let bridge_width = number(bridge_columns) * BRIDGE;
        let width = 24.0 + labels + 18.0 + flags + bridge_width + 30.0;
        let height = heights(picture, 0.0).1;
        // the further lanes and tracks lie apart, the wider the fan, so that no curve gets steep
        let fan = (70.0 + 0.28 * lanes.max(height)).clamp(110.0, 420.0);
        Middle { labels, flags, bridges, fan, width, height }
    }

    /// Draws the middle with its left upper corner at a point; `lanes` says where the contacts' lanes end.
    pub(super) fn draw(&self, scene: &mut Scene, picture: &Picture, x: f64, y: f64, lanes: &Lanes) {
        let (tracks, _) = heights(picture, y);
        let x1 = x + self.width;
        // the overall screen is a frame around the tracks, and its own track the lower edge of that
        let edge = |track: &Track, left: bool| {
            let out = if track.is_screen { OUT } else { 0.0 };
            if left { x - out } else { x1 + out }
        };
        self.screens(scene, picture, x, x1, &tracks);
        // what is sound first, so that faults lie over it
        for pass in [Line::Sound, Line::Wrong, Line::Missing] {
            for (track, ty) in picture.tracks.iter().zip(&tracks) {
                for leg in track.legs.iter().filter(|leg| leg.line == pass) {
                    let from = lanes[leg.contact];
                    let to = (edge(track, picture.is_left(leg.contact)), *ty);
                    scene.curve(line_class(leg.line, track.role), from, to);
                }
                self.stretch(scene, picture, track, pass, (x, x1, *ty));
            }
        }
        for (track, ty) in picture.tracks.iter().zip(&tracks) {
            for (left, at) in [true, false].map(|left| (left, edge(track, left))) {
                let joined = track.legs.iter().filter(|leg| picture.is_left(leg.contact) == left && leg.line != Line::Missing);
                if joined.count() > 1 {
                    scene.path(Kind::Line, "node", diamond(at, *ty, 3.0));
                }
            }
        }
        self.bridge(scene, picture, x, &tracks);
        for (track, ty) in picture.tracks.iter().zip(&tracks) {
            let style = match track.middle {
                Some(Line::Wrong) => Style::LABEL.class("strong"),
                Some(Line::Missing) => Style::LABEL.class("lost"),
                _ => Style::LABEL,
            };
            scene.plated(style, x + 24.0, *ty, &label(track));
            self.flags(scene, picture, track, x + 24.0 + self.labels + 18.0, *ty);
        }
    }

    /// The stretch of a track between the fans, or from one fan to its name.
    fn stretch(&self, scene: &mut Scene, picture: &Picture, track: &Track, pass: Line, (x, x1, y): (f64, f64, f64)) {
        let class = |line| line_class(line, track.role);
        match track.middle {
            Some(line) if line == pass && !(track.is_screen && line != Line::Wrong) => {
                scene.line(class(line), (x, y), (x1, y));
            }
            None => {
                let strongest = track.legs.iter().map(|leg| leg.line).max().unwrap_or(Line::Sound);
                if strongest == pass {
                    let left = track.legs.first().is_none_or(|leg| picture.is_left(leg.contact));
                    let ends = if left { (x, x + 30.0) } else { (x + 30.0, x1) };
                    scene.line(class(strongest), (ends.0, y), (ends.1, y));
                }
            }
            Some(_) => {}
        }
    }

    /// The outlines of pairs, of their screens, and of the overall screen.
    fn screens(&self, scene: &mut Scene, picture: &Picture, x: f64, x1: f64, tracks: &[f64]) {
        for (class, track, y) in overall(picture, tracks) {
            let top = tracks.iter().copied().fold(f64::MAX, f64::min) - SCREEN;
            let corners = [(x - OUT, y), (x - OUT, top), (x1 + OUT, top), (x1 + OUT, y)];
            if picture.tracks[track].legs.len() > 1 {
                scene.path(Kind::Frame, class, outline(&corners));
            }
        }
        for group in picture.groups.iter().filter(|group| group.is_pair && group.tracks.len() > 1) {
            let ys = || group.tracks.iter().map(|track| tracks[*track]);
            let (top, bottom) = (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max));
            let bounds = Bounds { x0: x + 9.0, y0: top - 12.0, x1: x1 - 9.0, y1: bottom + 12.0 };
            scene.rect(Kind::Frame, if group.screened { "screen" } else { "pair" }, bounds, 11.0);
        }
    }

    /// What joins tracks that are one net.
    fn bridge(&self, scene: &mut Scene, picture: &Picture, x: f64, tracks: &[f64]) {
        let first = x + 24.0 + self.labels + 18.0 + self.flags + 12.0;
        for (bridge, column) in &self.bridges {
            let of = &picture.bridges[*bridge].tracks;
            let at = first + BRIDGE * number(*column);
            let ys = || of.iter().map(|track| tracks[*track]);
            let (top, bottom) = (ys().fold(f64::MAX, f64::min), ys().fold(f64::MIN, f64::max));
            scene.line("wrong", (at, top), (at, bottom));
            for y in ys() {
                scene.path(Kind::Line, "node-wrong", diamond(at, y, 5.0));
            }
        }
    }

    /// The marks of the findings on a track, each with its word.
    fn flags(&self, scene: &mut Scene, picture: &Picture, track: &Track, mut x: f64, y: f64) {
        for note in track.notes.iter().take(MOST_FLAGS) {
            let (mark, word) = (picture.notes[*note].mark, &picture.notes[*note].word);
            let style = Style::LABEL.class(if mark == Mark::Doubt { "grey" } else { "bad" });
            let place = Bounds { x0: x - 3.0, y0: y - 10.0, x1: x + MARK + 5.0, y1: y + 10.0 };
            scene.rect(Kind::Frame, "plate", place, 2.0);
            draw_mark(scene, mark, x + MARK / 2.0, y, note + 1);
            let bounds = scene.plated(style, x + MARK + 6.0, y, word);
            x = bounds.x1 + 10.0;
        }
        if track.notes.len() > MOST_FLAGS {
            scene.plated(Style::LABEL.class("bad"), x, y, &more_flags(track));
        }
    }
}

/// The overall screen: its class, its track, and the height of that.
fn overall<'a>(picture: &'a Picture, tracks: &'a [f64]) -> impl Iterator<Item = (&'static str, usize, f64)> + 'a {
    let screens = picture.tracks.iter().enumerate().filter(|(_, track)| track.is_screen);
    screens.take(1).map(|(at, track)| {
        let whole = track.middle == Some(Line::Sound);
        (if whole { "frame" } else { "frame-missing" }, at, tracks[at])
    })
}

/// Draws the mark of a finding around a point, with its number.
pub(super) fn draw_mark(scene: &mut Scene, mark: Mark, x: f64, y: f64, nth: usize) {
    let bounds = Bounds::around(x, y, MARK, MARK);
    let r = MARK / 2.0;
    let (class, style) = match mark {
        Mark::Danger => ("mark-alarm", "alarm"),
        Mark::Gap => ("mark-open", "bad"),
        Mark::Doubt => ("mark-doubt", "grey"),
        _ => ("mark", "light"),
    };
    let shape = |scene: &mut Scene, points: &[(f64, f64)]| {
        let points: Vec<(f64, f64)> = points.iter().map(|(dx, dy)| (x + r * dx, y + r * dy)).collect();
        scene.path(Kind::Mark, class, outline(&points));
    };
    match mark {
        Mark::Danger => shape(scene, &[(0.0, -1.05), (1.1, 0.95), (-1.1, 0.95)]),
        Mark::Bridge => shape(scene, &[(0.0, -1.1), (1.1, 0.0), (0.0, 1.1), (-1.1, 0.0)]),
        Mark::Place => shape(scene, &[(-1.0, -0.85), (0.4, -0.85), (1.15, 0.0), (0.4, 0.85), (-1.0, 0.85)]),
        Mark::Figure => shape(scene, &[(-0.55, -0.95), (0.55, -0.95), (1.1, 0.0), (0.55, 0.95), (-0.55, 0.95), (-1.1, 0.0)]),
        Mark::Part => scene.rect(Kind::Mark, class, bounds, 1.5),
        Mark::Gap | Mark::Doubt => scene.rect(Kind::Mark, class, bounds, r),
    }
    let size = if nth > 99 { 6.0 } else { 9.0 };
    let down = if mark == Mark::Danger { 2.5 } else { 0.0 };
    let digits = if nth > 999 { "…".to_owned() } else { nth.to_string() };
    scene.centred(Style { class: style, size }, x, y + down, &digits);
}

pub(super) fn diamond(x: f64, y: f64, r: f64) -> Vec<Step> {
    outline(&[(x, y - r), (x + r, y), (x, y + r), (x - r, y)])
}

/// What stands on a track.
fn label(track: &Track) -> String {
    let signal = fit(&track.signal, MOST_SIGNAL);
    if track.more > 0 { format!("{signal}, {} contacts more", track.more) } else { signal }
}

fn more_flags(track: &Track) -> String {
    format!("+ {}", track.notes.len() - MOST_FLAGS)
}

fn flags_width(picture: &Picture, track: &Track) -> f64 {
    let flag = |note: &usize| MARK + 6.0 + Style::LABEL.width(cells(&picture.notes[*note].word)) + 10.0;
    let more = if track.notes.len() > MOST_FLAGS { Style::LABEL.width(cells(&more_flags(track))) + 10.0 } else { 0.0 };
    track.notes.iter().take(MOST_FLAGS).map(flag).sum::<f64>() + more
}

/// The height of each track, from the top of the middle; and the height of the whole.
fn heights(picture: &Picture, top: f64) -> (Vec<f64>, f64) {
    let mut at = vec![top; picture.tracks.len()];
    let screened = picture.tracks.iter().any(|track| track.is_screen);
    let mut y = top + if screened { SCREEN } else { 0.0 } + TRACK / 2.0;
    let is_bus = |group: &Group| group.tracks.iter().all(|track| picture.tracks[*track].role != Role::Shell);
    for (nth, group) in picture.groups.iter().enumerate() {
        let last_single = nth > 0 && picture.groups[nth - 1].tracks.len() == 1;
        if nth > 0 && !(last_single && group.tracks.len() == 1 && is_bus(group)) {
            y += APART;
        }
        for track in &group.tracks {
            at[*track] = y;
            y += TRACK;
        }
    }
    (at, y - top - TRACK / 2.0 + 12.0)
}

/// Bridges with the column of each, so that no two lie over each other.
fn columns(picture: &Picture) -> Vec<(usize, usize)> {
    let (tracks, _) = heights(picture, 0.0);
    let mut ends: Vec<f64> = Vec::new();
    let mut list: Vec<(f64, f64, usize)> = picture
        .bridges
        .iter()
        .enumerate()
        .filter_map(|(at, bridge)| {
            let (first, last) = (bridge.tracks.first()?, bridge.tracks.last()?);
            Some((tracks[*first], tracks[*last], at))
        })
        .collect();
    list.sort_by(|a, b| a.0.total_cmp(&b.0));
    list.into_iter()
        .map(|(top, bottom, at)| {
            let column = ends.iter().position(|end| *end + 12.0 < top).unwrap_or(ends.len());
            if column == ends.len() {
                ends.push(bottom);
            } else {
                ends[column] = bottom;
            }
            (at, column)
        })
        .collect()
}
