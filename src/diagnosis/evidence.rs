//! What was observed of a unit: from its checks, its figures, its S-parameters, and what a person says.

use crate::finding::{Code, Finding, Problem, Severity};
use crate::pinmap::{Cable, Role};
use crate::text::visible;
use crate::verify::{Coverage, JoinReading, Measured, Runs, UnitReport};

use super::figures::{self, SignalFigures};
use super::model::{Applies, Model};

/// Something that was seen.
#[derive(Clone, Debug, PartialEq)]
#[non_exhaustive]
pub struct Observation {
    /// The sign, as an index into [`Model::signs`].
    pub sign: usize,
    /// How well each of its states fits what was seen, 0 to 1: a figure near a border fits both sides.
    pub weights: Vec<f64>,
    /// The figures or the finding behind it, in words; empty where a person said it.
    pub words: String,
}

impl Observation {
    /// A sign of the model, by its index, and how well each of its states fits, 0 to 1.
    #[must_use]
    pub fn new(sign: usize, weights: Vec<f64>) -> Self {
        Self { sign, weights, words: String::new() }
    }

    /// The figures or the finding behind it, in words; empty where a person said it.
    #[must_use]
    pub fn with_words(self, words: impl Into<String>) -> Self {
        Self { words: words.into(), ..self }
    }
}

/// What was observed of a unit.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Evidence {
    /// What was seen, in the order of the model's signs.
    pub observations: Vec<Observation>,
    /// What its map has.
    pub applies: Applies,
    /// The plug where the fault sits, where a person said so or a reflection shows it: the end, and how that is known.
    pub end: Option<(String, String)>,
    /// The place in mid-run that reflects, in words.
    pub place: Option<String>,
    /// What was left out, and why.
    pub notes: Vec<String>,
}

/// What a person says: WORD=VALUE.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Statement {
    /// A sign of the model, or `end`.
    pub word: String,
    /// A state of it, or the name of an end.
    pub value: String,
}

impl Statement {
    /// A sign and its state, or `end` and the name of an end.
    #[must_use]
    pub fn new(word: impl Into<String>, value: impl Into<String>) -> Self {
        Self { word: word.into(), value: value.into() }
    }

    /// Reads `WORD=VALUE`; none where a part is missing.
    #[must_use]
    pub fn parse(text: &str) -> Option<Statement> {
        let (word, value) = text.split_once('=')?;
        let (word, value) = (word.trim(), value.trim());
        (!word.is_empty() && !value.is_empty()).then(|| Statement { word: word.to_owned(), value: value.to_owned() })
    }
}

/// The least weight of a state: a reading never rules one out.
const LEAST: f64 = 0.01;

/// What was observed of a unit; `measured` and `coverage` in the report say more than its findings alone.
///
/// # Errors
/// What a person says and the model or the cable doesn't know, or what a measurement says already.
pub fn gather(
    model: &Model,
    report: &UnitReport,
    figures: &[SignalFigures],
    said: &[Statement],
) -> Result<Evidence, Vec<Problem>> {
    let mut gatherer = Gatherer { model, found: Vec::new(), notes: Vec::new() };
    let cable = &report.cable;
    gatherer.findings(report);
    if let Some(measured) = report.measured.as_deref() {
        gatherer.measured(report, measured);
    }
    let metres = report.measured.as_deref().and_then(|measured| measured.metres);
    let checked = gatherer.found.len();
    for (sign, weights, words) in figures::shown(figures, pairs_of(cable), metres) {
        gatherer.see(sign, &weights, words);
    }
    let mut place = None;
    let mut end = by_reflection(model, &gatherer.found, figures, &mut place);
    let by_figures: Vec<usize> = gatherer.found[checked..].iter().map(|one| one.sign).collect();
    let problems = gatherer.statements(report, said, &by_figures, &mut end);
    if !problems.is_empty() {
        return Err(problems);
    }
    gatherer.found.sort_by_key(|one| one.sign);
    Ok(Evidence { observations: gatherer.found, applies: Applies::of(cable), end, place, notes: gatherer.notes })
}

impl Applies {
    /// What a cable has.
    #[must_use]
    pub fn of(cable: &Cable) -> Self {
        let has = |test: fn(Role) -> bool| {
            let mut wired = cable.links.iter().flat_map(|link| &link.points);
            wired.any(|point| test(cable.role(*point)))
        };
        Applies {
            pairs: !cable.paired.is_empty(),
            shell: cable.has_shell,
            ground: has(|role| matches!(role, Role::Ground | Role::Drain | Role::Return)),
            parts: !cable.parts.is_empty() || !cable.excluded.is_empty(),
            supply: has(|role| role == Role::Supply),
        }
    }
}

