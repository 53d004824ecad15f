//! The check of one unit, and what is kept from one unit to the next.

mod about;
mod lot_facts;
mod measured;
mod not_shown;
mod reading;
mod report;
mod rework;
mod wiring;

pub use about::About;
pub use lot_facts::{LaneFigures, LotFacts, Price, Reading, WiredEnd};
#[cfg(feature = "signal")]
pub use measured::MeasuredPair;
pub use measured::{JoinReading, Measured, Runs, StatedWire};
pub use not_shown::NotShown;
pub(in crate::verify) use reading::Prepared;
pub use report::UnitReport;
pub use wiring::{FoundPart, Wiring};

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use crate::cause::Cost;
use crate::finding::Problem;
use crate::graph::Nets;
use crate::netlist::{Bound, Netlist, Origin, Scope, Unit, bind};
use crate::pinmap::{Cable, Catalogue, EndNames, is_path};
use crate::text::visible;

use crate::verify::case::given::{Given, Head};
use crate::verify::case::signals::Signals;
use crate::verify::case::trouble::{Trouble, cost};
use crate::verify::case::whole_end::{self, WholeEnd};
use crate::verify::case::{Evidence, Kept};
use crate::verify::checks::contradictions::contradictions;
use crate::verify::checks::coverage::{self, Coverage};
use crate::verify::checks::drawing;
use crate::verify::checks::found;
use crate::verify::checks::resistance::Rule;
use crate::verify::{Case, Check, Options};
use reading::{Judged, ReadUnit, read};
use rework::rework;

/// Checks units one after the other; keeps cables, lookups and memory between them.
#[derive(Debug, Default)]
pub struct Checker {
    catalogue: Catalogue,
    /// The folder that paths of cable files are taken from.
    folder: PathBuf,
    /// The cable that holds where the netlist says nothing, or instead of what it says.
    cable_override: Option<String>,
    keep_wiring: bool,
    keep_measured: bool,
    lookups: HashMap<String, Arc<Prepared>>,
    reported: HashSet<String>,
    bound: Bound,
    kept: Kept,
    /// Whether to work out what the facts of each unit show.
    with_coverage: bool,
    keep_lot: bool,
    with_about: bool,
    own_checks: Vec<Check>,
    /// Whether rules are wanted, and those of the unit that was checked last.
    watched: Option<Vec<Option<Rule>>>,
    /// The nets of the last sound unit: a reel repeats itself.
    last_sound: Option<(Arc<Prepared>, bool, Nets)>,
}

impl Checker {
    /// A checker; `folder` is where the paths of cable files start.
    #[must_use]
    pub fn new(folder: PathBuf, options: &Options) -> Self {
        let Options { cable, maps, known, coverage, wiring, measured, lot, about, own_checks, .. } = options.clone();
        let catalogue = Catalogue::with_folders(&maps).and_cables(known);
        Checker {
            folder,
            catalogue,
            cable_override: cable,
            with_coverage: coverage,
            keep_wiring: wiring,
            keep_measured: measured,
            keep_lot: lot,
            with_about: about,
            own_checks,
            ..Checker::default()
        }
    }

    /// Checks one unit.
    ///
    /// # Errors
    /// What keeps the unit from having a verdict: an unknown cable or point, or a contradiction. The list is empty where
    /// the reason was given before (an unreadable line of the unit, or the same unknown cable).
    pub fn check(&mut self, head: &Head, netlist: &Netlist, unit: &Unit) -> Result<UnitReport, Vec<Problem>> {
        let given = Given::new(head, netlist, unit);
        let prepared = self.prepare(&given, netlist, unit)?;
        let mut report = self.judge(&prepared, given, netlist, unit)?;
        report.about = self.with_about.then(|| Box::new(About::of(&given, netlist, unit)));
        Ok(report)
    }

    /// Checks one unit, and gives the rules by which another one has the same report that is like it but for its name and the
    /// figures of its joins: all of them must settle its figures. None where there are no such rules.
    pub(in crate::verify) fn check_and_watch(
        &mut self,
        head: &Head,
        netlist: &Netlist,
        unit: &Unit,
    ) -> (Result<UnitReport, Vec<Problem>>, Option<Vec<Rule>>) {
        self.watched = Some(Vec::new());
        let report = self.check(head, netlist, unit);
        let rules: Option<Vec<Rule>> = self.watched.take().and_then(|rules| rules.into_iter().collect());
        (report, rules.filter(|rules| !rules.is_empty()))
    }

