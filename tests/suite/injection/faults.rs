//! Every single fault that can be put into a cable, with the finding that it must lead to.

use std::collections::BTreeSet;

use backshell::pinmap::{Link, Pairing, Role};

use super::{Build, Model};

/// What kind of fault.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Kind {
    Open,
    Lifted,
    PairOpen,
    Short,
    Exchanged,
    Tied,
    Transposed,
    Forbidden,
    Misplaced,
    Circle,
}

impl Kind {
    pub const ALL: [Kind; 10] = [
        Kind::Open,
        Kind::Lifted,
        Kind::PairOpen,
        Kind::Short,
        Kind::Exchanged,
        Kind::Tied,
        Kind::Transposed,
        Kind::Forbidden,
        Kind::Misplaced,
        Kind::Circle,
    ];
}

/// What is done to a cable.
#[derive(Clone, Debug)]
pub enum Deed {
    /// Wires are cut.
    Cut(Vec<usize>),
    /// Nothing reaches a contact any more.
    Lift(usize),
    /// Two contacts are joined.
    Bridge(usize, usize),
    /// Contacts change places, one exchange after the other.
    Exchange(Vec<(usize, usize)>),
    /// Tied contacts change places with another.
    ExchangeTied(Vec<usize>, usize),
}

impl Deed {
    pub fn apply(&self, to: &mut Model) {
        match self {
            Deed::Cut(wires) => wires.iter().for_each(|wire| to.cut(*wire)),
            Deed::Lift(contact) => to.lift(*contact),
            Deed::Bridge(a, b) => to.bridge(*a, *b),
            Deed::Exchange(exchanges) => exchanges.iter().for_each(|exchange| to.exchange(&[*exchange])),
            Deed::ExchangeTied(tied, single) => to.exchange_tied(tied, *single),
        }
    }
}

/// What a fault must be reported as.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Named {
    pub code: &'static str,
    pub points: BTreeSet<usize>,
}

/// A single fault.
#[derive(Clone, Debug)]
pub struct Single {
    pub kind: Kind,
    pub deed: Deed,
    /// None where the map leaves it free, so that the cable conforms.
    pub named: Option<Named>,
    /// Whether it can destroy equipment or hurt someone, where that is plain.
    pub hazard: Option<bool>,
}

impl Single {
    pub fn of(&self, sound: &Model) -> Model {
        let mut faulty = sound.clone();
        self.deed.apply(&mut faulty);
        faulty
    }
}

fn single(kind: Kind, deed: Deed, code: &'static str, points: BTreeSet<usize>, hazard: Option<bool>) -> Single {
    Single { kind, deed, named: Some(Named { code, points }), hazard }
}

fn free(kind: Kind, deed: Deed) -> Single {
    Single { kind, deed, named: None, hazard: None }
}

/// Every single fault of a kind that a cable of this build can have.
pub fn singles(model: &Model, build: Build, kind: Kind) -> Vec<Single> {
    let mut all = Vec::new();
    match kind {
        Kind::Open => open(model, build, &mut all),
        Kind::Lifted => lifted(model, &mut all),
        Kind::PairOpen => pair_open(model, &mut all),
        Kind::Short => short(model, &mut all),
        Kind::Exchanged => exchanged(model, &mut all),
        Kind::Tied if build != Build::Commoned => tied(model, &mut all),
        Kind::Transposed => transposed(model, &mut all),
        Kind::Forbidden => forbidden(model, &mut all),
        Kind::Misplaced => misplaced(model, &mut all),
        Kind::Circle => circle(model, &mut all),
        _ => {}
    }
    all
}

/// The code for a wire that is not there.
pub fn open_code(model: &Model, contacts: &[usize]) -> &'static str {
    if contacts.iter().all(|contact| model.role(*contact) == Role::Shell) {
        "shield.open"
    } else if contacts.iter().all(|contact| matches!(model.role(*contact), Role::Shell | Role::Drain)) {
        "shield.drain-open"
    } else {
        "open"
    }
}

