//! The figures of the S-parameters of pairs, and what they show.
//!
//! Where a border lies between normal and not is common practice without a source, unless it says otherwise. A figure near
//! its border counts for both sides, by a share that runs smoothly from one to the other.

/// What the S-parameters of one pair say; what wasn't measured is left out.
#[derive(Clone, Debug, Default, PartialEq)]
#[non_exhaustive]
pub struct SignalFigures {
    /// The pair.
    pub pair: String,
    /// The ends of the cable, the near one first, as the netlist names them.
    pub ends: [String; 2],
    /// The loss in dB at the frequency that decides, half the symbol rate.
    pub loss_db: Option<f64>,
    /// What this length of this wire should lose there, in dB.
    pub expected_loss_db: Option<f64>,
    /// What the rated link can bear there, in dB.
    pub allowed_loss_db: Option<f64>,
    /// The loss at the lowest frequency in dB, less what the copper of the stated wire has there.
    pub offset_db: Option<f64>,
    /// The largest departure of the loss from a smooth curve, in dB.
    pub ripple_db: Option<f64>,
    /// The least return loss up to that frequency, in dB.
    pub return_loss_db: Option<f64>,
    /// The differential impedance in the middle of the run, in ohm.
    pub mean_ohm: Option<f64>,
    /// What it should be, in ohm.
    pub rated_ohm: Option<f64>,
    /// The place that differs most from the middle of the run.
    pub worst: Option<Place>,
    /// By how much one conductor of the pair is late, in ps, without sign.
    pub skew_ps: Option<f64>,
    /// How long a symbol of the rated link is, in ps.
    pub symbol_ps: Option<f64>,
    /// The most that turns into common mode up to that frequency, in dB below the signal.
    pub conversion_db: Option<f64>,
    /// The electrical length in metres, from the delay and the velocity that the cable is taken to have.
    pub metres: Option<f64>,
    /// What there is to spare at the rated rate, by the estimate of [`rates`](crate::signal::rates), as a part of what is asked
    /// for; below zero where it isn't carried.
    pub headroom: Option<f64>,
    /// The worst near-end crosstalk from another pair up to that frequency, in dB below the signal.
    pub next_db: Option<f64>,
    /// The least that it should be, in dB.
    pub allowed_next_db: Option<f64>,
}

impl SignalFigures {
    /// A pair of which nothing was measured yet, with the ends of the cable, the near one first.
    #[must_use]
    pub fn new(pair: impl Into<String>, ends: [String; 2]) -> Self {
        Self { pair: pair.into(), ends, ..Self::default() }
    }

    /// The loss in dB at the frequency that decides, half the symbol rate.
    #[must_use]
    pub fn with_loss_db(self, loss_db: f64) -> Self {
        Self { loss_db: Some(loss_db), ..self }
    }

    /// What this length of this wire should lose there, in dB.
    #[must_use]
    pub fn with_expected_loss_db(self, expected_loss_db: f64) -> Self {
        Self { expected_loss_db: Some(expected_loss_db), ..self }
    }

    /// What the rated link can bear there, in dB.
    #[must_use]
    pub fn with_allowed_loss_db(self, allowed_loss_db: f64) -> Self {
        Self { allowed_loss_db: Some(allowed_loss_db), ..self }
    }

    /// The loss at the lowest frequency in dB, less what the copper of the stated wire has there.
    #[must_use]
    pub fn with_offset_db(self, offset_db: f64) -> Self {
        Self { offset_db: Some(offset_db), ..self }
    }

    /// The largest departure of the loss from a smooth curve, in dB.
    #[must_use]
    pub fn with_ripple_db(self, ripple_db: f64) -> Self {
        Self { ripple_db: Some(ripple_db), ..self }
    }

    /// The least return loss up to that frequency, in dB.
    #[must_use]
    pub fn with_return_loss_db(self, return_loss_db: f64) -> Self {
        Self { return_loss_db: Some(return_loss_db), ..self }
    }

