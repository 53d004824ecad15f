//! The check of one unit, and what is kept from one unit to the next.

use std::collections::{HashMap, HashSet};
use std::path::PathBuf;
use std::sync::{Arc, OnceLock};

use crate::cause::{Cost, Explanation, explain};
use crate::finding::{Finding, Problem, Sink, Verdict};
use crate::graph::Nets;
use crate::netlist::{Bound, Netlist, Scope, Unit, bind};
use crate::pinmap::{Cable, Catalogue, EndNames};
use crate::text::visible;

use super::case::Parts;
use super::coverage::NotShown;
use super::given::{Given, Head};
use super::trouble::Trouble;
use super::whole_end::{self, Hypothesis, WholeEnd};
use super::wiring::Wiring;
use super::{CHECKS, Case, fold, readings, wanted};

/// The verdict on one unit.
#[derive(Debug)]
pub struct UnitReport {
    /// The name; none for an unnamed unit.
    pub unit: Option<String>,
    /// The cable that it was checked against.
    pub cable: Arc<Cable>,
    /// The verdict.
    pub verdict: Verdict,
    /// The findings, hazards first.
    pub findings: Vec<Finding>,
    /// What the supplied facts cannot speak of.
    pub not_shown: NotShown,
    /// What joins what, where it was asked for.
    pub wiring: Option<Wiring>,
}

/// Checks units one after the other; keeps cables, lookups and memory between them.
#[derive(Debug, Default)]
pub struct Checker {
    catalogue: Catalogue,
    /// The folder that paths of cable files are taken from.
    folder: PathBuf,
    /// The cable that holds where the netlist says nothing, or instead of what it says.
    cable_override: Option<String>,
    keep_wiring: bool,
    lookups: HashMap<String, Arc<Prepared>>,
    reported: HashSet<String>,
    bound: Bound,
    /// The nets of the last sound unit: a reel repeats itself.
    last_sound: Option<(Arc<Prepared>, bool, Nets)>,
}

/// A cable with its ends as a netlist names them.
#[derive(Debug)]
struct Prepared {
    cable: Arc<Cable>,
    ends: EndNames,
    end_of: Vec<usize>,
    /// Built when the first unit needs them.
    hypotheses: OnceLock<Vec<Hypothesis>>,
}

/// A unit as a map reads it.
struct ReadUnit {
    cable: Arc<Cable>,
    nets: Nets,
    measured: Nets,
    troubles: Vec<Trouble>,
}

/// Of the readings that a map leaves open, the one with the least surprising faults.
fn read(cable: &Arc<Cable>, end_of: &[usize], measured: Nets, screened: bool, among: &dyn Fn(Nets) -> Nets) -> ReadUnit {
    let mut best: Option<(Nets, Explanation)> = None;
    for reading in readings(cable, &measured, screened) {
        let nets = among(wanted(cable, &measured, |link| reading.get(link).copied().unwrap_or(false)));
        if nets == measured {
            return ReadUnit { cable: Arc::clone(cable), nets, measured, troubles: Vec::new() };
        }
        let found = explain(&nets, &measured, end_of);
        if best.as_ref().is_none_or(|(_, best)| found.cost < best.cost) {
            best = Some((nets, found));
        }
    }
    let (nets, faults) = best.map_or_else(|| (measured.clone(), Vec::new()), |(nets, found)| (nets, found.faults));
    let troubles = fold(cable, &nets, faults);
    ReadUnit { cable: Arc::clone(cable), nets, measured, troubles }
}

/// What troubles cost: each as one fault, a circle by the exchanges that it takes.
fn cost(troubles: &[Trouble]) -> u32 {
    let faults: usize = troubles
        .iter()
        .map(|trouble| match trouble {
            Trouble::Exchange { places } => places.len() - 1,
            Trouble::Open { pieces, .. } => pieces.len() - 1,
            Trouble::Join { nets, .. } => nets.len() - 1,
            _ => 1,
        })
        .sum();
    u32::try_from(faults).unwrap_or(u32::MAX).saturating_mul(Cost::OPEN)
}

/// How many hypotheses are explained in full: those with the most conductors that agree.
const HYPOTHESES: usize = 6;