    /// Checks one unit against a cable.
    pub(in crate::verify) fn judge(
        &mut self,
        prepared: &Arc<Prepared>,
        given: Given<'_>,
        netlist: &Netlist,
        unit: &Unit,
    ) -> Result<UnitReport, Vec<Problem>> {
        let problems = bind(netlist, unit, &prepared.ends, &mut self.bound);
        if !problems.is_empty() || unit.broken {
            let drawing = given.origin() == Origin::Drawing && !unit.broken;
            return match drawing
                .then(|| drawing::no_such_pin(&prepared.cable, &prepared.ends, netlist, unit, &problems))
                .flatten()
            {
                Some(findings) => Ok(UnitReport::unreadable(prepared, netlist, unit, findings)),
                None => Err(problems),
            };
        }
        let cable = &prepared.cable;
        let n = cable.points.len();
        let joins = self.bound.joins.iter().map(|join| (join.a, join.b));
        let stated = Nets::new(n, joins.clone());
        let problems = contradictions(netlist, unit, Some(cable), &self.bound, &stated);
        if !problems.is_empty() {
            return Err(problems);
        }
        let screened = given.names_overall_screen();
        let listed = given.scope() == Scope::Listed;
        let measured = match given.scope() {
            Scope::All | Scope::Listed => stated,
            Scope::Stated => Nets::new(n, joins.chain(coverage::benefit_of_doubt(cable, netlist, unit, &self.bound))),
        };
        let known = self.last_sound.as_ref().is_some_and(|(of, with_screen, nets)| {
            Arc::ptr_eq(of, prepared) && *with_screen == screened && !listed && *nets == measured
        });
        let read = if known {
            ReadUnit::sound(cable, measured)
        } else {
            let read = read(cable, &prepared.end_of, measured, screened, &among(&self.bound, listed));
            if read.troubles.is_empty() && !listed {
                self.last_sound = Some((Arc::clone(prepared), screened, read.measured.clone()));
            }
            read
        };
        // an exchange may be another numbering or wiring, which takes in a whole end
        let exchange =
            |trouble: &Trouble| !matches!(trouble, Trouble::Open { .. } | Trouble::PairOpen { .. } | Trouble::Join { .. });
        let rivals =
            if cost(&read.troubles) <= whole_end::COST && given.scope() == Scope::All && read.troubles.iter().any(exchange) {
                prepared.rivals(&read, screened, |variant| self.variants(variant))
            } else {
                Vec::new()
            };
        let signals = Signals::in_folder(&self.folder);
        let mut watched = self.watched.take();
        let mut judge = |read: &ReadUnit, whole_end: Option<WholeEnd>| {
            let case = Case::new(Evidence {
                netlist,
                unit,
                given,
                cable: &read.cable,
                named: cable,
                ends: &prepared.ends,
                bound: &self.bound,
                wanted: &read.nets,
                measured: &read.measured,
                troubles: read.troubles.clone(),
                circles: &read.circles,
                whole_end,
                kept: &self.kept,
                rivals: &rivals,
                signals: &signals,
            });
            let sink = found(&case, &self.own_checks);
            let verdict = sink.verdict();
            let hazard = sink.has_hazard();
            let findings = sink.into_findings();
            let judged = Judged {
                verdict,
                hazard,
                rework: rework(&case, &findings),
                findings,
                not_shown: NotShown::of(&case),
                coverage: self.with_coverage.then(|| Box::new(Coverage::of(&case))),
                measured: self.keep_measured.then(|| Box::new(Measured::of(&case))),
                lot: self.keep_lot.then(|| Box::new(LotFacts::of(&case))),
            };
            if let Some(rules) = &mut watched {
                rules.push(Rule::of(&case));
            }
            judged
        };
        let mut judged = judge(&read, None);
        // one cause for a whole end is worth looking for only where there are several faults to explain, those of parts too
        let plain = cost(&read.troubles);
        let failing = judged.failing();
        let beside = u32::try_from(failing.saturating_sub(read.troubles.len())).unwrap_or(u32::MAX).saturating_mul(Cost::OPEN);
        let limit = plain.saturating_add(beside);
        if plain > 0
            && limit > whole_end::COST
            && given.scope() == Scope::All
            && let Some((read, mut whole)) = prepared.whole_end(&read, limit, screened, |variant| self.variants(variant))
        {
            whole.hazard = judged.hazard;
            let cheaper = whole_end::COST + cost(&read.troubles) < plain;
            let seen_so = judge(&read, Some(whole));
            if cheaper || seen_so.failing() < failing {
                judged = seen_so;
            }
        }
        let wiring = self.keep_wiring.then(|| {
            let probed = |point: u32| given.scope() == Scope::All || self.bound.named_at(point).is_some();
            Wiring::new((netlist, unit, &self.bound), &prepared.ends, cable, (read.nets.clone(), read.measured.clone()), probed)
        });
        self.watched = watched;
        let Judged { verdict, findings, not_shown, rework, coverage, measured, lot, .. } = judged;
        Ok(UnitReport {
            unit: netlist.name_of(unit).map(str::to_owned),
            cable: Arc::clone(cable),
            is_drawing: given.origin() == Origin::Drawing,
            verdict,
            findings,
            not_shown,
            rework,
            coverage,
            wiring,
            measured,
            attempt: unit.attempt,
            lot,
            #[cfg(feature = "signal")]
            links: signals.into_grades(),
            about: None,
        })
    }

