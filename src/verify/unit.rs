//! The check of one unit, and what is kept from one unit to the next.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::{Arc, OnceLock};

use crate::cause::{Cost, Fault, explain_by};
use crate::finding::{Code, Finding, Problem, Severity, Sink, Verdict};
use crate::graph::Nets;
use crate::netlist::{Bound, Netlist, Origin, Scope, Unit, bind};
use crate::pinmap::{Cable, Catalogue, EndNames, is_path};
use crate::text::visible;

use super::about::About;
use super::case::{Evidence, Kept, Signals};
use super::contradictions::contradictions;
use super::coverage::{self, Coverage};
use super::drawing;
use super::given::{Given, Head};
use super::link::LinkGrade;
use super::lot_facts::LotFacts;
use super::measured::Measured;
use super::not_shown::NotShown;
use super::requirement::commoned_further;
use super::resistance::Rule;
use super::rework::rework;
use super::trouble::{Trouble, cost};
use super::whole_end::{self, Hypothesis, WholeEnd};
use super::wiring::Wiring;
use super::{CHECKS, Case, Options, fold, readings, wanted};

/// The verdict on one unit.
#[derive(Debug)]
pub struct UnitReport {
    /// The name; none for an unnamed unit.
    pub unit: Option<String>,
    /// The cable that it was checked against.
    pub cable: Arc<Cable>,
    /// Whether it is a drawing, and not a cable that was measured.
    pub is_drawing: bool,
    /// The verdict.
    pub verdict: Verdict,
    /// The findings, hazards first.
    pub findings: Vec<Finding>,
    /// What the supplied facts cannot speak of.
    pub not_shown: NotShown,
    /// For a unit that fails, what to do to it, step by step.
    pub rework: Vec<String>,
    /// What they show, where that was asked for.
    pub coverage: Option<Box<Coverage>>,
    /// What joins what, where it was asked for.
    pub wiring: Option<Wiring>,
    /// What was measured, where it was asked for.
    pub measured: Option<Box<Measured>>,
    /// Which test of this unit it is, from 1.
    pub attempt: u8,
    /// What a lot keeps of it, where that was asked for.
    pub lot: Option<Box<LotFacts>>,
    /// The links of which S-parameters were measured, with the rates that their lanes carry.
    pub links: Vec<LinkGrade>,
    /// What the netlist says of the unit itself, where it was asked for.
    pub about: Option<Box<About>>,
}

impl UnitReport {
    /// The report on a unit that can't be checked beyond these findings.
    fn unreadable(prepared: &Prepared, netlist: &Netlist, unit: &Unit, findings: Vec<Finding>) -> Self {
        UnitReport {
            unit: netlist.name_of(unit).map(str::to_owned),
            cable: Arc::clone(&prepared.cable),
            is_drawing: true,
            verdict: Verdict::Fails,
            findings,
            not_shown: NotShown::everything(),
            rework: Vec::new(),
            coverage: None,
            wiring: None,
            measured: None,
            attempt: unit.attempt,
            lot: None,
            links: Vec::new(),
            about: None,
        }
    }
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
    keep_measured: bool,
    lookups: HashMap<String, Arc<Prepared>>,
    reported: HashSet<String>,
    bound: Bound,
    kept: Kept,
    /// Whether to work out what the facts of each unit show.
    with_coverage: bool,
    keep_lot: bool,
    with_about: bool,
    /// Whether rules are wanted, and those of the unit that was checked last.
    watched: Option<Vec<Option<Rule>>>,
    /// The nets of the last sound unit: a reel repeats itself.
    last_sound: Option<(Arc<Prepared>, bool, Nets)>,
}

/// A cable with its ends as a netlist names them.
#[derive(Debug)]
pub(super) struct Prepared {
    pub(super) cable: Arc<Cable>,
    pub(super) ends: EndNames,
    end_of: Vec<usize>,
    /// Built when the first unit needs them.
    hypotheses: OnceLock<Vec<Hypothesis>>,
}

