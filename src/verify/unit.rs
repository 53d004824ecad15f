//! The check of one unit, and what is kept from one unit to the next.

use std::collections::{HashMap, HashSet};
use std::path::PathBuf;
use std::sync::Arc;

use crate::cause::{Explanation, Fault, explain};
use crate::finding::{Finding, Problem, Sink, Verdict};
use crate::graph::Nets;
use crate::netlist::{Bound, Netlist, Scope, Unit, bind};
use crate::pinmap::{Cable, Catalogue, EndNames};
use crate::text::visible;

use super::coverage::NotShown;
use super::given::{Given, Head};
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
}

/// Checks units one after the other; keeps cables, lookups and memory between them.
#[derive(Debug, Default)]
pub struct Checker {
    catalogue: Catalogue,
    /// The folder that paths of cable files are taken from.
    folder: PathBuf,
    /// The cable that holds where the netlist says nothing, or instead of what it says.
    cable_override: Option<String>,
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
}

impl Checker {
    /// A checker; `folder` is where the paths of cable files start, `cable_override` a cable that takes the place of
    /// what the netlist says.
    #[must_use]
    pub fn new(folder: PathBuf, cable_override: Option<String>) -> Self {
        Checker { folder, cable_override, ..Checker::default() }
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
        let (nets, troubles) = if known {
            (measured.clone(), Vec::new())
        } else {
            let (nets, faults) = self.least_surprising(&prepared, &measured, screened, listed);
            let troubles = fold(cable, &nets, faults);
            if troubles.is_empty() && !listed {
                self.last_sound = Some((Arc::clone(&prepared), screened, measured.clone()));
            }
            (nets, troubles)
        };
        let case = Case::new(netlist, unit, given, cable, &prepared.ends, &self.bound, &nets, &measured, troubles);
        let mut sink = Sink::default();
        for check in CHECKS {
            (check.run)(&case, &mut sink);
        }
        let not_shown = NotShown::of(&case);
        let verdict = sink.verdict();
        let findings = sink.into_findings();
        let unit = netlist.name_of(unit).map(str::to_owned);
        Ok(UnitReport { unit, cable: Arc::clone(cable), verdict, findings, not_shown })
    }

    /// The faults of the reading of a unit that surprises least, with the nets that it wants.
    fn least_surprising(&self, of: &Prepared, measured: &Nets, screened: bool, listed: bool) -> (Nets, Vec<Fault>) {
        let mut best: Option<(Nets, Explanation)> = None;
        for reading in readings(&of.cable, measured, screened) {
            let mut nets = wanted(&of.cable, measured, |link| reading.get(link).copied().unwrap_or(false));
            if listed {
                nets = among_named(&nets, &self.bound);
            }
            if nets == *measured {
                return (nets, Vec::new());
            }
            let found = explain(&nets, measured, &of.end_of);
            if best.as_ref().is_none_or(|(_, best)| found.cost < best.cost) {
                best = Some((nets, found));
            }
        }
        best.map_or_else(|| (measured.clone(), Vec::new()), |(nets, found)| (nets, found.faults))
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
        let prepared = Arc::new(Prepared { cable, ends, end_of });
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