/// The contacts that fell off a net: what no longer reaches the rest of it, or all where no piece is the largest.
pub fn fallen(whole: &BTreeSet<usize>, faulty: &Model) -> Vec<usize> {
    let pieces: Vec<BTreeSet<usize>> = faulty.nets().into_iter().filter(|net| net.is_subset(whole)).collect();
    let largest = pieces.iter().map(BTreeSet::len).max().unwrap_or(0);
    let unique = largest > 1 && pieces.iter().filter(|piece| piece.len() == largest).count() == 1;
    pieces.iter().filter(|piece| !unique || piece.len() < largest).flatten().copied().collect()
}

fn may_be_missing(model: &Model, link: usize) -> bool {
    model.cable.links[link].optional || model.cable.links[link].when_screened
}

/// Every wire that is cut. An optional conductor that is cut is a sound cable without it, unless it leaves half a pair.
fn open(model: &Model, build: Build, all: &mut Vec<Single>) {
    let paired: Vec<usize> = model.pairs().into_iter().flat_map(|(plus, minus)| [plus, minus]).collect();
    for wire in model.through() {
        let deed = Deed::Cut(vec![wire]);
        if may_be_missing(model, model.wires[wire].link.unwrap()) && !paired.contains(&wire) {
            if build != Build::Commoned {
                all.push(free(Kind::Open, deed));
            }
            continue;
        }
        // commoned, or tied elsewhere: what falls off is what no longer reaches the rest
        let mut faulty = model.clone();
        deed.apply(&mut faulty);
        let fallen = fallen(&model.net(model.wires[wire].contacts[0]), &faulty);
        all.push(single(Kind::Open, deed, open_code(model, &fallen), fallen.into_iter().collect(), None));
    }
}

/// Every contact that is lifted: nothing reaches it any more.
fn lifted(model: &Model, all: &mut Vec<Single>) {
    for contact in 0..model.cable.points.len() {
        let whole = model.net(contact);
        let mut on_it = model.wires.iter().filter(|wire| wire.contacts.contains(&contact));
        if whole.len() < 2 || on_it.all(|wire| wire.link.is_none_or(|link| may_be_missing(model, link))) {
            continue;
        }
        let deed = Deed::Lift(contact);
        let mut faulty = model.clone();
        deed.apply(&mut faulty);
        let fallen: Vec<usize> = if whole.len() == 2 { whole.iter().copied().collect() } else { vec![contact] };
        // with the contact of a tie gone, what hung on it alone falls off too
        if faulty.nets().iter().filter(|net| net.is_subset(&whole)).count() > 2 {
            continue;
        }
        all.push(single(Kind::Lifted, deed, open_code(model, &fallen), fallen.into_iter().collect(), None));
    }
}

/// Both conductors of a pair cut.
fn pair_open(model: &Model, all: &mut Vec<Single>) {
    for (plus, minus) in model.pairs() {
        let deed = Deed::Cut(vec![plus, minus]);
        let contacts = [plus, minus].iter().flat_map(|wire| model.wires[*wire].contacts.clone()).collect();
        all.push(if model.cable.links[model.wires[plus].link.unwrap()].optional {
            free(Kind::PairOpen, deed)
        } else {
            single(Kind::PairOpen, deed, "pair.open", contacts, Some(false))
        });
    }
}

/// What a bridge between conductors is called, and whether it is dangerous; none for supplies alone: see the verdicts.
pub fn short_code(model: &Model, nets: &[&BTreeSet<usize>]) -> Option<(&'static str, bool)> {
    let any = |net: &BTreeSet<usize>, test: fn(Role) -> bool| net.iter().any(|contact| test(model.role(*contact)));
    let all = |net: &BTreeSet<usize>, test: fn(Role) -> bool| net.iter().all(|contact| test(model.role(*contact)));
    let supplies = nets.iter().filter(|net| any(net, |role| role == Role::Supply)).count();
    if supplies == nets.len() {
        return None;
    }
    Some(if supplies > 0 {
        ("power.short", true)
    } else if nets.iter().any(|net| any(net, Role::is_signal)) && nets.iter().any(|net| all(net, Role::is_shield)) {
        ("shield.to-signal", false)
    } else {
        ("short", nets.iter().any(|net| any(net, |role| role == Role::Earth)))
    })
}

