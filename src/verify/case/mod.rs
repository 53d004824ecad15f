//! One unit on the table: its facts, its cable, its nets, and the words for them.

pub(in crate::verify) mod expected;
pub(in crate::verify) mod given;
pub(in crate::verify) mod joined;
pub(in crate::verify) mod joins;
#[cfg(feature = "signal")]
pub(in crate::verify) mod link_grades;
pub(in crate::verify) mod physical;
pub(in crate::verify) mod places;
pub(in crate::verify) mod requirement;
#[cfg(feature = "signal")]
pub(in crate::verify) mod signal_files;
#[cfg(feature = "signal")]
pub(in crate::verify) mod signals;
#[cfg(not(feature = "signal"))]
#[path = "signals_unread.rs"]
pub(in crate::verify) mod signals;
pub(in crate::verify) mod trouble;
pub(in crate::verify) mod whole_end;
mod words;

pub use given::{Given, Head, Said};
#[cfg(feature = "signal")]
pub use link_grades::LinkGrade;
pub use physical::{Conductor, ConductorKind, Masked, conductors};
pub use requirement::{readings, wanted};
#[cfg(feature = "signal")]
pub use signal_files::{SignalFile, SignalFiles};
pub use trouble::{Trouble, fold};
pub use whole_end::{Hypothesis, WholeEnd, hypotheses};

use std::borrow::Cow;
use std::cell::{Cell, OnceCell, RefCell};
use std::ops::Deref;
use std::sync::Arc;

use crate::finding::{Code, Label};
use crate::graph::{NetTable, Nets, Paths};
use crate::netlist::{Bound, ComponentKind, Fact, FactKind, Netlist, Unit};
use crate::pinmap::{Cable, EndNames};

use expected::{Stated, Wire};
use joined::Join;
use signals::Signals;

/// What there is to look at: the facts, and what was made of them.
#[derive(Debug)]
pub struct Evidence<'a> {
    /// The netlist that the unit is in.
    pub netlist: &'a Netlist,
    /// The unit.
    pub unit: &'a Unit,
    /// Its header lines.
    pub given: Given<'a>,
    /// The cable that it must conform to.
    pub cable: &'a Cable,
    /// How the netlist names the ends.
    pub ends: &'a EndNames,
    /// Its points and joins.
    pub bound: &'a Bound,
    /// The nets that it must have.
    pub wanted: &'a Nets,
    /// The nets that it has.
    pub measured: &'a Nets,
    /// What is wrong with its conductors.
    pub troubles: Vec<Trouble>,
    /// What moved in circles, before that was put together into troubles: the conductor of each place sits on the next.
    pub circles: &'a [Vec<Vec<u32>>],
    /// The cause that takes in a whole end, where there is one; the rest is seen as that cause reads it.
    pub whole_end: Option<WholeEnd>,
    /// Causes for a whole end that leave nothing to explain either, where there is one plain fault.
    pub rivals: &'a [(Code, String)],
    /// The cable that was asked for; another than `cable` where the unit is read by another map.
    pub named: &'a Cable,
    /// What is kept from unit to unit.
    pub(in crate::verify) kept: &'a Kept,
    /// What its S-parameters tell, read when it is first asked for.
    #[cfg_attr(not(feature = "signal"), expect(dead_code, reason = "nothing is read"))]
    pub(in crate::verify) signals: &'a Signals,
}

/// Everything that a check may look at: the [`Evidence`], with the words for it. A check adds findings and changes nothing.
#[derive(Debug)]
pub struct Case<'a> {
    evidence: Evidence<'a>,
    /// For each contact of the netlist, the one of the map that stands for it, where they are not the same.
    stands_for: Option<Vec<u32>>,
    paths: OnceCell<Paths>,
    joins: OnceCell<Vec<Join>>,
    figures_told: Cell<bool>,
    wire: OnceCell<Option<Wire>>,
    capacitors: OnceCell<Vec<(u32, [u32; 2])>>,
    /// The contacts of each wanted net.
    members: OnceCell<NetTable>,
}

impl<'a> Deref for Case<'a> {
    type Target = Evidence<'a>;

    fn deref(&self) -> &Evidence<'a> {
        &self.evidence
    }
}

/// What is kept from unit to unit: a reel repeats itself.
#[derive(Debug, Default)]
pub(in crate::verify) struct Kept {
    hidden: RefCell<Option<Hidden>>,
    wire: Cell<Option<(Stated, Option<Wire>)>>,
}

/// The conductors that others hide.
#[derive(Debug)]
struct Hidden {
    /// Where the cable lies: those of one checker stay in their places.
    cable: usize,
    nets: Nets,
    wire: Option<[f64; 2]>,
    masked: Arc<[Masked]>,
}

impl<'a> Case<'a> {
    pub(in crate::verify) fn new(evidence: Evidence<'a>) -> Self {
        let stands_for = evidence.whole_end.as_ref().map(|whole| {
            let meant = &whole.hypothesis.meant;
            let mut stands_for = meant.clone();
            for (point, meant) in (0..).zip(meant) {
                stands_for[*meant as usize] = point;
            }
            stands_for
        });
        Case {
            evidence,
            stands_for,
            paths: OnceCell::new(),
            joins: OnceCell::new(),
            figures_told: Cell::new(false),
            wire: OnceCell::new(),
            capacitors: OnceCell::new(),
            members: OnceCell::new(),
        }
    }

