//! Pixel clock and totals of a mode, by VESA's formulas and by CTA's fixed list.
//!
//! Source: VESA Coordinated Video Timings (CVT) standard 1.1 (2003) and 1.2 (2013), progressive, without margins.
//! Everything is worked in whole numbers, so that no rounding of a float moves a line or a clock step.

use super::cta;
use super::mode::Mode;

/// The rule that a timing follows.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[non_exhaustive]
pub enum Standard {
    /// A fixed format of CTA-861, by its video identification code (VIC).
    Cta(u8),
    /// CVT 1.2, reduced blanking version 2.
    ReducedV2,
    /// CVT 1.1, reduced blanking version 1.
    Reduced,
    /// CVT with the blanking that picture tubes need.
    Cvt,
}

impl Standard {
    /// Its name, short enough for the head of a column.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Standard::Cta(_) => "CTA-861",
            Standard::ReducedV2 => "CVT-RB v2",
            Standard::Reduced => "CVT-RB",
            Standard::Cvt => "CVT",
        }
    }
}

/// The timing of a mode.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Timing {
    /// The rule that it follows.
    pub standard: Standard,
    /// Active pixels of a line; CVT and reduced blanking v1 round the width down to a multiple of 8.
    pub width: u32,
    /// Active lines.
    pub height: u32,
    /// Pixels of a line with its blanking.
    pub h_total: u64,
    /// Lines of a picture with its blanking.
    pub v_total: u64,
    /// The pixel clock in kHz.
    pub clock_khz: u64,
}

impl Timing {
    /// The refresh rate that comes out, in Hz; it lies a little off the one asked for, as clocks have steps.
    #[must_use]
    pub fn refresh(&self) -> f64 {
        1000.0 * self.clock_khz as f64 / (self.h_total * self.v_total) as f64
    }

    /// The pixel clock in MHz.
    #[must_use]
    pub fn clock_mhz(&self) -> f64 {
        self.clock_khz as f64 / 1000.0
    }
}

/// The timings of a mode: the fixed one of CTA-861 where there is one, then CVT with less and less reduced blanking.
#[must_use]
pub fn timings(mode: &Mode) -> Vec<Timing> {
    cta::timing(mode).into_iter().chain([reduced_v2(mode), reduced(mode), standard(mode)]).collect()
}

/// Least time of the vertical blanking with reduced blanking, in µs.
const REDUCED_BLANK: u64 = 460;
/// Least time of vertical sync and back porch with standard blanking, in µs.
const SYNC_AND_BACK_PORCH: u128 = 550;
/// Least vertical front porch, in lines.
const FRONT_PORCH: u64 = 3;
/// Least vertical back porch with CVT and reduced blanking v1, in lines. Public implementations have 6 or 7; the larger one
/// asks more of a link, and only pictures of few lines or at a low rate tell them apart.
const BACK_PORCH: u64 = 7;
/// Vertical front porch (the least), sync and back porch with reduced blanking v2, in lines.
const V2_LINES: u64 = 1 + 8 + 6;
/// Steps of the width with CVT and reduced blanking v1, in pixels.
const CELL: u32 = 8;
/// Steps of the pixel clock with CVT and reduced blanking v1, in kHz.
const CLOCK_STEP: u64 = 250;

/// Lines of the vertical sync, which tell the aspect: 4 for 4:3, 5 for 16:9, 6 for 16:10, 7 for 5:4 and 15:9, 10 for others.
fn sync_lines(width: u32, height: u32) -> u64 {
    let is = |across: u32, down: u32| width / CELL == height * across / down / CELL;
    match () {
        () if is(4, 3) => 4,
        () if is(16, 9) => 5,
        () if is(16, 10) => 6,
        () if is(5, 4) || is(15, 9) => 7,
        () => 10,
    }
}

/// Lines of the vertical blanking with reduced blanking: as many as last 460 µs and one more, at least `least`.
fn blank_lines(mode: &Mode, least: u64) -> u64 {
    let (over, under) = mode.refresh.ratio();
    // the active lines have what is left of a picture's time
    let lines = REDUCED_BLANK * u64::from(mode.height) * over / (1_000_000 * under - REDUCED_BLANK * over);
    (lines + 1).max(least)
}

/// The pixel clock in kHz that shows so many pixels at the refresh rate, rounded down to a step in kHz.
fn clock(over: u64, under: u64, h_total: u64, v_total: u64, step: u64) -> u64 {
    over * h_total * v_total / (1000 * under * step) * step
}

fn reduced(mode: &Mode) -> Timing {
    let width = mode.width / CELL * CELL;
    let (over, under) = mode.refresh.ratio();
    let blank = blank_lines(mode, FRONT_PORCH + sync_lines(mode.width, mode.height) + BACK_PORCH);
    let (h_total, v_total) = (u64::from(width) + 160, u64::from(mode.height) + blank);
    let clock_khz = clock(over, under, h_total, v_total, CLOCK_STEP);
    Timing { standard: Standard::Reduced, width, height: mode.height, h_total, v_total, clock_khz }
}

/// Version 2 knows the video rates such as 59.94 itself: the totals are those of 60 Hz, the clock is slowed by 1000/1001.
fn reduced_v2(mode: &Mode) -> Timing {
    let (over, under) = mode.refresh.ratio();
    let whole = mode.refresh.video_base().and_then(|base| super::Refresh::new(1000 * base));
    let blank = blank_lines(&Mode { refresh: whole.unwrap_or(mode.refresh), ..*mode }, V2_LINES);
    let (h_total, v_total) = (u64::from(mode.width) + 80, u64::from(mode.height) + blank);
    let clock_khz = clock(over, under, h_total, v_total, 1);
    Timing { standard: Standard::ReducedV2, width: mode.width, height: mode.height, h_total, v_total, clock_khz }
}

fn standard(mode: &Mode) -> Timing {
    let width = mode.width / CELL * CELL;
    let (over, under) = mode.refresh.ratio();
    let (over, under) = (u128::from(over), u128::from(under));
    // the estimated time of a line in µs, as a fraction
    let line = (1_000_000 * under - SYNC_AND_BACK_PORCH * over, over * u128::from(u64::from(mode.height) + FRONT_PORCH));
    let sync_and_porch = u64::try_from(SYNC_AND_BACK_PORCH * line.1 / line.0).unwrap_or(u64::MAX / 2) + 1;
    let sync_and_porch = sync_and_porch.max(sync_lines(mode.width, mode.height) + BACK_PORCH);
    let v_total = u64::from(mode.height) + FRONT_PORCH + sync_and_porch;
    // the share of blanking is 30 % less 0.3 % a µs, at least 20 %; blanking to active is share : (100 - share)
    let ratio = if line.0 * 3 > line.1 * 100 { (1, 4) } else { (300 * line.1 - 3 * line.0, 700 * line.1 + 3 * line.0) };
    let cells = u128::from(width) * ratio.0 / (ratio.1 * 2 * u128::from(CELL));
    let h_total = u64::from(width) + u64::try_from(cells).unwrap_or(0) * 2 * u64::from(CELL);
    let steps = u128::from(h_total) * line.1 * 1000 / (line.0 * u128::from(CLOCK_STEP));
    let clock_khz = u64::try_from(steps).unwrap_or(u64::MAX / CLOCK_STEP) * CLOCK_STEP;
    Timing { standard: Standard::Cvt, width, height: mode.height, h_total, v_total, clock_khz }
}
