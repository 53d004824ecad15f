//! Peak distortion: the eye under the worst pattern of bits.

use serde::Serialize;

use super::{Feedback, Phase, Pulse};

/// The eye under the worst pattern of bits that there is.
///
/// After Casper, Haycock and Mooney, "An accurate and efficient analysis method for multi-Gb/s chip-to-chip signaling
/// schemes", Symposium on VLSI Circuits 2002 (from memory).
#[derive(Clone, Debug, PartialEq, Serialize)]
#[non_exhaustive]
pub struct Worst {
    /// The height at the best phase; negative where the eye is closed.
    pub height: f64,
    /// How long the eye is open around that phase, in unit intervals, 0 to 1.
    pub width: f64,
    /// The main cursor there.
    pub main: f64,
    /// The sum of what all other bits can take away.
    pub interference: f64,
    /// What crosstalk can take away.
    pub crosstalk: f64,
    /// The sampling instant in seconds after the bit was launched.
    pub time: f64,
    /// The number of the phase.
    pub phase: usize,
    /// What the receiver's feedback takes off for a 1 that came before, as a part of the launched difference.
    pub tap: f64,
    /// The height at every phase of the bit, with the same feedback.
    pub heights: Vec<f64>,
}

/// The worst eye of a pulse behind a feedback, with so much taken away by crosstalk (see [`worst_crosstalk`]).
#[must_use]
pub fn peak_distortion(pulse: &Pulse, feedback: Feedback, crosstalk: f64) -> Worst {
    let sums: Vec<(f64, f64, f64)> = (0..pulse.phases()).map(|number| sums(pulse.phase(number as isize))).collect();
    let height = |(main, after, others): (f64, f64, f64), tap: f64| main - (after - tap).abs() - others - crosstalk;
    // the feedback may be set afresh at each phase to find the best of them; there it stays
    let best = (0..sums.len())
        .max_by(|a, b| {
            let [one, other] = [*a, *b].map(|at| height(sums[at], feedback.tap(sums[at].1)));
            one.total_cmp(&other).then(b.cmp(a))
        })
        .unwrap_or(0);
    let tap = sums.get(best).map_or(0.0, |sums| feedback.tap(sums.1));
    let heights: Vec<f64> = sums.iter().map(|sums| height(*sums, tap)).collect();
    let phase = pulse.phase(best as isize);
    let (main, after, others) = sums.get(best).copied().unwrap_or_default();
    Worst {
        height: heights.get(best).copied().unwrap_or(0.0),
        width: open_around(&heights, best),
        main,
        interference: (after - tap).abs() + others,
        crosstalk,
        time: phase.time,
        phase: best,
        tap,
        heights,
    }
}

/// What an aggressor's bits can add up to at most at any instant, at the worst of its phases.
#[must_use]
pub fn worst_crosstalk(aggressor: &Pulse) -> f64 {
    (0..aggressor.phases()).map(|number| magnitude(aggressor.phase(number as isize).cursors)).fold(0.0, f64::max)
}

/// The main cursor, the one after it, and the sum of the magnitudes of all others.
fn sums(phase: Phase<'_>) -> (f64, f64, f64) {
    let (main, after) = (phase.height(), phase.cursor(1));
    (main, after, (magnitude(phase.cursors) - main.abs() - after.abs()).max(0.0))
}

/// The sum of magnitudes, in four strands that a processor adds at once.
fn magnitude(values: &[f64]) -> f64 {
    let mut strands = [0.0; 4];
    let (fours, rest) = values.as_chunks::<4>();
    for four in fours {
        for (strand, value) in strands.iter_mut().zip(four) {
            *strand += value.abs();
        }
    }
    strands.iter().sum::<f64>() + rest.iter().map(|value| value.abs()).sum::<f64>()
}

/// How far values stay above zero around one of them, as a part of all, with the ends found on straight lines.
pub(super) fn open_around(values: &[f64], best: usize) -> f64 {
    let Some(height) = values.get(best).copied().filter(|height| *height > 0.0) else { return 0.0 };
    let reach = |side: &mut dyn Iterator<Item = &f64>| {
        let (mut last, mut reach) = (height, 0.0);
        for value in side {
            if *value <= 0.0 {
                return reach + last / (last - value);
            }
            last = *value;
            reach += 1.0;
        }
        reach + 0.5
    };
    let before = reach(&mut values[..best].iter().rev());
    let after = reach(&mut values[best + 1..].iter());
    (before + after) / values.len() as f64
}
