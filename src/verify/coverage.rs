//! What the supplied facts could not have shown.

use crate::finding::{Code, Label, Severity, Sink};
use crate::netlist::{FactKind, Scope};

use super::case::Case;
use super::resistance;

/// Reports `coverage.blind` for points that a `scope listed` netlist leaves out.
pub(super) fn check(case: &Case<'_>, sink: &mut Sink) {
    if case.given.scope() == Scope::All {
        return;
    }
    let untested: Vec<u32> = case.contacts().filter(|point| case.named_at(*point).is_none()).collect();
    if untested.is_empty() {
        return;
    }
    let some = if untested.len() > 12 {
        format!("{} and {} more", case.list(&untested[..12]), untested.len() - 12)
    } else {
        case.list(&untested)
    };
    let message = format!("{} of {} contacts were not probed: {some}", untested.len(), case.cable.points.len());
    let mut finding = case.finding(Code::CoverageBlind, &untested, message);
    finding.severity = Severity::Caution;
    finding.undecided = true;
    let label = case.given.get(|settings| settings.scope).map_or_else(
        || Label::new(&case.netlist.source, case.unit.line, "this unit"),
        |said| said.label("only the points that are named were probed"),
    );
    finding.labels.push(label);
    finding.why = "an open, a short or a supply wired through at these contacts would not show".to_owned();
    finding.remedy = "probe these contacts too, each against all others, and add what they touch".to_owned();
    sink.report(finding);
}

/// What the facts of a unit cannot speak of, as a set of fixed words.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct NotShown(u16);

/// The words, in the order in which they are listed.
const WORDS: [&str; 9] =
    ["pairing", "resistance", "isolation", "component values", "gauge", "impedance", "360-degree bond", "crimp", "lock"];

impl NotShown {
    /// The words of the set.
    pub fn words(self) -> impl Iterator<Item = &'static str> {
        WORDS.iter().enumerate().filter(move |(bit, _)| self.0 >> bit & 1 == 1).map(|(_, word)| *word)
    }

    /// What the facts of this unit cannot speak of.
    #[must_use]
    pub fn of(case: &Case<'_>) -> Self {
        let mut seen = Seen::default();
        let mut paired = vec![false; if case.unit_has_pairs() { case.cable.points.len() } else { 0 }];
        let judged = resistance::judged(case);
        for fact in case.facts() {
            match fact.kind {
                FactKind::Isolation { .. } => seen.isolation = true,
                FactKind::Component { .. } => seen.components = true,
                FactKind::SParameters { .. } => seen.traces = true,
                FactKind::Pair { .. } => {
                    for number in case.numbers(fact).iter().take(2) {
                        paired[*number as usize] = true;
                    }
                }
                _ => {}
            }
        }
        let by_end = &case.cable.paired;
        let has_pairs = !by_end.is_empty();
        // one end is enough: the twist runs from end to end
        let shown = |points: &Vec<u32>| points.iter().all(|point| paired.get(*point as usize).copied().unwrap_or(false));
        let unpaired = has_pairs && !by_end.iter().any(shown);
        let bits = [
            unpaired,
            !judged.limits,
            !seen.isolation,
            case.cable.parts.iter().any(|part| !part.optional) && !seen.components,
            !judged.wire,
            has_pairs && !seen.traces,
            case.cable.has_shell,
            true,
            true,
        ];
        NotShown(bits.iter().enumerate().map(|(bit, set)| u16::from(*set) << bit).sum())
    }
}

/// What the facts of a unit speak of.
#[derive(Default)]
struct Seen {
    isolation: bool,
    components: bool,
    traces: bool,
}
