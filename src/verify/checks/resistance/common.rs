//! What all conductors of a unit share: another wire, or another length, than the header says.

use crate::finding::{Code, Finding, Sink};
use crate::units::{Bound, Decision, awg_of_ratio, copper_clad_ratio};

use super::has_branches;
use super::words::{about, median, select, span_of, words};
use crate::verify::case::Case;
use crate::verify::case::expected::{self, Wire, ohm};
use crate::verify::case::joined::Join;

/// The share of the conductors that makes a cause common to all: three of four, and at least three.
const COMMON: (usize, usize, usize) = (3, 4, 3);

/// Whether these are enough of those for a common cause.
fn are_common(some: usize, all: usize) -> bool {
    some >= COMMON.2 && some * COMMON.1 >= all * COMMON.0
}

/// All conductors above, or all below, what the stated wire can have: the wire or the length is another one.
pub(super) fn common(case: &Case<'_>, wire: Wire, joins: &[Join], sink: &mut Sink) {
    let singles: Vec<usize> = (0..joins.len())
        .filter(|at| {
            joins[*at].single
                && joins[*at].wire.is_none()
                && !joins[*at].told.get()
                && joins[*at].reading.quantity.bound == Bound::Exact
        })
        .collect();
    let above: Vec<usize> =
        singles.iter().copied().filter(|at| joins[*at].reading.at_most(wire.most) != Decision::Conforms).collect();
    let median = median(above.iter().map(|at| joins[*at].ohm()).collect());
    let alike = |at: &&usize| (joins[**at].ohm() - median).abs() <= 0.15 * median + joins[**at].reading.uncertainty;
    let sure = above.iter().any(|at| joins[*at].reading.at_most(wire.most) == Decision::Fails);
    if sure && are_common(above.iter().filter(alike).count(), singles.len()) {
        sink.report(another_wire(case, wire, &select(joins, &above), median));
        // whatever is above the others even so has a fault of its own
        let most = median + (wire.most - wire.nominal);
        for at in above {
            joins[at].told.set(joins[at].reading.at_most(most) != Decision::Fails);
        }
    }
    let below: Vec<usize> =
        singles.iter().copied().filter(|at| joins[*at].reading.at_least(wire.least) == Decision::Fails).collect();
    if !has_branches(case) && are_common(below.len(), singles.len()) {
        sink.report(low(case, wire, &select(joins, &below)));
        for at in below {
            joins[at].told.set(true);
        }
    }
}

/// How near a ratio is to the thinner copper sizes and to clad aluminium, as a share.
fn another_wire(case: &Case<'_>, wire: Wire, joins: &[&Join], median: f64) -> Finding {
    let ratio = (median - Wire::contacts()).max(0.0) / wire.nominal;
    let clad = [0.15, 0.10].map(|share| copper_clad_ratio(share).unwrap_or(1.5));
    let gauge = case.given.get(|settings| settings.gauge).map(|said| said.value);
    let awg = gauge.and_then(|gauge| awg_of_ratio(&gauge, ratio));
    let nearest = awg.map(f64::round).unwrap_or_default();
    // how far off each explanation is, in parts of the reading
    let off_clad = if ratio < clad[0] { clad[0] / ratio } else { (ratio / clad[1]).max(1.0) };
    let off_copper = awg.map_or(1.0, |awg| 92_f64.powf((awg - nearest).abs() * 2.0 / 39.0));
    let close = |off: f64| off < 1.10;
    let aluminium = close(off_clad) && off_clad <= off_copper;
    let stated = gauge.map(|gauge| gauge.short()).unwrap_or_default();
    let fits_clad = format!("copper-clad aluminium of {stated} ({:.2} to {:.2} times copper)", clad[0], clad[1]);
    let fits_copper = format!("copper of {nearest} AWG");
    let fits = match (aluminium, close(off_clad), awg.is_some()) {
        (true, _, true) => format!("{fits_clad}, and {fits_copper} nearly as well"),
        (true, _, false) => fits_clad,
        (false, true, true) => format!("{fits_copper}, and {fits_clad} nearly as well"),
        (false, _, true) => fits_copper,
        (false, _, false) => "no copper wire of a usual size".to_owned(),
    };
    let code = if aluminium { Code::ConductorAluminium } else { Code::ConductorThin };
    let message = format!(
        "{} conductors read {ratio:.2} times what copper has in {} ({} in the middle, {} expected): that fits {fits}",
        joins.len(),
        expected::in_words(case, None),
        ohm(median),
        ohm(wire.nominal + Wire::contacts()),
    );
    let mut finding = about(case, code, joins, message);
    finding.labels.extend(expected::labels(case));
    let why = "more voltage drop and heat on supplies than the order allows for, and a shorter reach on pairs";
    finding.why = if aluminium { format!("{why}; joints of aluminium creep, oxidise and fail early") } else { why.to_owned() };
    "resistance alone can't tell metal from size: measure the bare wire, and weigh a stripped length (copper 8.9 g/cm3, clad \
     aluminium 3.3 to 3.6); first make sure of the length, and that the meter's own leads were taken off. Then reject or \
     regrade: this can't be repaired"
        .clone_into(&mut finding.remedy);
    "ASTM B258 (wire sizes), ASTM B566 (clad aluminium, 10 and 15 % copper); the allowances are common practice, no source"
        .clone_into(&mut finding.source);
    finding
}

pub(super) fn low(case: &Case<'_>, wire: Wire, joins: &[&Join]) -> Finding {
    let message = format!(
        "{}: {} has {} or more",
        match joins {
            [join] => format!("{} reads {}, less than copper can have", words(case, join), ohm(join.ohm())),
            _ => format!("{} conductors read less than copper can have, {}", joins.len(), span_of(joins)),
        },
        expected::in_words(case, None),
        ohm(wire.least),
    );
    let mut finding = about(case, Code::ResistanceLow, joins, message);
    finding.labels.extend(expected::labels(case));
    finding.leave_undecided();
    "something in the record is wrong: the length, the gauge, the zero of the meter, or a path in parallel that nobody knows \
     of; limits that follow from it are wrong too"
        .clone_into(&mut finding.why);
    "measure a known resistor with the same leads, tape the length, correct the record, and measure again"
        .clone_into(&mut finding.remedy);
    "ASTM B258 for the wire; the allowances are common practice, no source".clone_into(&mut finding.source);
    finding
}