/// What came of the checks.
struct Judged {
    verdict: Verdict,
    hazard: bool,
    findings: Vec<Finding>,
    not_shown: NotShown,
    rework: Vec<String>,
    coverage: Option<Box<Coverage>>,
    measured: Option<Box<Measured>>,
    lot: Option<Box<LotFacts>>,
}

impl Judged {
    /// How many of the findings keep the unit from conforming.
    fn failing(&self) -> usize {
        self.findings.iter().filter(|finding| finding.severity == Severity::Fail || finding.undecided).count()
    }
}

/// A unit as a map reads it.
struct ReadUnit {
    cable: Arc<Cable>,
    nets: Nets,
    measured: Nets,
    troubles: Vec<Trouble>,
    /// What moved in circles, before that was put together into troubles: the conductor of each place sits on the next.
    circles: Vec<Vec<Vec<u32>>>,
}

impl ReadUnit {
    /// A unit whose nets are those that the map wants.
    fn sound(cable: &Arc<Cable>, nets: Nets) -> Self {
        let (troubles, circles) = (Vec::new(), Vec::new());
        ReadUnit { cable: Arc::clone(cable), measured: nets.clone(), nets, troubles, circles }
    }
}

/// Of the readings that a map leaves open, the one with the least surprising faults.
fn read(cable: &Arc<Cable>, end_of: &[usize], measured: Nets, screened: bool, among: &dyn Fn(Nets) -> Nets) -> ReadUnit {
    let mut best: Option<(u32, ReadUnit)> = None;
    for reading in readings(cable, &measured, screened) {
        let nets = among(wanted(cable, &measured, |link| reading.get(link).copied().unwrap_or(false)));
        if nets == measured {
            return ReadUnit::sound(cable, nets);
        }
        let further = commoned_further(cable, &measured, &nets).map(among);
        for nets in [Some(nets), further].into_iter().flatten() {
            let told = |faults: &[Fault]| cost(&fold(cable, &nets, faults.to_vec()));
            let faults = explain_by(&nets, &measured, end_of, told).faults;
            let circles = faults.iter().filter_map(|fault| match fault {
                Fault::Exchange { places } => Some(places.clone()),
                _ => None,
            });
            let circles = circles.collect();
            let troubles = fold(cable, &nets, faults);
            let cost = cost(&troubles);
            if best.as_ref().is_none_or(|(least, ..)| cost < *least) {
                let measured = measured.clone();
                best = Some((cost, ReadUnit { cable: Arc::clone(cable), nets, measured, troubles, circles }));
            }
        }
    }
    best.map_or_else(|| ReadUnit::sound(cable, measured), |(_, read)| read)
}

/// How many hypotheses are explained in full: those with the most conductors that agree.
const HYPOTHESES: usize = 6;

impl Prepared {
    fn hypotheses(&self, variants: impl FnOnce(&Cable) -> Vec<Arc<Cable>>) -> &[Hypothesis] {
        self.hypotheses.get_or_init(|| whole_end::hypotheses(&self.cable, &variants(&self.cable)))
    }

    /// A unit as a hypothesis reads it.
    fn read_as(&self, hypothesis: &Hypothesis, measured: Nets, screened: bool) -> ReadUnit {
        let mut read = read(&hypothesis.cable, &self.end_of, measured, screened, &|nets| nets);
        if let Some(lost) = hypothesis.lost {
            // what belongs on the contact that was lost is nowhere: that follows from the shift
            let net = read.nets.of(lost);
            read.troubles.retain(|trouble| !matches!(trouble, Trouble::Open { net: open, .. } if *open == net));
        }
        read
    }