/// How many pairs a cable has, at the end with the most.
fn pairs_of(cable: &Cable) -> usize {
    cable.paired.iter().map(|contacts| contacts.len() / 2).max().unwrap_or(0)
}

/// What an observation of the place says of where it is: the plug, or the place in mid-run.
fn by_reflection(
    model: &Model,
    found: &[Observation],
    figures: &[SignalFigures],
    place: &mut Option<String>,
) -> Option<(String, String)> {
    let sign = model.sign("place")?;
    let seen = found.iter().find(|one| one.sign == sign)?;
    let most = seen.weights.iter().copied().fold(0.0, f64::max);
    let is =
        |state: &str| model.signs[sign].state(state).and_then(|at| seen.weights.get(at)).is_some_and(|weight| *weight >= most);
    let off = |pair: &SignalFigures| Some(pair.worst?.off.abs());
    let worst = figures
        .iter()
        .filter(|pair| off(pair).is_some())
        .max_by(|a, b| off(a).unwrap_or(0.0).total_cmp(&off(b).unwrap_or(0.0)))?;
    let at = worst.worst?;
    let far = at.metres > at.of_metres / 2.0;
    let from_end = if far { at.of_metres - at.metres } else { at.metres };
    if is("middle") {
        *place = Some(format!(
            "{:.2} m from {} and {:.2} m from {}, by the reflection on pair {}",
            at.metres,
            worst.ends[0],
            at.of_metres - at.metres,
            worst.ends[1],
            worst.pair
        ));
    }
    let end = worst.ends[usize::from(far)].clone();
    is("one-end").then(|| (end, format!("by the reflection on pair {}, {from_end:.2} m from it", worst.pair)))
}

/// Collects observations.
struct Gatherer<'m> {
    model: &'m Model,
    found: Vec<Observation>,
    notes: Vec<String>,
}