impl Prepared {
    /// The cause for a whole end that explains a unit better than its faults one by one, and the unit as it reads it.
    fn whole_end(
        &self,
        plain: &ReadUnit,
        screened: bool,
        variants: impl FnOnce(&Cable) -> Vec<Arc<Cable>>,
    ) -> Option<(ReadUnit, WholeEnd)> {
        let hypotheses = self.hypotheses.get_or_init(|| whole_end::hypotheses(&self.cable, &variants(&self.cable)));
        let (as_it_stands, all) = whole_end::agreement(&self.cable, &plain.nets, &plain.measured);
        let same = |nets: Nets| nets;
        let mut promising: Vec<(usize, &Hypothesis, Nets)> = Vec::new();
        for hypothesis in hypotheses {
            let Some(measured) = whole_end::read_so(hypothesis, &plain.measured) else { continue };
            let present: Vec<bool> = hypothesis.cable.links.iter().map(|link| !link.optional).collect();
            let nets = wanted(&hypothesis.cable, &measured, |link| present[link]);
            let (agree, _) = whole_end::agreement(&hypothesis.cable, &nets, &measured);
            if agree > as_it_stands {
                promising.push((agree, hypothesis, measured));
            }
        }
        promising.sort_by_key(|(agree, ..)| usize::MAX - agree);
        promising.truncate(HYPOTHESES);
        let mut found: Vec<(u32, ReadUnit, &Hypothesis)> = Vec::new();
        for (_, hypothesis, measured) in promising {
            let mut read = read(&hypothesis.cable, &self.end_of, measured, screened, &same);
            if let Some(lost) = hypothesis.lost {
                // what belongs on the contact that was lost is nowhere: that follows from the shift
                let net = read.nets.of(lost);
                read.troubles.retain(|trouble| !matches!(trouble, Trouble::Open { net: open, .. } if *open == net));
            }
            found.push((whole_end::COST + cost(&read.troubles), read, hypothesis));
        }
        let least = found.iter().map(|(cost, ..)| *cost).min().filter(|least| *least < cost(&plain.troubles))?;
        found.retain(|(cost, ..)| *cost == least);
        let (_, read, hypothesis) = found.remove(0);
        let (so, of) = whole_end::agreement(&read.cable, &read.nets, &read.measured);
        let either_end = found.iter().any(|(.., other)| other.code == hypothesis.code && other.end != hypothesis.end);
        let rivals = found
            .iter()
            .filter(|(.., other)| other.code != hypothesis.code)
            .map(|(.., other)| (other.code, other.reading.clone()))
            .collect();
        let contacts = concerned(&plain.measured, &plain.nets);
        let whole = WholeEnd {
            hypothesis: hypothesis.clone(),
            either_end,
            agree: [so, of, as_it_stands, all],
            rivals,
            hazard: false,
            contacts,
        };
        Some((read, whole))
    }
}

/// The contacts that a cause for a whole end concerns: those that are joined to something, in a net that isn't the map's.
fn concerned(measured: &Nets, wanted: &Nets) -> Vec<u32> {
    let n = u32::try_from(measured.labels().len()).unwrap_or(u32::MAX);
    let members = |nets: &Nets, point: u32| -> Vec<u32> { (0..n).filter(|other| nets.same(*other, point)).collect() };
    (0..n)
        .filter(|point| {
            let joined = members(measured, *point);
            joined.len() > 1 && joined != members(wanted, *point)
        })
        .collect()
}

impl Checker {
    /// A checker; `folder` is where the paths of cable files start, `cable_override` a cable that takes the place of
    /// what the netlist says.
    #[must_use]
    pub fn new(folder: PathBuf, cable_override: Option<String>) -> Self {
        Checker { folder, cable_override, ..Checker::default() }
    }

    /// The same checker; `keep` says whether each report keeps what joins what.
    #[must_use]
    pub fn keeping_wiring(mut self, keep: bool) -> Self {
        self.keep_wiring = keep;
        self
    }