    /// The capacitors that the netlist states: the fact, and the two contacts.
    pub(in crate::verify) fn capacitors(&self) -> &[(u32, [u32; 2])] {
        self.capacitors.get_or_init(|| {
            let facts = self.lines();
            let capacitors =
                facts.filter(|(_, fact)| matches!(fact.kind, FactKind::Component { kind: ComponentKind::Capacitor, .. }));
            capacitors.filter_map(|(line, fact)| Some((line, <[u32; 2]>::try_from(&*self.numbers(fact)).ok()?))).collect()
        })
    }

    /// The joins that carry a figure. Whoever asks may say something of the figures, so that this unit is no pattern for others;
    /// see [`Rule`](crate::verify::checks::resistance::Rule).
    pub(in crate::verify) fn joins(&self) -> &[Join] {
        self.figures_told.set(true);
        self.joins_by_rule()
    }

    /// The same, for those who say nothing of a figure where the [`Rule`](crate::verify::checks::resistance::Rule) of the unit holds.
    pub(in crate::verify) fn joins_by_rule(&self) -> &[Join] {
        self.joins.get_or_init(|| joined::joins(self))
    }

    /// Whether anyone may have said something of a figure that the [`Rule`](crate::verify::checks::resistance::Rule) knows nothing of.
    pub(in crate::verify) fn has_told_figures(&self) -> bool {
        self.figures_told.get()
    }

    /// The wire that the header names, where it gives length and gauge.
    pub(in crate::verify) fn wire(&self) -> Option<Wire> {
        *self.wire.get_or_init(|| {
            let stated = Stated::of(self);
            match self.kept.wire.get() {
                Some((known, wire)) if known == stated => wire,
                _ => {
                    let wire = Wire::of(&stated);
                    self.kept.wire.set(Some((stated, wire)));
                    wire
                }
            }
        })
    }

    /// The conductors whose loss continuity can't show in this unit.
    #[must_use]
    pub fn masked(&self) -> Arc<[Masked]> {
        let wire = self.wire().zip(expected::length(self).map(|(metres, _)| metres));
        let key = wire.map(|(wire, metres)| [wire.nominal, metres]);
        let mut kept = self.kept.hidden.borrow_mut();
        if let Some(kept) = kept.as_ref()
            && kept.cable == std::ptr::from_ref(self.cable).addr()
            && kept.wire == key
            && kept.nets == *self.wanted
        {
            return Arc::clone(&kept.masked);
        }
        let masked: Arc<[Masked]> = physical::masked(self.cable, &physical::conductors(self.cable, self.wanted), wire).into();
        *kept = Some(Hidden {
            cable: std::ptr::from_ref(self.cable).addr(),
            nets: self.wanted.clone(),
            wire: key,
            masked: Arc::clone(&masked),
        });
        masked
    }

    /// The contact of the netlist that a contact of the map is read from.
    fn read_from(&self, point: u32) -> u32 {
        let meant = self.whole_end.as_ref().and_then(|whole| whole.hypothesis.meant.get(point as usize));
        meant.copied().unwrap_or(point)
    }

    /// The contacts that a fact names, as the map names them.
    #[must_use]
    pub fn numbers(&self, fact: &Fact) -> Cow<'a, [u32]> {
        let numbers = self.bound.numbers(fact);
        match &self.stands_for {
            None => Cow::Borrowed(numbers),
            Some(table) => Cow::Owned(numbers.iter().map(|number| table[*number as usize]).collect()),
        }
    }

    /// The first fact of any kind that names a contact.
    #[must_use]
    pub fn named_at(&self, point: u32) -> Option<u32> {
        self.bound.named_at(self.read_from(point))
    }

    /// Whether a contact was probed against others: a line joins it, or says that it touches nothing.
    #[must_use]
    pub fn probed(&self, point: u32) -> bool {
        self.bound.probed(self.read_from(point))
    }

    /// Labels on the first few lines that join contacts, given as the netlist names them.
    #[must_use]
    pub fn lines_of(&self, contacts: &[u32], most: usize) -> Vec<Label> {
        let mut facts: Vec<u32> = contacts.iter().filter_map(|contact| self.bound.joined_at(*contact)).collect();
        facts.sort_unstable();
        facts.dedup();
        let more = facts.len().saturating_sub(most);
        facts.truncate(most);
        let last = facts.last().copied();
        facts
            .iter()
            .map(|fact| {
                let text = if Some(*fact) == last && more > 0 {
                    format!("one of them; {more} more lines")
                } else {
                    "one of them".to_owned()
                };
                self.at(*fact, text)
            })
            .collect()
    }

    /// The facts of the unit.
    #[must_use]
    pub fn facts(&self) -> &'a [Fact] {
        self.netlist.facts_of(self.unit)
    }

    /// The same, each with its index into [`Netlist::facts`], as [`Case::at`] takes it.
    pub fn lines(&self) -> impl Iterator<Item = (u32, &'a Fact)> + use<'a> {
        (self.unit.facts.start..).zip(self.facts())
    }

    /// Every contact of the cable.
    pub fn contacts(&self) -> impl Iterator<Item = u32> + use<> {
        0..u32::try_from(self.cable.points.len()).unwrap_or(u32::MAX)
    }

    /// Whether the unit has `pair` lines.
    #[must_use]
    pub fn unit_has_pairs(&self) -> bool {
        self.facts().iter().any(|fact| matches!(fact.kind, FactKind::Pair { .. }))
    }

    /// The contacts of a wanted net.
    #[must_use]
    pub fn net(&self, net: u32) -> Vec<u32> {
        self.contacts_of(net).to_vec()
    }

    fn contacts_of(&self, net: u32) -> &[u32] {
        self.members.get_or_init(|| self.wanted.table()).of(net)
    }
}