impl Gatherer<'_> {
    /// Takes an observation of a sign by its name. A file of causes without that sign, or without a state, has no use for it.
    fn see(&mut self, name: &str, states: &[(&str, f64)], words: impl Into<String>) {
        let words = words.into();
        let weights = self.model.sign(name).and_then(|at| {
            let sign = &self.model.signs[at];
            let mut weights = vec![LEAST; sign.states.len()];
            for (state, weight) in states {
                weights[sign.state(state)?] = weight.max(LEAST);
            }
            Some((at, weights))
        });
        match weights {
            Some((sign, weights)) => self.found.push(Observation { sign, weights, words }),
            None => self
                .notes
                .push(format!("your file of causes has no sign `{name}` with these states, so this was left out: {words}")),
        }
    }

    /// A sign with two states, from findings that speak against the normal one; the undecided ones count half.
    fn against(&mut self, name: &str, [normal, other]: [&str; 2], findings: &[&Finding]) {
        let sure = findings.iter().any(|finding| finding.severity == Severity::Fail);
        let words: Vec<&str> = findings.iter().take(3).map(|finding| finding.message.as_str()).collect();
        self.see(name, &[(normal, if sure { 0.0 } else { 0.4 }), (other, 1.0)], words.join("; "));
    }

    fn findings(&mut self, report: &UnitReport) {
        let grounds = ground_names(&report.cable);
        let of = |test: &dyn Fn(&Finding) -> bool| -> Vec<&Finding> { report.findings.iter().filter(|one| test(one)).collect() };
        let on_grounds = |one: &Finding| (one.code == Code::Open || is_resistance(one.code)) && is_among(one, &grounds);
        let missing = of(&|one| one.code == Code::ShieldDrainOpen || on_grounds(one));
        let wiring = of(&|one| is_wiring(one.code) && !on_grounds(one));
        let parts = of(&|one| is_part(one.code) && one.severity == Severity::Fail);
        let coverage = report.coverage.as_deref();
        let whole = coverage.is_some_and(|coverage| coverage.joins.whole() && coverage.apart.whole());
        let parts_known = coverage.is_some_and(|coverage| coverage.parts.whole());
        let hidden = report.measured.as_deref().is_none_or(|measured| measured.others_hidden);
        if !wiring.is_empty() {
            self.against("map", ["right", "wrong"], &wiring);
        } else if whole && parts_known && !hidden {
            self.see("map", &[("right", 1.0), ("wrong", 0.0)], "every join, every separation and every part was shown");
        } else if let Some(coverage) = coverage {
            self.notes.push(partial(coverage, hidden));
        }
        if !parts.is_empty() {
            self.against("parts", ["right", "wrong"], &parts);
        } else if parts_known && coverage.is_some_and(|coverage| coverage.parts.of > 0) {
            self.see("parts", &[("right", 1.0), ("wrong", 0.0)], "every part that must be there was measured");
        }
        if !missing.is_empty() {
            self.against("grounds", ["whole", "missing"], &missing);
        } else if whole
            && report.measured.as_deref().is_some_and(|measured| !measured.grounds_hidden)
            && Applies::of(&report.cable).ground
        {
            self.see("grounds", &[("whole", 1.0), ("missing", 0.0)], "the loss of any would show");
        }
        let split = of(&|one| one.code == Code::PairSplit);
        if !split.is_empty() {
            self.against("pairing", ["right", "wrong"], &split);
        } else if report.measured.as_deref().is_some_and(|measured| measured.pairs_stated) {
            self.see("pairing", &[("right", 1.0), ("wrong", 0.0)], "as the pair lines say");
        }
    }

    fn measured(&mut self, report: &UnitReport, measured: &Measured) {
        self.shell(report, measured);
        let signals: Vec<&JoinReading> = measured.joins.iter().filter(|join| join.runs == Runs::SignalWire).collect();
        let grounds = ground_names(&report.cable);
        let high = report.findings.iter().filter(|finding| is_resistance(finding.code) && !is_among(finding, &grounds));
        let high: Vec<&Finding> = high.collect();
        if !high.is_empty() {
            self.against("siblings", ["alike", "one-high"], &high);
        } else if signals.len() >= 4 {
            let (least, most) =
                signals.iter().fold((f64::INFINITY, 0.0_f64), |(least, most), join| (least.min(join.ohm), most.max(join.ohm)));
            let words = format!("{} signal conductors read {least:.3} to {most:.3} ohm", signals.len());
            self.see("siblings", &[("alike", 1.0), ("one-high", 0.0)], words);
        }
        if let Some(wire) = measured.wire.filter(|wire| signals.len() >= 2 && wire.nominal > 0.0) {
            let mut ohms: Vec<f64> = signals.iter().map(|join| join.ohm).collect();
            ohms.sort_by(f64::total_cmp);
            self.level((ohms[ohms.len() / 2] - wire.contacts).max(0.0) / wire.nominal, signals[0].uncertainty / wire.nominal);
        }
        if measured.has_capacitance {
            self.notes.push(
                "a capacitance line is from one conductor to all others tied together, which a split pair leaves as it is: measure \
                 within each pair, and say so with --observed impedance=…"
                    .to_owned(),
            );
        }
    }

    /// What all conductors read together, as a ratio to the stated wire.
    fn level(&mut self, ratio: f64, uncertainty: f64) {
        if ratio < 0.85 {
            self.notes
                .push(format!("the conductors read {ratio:.2} times what the stated wire has: the record is wrong somewhere"));
        }
        let width = 0.03_f64.hypot(uncertainty / 2.0);
        let below = |border: f64| 1.0 / (1.0 + (1.7 * (ratio - border) / width).exp());
        let (raised, clad, high) = (below(1.15), below(1.40), below(1.65));
        let states = [("as-stated", raised), ("raised", clad - raised), ("clad", high - clad), ("high", 1.0 - high)];
        self.see("level", &states, format!("{ratio:.2} times the copper of the stated wire"));
    }

    /// From 0.6 ohm on, shell to shell, a screen isn't bonded (USB cable parameters, 1999; common practice elsewhere).
    fn shell(&mut self, report: &UnitReport, measured: &Measured) {
        const MOST: f64 = 0.6;
        let open: Vec<&Finding> = report.findings.iter().filter(|finding| finding.code == Code::ShieldOpen).collect();
        if !open.is_empty() {
            self.against("shell", ["bonded", "open"], &open);
        } else if let Some(join) =
            measured.joins.iter().filter(|join| join.runs == Runs::Shell).max_by(|a, b| a.ohm.total_cmp(&b.ohm))
        {
            let high = 1.0 / (1.0 + (-1.7 * (join.ohm - MOST) / (join.uncertainty / 2.0).max(0.05)).exp());
            let words = format!("{} to {} reads {:.3} ohm", join.points[0], join.points[1], join.ohm);
            self.see("shell", &[("bonded", 1.0 - high), ("open", high)], words);
        }
    }

    /// What a person says. It goes before what S-parameters show of the same sign, and must not contradict a check.
    fn statements(
        &mut self,
        report: &UnitReport,
        said: &[Statement],
        by_figures: &[usize],
        end: &mut Option<(String, String)>,
    ) -> Vec<Problem> {
        let mut problems = Vec::new();
        let mut ends_said = 0;
        for Statement { word, value } in said {
            let shown = format!("--observed {}={}", visible(word), visible(value));
            if word == "end" {
                ends_said += 1;
                match known_end(report, value) {
                    Ok(name) if ends_said == 1 => *end = Some((name, "as was observed".to_owned())),
                    Ok(_) => problems.push(Problem::new(format!("{shown}: `end` was said before"))),
                    Err(ends) => {
                        problems.push(Problem::new(format!("{shown}: no such end")).help(format!("the ends are {ends}")))
                    }
                }
                continue;
            }
            let Some(sign) = self.model.sign(word) else {
                let problem = Problem::new(format!("{shown}: nothing of that name can be observed"));
                problems.push(problem.help("`--observed list` shows what can be said"));
                continue;
            };
            let states = &self.model.signs[sign].states;
            let Some(state) = states.iter().position(|state| state.name == *value) else {
                let names: Vec<&str> = states.iter().map(|state| state.name.as_str()).collect();
                problems
                    .push(Problem::new(format!("{shown}: no such value")).help(format!("expected one of {}", names.join(", "))));
                continue;
            };
            if let Some(at) =
                self.found.iter().position(|one| one.sign == sign && by_figures.contains(&sign) && !one.words.is_empty())
            {
                let replaced = self.found.remove(at);
                self.notes.push(format!("{shown} stands in place of what the S-parameters show: {}", replaced.words));
            }
            if let Some(before) = self.found.iter().find(|one| one.sign == sign) {
                let how = if before.words.is_empty() {
                    "it was said before".to_owned()
                } else {
                    format!("measured already: {}", before.words)
                };
                problems.push(Problem::new(format!("{shown}: {how}")).help("say it once, or correct the netlist"));
                continue;
            }
            if !Applies::of(&report.cable).to(self.model.signs[sign].only_with) {
                let lacks = self.model.signs[sign].only_with.map_or("", |only| only.words());
                self.notes.push(format!("{shown} was left out: the map of {} has no {lacks}", report.cable.name));
                continue;
            }
            let mut weights = vec![0.0; states.len()];
            weights[state] = 1.0;
            self.found.push(Observation { sign, weights, words: String::new() });
        }
        problems
    }
}

