//! What kind of fault a bridge between wanted nets is. Every family that reports bridges asks here, so that each bridge
//! is reported once.

use crate::finding::Label;
use crate::pinmap::Role;

use super::Case;

/// The kinds of bridge, the gravest first.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(in crate::verify) enum Kind {
    /// A supply contact that must be left alone, wired through to its like at another end.
    SupplyThrough,
    /// A supply with its return, a signal or a shield.
    SupplyShort,
    /// A shield bonded at a second end.
    ShieldBothEnds,
    /// Something with a contact that must be left alone.
    Unexpected,
    /// A shield with a signal.
    ShieldToSignal,
    /// Any other conductors.
    Short,
}

/// The kind of a bridge between these wanted nets.
pub(in crate::verify) fn kind(case: &Case<'_>, nets: &[u32]) -> Kind {
    let alone = |net: u32| case.is_alone(net);
    let shield = |net: u32| case.roles(net).all(Role::is_shield);
    let supplies = nets.iter().filter(|net| case.has_role(**net, Role::Supply)).count();
    if supplies > 0 {
        // a contact without function or wire is the only thing that a supply may touch without a short
        let harmless =
            |net: u32| case.has_role(net, Role::Supply) || (alone(net) && case.roles(net).all(|role| role == Role::Unused));
        if !nets.iter().all(|net| harmless(*net)) {
            return Kind::SupplyShort;
        }
        let through = supplies > 1 && nets.iter().all(|net| alone(*net));
        return if through { Kind::SupplyThrough } else { Kind::Unexpected };
    }
    if nets.iter().any(|net| alone(*net)) {
        let one_end = |net: &&u32| case.cable.unconnected(**net).is_some_and(|rule| rule.one_end_shield);
        let screens = nets.iter().all(|net| shield(*net));
        return if screens && nets.iter().any(|net| one_end(&net)) { Kind::ShieldBothEnds } else { Kind::Unexpected };
    }
    let signal = nets.iter().any(|net| case.roles(*net).any(Role::is_signal));
    if signal && nets.iter().any(|net| shield(*net)) {
        return Kind::ShieldToSignal;
    }
    Kind::Short
}

/// Whether a bridge or an exchange of these wanted nets can destroy equipment or hurt someone: a supply meets what isn't
/// that supply, or protective earth is not where it belongs.
pub(in crate::verify) fn is_hazard(case: &Case<'_>, nets: &[u32]) -> bool {
    nets.iter().any(|net| case.has_role(*net, Role::Supply) || case.has_role(*net, Role::Earth))
}

/// Labels on the joins that bridge the first net to each of the others.
pub(in crate::verify) fn bridge_labels(case: &Case<'_>, nets: &[u32], contacts: &[u32]) -> Vec<Label> {
    let of = |net: u32| -> Vec<u32> { contacts.iter().copied().filter(|point| case.wanted.of(*point) == net).collect() };
    let mut facts: Vec<u32> = Vec::new();
    for net in &nets[1..] {
        for fact in case.between(&of(nets[0]), &of(*net)) {
            if !facts.contains(&fact) {
                facts.push(fact);
            }
        }
    }
    facts.sort_unstable();
    let crosses = |fact: u32| -> Option<Vec<u32>> {
        let numbers = case.numbers(case.netlist.facts.get(fact as usize)?);
        let mut firsts: Vec<u32> = Vec::new();
        for number in numbers.iter() {
            if firsts.iter().all(|first| case.wanted.of(*first) != case.wanted.of(*number)) {
                firsts.push(*number);
            }
        }
        (firsts.len() > 1).then_some(firsts)
    };
    facts
        .iter()
        .filter_map(|fact| {
            let firsts = crosses(*fact)?;
            let names: Vec<String> =
                firsts.iter().map(|point| format!("{} ({})", case.point(*point), case.signal(*point))).collect();
            Some(case.at(*fact, format!("joins {}", names.join(" and "))))
        })
        .collect()
}

/// The nets of a bridge in words.
pub(in crate::verify) fn names(case: &Case<'_>, nets: &[u32]) -> String {
    let names: Vec<String> = nets.iter().map(|net| case.conductor(*net)).collect();
    match names.split_last() {
        Some((last, rest)) if !rest.is_empty() => format!("{} and {last}", rest.join(", ")),
        _ => names.join(""),
    }
}

/// Every contact of the wanted nets of a bridge.
pub(in crate::verify) fn points(case: &Case<'_>, nets: &[u32]) -> Vec<u32> {
    nets.iter().flat_map(|net| case.net(*net)).collect()
}
