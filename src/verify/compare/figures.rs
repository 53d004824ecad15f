//! Figures and header lines side by side.

use std::collections::BTreeMap;

use crate::finding::Label;
use crate::netlist::{FactKind, FigureId, Setting, Settings, Word};
use crate::units::{Bound, Dimension, Quantity, Unit};

use super::model::{Beside, Difference, Kind, Weight};
use super::side::{Pair, Side};
use crate::verify::Given;

/// The figures of one unit: what and where, with the figure and its fact.
type Figures = BTreeMap<(&'static str, Vec<u32>), (Quantity, u32)>;

fn figures_of(side: &Side<'_>) -> Figures {
    let mut found = Figures::new();
    let mut take = |what, fact: u32, points: &[u32], id: FigureId| {
        let mut points = points.to_vec();
        points.sort_unstable();
        if let Some(figure) = side.netlist.figure(id) {
            found.entry((what, points)).or_insert((figure.quantity, fact));
        }
    };
    for (number, fact) in side.facts() {
        let points = side.bound.numbers(fact);
        match fact.kind {
            FactKind::Join { figure: Some(figure), .. } => take("resistance", number, points, figure),
            FactKind::Isolation { figure, .. } => take("isolation", number, points, figure),
            FactKind::Capacitance { figure, .. } => take("capacitance", number, points, figure),
            _ => {}
        }
    }
    found
}

/// Compares the figures for the same contacts. Those that can't be decided are one difference together.
pub(super) fn figures(pair: &Pair<'_>, beside: &mut Vec<Beside>, to: &mut Vec<Difference>) {
    let found = pair.sides.each_ref().map(figures_of);
    let keys: std::collections::BTreeSet<_> = found.iter().flat_map(|figures| figures.keys()).collect();
    let mut open = [Vec::new(), Vec::new(), Vec::new()];
    for key in keys {
        let (what, points) = key;
        let both = [0, 1].map(|side| found[side].get(key));
        let [first, second] = both.map(|found| found.map(|(quantity, _)| *quantity));
        // a drawing isn't asked for figures; those that it states must be measured
        let asked = |side: usize| both[side].is_some() || pair.drawings() == 2 || !pair.sides[side].is_drawing();
        let (weight, why) = match (first, second) {
            // insulation is mostly stated as a limit; a resistance that is only a limit says little
            (Some(one), Some(two)) => match apart(&one, &two, uncertainty(pair, what, [&one, &two])) {
                None if what == &"resistance" && one != two && [one, two].iter().any(|of| of.bound != Bound::Exact) => {
                    (Some(Weight::Inconclusive), 2)
                }
                weight => (weight, 0),
            },
            _ if asked(0) && asked(1) && comparable(pair, what, points) => (Some(Weight::Inconclusive), 1),
            _ => continue,
        };
        let labels = || -> Vec<Label> {
            let at = |side: usize| both[side].map(|(figure, fact)| pair.sides[side].at(*fact, figure.short()));
            [0, 1].into_iter().filter_map(at).collect()
        };
        let row = row(what, pair.texts(points), first, second, weight);
        match weight {
            Some(Weight::Differs) => {
                to.push(Difference::new(Kind::Figure, Weight::Differs, told(pair, &row), row.points.clone(), labels()))
            }
            Some(Weight::Inconclusive) => open[why].push((row.clone(), labels())),
            _ => {}
        }
        beside.push(row);
    }
    let why = [
        "no `uncertainty` line says whether that is more than the measurement can tell",
        "only one of the two says it",
        "a limit doesn't tell how far the two are apart",
    ];
    for (rows, why) in open.into_iter().zip(why) {
        let Some((first, labels)) = rows.first() else { continue };
        let n = rows.len();
        let what = if n == 1 { told(pair, first) } else { format!("{n} figures, such as {}", told(pair, first)) };
        let points = rows.iter().flat_map(|(row, _)| row.points.clone()).collect();
        to.push(Difference::new(Kind::Figure, Weight::Inconclusive, format!("{what}: {why}"), points, labels.clone()));
    }
}

/// Whether a figure that only one has could be there in the other: the nets tell of what differs.
fn comparable(pair: &Pair<'_>, what: &str, points: &[u32]) -> bool {
    let joined = |side: &Side<'_>| points.iter().all(|point| side.nets.same(*point, points[0]));
    points.iter().all(|point| pair.knows(*point)) && (what == "capacitance" || joined(&pair.sides[0]) == joined(&pair.sides[1]))
}

/// A row of the table.
fn row(
    what: &'static str,
    points: Vec<String>,
    first: Option<Quantity>,
    second: Option<Quantity>,
    weight: Option<Weight>,
) -> Beside {
    let plain = match (first, second) {
        (Some(one), Some(two)) if one.unit == two.unit && one.bound == Bound::Exact && two.bound == Bound::Exact => {
            Some((one, two))
        }
        _ => None,
    };
    let difference = plain.map(|(one, two)| {
        let size = Quantity::new((two.value - one.value).abs(), one.unit).short();
        format!("{}{size}", if two.value < one.value { "-" } else { "+" })
    });
    // an AWG number or a temperature has no percentage
    let scaled = |(one, _): &(Quantity, Quantity)| !matches!(one.unit, Unit::Awg | Unit::Celsius);
    let percent = plain.filter(scaled).map(|(one, two)| (two.value - one.value) / one.value * 100.0).filter(|p| p.is_finite());
    // four digits don't always show the difference
    let alike = first.zip(second).is_some_and(|(one, two)| one != two && one.short() == two.short());
    let text = |figure: Option<Quantity>| figure.map(|figure| if alike { figure.to_string() } else { figure.short() });
    let values = [first, second].map(|figure| figure.map(|figure| figure.value));
    Beside { what, points, first: text(first), second: text(second), values, difference, percent, weight }
}

/// A row in words.
fn told(pair: &Pair<'_>, row: &Beside) -> String {
    let what = [&[row.what.to_owned()], &row.points[..]].concat().join(" ");
    let [first, second] = pair.names();
    match (&row.first, &row.second) {
        (Some(one), Some(two)) => {
            let percent = row.percent.map(|percent| format!(", {percent:+.1} %")).unwrap_or_default();
            let apart = row.difference.as_ref().map(|difference| format!(" ({difference}{percent})")).unwrap_or_default();
            format!("{what} goes from {one} to {two}{apart}")
        }
        (Some(only), None) => format!("{what}, {only} in {first}"),
        (_, only) => format!("{what}, {} in {second}", only.as_deref().unwrap_or_default()),
    }
}

/// The expanded uncertainty of the difference of two figures, where each is known: the root of the sum of the squares.
///
/// A drawing's figure is what it says; `uncertainty` speaks of measured resistances.
pub(super) fn uncertainty(pair: &Pair<'_>, what: &str, figures: [&Quantity; 2]) -> Option<f64> {
    let of = |side: usize| {
        let of = &pair.sides[side];
        if of.is_drawing() {
            return Some(0.0);
        }
        let said = of.given.get(|settings| settings.uncertainty).filter(|_| matches!(what, "resistance" | "resistor"))?.value;
        let share = said.unit.dimension() == Dimension::Share;
        Some(if share { figures[side].value.abs() * said.value / 100.0 } else { said.value })
    };
    Some(of(0)?.hypot(of(1)?))
}

/// Whether two figures differ: none where what they allow meets, or is no further apart than the uncertainty.
pub(super) fn apart(one: &Quantity, two: &Quantity, uncertainty: Option<f64>) -> Option<Weight> {
    if one.unit != two.unit {
        // an AWG number and square millimetres
        return Some(Weight::Inconclusive);
    }
    let [[low, high], [other_low, other_high]] = [one, two].map(allowed);
    let gap = low.max(other_low) - high.min(other_high);
    // decimal figures are rounded in binary
    let rounding = 1e-9 * one.value.abs().max(two.value.abs());
    match uncertainty {
        _ if gap <= rounding => None,
        Some(uncertainty) if gap <= uncertainty + rounding => None,
        Some(_) => Some(Weight::Differs),
        None => Some(Weight::Inconclusive),
    }
}

/// The lowest and the highest value that a figure allows.
fn allowed(of: &Quantity) -> [f64; 2] {
    match of.bound {
        Bound::Below => [f64::NEG_INFINITY, of.value],
        Bound::Above => [of.value, f64::INFINITY],
        Bound::Exact => {
            let spread = of.spread().unwrap_or_default();
            [of.value - spread, of.value + spread]
        }
    }
}

// ------------------------------------------------------------------------------------------------ header

/// A header line that holds a word: its keyword, where it is kept, and whether it says what the cable is.
type Words = (&'static str, fn(&Settings) -> Option<Setting<Word>>, bool);

/// A header line that holds a figure.
type Sizes = (&'static str, fn(&Settings) -> Option<Setting<Quantity>>, bool);

const WORDS: [Words; 6] = [
    ("cable", |settings| settings.cable, true),
    ("type", |settings| settings.kind, true),
    ("rated", |settings| settings.rated, true),
    ("datum", |settings| settings.datum, true),
    ("supplier", |settings| settings.supplier, false),
    ("lot", |settings| settings.lot, false),
];

const SIZES: [Sizes; 3] = [
    ("length", |settings| settings.length, true),
    ("gauge", |settings| settings.gauge, true),
    ("temperature", |settings| settings.temperature, false),
];

/// Compares the header lines; those that say what the cable is count, where both say it.
pub(super) fn header(pair: &Pair<'_>, beside: &mut Vec<Beside>, to: &mut Vec<Difference>) {
    let given = pair.sides.each_ref().map(|side| &side.given);
    let mut add = |row: Beside, labels: Vec<Label>| {
        if let Some(weight) = row.weight.filter(|weight| *weight < Weight::Note) {
            let message = told(pair, &row);
            to.push(Difference::new(Kind::Header, weight, message, Vec::new(), labels));
        }
        beside.push(row);
    };
    for (what, pick, counts) in WORDS {
        let said = given.map(|given| given.get(pick));
        let [first, second] = said.map(|said| said.map(|said| said.text().to_owned()));
        // two paths of cable files may be the same cable
        if first == second || (what == "cable" && pair.map().is_some()) {
            continue;
        }
        let counts = counts && first.is_some() && second.is_some();
        let labels = said.into_iter().flatten().map(|said| said.label(said.text())).collect();
        add(plain(what, [first, second], counts), labels);
    }
    let views = given.map(|given| given.get(|settings| settings.view));
    if let [Some(first), Some(second)] = views
        && first.value != second.value
    {
        let words = [first, second].map(|said| Some(said.value.word().to_owned()));
        add(plain("view", words, true), [first, second].map(|said| said.label(said.value.word())).into());
    }
    let connectors = given.map(Given::connectors);
    for one in connectors[0].1 {
        let end = connectors[0].0.slice(one.end);
        let Some(two) = connectors[1].1.iter().find(|two| connectors[1].0.slice(two.end) == end) else { continue };
        let words = [connectors[0].0.slice(one.side), connectors[1].0.slice(two.side)];
        if !words[0].eq_ignore_ascii_case(words[1]) {
            let labels = [(connectors[0].0, one), (connectors[1].0, two)];
            let labels = labels.map(|(source, line)| Label::new(source, line.line, source.slice(line.side)));
            add(plain("connector", words.map(|word| Some(word.to_owned())), true), labels.into());
        }
    }
    for (what, pick, counts) in SIZES {
        let said = given.map(|given| given.get(pick));
        let [first, second] = said.map(|said| said.map(|said| said.value));
        let weight = match (first, second) {
            (Some(one), Some(two)) => apart(&one, &two, Some(0.0)),
            (None, None) => None,
            _ => Some(Weight::Note),
        };
        let Some(weight) = weight else { continue };
        let weight = if counts { weight } else { Weight::Note };
        let labels = said.into_iter().flatten().map(|said| said.label(said.value.short())).collect();
        add(row(what, Vec::new(), first, second, Some(weight)), labels);
    }
}

/// A row of words.
fn plain(what: &'static str, [first, second]: [Option<String>; 2], counts: bool) -> Beside {
    let weight = Some(if counts { Weight::Differs } else { Weight::Note });
    Beside { what, points: Vec::new(), first, second, values: [None; 2], difference: None, percent: None, weight }
}