/// The end of that name; else the names that there are.
fn known_end(report: &UnitReport, value: &str) -> Result<String, String> {
    let named: Vec<String> = match &report.wiring {
        Some(wiring) => wiring.ends.clone(),
        None => report.cable.ends.iter().map(|end| end.name.clone()).collect(),
    };
    named.iter().find(|end| *end == value).cloned().ok_or_else(|| named.join(", "))
}

fn partial(coverage: &Coverage, hidden: bool) -> String {
    let mut what = Vec::new();
    if !coverage.joins.whole() {
        what.push(format!("{} of {} joins are shown", coverage.joins.shown, coverage.joins.of));
    }
    if !coverage.apart.whole() {
        what.push(format!("{} of {} separations are shown", coverage.apart.shown, coverage.apart.of));
    }
    if !coverage.parts.whole() {
        what.push(format!("{} of {} parts are measured", coverage.parts.shown, coverage.parts.of));
    }
    if hidden {
        what.push("a conductor in parallel to others could be missing".to_owned());
    }
    format!("no fault in the map so far, but it isn't whole, so it doesn't count against a wiring fault: {}", what.join(", "))
}

/// The names of drains, grounds and returns.
fn ground_names(cable: &Cable) -> Vec<&str> {
    let points = (0..).zip(&cable.points).map(|(point, _)| point);
    let grounds = points.filter(|point| matches!(cable.role(*point), Role::Ground | Role::Drain | Role::Return));
    grounds.map(|point| cable.function(point).name.as_str()).collect()
}

/// Whether a finding is about these signals alone.
fn is_among(finding: &Finding, names: &[&str]) -> bool {
    !finding.signals.is_empty() && finding.signals.iter().all(|signal| names.contains(&signal.as_str()))
}

fn is_wiring(code: Code) -> bool {
    matches!(
        code,
        Code::Open
            | Code::PairOpen
            | Code::Short
            | Code::Swapped
            | Code::Miswired
            | Code::PairReversed
            | Code::PairTransposed
            | Code::Unexpected
            | Code::ShieldToSignal
            | Code::PowerEndToEnd
            | Code::PowerShort
            | Code::NumberingMirrored
            | Code::NumberingRowsExchanged
            | Code::NumberingShifted
            | Code::EndsExchanged
            | Code::WiringStraight
            | Code::WiringCrossed
            | Code::WiringVariant
    )
}

fn is_part(code: Code) -> bool {
    matches!(code, Code::ComponentMissing | Code::ComponentValue | Code::ComponentUnexpected | Code::ComponentReversed)
}

fn is_resistance(code: Code) -> bool {
    matches!(code, Code::ResistanceHigh | Code::ResistanceUnbalance | Code::ResistanceOutlier)
}
