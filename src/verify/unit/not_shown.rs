//! What the supplied facts cannot speak of.

use crate::netlist::FactKind;

use crate::verify::case::Case;
use crate::verify::case::joined;

/// What the facts of a unit cannot speak of, as a set of fixed words.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord)]
pub struct NotShown(u16);

/// The words, in the order in which they are listed.
const WORDS: [&str; 10] =
    ["pairing", "resistance", "isolation", "component values", "gauge", "impedance", "360-degree bond", "crimp", "lock", RATE];

/// Whether the rate that the cable is sold for is carried; only of cables that say one.
const RATE: &str = "link rate";

impl NotShown {
    /// Every word that holds of any cable: nothing was checked.
    #[must_use]
    pub fn everything() -> Self {
        let of_any = WORDS.iter().filter(|word| **word != RATE).count();
        NotShown((1 << of_any) - 1)
    }

    /// The words of the set.
    pub fn words(self) -> impl Iterator<Item = &'static str> {
        WORDS.iter().enumerate().filter(move |(bit, _)| self.0 >> bit & 1 == 1).map(|(_, word)| *word)
    }

    /// What the facts of this unit cannot speak of.
    #[must_use]
    pub fn of(case: &Case<'_>) -> Self {
        let mut seen = Seen::default();
        let mut paired = vec![false; if case.unit_has_pairs() { case.cable.points.len() } else { 0 }];
        let judged = joined::judged(case);
        for fact in case.facts() {
            match fact.kind {
                FactKind::Isolation { .. } => seen.isolation = true,
                FactKind::Component { .. } => seen.components = true,
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
        // the impedance of a pair shows in its S-parameters
        let networks = case.measured_contacts();
        let unmeasured = has_pairs && !by_end.iter().any(|points| points.iter().all(|point| networks.contains(point)));
        let rated = case.given.get(|settings| settings.rated).is_some() && !case.named.link_rates.is_empty();
        let bits = [
            unpaired,
            !judged.limits,
            !seen.isolation,
            case.cable.parts.iter().any(|part| !part.optional) && !seen.components,
            !judged.wire,
            unmeasured,
            case.cable.has_shell,
            true,
            true,
            rated && networks.is_empty(),
        ];
        NotShown(bits.iter().enumerate().map(|(bit, set)| u16::from(*set) << bit).sum())
    }
}

/// What the facts of a unit speak of.
#[derive(Default)]
struct Seen {
    isolation: bool,
    components: bool,
}
