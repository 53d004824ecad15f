//! The classes of a plot. Curves differ in weight and dashes, fields in lightness, so that a copy without colour says the same.

use plotters::style::RGBColor;

use super::picture::{Scene, styled};

/// What a stroke or a field is for. plotters knows colours and our pictures know classes: each ink has one of both.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) struct Ink {
    /// Its class in the SVG document.
    pub(super) class: &'static str,
    /// The colour that stands for it inside plotters; nobody sees it.
    pub(super) colour: RGBColor,
}

const fn ink(class: &'static str, nth: u8) -> Ink {
    Ink { class, colour: RGBColor(nth, 0, 0) }
}

pub(super) const AXIS: Ink = ink("axis", 1);
pub(super) const GRID: Ink = ink("grid", 2);
pub(super) const TICK: Ink = ink("tick", 3);
pub(super) const LIMIT: Ink = ink("limit", 4);
/// Curves in their order; a fifth starts again.
pub(super) const CURVES: [Ink; 4] = [ink("curve1", 5), ink("curve2", 6), ink("curve3", 7), ink("curve4", 8)];
pub(super) const CONTOUR: Ink = ink("contour", 9);

/// The mask of an eye, and its outline.
pub(super) const MASK: &str = "mask";
pub(super) const MASK_EDGE: &str = "mask-edge";

const ALL: [Ink; 9] = [AXIS, GRID, TICK, LIMIT, CURVES[0], CURVES[1], CURVES[2], CURVES[3], CONTOUR];

/// The class behind a colour of plotters.
pub(super) fn class_of(rgb: (u8, u8, u8)) -> &'static str {
    ALL.iter().find(|ink| (ink.colour.0, ink.colour.1, ink.colour.2) == rgb).map_or(AXIS.class, |ink| ink.class)
}

/// The steps of density from rare to frequent: from light grey to ink, each darker than the one before.
pub(super) const DENSITIES: [&str; 8] = ["d1", "d2", "d3", "d4", "d5", "d6", "d7", "d8"];
/// The same in strokes of four pixels instead of two.
pub(super) const COARSE_DENSITIES: [&str; 8] =
    ["d1 wide", "d2 wide", "d3 wide", "d4 wide", "d5 wide", "d6 wide", "d7 wide", "d8 wide"];
/// The same as swatches of the key.
pub(super) const SWATCHES: [&str; 8] = ["s1", "s2", "s3", "s4", "s5", "s6", "s7", "s8"];

pub(in super::super) const STYLES: &str = "
svg{background:#fff}
text{font-family:'DejaVu Sans Mono',ui-monospace,monospace;fill:#1d2a35;white-space:pre}
.title{font-weight:bold}.tick,.small{fill:#55636e}.bad{fill:#8a0f4d;font-weight:bold}.light{fill:#fff;font-weight:bold}
.paper{fill:#fff}
.axis,.grid,.limit,.curve1,.curve2,.curve3,.curve4,.mask-edge,.contour,.casing-wide,.leader,.nominal-edge{fill:none}
.axis{stroke:#55636e;stroke-width:1.2}.grid{stroke:#dde4e9;stroke-width:1}
.curve1{stroke:#1d2a35;stroke-width:1.8;stroke-linejoin:round}
.curve2{stroke:#2f6690;stroke-width:1.8;stroke-dasharray:7 3;stroke-linejoin:round}
.curve3{stroke:#a8740a;stroke-width:2.2;stroke-dasharray:2 3;stroke-linejoin:round}
.curve4{stroke:#6d7a84;stroke-width:1.2;stroke-dasharray:9 3 2 3;stroke-linejoin:round}
.dot1{fill:#1d2a35}.dot2{fill:#2f6690}.dot3{fill:#a8740a}.dot4{fill:#6d7a84}
.limit{stroke:#8a0f4d;stroke-width:3.2}
.forbidden{fill:#f7e9f0}
.nominal{fill:#e6eef4}.nominal-edge{stroke:#8fa0ac;stroke-width:1;stroke-dasharray:4 3}
.mask{fill:#fbe3ee;fill-opacity:.85}.mask-edge{stroke:#8a0f4d;stroke-width:2}
.casing-wide{stroke:#fff;stroke-width:5;stroke-linejoin:round}
.contour{stroke:#8a0f4d;stroke-width:2.2;stroke-dasharray:6 3;stroke-linejoin:round}
.leader{stroke:#8a0f4d;stroke-width:1}
.spot{fill:#fff;stroke:#8a0f4d;stroke-width:2}
.mark{fill:#8a0f4d;stroke:#fff;stroke-width:1.2}
.d1,.d2,.d3,.d4,.d5,.d6,.d7,.d8{fill:none;stroke-width:2;shape-rendering:crispEdges}
.d1.wide,.d2.wide,.d3.wide,.d4.wide,.d5.wide,.d6.wide,.d7.wide,.d8.wide{stroke-width:4}
.d1{stroke:#e4ebf0}.d2{stroke:#cdd9e2}.d3{stroke:#b3c5d2}.d4{stroke:#95adbf}.d5{stroke:#7491a8}.d6{stroke:#54748e}.d7{stroke:#375670}.d8{stroke:#1d3a52}
.s1{fill:#e4ebf0}.s2{fill:#cdd9e2}.s3{fill:#b3c5d2}.s4{fill:#95adbf}.s5{fill:#7491a8}.s6{fill:#54748e}.s7{fill:#375670}.s8{fill:#1d3a52}
";

/// Writes a plot as an SVG document.
#[must_use]
pub fn plot_svg(scene: &Scene) -> String {
    styled(scene, STYLES)
}
