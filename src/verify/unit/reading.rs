//! How a unit is read: by its map as it stands, or by a cause that takes in a whole end.

use std::sync::{Arc, OnceLock};

use crate::cause::{Fault, explain_by};
use crate::finding::{Code, Finding, Severity, Verdict};
use crate::graph::Nets;
use crate::pinmap::{Cable, EndNames};

use crate::verify::case::requirement::commoned_further;
use crate::verify::case::trouble::{Trouble, cost};
use crate::verify::case::whole_end::{self, Hypothesis, WholeEnd};
use crate::verify::checks::coverage::Coverage;
use crate::verify::{fold, readings, wanted};

use super::lot_facts::LotFacts;
use super::measured::Measured;
use super::not_shown::NotShown;

/// A cable with its ends as a netlist names them.
#[derive(Debug)]
pub(in crate::verify) struct Prepared {
    pub(in crate::verify) cable: Arc<Cable>,
    pub(in crate::verify) ends: EndNames,
    pub(super) end_of: Vec<usize>,
    /// Built when the first unit needs them.
    pub(super) hypotheses: OnceLock<Vec<Hypothesis>>,
}

/// What came of the checks.
pub(super) struct Judged {
    pub(super) verdict: Verdict,
    pub(super) hazard: bool,
    pub(super) findings: Vec<Finding>,
    pub(super) not_shown: NotShown,
    pub(super) rework: Vec<String>,
    pub(super) coverage: Option<Box<Coverage>>,
    pub(super) measured: Option<Box<Measured>>,
    pub(super) lot: Option<Box<LotFacts>>,
}

impl Judged {
    /// How many of the findings keep the unit from conforming.
    pub(super) fn failing(&self) -> usize {
        self.findings.iter().filter(|finding| finding.severity == Severity::Fail || finding.undecided).count()
    }
}

/// A unit as a map reads it.
pub(super) struct ReadUnit {
    pub(super) cable: Arc<Cable>,
    pub(super) nets: Nets,
    pub(super) measured: Nets,
    pub(super) troubles: Vec<Trouble>,
    /// What moved in circles, before that was put together into troubles: the conductor of each place sits on the next.
    pub(super) circles: Vec<Vec<Vec<u32>>>,
}

impl ReadUnit {
    /// A unit whose nets are those that the map wants.
    pub(super) fn sound(cable: &Arc<Cable>, nets: Nets) -> Self {
        let (troubles, circles) = (Vec::new(), Vec::new());
        ReadUnit { cable: Arc::clone(cable), measured: nets.clone(), nets, troubles, circles }
    }
}

/// Of the readings that a map leaves open, the one with the least surprising faults.
pub(super) fn read(
    cable: &Arc<Cable>,
    end_of: &[usize],
    measured: Nets,
    screened: bool,
    among: &dyn Fn(Nets) -> Nets,
) -> ReadUnit {
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
pub(super) const HYPOTHESES: usize = 6;

impl Prepared {
    pub(super) fn hypotheses(&self, variants: impl FnOnce(&Cable) -> Vec<Arc<Cable>>) -> &[Hypothesis] {
        self.hypotheses.get_or_init(|| whole_end::hypotheses(&self.cable, &variants(&self.cable)))
    }

    /// A unit as a hypothesis reads it.
    pub(super) fn read_as(&self, hypothesis: &Hypothesis, measured: Nets, screened: bool) -> ReadUnit {
        let mut read = read(&hypothesis.cable, &self.end_of, measured, screened, &|nets| nets);
        if let Some(lost) = hypothesis.lost {
            // what belongs on the contact that was lost is nowhere: that follows from the shift
            let net = read.nets.of(lost);
            read.troubles.retain(|trouble| !matches!(trouble, Trouble::Open { net: open, .. } if *open == net));
        }
        read
    }

    /// The cause for a whole end that explains a unit at less than this cost, and the unit as it reads it.
    pub(super) fn whole_end(
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
    pub(super) fn rivals(
        &self,
        plain: &ReadUnit,
        screened: bool,
        variants: impl FnOnce(&Cable) -> Vec<Arc<Cable>>,
    ) -> Vec<(Code, String)> {
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
pub(super) fn concerned(measured: &Nets, wanted: &Nets) -> Vec<u32> {
    let n = u32::try_from(measured.labels().len()).unwrap_or(u32::MAX);
    let (found, meant) = (measured.table(), wanted.table());
    let differ: Vec<u32> = (0..n).filter(|point| found.of(measured.of(*point)) != meant.of(wanted.of(*point))).collect();
    let joined: Vec<u32> = differ.iter().copied().filter(|point| found.of(measured.of(*point)).len() > 1).collect();
    if joined.is_empty() { differ } else { joined }
}