/// Every two conductors joined.
fn short(model: &Model, all: &mut Vec<Single>) {
    let through = model.through();
    for (nth, one) in through.iter().enumerate() {
        for other in &through[nth + 1..] {
            let (a, b) = (model.wires[*one].contacts[0], model.wires[*other].contacts[0]);
            let (x, y) = (model.net(a), model.net(b));
            if x.contains(&b) {
                continue; // one net already
            }
            let deed = Deed::Bridge(a, b);
            let group = |wire: &usize| model.cable.links[model.wires[*wire].link.unwrap()].group;
            if group(one).is_some() && group(one) == group(other) {
                all.push(free(Kind::Short, deed));
            } else if let Some((code, hazard)) = short_code(model, &[&x, &y]) {
                all.push(single(Kind::Short, deed, code, x.union(&y).copied().collect(), Some(hazard)));
            }
        }
    }
}

/// The contacts that an exchange touches: a conductor of two contacts as a whole, of others the contact alone.
pub fn touched(model: &Model, contacts: impl IntoIterator<Item = usize>) -> BTreeSet<usize> {
    contacts
        .into_iter()
        .flat_map(|contact| {
            let net = model.net(contact);
            if net.len() == 2 { net } else { BTreeSet::from([contact]) }
        })
        .collect()
}

/// Every two conductors exchanged at one end, and the other; a pair reversed.
fn exchanged(model: &Model, all: &mut Vec<Single>) {
    let through = model.through();
    for end in 0..model.cable.ends.len() {
        for (nth, one) in through.iter().enumerate() {
            for other in &through[nth + 1..] {
                let at = |wire: usize| model.at_end(wire, end).first().copied();
                let (Some(a), Some(b)) = (at(*one), at(*other)) else { continue };
                if model.net(a).contains(&b) {
                    continue; // contacts of one net: nothing changes
                }
                let deed = Deed::Exchange(vec![(a, b)]);
                let partner = model.cable.pair_partner(u32::try_from(a).unwrap()) == u32::try_from(b).ok();
                let code = if partner { "pair.reversed" } else { "swapped" };
                let any = |contact: usize| {
                    let mut links = model.cable.links.iter();
                    model.role(contact) != Role::Shell
                        && links.any(|link| {
                            link.points.contains(&u32::try_from(contact).unwrap())
                                && link.group.is_some_and(|at| model.cable.groups[at].pairing == Pairing::Any)
                        })
                };
                all.push(if any(a) && any(b) {
                    free(Kind::Exchanged, deed) // grounds whose partner no standard fixes: the same cable
                } else {
                    single(Kind::Exchanged, deed, code, touched(model, [a, b]), None)
                });
            }
        }
    }
}

/// A wire on the contact of another that takes several tied contacts, and the other way round: all of them moved.
fn tied(model: &Model, all: &mut Vec<Single>) {
    let end = model.cable.ends.len() - 1;
    for group in model.through() {
        let tied = model.at_end(group, end);
        if tied.len() < 2 || model.net(tied[0]).len() != model.wires[group].contacts.len() {
            continue;
        }
        for wire in model.through() {
            let one = model.at_end(wire, end);
            if one.len() != 1 || model.net(one[0]).len() != 2 {
                continue;
            }
            let points = model.wires[wire].contacts.iter().chain(&tied).copied().collect();
            all.push(single(Kind::Tied, Deed::ExchangeTied(tied.clone(), one[0]), "swapped", points, None));
        }
    }
}

/// Every two pairs exchanged at one end, plus on plus and plus on minus.
fn transposed(model: &Model, all: &mut Vec<Single>) {
    let pairs = model.pairs();
    for end in 0..model.cable.ends.len() {
        for (nth, one) in pairs.iter().enumerate() {
            for other in &pairs[nth + 1..] {
                let four = [one.0, one.1, other.0, other.1].into_iter();
                if four.clone().any(|wire| model.at_end(wire, end).is_empty()) {
                    continue; // of more than two ends, not every pair comes to each
                }
                let at = |wire: usize| model.at_end(wire, end)[0];
                let contacts: BTreeSet<usize> = four.flat_map(|wire| model.wires[wire].contacts.clone()).collect();
                for (plus, minus) in [*other, (other.1, other.0)] {
                    let deed = Deed::Exchange(vec![(at(one.0), at(plus)), (at(one.1), at(minus))]);
                    all.push(single(Kind::Transposed, deed, "pair.transposed", contacts.clone(), None));
                }
            }
        }
    }
}