    /// The differential impedance in the middle of the run, in ohm.
    #[must_use]
    pub fn with_mean_ohm(self, mean_ohm: f64) -> Self {
        Self { mean_ohm: Some(mean_ohm), ..self }
    }

    /// What it should be, in ohm.
    #[must_use]
    pub fn with_rated_ohm(self, rated_ohm: f64) -> Self {
        Self { rated_ohm: Some(rated_ohm), ..self }
    }

    /// The place that differs most from the middle of the run.
    #[must_use]
    pub fn with_worst(self, worst: Place) -> Self {
        Self { worst: Some(worst), ..self }
    }

    /// By how much one conductor of the pair is late, in ps, without sign.
    #[must_use]
    pub fn with_skew_ps(self, skew_ps: f64) -> Self {
        Self { skew_ps: Some(skew_ps), ..self }
    }

    /// How long a symbol of the rated link is, in ps.
    #[must_use]
    pub fn with_symbol_ps(self, symbol_ps: f64) -> Self {
        Self { symbol_ps: Some(symbol_ps), ..self }
    }

    /// The most that turns into common mode up to that frequency, in dB below the signal.
    #[must_use]
    pub fn with_conversion_db(self, conversion_db: f64) -> Self {
        Self { conversion_db: Some(conversion_db), ..self }
    }

    /// The electrical length in metres, from the delay and the velocity that the cable is taken to have.
    #[must_use]
    pub fn with_metres(self, metres: f64) -> Self {
        Self { metres: Some(metres), ..self }
    }

    /// What there is to spare at the rated rate, by the estimate of [`rates`](crate::signal::rates), as a part of what is asked
    /// for; below zero where it isn't carried.
    #[must_use]
    pub fn with_headroom(self, headroom: f64) -> Self {
        Self { headroom: Some(headroom), ..self }
    }

    /// The worst near-end crosstalk from another pair up to that frequency, in dB below the signal.
    #[must_use]
    pub fn with_next_db(self, next_db: f64) -> Self {
        Self { next_db: Some(next_db), ..self }
    }

    /// The least that it should be, in dB.
    #[must_use]
    pub fn with_allowed_next_db(self, allowed_next_db: f64) -> Self {
        Self { allowed_next_db: Some(allowed_next_db), ..self }
    }
}

/// A place along the cable.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Place {
    /// How far from the near end, in metres.
    pub metres: f64,
    /// How long the cable is by the same measure, in metres.
    pub of_metres: f64,
    /// Its differential impedance in ohm.
    pub ohm: f64,
    /// By what share it is off the run beside it; below zero where it is lower.
    pub off: f64,
}

impl Place {
    /// A place so many metres along a cable of so many, with its impedance in ohm and the share by which it is off.
    #[must_use]
    pub fn new(metres: f64, of_metres: f64, ohm: f64, off: f64) -> Self {
        Self { metres, of_metres, ohm, off }
    }
}

/// Something that figures show: a sign, how well each of its states fits (0 to 1), and the figures in words.
pub(super) type Shown = (&'static str, Vec<(&'static str, f64)>, String);