    /// Checks one unit.
    ///
    /// # Errors
    /// What keeps the unit from having a verdict: an unknown cable or point, or a contradiction. The list is empty where
    /// the reason was given before (an unreadable line of the unit, or the same unknown cable).
    pub fn check(&mut self, head: &Head, netlist: &Netlist, unit: &Unit) -> Result<UnitReport, Vec<Problem>> {
        let given = Given::new(head, netlist, unit);
        let prepared = self.prepare(&given, netlist, unit)?;
        let problems = bind(netlist, unit, &prepared.ends, &mut self.bound);
        if !problems.is_empty() || unit.broken {
            return Err(problems);
        }
        let cable = &prepared.cable;
        let n = cable.points.len();
        let measured = Nets::new(n, self.bound.joins.iter().map(|join| (join.a, join.b)));
        let screened = given.names_overall_screen();
        let listed = given.scope() == Scope::Listed;
        let known = self.last_sound.as_ref().is_some_and(|(of, with_screen, nets)| {
            Arc::ptr_eq(of, &prepared) && *with_screen == screened && !listed && *nets == measured
        });
        let read = if known {
            ReadUnit { cable: Arc::clone(cable), nets: measured.clone(), measured, troubles: Vec::new() }
        } else {
            let read = self.read(cable, &prepared.end_of, measured, screened, listed);
            if read.troubles.is_empty() && !listed {
                self.last_sound = Some((Arc::clone(&prepared), screened, read.measured.clone()));
            }
            read
        };
        let judge = |read: &ReadUnit, whole_end: Option<WholeEnd>| {
            let case = Case::new(Parts {
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
                whole_end,
            });
            let mut sink = Sink::default();
            for check in CHECKS {
                (check.run)(&case, &mut sink);
            }
            (sink, NotShown::of(&case))
        };
        let (mut sink, mut not_shown) = judge(&read, None);
        // one cause for a whole end is worth looking for only where there are several faults to explain
        if cost(&read.troubles) > whole_end::COST
            && !listed
            && let Some((read, mut whole)) = prepared.whole_end(&read, screened, |variant| self.variants(variant))
        {
            whole.hazard = sink.has_hazard();
            (sink, not_shown) = judge(&read, Some(whole));
        }
        let verdict = sink.verdict();
        let findings = sink.into_findings();
        let wiring = self.keep_wiring.then(|| {
            let probed = |point: u32| !listed || self.bound.named_at(point).is_some();
            Wiring::new((netlist, unit, &self.bound), &prepared.ends, cable, (read.nets, read.measured), probed)
        });
        let unit = netlist.name_of(unit).map(str::to_owned);
        Ok(UnitReport { unit, cable: Arc::clone(cable), verdict, findings, not_shown, wiring })
    }

    /// A unit as a map reads it: of the readings that the map leaves open, the one with the least surprising faults.
    fn read(&self, cable: &Arc<Cable>, end_of: &[usize], measured: Nets, screened: bool, listed: bool) -> ReadUnit {
        let among = |nets: Nets| if listed { among_named(&nets, &self.bound) } else { nets };
        read(cable, end_of, measured, screened, &among)
    }

    /// The other maps of the catalogue with the same connectors.
    fn variants(&self, cable: &Cable) -> Vec<Arc<Cable>> {
        let mut catalogue = Catalogue::new();
        catalogue.like(cable)
    }

    /// The cable of a unit, with its ends renamed as the netlist says.
    fn prepare(&mut self, given: &Given<'_>, netlist: &Netlist, unit: &Unit) -> Result<Arc<Prepared>, Vec<Problem>> {
        let said = given.get(|settings| settings.cable);
        let name = match (&self.cable_override, &said) {
            (Some(name), _) => name.clone(),
            (None, Some(said)) => said.text().to_owned(),
            (None, None) => {
                return Err(self.once("no cable", || {
                    vec![
                        Problem::new("no cable line: which pin map must this conform to?")
                            .at(&netlist.source, unit.line, "this unit")
                            .help("add a header line such as `cable displayport`; `backshell maps` lists the catalogue"),
                    ]
                }));
            }
        };
        let (ends_source, end_lines) = given.ends();
        let entries: Vec<(&str, &str)> =
            end_lines.iter().map(|line| (ends_source.slice(line.end), ends_source.slice(line.side))).collect();
        let mut key = name.clone();
        for (end, side) in &entries {
            key.extend(["\n", *end, "\n", *side]);
        }
        if let Some(prepared) = self.lookups.get(&key) {
            return Ok(Arc::clone(prepared));
        }
        let cable = match self.catalogue.cable(&name, &self.folder) {
            Ok(cable) => cable,
            Err(mut problems) => {
                if let (Some(first), Some(said)) = (problems.first_mut(), &said)
                    && first.labels.is_empty()
                {
                    first.labels.push(said.label("named here"));
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
        self.lookups.insert(key, Arc::clone(&prepared));
        Ok(prepared)
    }

    /// A problem that holds for many units is given once.
    fn once(&mut self, key: &str, problems: impl FnOnce() -> Vec<Problem>) -> Vec<Problem> {
        if self.reported.insert(key.to_owned()) { problems() } else { Vec::new() }
    }
}

/// The wanted nets among the points that were probed; every other point is left out of them.
fn among_named(wanted: &Nets, bound: &Bound) -> Nets {
    let mut first: HashMap<u32, u32> = HashMap::new();
    let named = (0_u32..).take(wanted.labels().len()).filter(|point| bound.named_at(*point).is_some());
    let joins: Vec<(u32, u32)> = named.map(|point| (*first.entry(wanted.of(point)).or_insert(point), point)).collect();
    Nets::new(wanted.labels().len(), joins)
}