/// The contacts that nothing is on in this cable: those that must be left alone, and those that have no wire.
fn bare(model: &Model) -> Vec<usize> {
    let labels = model.labels();
    (0..labels.len()).filter(|contact| labels.iter().filter(|net| *net == &labels[*contact]).count() == 1).collect()
}

/// Every contact that nothing is on wired through to its like, and joined to every conductor.
fn forbidden(model: &Model, all: &mut Vec<Single>) {
    let alone = bare(model);
    // a conductor that may be missing is no fault where it is there
    let belongs = |contact: usize, to: &BTreeSet<usize>| {
        let has = |link: &Link, contact: usize| link.points.contains(&u32::try_from(contact).unwrap());
        model.cable.links.iter().any(|link| has(link, contact) && to.iter().any(|other| has(link, *other)))
    };
    for (nth, a) in alone.iter().enumerate() {
        for b in &alone[nth + 1..] {
            let supplies = [a, b].iter().filter(|contact| model.role(***contact) == Role::Supply).count();
            let carries = |contact: &&usize| !matches!(model.role(**contact), Role::Supply | Role::Unused);
            let code = match supplies {
                2 if model.end(*a) != model.end(*b) => "power.end-to-end",
                2 => continue, // two supply contacts of one plug: see the verdicts
                1 if [a, b].iter().any(carries) => "power.short",
                _ => "unexpected",
            };
            if belongs(*a, &BTreeSet::from([*b])) {
                continue;
            }
            all.push(single(Kind::Forbidden, Deed::Bridge(*a, *b), code, BTreeSet::from([*a, *b]), None));
        }
        for wire in model.through() {
            let contact = model.wires[wire].contacts[0];
            let mut contacts = model.net(contact);
            if belongs(*a, &contacts) {
                continue;
            }
            let supply_alone = model.role(*a) == Role::Supply;
            let supply_net = contacts.iter().any(|contact| model.role(*contact) == Role::Supply);
            let code = match (supply_alone, supply_net) {
                (true, true) => continue, // two supplies: see the verdicts
                (true, false) => "power.short",
                (false, true) if model.role(*a) != Role::Unused => "power.short",
                _ => "unexpected",
            };
            contacts.insert(*a);
            let hazard = (supply_alone || supply_net).then_some(true);
            all.push(single(Kind::Forbidden, Deed::Bridge(*a, contact), code, contacts, hazard));
        }
    }
}

/// A conductor that sits on a contact that nothing is on in this cable: one that must be left alone, or that has no wire.
fn misplaced(model: &Model, all: &mut Vec<Single>) {
    for alone in bare(model) {
        for wire in model.through() {
            if may_be_missing(model, model.wires[wire].link.unwrap()) {
                continue; // as well one that is missing, and something that is joined to a contact that must be left alone
            }
            for contact in model.at_end(wire, model.end(alone)) {
                let mut contacts = touched(model, [contact]);
                contacts.insert(alone);
                all.push(single(Kind::Misplaced, Deed::Exchange(vec![(contact, alone)]), "miswired", contacts, None));
            }
        }
    }
}

/// Three conductors in a circle, at the last of the ends where most of them are.
fn circle(model: &Model, all: &mut Vec<Single>) {
    let mut through = model.through();
    through.retain(|wire| model.net(model.wires[*wire].contacts[0]).len() == 2);
    let here = |end: usize| through.iter().filter(|wire| !model.at_end(**wire, end).is_empty()).count();
    let last = (0..model.cable.ends.len()).max_by_key(|end| here(*end)).unwrap();
    through.retain(|wire| !model.at_end(*wire, last).is_empty());
    for three in through.windows(3) {
        let at: Vec<usize> = three.iter().map(|wire| model.at_end(*wire, last)[0]).collect();
        let grouped = |contact: &usize| {
            let mut links = model.cable.links.iter();
            links.any(|link| link.group.is_some() && link.points.contains(&u32::try_from(*contact).unwrap()))
        };
        if at.iter().any(grouped) {
            continue;
        }
        let contacts = three.iter().flat_map(|wire| model.wires[*wire].contacts.clone()).collect();
        let deed = Deed::Exchange(vec![(at[0], at[1]), (at[1], at[2])]);
        all.push(single(Kind::Circle, deed, "miswired", contacts, None));
    }
}