/// What part of the rated impedance a pair may be off in the middle of its run; cables are sold within 10 %.
const IMPEDANCE: (f64, f64) = (0.08, 0.02);
/// What part of the impedance a plug or a place may differ.
const REFLECTION: (f64, f64) = (0.10, 0.025);
/// How near to an end a place counts as at the plug: so many metres, and this part of the cable.
const AT_PLUG: (f64, f64) = (0.12, 0.08);
/// By what factor the loss may be above the expected one.
const LOSS: (f64, f64) = (1.35, 0.10);
/// How near to the allowed loss a loss is undecided, in dB.
const REACH_DB: f64 = 0.4;
/// How near to nothing to spare an estimate is undecided, as a part of what is asked for.
const HEADROOM: f64 = 0.15;
/// How many dB at the lowest frequency speak of a resistance in series.
const OFFSET_DB: (f64, f64) = (0.10, 0.03);
/// How many dB of ripple speak of reflections.
const RIPPLE_DB: (f64, f64) = (0.45, 0.12);
/// What part of a symbol one conductor may be late.
const SKEW: (f64, f64) = (0.12, 0.03);
/// How many dB below the signal the common mode must stay.
const CONVERSION_DB: (f64, f64) = (20.0, 2.0);
/// From what return loss in dB on nothing reflects out of the ordinary.
const RETURN_LOSS_DB: (f64, f64) = (12.0, 1.5);
/// By what factor the electrical length may be above the stated one: the velocity is rarely known better.
const LENGTH: (f64, f64) = (1.20, 0.05);

/// A share that runs from 0 far below a border to 1 far above it.
fn above(value: f64, (border, width): (f64, f64)) -> f64 {
    1.0 / (1.0 + (-1.7 * (value - border) / width).exp())
}

/// The largest of some figures, with the pair that has it.
fn most(pairs: &[SignalFigures], figure: impl Fn(&SignalFigures) -> Option<f64>) -> Option<(f64, &SignalFigures)> {
    pairs.iter().filter_map(|pair| Some((figure(pair)?, pair))).max_by(|a, b| a.0.total_cmp(&b.0))
}

/// What the figures of some pairs of a cable show; `pairs` is how many it has, `metres` its stated length.
pub(super) fn shown(figures: &[SignalFigures], pairs: usize, metres: Option<f64>) -> Vec<Shown> {
    let all = [
        impedance(figures, pairs),
        place(figures),
        loss(figures),
        reach(figures),
        carries(figures),
        shape(figures),
        balance(figures),
        length(figures, metres),
        crosstalk(figures, pairs),
    ];
    all.into_iter().flatten().collect()
}

/// How many pairs are off the same way decides: two of several are a split, all of them another cable.
fn impedance(figures: &[SignalFigures], pairs: usize) -> Option<Shown> {
    let ratios: Vec<(f64, &str)> =
        figures.iter().filter_map(|pair| Some((pair.mean_ohm? / pair.rated_ohm?, pair.pair.as_str()))).collect();
    if ratios.is_empty() {
        return None;
    }
    let off = |way: f64| counts(&ratios.iter().map(|(ratio, _)| above((ratio - 1.0) * way, IMPEDANCE)).collect::<Vec<_>>());
    let (high, low) = (off(1.0), off(-1.0));
    // the way in which more are off
    let counts = if high[0] <= low[0] { high } else { low };
    let (measured, pairs) = (ratios.len(), pairs.max(ratios.len()));
    let mut weights = [0.0; 4];
    for (off, share) in counts.iter().enumerate() {
        // of the pairs that weren't measured, none to all may be off too
        for total in off..=off + (pairs - measured) {
            if total == 0 {
                weights[0] += share;
            }
            if total == 1 {
                weights[1] += share;
            }
            if total == 2 && pairs > 2 {
                weights[2] += share;
            }
            if total == pairs {
                weights[3] += share;
            } else if total > 2 {
                weights[3] += share / 2.0;
            }
        }
    }
    let figures: Vec<String> = ratios.iter().map(|(ratio, pair)| format!("{pair} {:+.0} %", (ratio - 1.0) * 100.0)).collect();
    let states = ["as-rated", "one-off", "two-off", "all-off"];
    Some(("impedance", states.into_iter().zip(weights).collect(), figures.join(", ")))
}

/// How likely each number of them is, from how likely each one is.
fn counts(shares: &[f64]) -> Vec<f64> {
    let mut counts = vec![1.0];
    for share in shares {
        let mut next = vec![0.0; counts.len() + 1];
        for (count, so_far) in counts.iter().enumerate() {
            next[count] += so_far * (1.0 - share);
            next[count + 1] += so_far * share;
        }
        counts = next;
    }
    counts
}

