//! Everything in its place: the first end on the left, the others below each other on the right, the conductors between.

use super::contacts::{Block, LANE, Lanes};
use super::diagram::Middle;
use super::header::{ABOVE, above, below};
use super::model::{MOST_TITLE, Picture};
use super::scene::{Scene, Style};
use super::{cells, fit};

const MARGIN: f64 = 28.0;
const LEAST_WIDTH: f64 = 780.0;
const BETWEEN: f64 = 22.0;

/// Lays a picture out. Nothing overlaps, and nothing leaves the frame, whatever the cable and the names are.
#[must_use]
pub fn scene(picture: &Picture) -> Scene {
    let blocks: Vec<Block> = (0..picture.faces.len()).map(|face| Block::new(picture, face)).collect();
    let (left, right) = blocks.split_at(blocks.len().min(1));
    let width_of = |blocks: &[Block]| blocks.iter().map(|block| block.width).fold(0.0, f64::max);
    let height_of = |blocks: &[Block]| blocks.iter().map(|block| block.height + BETWEEN).sum::<f64>();
    let middle = Middle::new(picture, height_of(left).max(height_of(right)));
    let name = fit(&picture.title, MOST_TITLE);
    let content = width_of(left) + width_of(right) + 2.0 * middle.fan + middle.width;
    let title = Style::TITLE.width(cells(&name)) + 320.0;
    let inside = content.max(title).max(LEAST_WIDTH);
    let mut scene = Scene { width: inside + 2.0 * MARGIN, ..Scene::default() };
    let (from, to) = (MARGIN, MARGIN + inside);
    above(&mut scene, picture, from, to, MARGIN);

    let top = MARGIN + ABOVE;
    let tallest = height_of(left).max(height_of(right)).max(middle.height);
    let centre = |height: f64| top + (tallest - height) / 2.0;
    let start = from + (inside - content) / 2.0;
    let mut lanes: Lanes = vec![(0.0, 0.0); picture.contacts.len()];
    let mut y = centre(height_of(left));
    for block in left {
        block.draw(&mut scene, picture, start, y, &mut lanes);
        y += block.height + BETWEEN;
    }
    let middle_x = start + width_of(left) + middle.fan;
    let right_x = middle_x + middle.width + middle.fan;
    let mut y = centre(height_of(right));
    for block in right {
        block.draw(&mut scene, picture, right_x, y, &mut lanes);
        y += block.height + BETWEEN;
    }
    middle.draw(&mut scene, picture, middle_x, centre(middle.height), &lanes);

    let overhang = blocks.iter().map(Block::overhang).fold(0.0, f64::max);
    let bottom = below(&mut scene, picture, from, to, top + tallest + overhang.max(LANE / 2.0));
    scene.height = bottom + MARGIN / 2.0;
    scene.title = match picture.verdict {
        Some(verdict) => format!("{name}: {}", verdict.word()),
        None => name,
    };
    let findings: Vec<String> = picture.notes.iter().take(16).map(|note| format!("{}: {}", note.word, note.message)).collect();
    scene.description = fit(&format!("{}. {}", picture.cable, findings.join(". ")), 2000);
    scene
}