    /// The cause for a whole end that explains a unit at less than this cost, and the unit as it reads it.
    fn whole_end(
        &self,
        plain: &ReadUnit,
        limit: u32,
        screened: bool,
        variants: impl FnOnce(&Cable) -> Vec<Arc<Cable>>,
    ) -> Option<(ReadUnit, WholeEnd)> {
        let (as_it_stands, all) = whole_end::agreement(&self.cable, &plain.nets, &plain.measured);
        let mut promising: Vec<(usize, bool, &Hypothesis, Nets)> = Vec::new();
        for hypothesis in self.hypotheses(variants) {
            let Some((agree, of, measured)) = whole_end::seen_so(hypothesis, &plain.measured) else { continue };
            // another wiring may have fewer conductors, and all of them agree
            let all_agree = agree + usize::from(hypothesis.lost.is_some()) >= of;
            if agree > as_it_stands || all_agree {
                promising.push((agree, all_agree, hypothesis, measured));
            }
        }
        promising.sort_by_key(|(agree, ..)| usize::MAX - agree);
        promising.truncate(HYPOTHESES);
        let mut found: Vec<(u32, ReadUnit, &Hypothesis)> = Vec::new();
        for (_, all_agree, hypothesis, measured) in promising {
            if !all_agree && found.iter().any(|(cost, ..)| *cost == whole_end::COST) {
                continue; // one that leaves nothing to explain was found, and this one leaves something
            }
            let read = self.read_as(hypothesis, measured, screened);
            found.push((whole_end::COST + cost(&read.troubles), read, hypothesis));
        }
        let least = found.iter().map(|(cost, ..)| *cost).min().filter(|least| *least < limit)?;
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

    /// The causes for a whole end that leave nothing to explain, where one plain fault does so too.
    fn rivals(&self, plain: &ReadUnit, screened: bool, variants: impl FnOnce(&Cable) -> Vec<Arc<Cable>>) -> Vec<(Code, String)> {
        let mut rivals = Vec::new();
        let hypotheses = self.hypotheses(variants).iter();
        for hypothesis in hypotheses.filter(|hypothesis| whole_end::can_leave_nothing(hypothesis, &plain.measured)) {
            let Some((agree, of, measured)) = whole_end::seen_so(hypothesis, &plain.measured) else { continue };
            let rival = (hypothesis.code, hypothesis.reading.clone());
            if agree + usize::from(hypothesis.lost.is_some()) >= of
                && !rivals.contains(&rival)
                && self.read_as(hypothesis, measured, screened).troubles.is_empty()
            {
                rivals.push(rival);
            }
        }
        rivals
    }
}

/// The contacts that a cause for a whole end concerns: those that are joined to something, in a net that isn't the map's;
/// where there are none, those that should be joined.
fn concerned(measured: &Nets, wanted: &Nets) -> Vec<u32> {
    let n = u32::try_from(measured.labels().len()).unwrap_or(u32::MAX);
    let (found, meant) = (measured.table(), wanted.table());
    let differ: Vec<u32> = (0..n).filter(|point| found.of(measured.of(*point)) != meant.of(wanted.of(*point))).collect();
    let joined: Vec<u32> = differ.iter().copied().filter(|point| found.of(measured.of(*point)).len() > 1).collect();
    if joined.is_empty() { differ } else { joined }
}

impl Checker {
    /// A checker; `folder` is where the paths of cable files start.
    #[must_use]
    pub fn new(folder: PathBuf, options: &Options) -> Self {
        let Options { cable, maps, known, coverage, wiring, measured, lot, about, .. } = options.clone();
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
    pub(super) fn check_and_watch(
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
    pub(super) fn judge(
        &mut self,
        prepared: &Arc<Prepared>,
        given: Given<'_>,
        netlist: &Netlist,
        unit: &Unit,
    ) -> Result<UnitReport, Vec<Problem>> {
        let problems = bind(netlist, unit, &prepared.ends, &mut self.bound);
        if !problems.is_empty() || unit.broken {
            let drawing = given.origin() == Origin::Drawing && !unit.broken;
            return match drawing.then(|| drawing::no_such_pin(prepared, netlist, unit, &problems)).flatten() {
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
            let mut sink = Sink::default();
            for check in CHECKS {
                (check.run)(&case, &mut sink);
            }
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
    pub(super) fn prepare_as(&mut self, name: &str, given: &Given<'_>, unit: &Unit) -> Result<Arc<Prepared>, Vec<Problem>> {
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
                if let (Some(first), Some(said)) = (problems.first_mut(), given.get(|settings| settings.cable))
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
pub(super) fn settled(prepared: &Prepared, given: &Given<'_>, bound: &Bound, measured: &Nets) -> Nets {
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