/// Where the worst reflection is: at a plug, in mid-run, or everywhere.
fn place(figures: &[SignalFigures]) -> Option<Shown> {
    let off = |pair: &SignalFigures| Some(pair.worst?.off.abs());
    let Some((local, worst)) = most(figures, off) else { return return_loss(figures) };
    let at = worst.worst?;
    let whole = most(figures, |pair| Some((pair.mean_ohm? / pair.rated_ohm? - 1.0).abs())).map_or(0.0, |(off, _)| off);
    let (here, everywhere) = (above(local, REFLECTION), above(whole, IMPEDANCE));
    let plug = AT_PLUG.0.max(AT_PLUG.1 * at.of_metres);
    let from_end = at.metres.min(at.of_metres - at.metres);
    let middle = above(from_end / plug, (1.0, 0.1));
    // a run that is off everywhere has its steps at the plugs: of two that are off, the larger counts
    let by_run = everywhere * above(whole - local, (0.0, 0.05));
    let local = here * (1.0 - by_run);
    let weights = [
        ("nowhere", (1.0 - here) * (1.0 - everywhere)),
        ("one-end", local * (1.0 - middle)),
        ("middle", local * middle),
        ("whole-run", by_run.max(everywhere * (1.0 - here))),
    ];
    let words = format!(
        "pair {}: {:.0} ohm at {:.2} m of {:.2} m from {}, {:.0} ohm along the run",
        worst.pair, at.ohm, at.metres, at.of_metres, worst.ends[0], worst.mean_ohm?
    );
    Some(("place", weights.to_vec(), words))
}

/// Without a place the return loss says only that there is one.
fn return_loss(figures: &[SignalFigures]) -> Option<Shown> {
    let (loss, pair) = most(figures, |pair| pair.return_loss_db.map(|db| -db))?;
    let somewhere = above(loss, (-RETURN_LOSS_DB.0, RETURN_LOSS_DB.1));
    let weights = [("nowhere", 1.0 - somewhere), ("one-end", somewhere), ("middle", somewhere), ("whole-run", somewhere)];
    Some(("place", weights.to_vec(), format!("return loss {:.1} dB on pair {}", -loss, pair.pair)))
}

fn loss(figures: &[SignalFigures]) -> Option<Shown> {
    let (ratio, pair) = most(figures, |pair| Some(pair.loss_db? / pair.expected_loss_db.filter(|db| *db > 0.0)?))?;
    let much = above(ratio, LOSS);
    let words = format!("{:.1} dB on pair {}, {:.1} expected", pair.loss_db?, pair.pair, pair.expected_loss_db?);
    Some(("loss", vec![("as-expected", 1.0 - much), ("above", much)], words))
}

fn reach(figures: &[SignalFigures]) -> Option<Shown> {
    let (over, pair) = most(figures, |pair| Some(pair.loss_db? - pair.allowed_loss_db?))?;
    let beyond = above(over, (0.0, REACH_DB));
    let words = format!("{:.1} dB on pair {}, {:.1} can be borne", pair.loss_db?, pair.pair, pair.allowed_loss_db?);
    Some(("reach", vec![("within", 1.0 - beyond), ("beyond", beyond)], words))
}

fn carries(figures: &[SignalFigures]) -> Option<Shown> {
    let (short, pair) = most(figures, |pair| pair.headroom.map(|spare| -spare))?;
    let fails = above(short, (0.0, HEADROOM));
    let words = format!("{:+.0} % to spare on pair {}, an estimate", -short * 100.0, pair.pair);
    Some(("rated", vec![("carried", 1.0 - fails), ("missed", fails)], words))
}