    /// The other maps of the catalogue with the same connectors.
    fn variants(&self, cable: &Cable) -> Vec<Arc<Cable>> {
        let mut catalogue = Catalogue::new();
        catalogue.like(cable)
    }

    /// The cable of a unit, with its ends renamed as the netlist says.
    fn prepare(&mut self, given: &Given<'_>, netlist: &Netlist, unit: &Unit) -> Result<Arc<Prepared>, Vec<Problem>> {
        let said = given.get(|settings| settings.cable).map(|said| said.text().to_owned());
        let Some(name) = self.cable_override.clone().or(said) else {
            return Err(self.once("no cable", || {
                vec![
                    Problem::new("no cable line: which pin map must this conform to?")
                        .at(&netlist.source, unit.line, "this unit")
                        .help("add a header line such as `cable displayport`; `backshell maps` lists the catalogue"),
                ]
            }));
        };
        self.prepare_as(&name, given, unit)
    }

    /// The cable of that name, with its ends renamed as the netlist says.
    pub(in crate::verify) fn prepare_as(
        &mut self,
        name: &str,
        given: &Given<'_>,
        unit: &Unit,
    ) -> Result<Arc<Prepared>, Vec<Problem>> {
        let (ends_source, end_lines) = given.ends();
        let entries: Vec<(&str, &str)> =
            end_lines.iter().map(|line| (ends_source.slice(line.end), ends_source.slice(line.side))).collect();
        let mut key = name.to_owned();
        for (end, side) in &entries {
            key.extend(["\n", *end, "\n", *side]);
        }
        if let Some(prepared) = self.lookups.get(&key) {
            return Ok(Arc::clone(prepared));
        }
        // a path on the command line starts where the command was given, one in a netlist beside the netlist
        let from_here = self.cable_override.as_deref() == Some(name) && is_path(name);
        let folder = if from_here { Path::new("") } else { self.folder.as_path() };
        let cable = match self.catalogue.cable(name, folder) {
            Ok(cable) => cable,
            Err(mut problems) => {
                // a problem within the file of a cable has its place there
                if let Some(first) = problems.first_mut().filter(|first| first.labels.is_empty()) {
                    if self.cable_override.as_deref() == Some(name) {
                        first.message = format!("--cable: {}", first.message);
                    } else if let Some(said) = given.get(|settings| settings.cable) {
                        first.labels.push(said.label("named here"));
                    }
                }
                return Err(self.once(&key, || problems));
            }
        };
        let ends = match EndNames::renamed(&cable, &entries) {
            Ok(ends) => ends,
            Err((nth, why)) => {
                let line = end_lines.get(nth).map_or(unit.line, |line| line.line);
                let side = entries.get(nth).map_or("", |(_, side)| *side);
                return Err(
                    self.once(&key, || vec![Problem::new(format!("no such side: {}", visible(side))).at(ends_source, line, why)])
                );
            }
        };
        let end_of = cable.points.iter().map(|point| point.end).collect();
        let prepared = Arc::new(Prepared { cable, ends, end_of, hypotheses: OnceLock::new() });
        if self.lookups.len() >= KEPT {
            // what else is kept goes by where a cable lies
            self.lookups.clear();
            self.kept = Kept::default();
        }
        self.lookups.insert(key, Arc::clone(&prepared));
        Ok(prepared)
    }

    /// A problem that holds for many units is given once.
    fn once(&mut self, key: &str, problems: impl FnOnce() -> Vec<Problem>) -> Vec<Problem> {
        if self.reported.insert(key.to_owned()) { problems() } else { Vec::new() }
    }
}

/// How many cables, each with its ends as a netlist names them, are kept.
const KEPT: usize = 256;

/// What narrows wanted nets to the points that were probed, where only those that are named were.
fn among(bound: &Bound, listed: bool) -> impl Fn(Nets) -> Nets {
    move |nets| if listed { among_named(&nets, bound) } else { nets }
}

/// The nets that a map wants of a unit, its freedoms settled as a check of the unit settles them.
pub(in crate::verify) fn settled(prepared: &Prepared, given: &Given<'_>, bound: &Bound, measured: &Nets) -> Nets {
    let listed = given.scope() == Scope::Listed;
    let screened = given.names_overall_screen();
    read(&prepared.cable, &prepared.end_of, measured.clone(), screened, &among(bound, listed)).nets
}

/// The wanted nets among the points that were probed; every other point is left out of them.
fn among_named(wanted: &Nets, bound: &Bound) -> Nets {
    let mut first: HashMap<u32, u32> = HashMap::new();
    let named = (0_u32..).take(wanted.labels().len()).filter(|point| bound.probed(*point));
    let joins: Vec<(u32, u32)> = named.map(|point| (*first.entry(wanted.of(point)).or_insert(point), point)).collect();
    Nets::new(wanted.labels().len(), joins)
}