fn shape(figures: &[SignalFigures]) -> Option<Shown> {
    let offset = most(figures, |pair| pair.offset_db);
    let ripple = most(figures, |pair| pair.ripple_db);
    let by_ripple = ripple.map_or(0.0, |(db, _)| above(db, RIPPLE_DB));
    // without a figure at low frequency it's smooth or offset: nobody knows
    let by_offset = offset.map(|(db, _)| above(db, OFFSET_DB));
    let words: Vec<String> = [
        offset.map(|(db, pair)| format!("{db:.2} dB more than copper at the lowest frequency on pair {}", pair.pair)),
        ripple.map(|(db, pair)| format!("{db:.2} dB of ripple on pair {}", pair.pair)),
    ]
    .into_iter()
    .flatten()
    .collect();
    let weights = vec![
        ("smooth", (1.0 - by_offset.unwrap_or(0.0)) * (1.0 - by_ripple)),
        ("offset", by_offset.unwrap_or(1.0 - by_ripple)),
        ("rippled", by_ripple * (1.0 - by_offset.unwrap_or(0.0))),
    ];
    (!words.is_empty()).then(|| ("shape", weights, words.join(", ")))
}

fn balance(figures: &[SignalFigures]) -> Option<Shown> {
    let skew = most(figures, |pair| Some(pair.skew_ps? / pair.symbol_ps?));
    let late = skew.map_or(0.0, |(share, _)| above(share, SKEW));
    let conversion = most(figures, |pair| pair.conversion_db.map(|db| -db));
    let converts = conversion.map_or(0.0, |(db, _)| above(db, (-CONVERSION_DB.0, CONVERSION_DB.1)));
    let words: Vec<String> = [
        skew.and_then(|(_, pair)| Some(format!("{:.0} ps of skew on pair {}", pair.skew_ps?, pair.pair))),
        conversion.map(|(db, pair)| format!("common mode {:.1} dB below the signal on pair {}", -db, pair.pair)),
    ]
    .into_iter()
    .flatten()
    .collect();
    let weights = vec![("balanced", (1.0 - late) * (1.0 - converts)), ("skewed", late), ("converts", converts * (1.0 - late))];
    (!words.is_empty()).then(|| ("balance", weights, words.join(", ")))
}

fn length(figures: &[SignalFigures], metres: Option<f64>) -> Option<Shown> {
    let stated = metres.filter(|metres| *metres > 0.0)?;
    let mut found: Vec<f64> = figures.iter().filter_map(|pair| pair.metres).collect();
    found.sort_by(f64::total_cmp);
    let middle = *found.get(found.len() / 2)?;
    let longer = above(middle / stated, LENGTH);
    let words = format!("{middle:.2} m by delay, {stated:.2} m stated");
    Some(("length", vec![("as-stated", 1.0 - longer), ("longer", longer)], words))
}

fn crosstalk(figures: &[SignalFigures], pairs: usize) -> Option<Shown> {
    let over: Vec<(f64, &SignalFigures)> =
        figures.iter().filter_map(|pair| Some((pair.allowed_next_db? - pair.next_db?, pair))).collect();
    let shares: Vec<f64> = over.iter().map(|(over, _)| above(*over, (0.0, 1.0))).collect();
    let counts = counts(&shares);
    let (few, many) = (counts.iter().skip(1).take(2).sum::<f64>(), counts.iter().skip(3).sum::<f64>());
    // of the pairs that weren't measured, more may couple
    let many = if over.len() < pairs.min(3) { many.max(few) } else { many };
    let (worst, pair) = over.iter().max_by(|a, b| a.0.total_cmp(&b.0))?;
    let words = format!(
        "{:.1} dB on pair {}, {:.1} dB {} what is wanted",
        pair.next_db?,
        pair.pair,
        worst.abs(),
        if *worst > 0.0 { "below" } else { "above" }
    );
    Some(("crosstalk", vec![("low", counts[0]), ("two-pairs", few), ("many", many)], words))
}
