//! A supplier's drawing before the order: what it must say to be built and checked, and says nothing or two things of.

use std::collections::{BTreeMap, HashMap, HashSet};

use crate::finding::{Code, Finding, Label, Problem, Severity, Sink};
use crate::netlist::{FactKind, Netlist, Origin, Unit};
use crate::pinmap::{Cable, EndNames, Limited, Role, connector_names};
use crate::units::{Quantity, copper_ohm_per_metre};

use crate::verify::case::Case;
use crate::verify::case::expected::{self, Wire, ohm};

/// Reports `drawing.*`.
pub(in crate::verify) fn check(case: &Case<'_>, sink: &mut Sink) {
    if case.given.origin() != Origin::Drawing {
        return;
    }
    let wires = Wires::of(case);
    sizes(case, &wires, sink);
    thin(case, &wires, sink);
    conductors(case, sink);
    pairs(case, sink);
    unsaid(case, sink);
    screen(case, sink);
    tolerances(case, sink);
    connectors(case, sink);
}

/// The pins of a drawing that its connectors lack, where that is all that keeps it from being read. What else there is to find
/// is found when they are mended.
pub(in crate::verify) fn no_such_pin(
    cable: &Cable,
    ends: &EndNames,
    netlist: &Netlist,
    unit: &Unit,
    problems: &[Problem],
) -> Option<Vec<Finding>> {
    let points = netlist.facts_of(unit).iter().flat_map(|fact| netlist.points_of(fact.kind.points()));
    let lacking: Vec<&str> = points.map(|point| point.text(&netlist.source)).filter(|point| ends.lacks(point)).collect();
    if lacking.len() != problems.len() {
        return None;
    }
    let each = problems.iter().zip(lacking).map(|(problem, point)| Finding {
        code: Code::DrawingNoSuchPin,
        severity: Severity::Fail,
        hazard: false,
        undecided: false,
        message: problem.message.clone(),
        points: vec![point.to_owned()],
        signals: Vec::new(),
        labels: problem.labels.clone(),
        why:
            "it can't be built as drawn, and whoever builds it guesses which contact is meant; nothing else of this drawing was \
              checked, so more questions may follow once this is mended"
                .to_owned(),
        remedy: problem.help.clone().unwrap_or_else(|| "ask which contact is meant".to_owned()),
        source: cable.standard.clone(),
        readings: Some(["another connector is meant".to_owned(), "another contact is meant".to_owned()]),
    });
    Some(each.collect())
}

/// A finding that a drawing must be changed for, or asked about; the two readings are for the question.
fn finding(case: &Case<'_>, code: Code, points: &[u32], message: impl Into<String>, readings: [&str; 2]) -> Finding {
    let mut finding = case.finding(code, points, message);
    finding.readings = Some(readings.map(str::to_owned));
    "common practice, no source".clone_into(&mut finding.source);
    finding
}

/// A question: the drawing conforms as far as it goes, or the unit is undecided until it is answered.
fn ask(mut finding: Finding, undecided: bool) -> Finding {
    finding.severity = Severity::Caution;
    finding.undecided = undecided;
    finding
}

fn this_drawing(case: &Case<'_>) -> Label {
    let said = case.given.get(|settings| settings.origin).filter(|said| said.line.len > 0);
    said.map_or_else(|| Label::new(&case.netlist.source, case.unit.line, "this drawing"), |said| said.label("this drawing"))
}

/// Length and gauge, without which nothing can be built.
fn sizes(case: &Case<'_>, wires: &Wires, sink: &mut Sink) {
    if case.given.get(|settings| settings.length).is_none() {
        let mut found = finding(
            case,
            Code::DrawingLengthMissing,
            &[],
            "the drawing gives no length",
            ["the length of the enquiry holds", "another length is meant"],
        );
        found.labels = vec![this_drawing(case)];
        "it can't be built, priced or checked for its resistance".clone_into(&mut found.why);
        "ask for the length with its tolerance, and from where to where it is measured".clone_into(&mut found.remedy);
        sink.report(found);
    }
    // a header line for all, or a gauge on the line of every wire
    let sized = |[a, _]: &[u32; 2]| wires.at(case, *a).iter().all(Option::is_some);
    let wanted = case.cable.wires.iter().filter(|[a, b]| case.wanted.same(*a, *b));
    if case.given.get(|settings| settings.gauge).is_none() && !wanted.into_iter().all(sized) {
        let mut found = finding(
            case,
            Code::DrawingGaugeMissing,
            &[],
            "the drawing gives no conductor size",
            ["the size of the supplier's usual cable", "the size that the standard's limits call for"],
        );
        found.labels = vec![this_drawing(case)];
        "whatever is at hand will be taken: the thinnest is the cheapest".clone_into(&mut found.why);
        "ask for the gauge of signals and of supplies, and for solid or stranded".clone_into(&mut found.remedy);
        sink.report(found);
    }
}

/// The conductors whose gauge can't meet a limit of the cable at this length.
fn thin(case: &Case<'_>, wires: &Wires, sink: &mut Sink) {
    // the longest that may be delivered
    let Some(metres) = case.given.get(|settings| settings.length).map(|said| said.value) else { return };
    let metres = metres.value + metres.spread().unwrap_or_default();
    let header = case.given.get(|settings| settings.gauge).map(|said| said.value);
    for limit in case.cable.limits.iter().filter(|limit| limit.of == Limited::Conductor) {
        let links = case.cable.links.iter().filter(|link| {
            (limit.signals.is_empty() || limit.signals.contains(&link.signal)) && case.cable.role(link.points[0]) != Role::Shell
        });
        for link in links {
            let wires: Vec<Option<Quantity>> = wires.at(case, link.points[0]).iter().map(|gauge| gauge.or(header)).collect();
            let siemens: f64 = wires
                .iter()
                .filter_map(|gauge| Some(1.0 / (copper_ohm_per_metre(&(*gauge)?, 20.0)? * metres + Wire::contacts())))
                .sum();
            let most = if limit.per_metre { limit.ohm * metres } else { limit.ohm };
            if siemens <= 0.0 || 1.0 / siemens <= most {
                continue;
            }
            let of = |n: usize| if n == 1 { "one conductor".to_owned() } else { format!("{n} conductors") };
            let message = format!(
                "{} has {} in {} ({}, with the contacts): the limit is {} ({})",
                link.signal,
                ohm(1.0 / siemens),
                expected::in_words(case, wires.first().copied().flatten()),
                of(wires.len()),
                ohm(most),
                limit.why
            );
            let mut found = finding(
                case,
                Code::DrawingGaugeThin,
                &link.points,
                message,
                ["as drawn, for less current than the standard allows for", "thicker or more conductors, or a shorter cable"],
            );
            found.labels = expected::labels(case);
            found.labels.push(Label::new(&case.cable.file, limit.span, "the limit"));
            "the supply sags at the far device and the conductor warms at full load".clone_into(&mut found.why);
            "ask for a thicker gauge or more conductors for this signal, or order a shorter cable".clone_into(&mut found.remedy);
            found.source = format!("{}; ASTM B258 for the wire", case.source_of(std::iter::once(&limit.provenance)));
            case.weigh(&mut found, &[&limit.provenance]);
            sink.report(found);
        }
    }
}

/// The wires that a drawing lists in each measured net, each with its own gauge where it has one: a `conductor` line is a wire,
/// or else a join from end to end; a net that is drawn in one line has one at least.
struct Wires(HashMap<u32, [Vec<Option<Quantity>>; 2]>);

impl Wires {
    fn of(case: &Case<'_>) -> Self {
        let end = |point: u32| case.cable.points[point as usize].end;
        let mut by_net: HashMap<u32, [Vec<Option<Quantity>>; 2]> = HashMap::new();
        // a row that says again what another said is no second wire
        let mut seen: HashSet<(Vec<u32>, &str)> = HashSet::new();
        for fact in case.facts() {
            let mut points = case.numbers(fact).into_owned();
            points.retain(|point| case.cable.role(*point) != Role::Shell);
            let Some(first) = points.first().copied().filter(|first| points.iter().any(|point| end(*point) != end(*first)))
            else {
                continue;
            };
            points.sort_unstable();
            let [named, joined] = by_net.entry(case.measured.of(first)).or_default();
            match fact.kind {
                FactKind::Conductor { gauge, label, .. } if seen.insert((points.clone(), case.netlist.source.slice(label))) => {
                    named.push(gauge.and_then(|id| case.netlist.figure(id)).map(|figure| figure.quantity));
                }
                FactKind::Join { .. } if seen.insert((points, "")) => joined.push(None),
                _ => {}
            }
        }
        Wires(by_net)
    }

    fn at(&self, case: &Case<'_>, contact: u32) -> &[Option<Quantity>] {
        match self.0.get(&case.measured.of(contact)) {
            Some([named, joined]) if named.is_empty() => joined,
            Some([named, _]) => named,
            None => &[],
        }
    }
}

/// A row of the drawing that is one wire from end to end, by its line.
fn rows(case: &Case<'_>) -> impl Iterator<Item = (u32, [u32; 2])> {
    let end = |point: u32| case.cable.points[point as usize].end;
    let wires = case.lines().filter_map(|(line, fact)| {
        let wire = matches!(fact.kind, FactKind::Join { .. } | FactKind::Conductor { .. });
        let points = <[u32; 2]>::try_from(&*case.numbers(fact)).ok()?;
        wire.then_some((line, points))
    });
    wires.filter(move |(_, [a, b])| end(*a) != end(*b))
}

/// The contacts with more than one wire, with the lines of these, where the map doesn't let them share. A drawing alone has any.
pub(in crate::verify) fn doubled(case: &Case<'_>) -> BTreeMap<u32, Vec<u32>> {
    let mut at: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    if case.given.origin() != Origin::Drawing {
        return at;
    }
    // a join with its resistance and a conductor with its colour may speak of one wire
    let mut seen: HashSet<[u32; 2]> = HashSet::new();
    for (line, [a, b]) in rows(case) {
        for [contact, other] in [[a, b], [b, a]] {
            if seen.insert([contact, other]) {
                at.entry(contact).or_default().push(line);
            }
        }
    }
    let shared = |contact: u32| {
        let links = case.cable.links_at(contact).map(|at| &case.cable.links[at]);
        links.into_iter().any(|link| link.points.len() > 2 || link.group.is_some())
    };
    at.retain(|contact, lines| lines.len() > 1 && !shared(*contact));
    at
}

/// Contacts with two wires, and signals in two gauges.
fn conductors(case: &Case<'_>, sink: &mut Sink) {
    let mut doubled: Vec<(u32, Vec<u32>)> = doubled(case).into_iter().collect();
    while let Some((contact, mut lines)) = doubled.first().cloned() {
        // a row too many doubles the contacts at both of its ends
        let (same, rest): (Vec<_>, Vec<_>) = doubled.into_iter().partition(|(_, of)| of.iter().any(|line| lines.contains(line)));
        doubled = rest;
        let contacts: Vec<u32> = same.iter().map(|(contact, _)| *contact).collect();
        lines.extend(same.into_iter().flat_map(|(_, of)| of));
        lines.sort_unstable();
        lines.dedup();
        let message = match contacts[..] {
            [_] => format!("{} ({}) is drawn with {} wires", case.point(contact), case.signal(contact), lines.len()),
            _ => format!("{} are drawn with more than one wire", case.list(&contacts)),
        };
        let mut found = finding(
            case,
            Code::DrawingContactTwice,
            &contacts,
            message,
            ["all of these wires go into the contact", "one of the rows names the wrong contact"],
        );
        found.labels = lines.iter().map(|line| case.at(*line, "a wire to it")).collect();
        "a contact holds one wire: two are crimped badly, or one of the rows is a slip that will be built"
            .clone_into(&mut found.why);
        "ask which row is meant; a joint of wires belongs into a splice that is drawn".clone_into(&mut found.remedy);
        sink.report(found);
    }
    let mut gauges: BTreeMap<u32, Vec<(u32, Quantity)>> = BTreeMap::new();
    for (line, [a, _]) in rows(case) {
        if let Some(FactKind::Conductor { gauge: Some(gauge), .. }) = case.netlist.facts.get(line as usize).map(|fact| fact.kind)
        {
            let quantity = case.netlist.figure(gauge).map(|figure| figure.quantity);
            gauges.entry(case.wanted.of(a)).or_default().extend(quantity.map(|quantity| (line, quantity)));
        }
    }
    for (net, of) in gauges {
        let Some(other) = of.iter().find(|(_, gauge)| *gauge != of[0].1) else { continue };
        let message = format!("{} is drawn in two gauges: {} and {}", case.conductor(net), of[0].1.short(), other.1.short());
        let mut found = finding(
            case,
            Code::DrawingGaugeTwice,
            &case.net(net),
            message,
            [&format!("all of it in {}", of[0].1.short()), &format!("all of it in {}", other.1.short())],
        );
        found.labels = [&of[0], other].iter().map(|(line, gauge)| case.at(*line, gauge.short())).collect();
        "the thinner one sets what the signal can carry".clone_into(&mut found.why);
        "ask which gauge is meant".clone_into(&mut found.remedy);
        sink.report(found);
    }
}

/// Pairs that the cable has and the drawing is silent about.
fn pairs(case: &Case<'_>, sink: &mut Sink) {
    if case.cable.paired.is_empty() {
        return;
    }
    let mut twisted = vec![false; case.cable.points.len()];
    for fact in case.facts().iter().filter(|fact| matches!(fact.kind, FactKind::Pair { .. })) {
        for contact in case.numbers(fact).iter().take(2) {
            twisted[*contact as usize] = true;
        }
    }
    let of_one_end = |points: &Vec<u32>| points.iter().copied().filter(|point| !twisted[*point as usize]).collect::<Vec<_>>();
    let Some(silent) = case.cable.paired.iter().map(of_one_end).min_by_key(Vec::len) else { return };
    if silent.is_empty() {
        return;
    }
    let message = format!("the drawing doesn't say with what these are twisted: {}", case.list(&silent));
    let mut found = finding(
        case,
        Code::DrawingPairsMissing,
        &silent,
        message,
        ["each pair of the standard is one twisted pair of the cable", "the conductors are taken as they come"],
    );
    found.labels = vec![this_drawing(case)];
    "a row-by-row list can be built with split pairs: continuity passes, and the link fails from crosstalk"
        .clone_into(&mut found.why);
    "ask for the pairs, and for the drain of each screen: `pair A.1 A.3 screen A.2`".clone_into(&mut found.remedy);
    sink.report(ask(found, true));
}

/// Contacts that are neither wired nor declared unused.
fn unsaid(case: &Case<'_>, sink: &mut Sink) {
    let alone = case.cable.unconnected.iter().map(|rule| rule.point).filter(|point| case.named_at(*point).is_none());
    let (supplies, others): (Vec<u32>, Vec<u32>) = alone.partition(|point| case.cable.role(*point) == Role::Supply);
    for (points, supply) in [(supplies, true), (others, false)] {
        if points.is_empty() {
            continue;
        }
        let message = format!("neither wired nor declared unused: {}", case.list(&points));
        let mut found = finding(
            case,
            Code::DrawingContactUnsaid,
            &points,
            message,
            ["no wire", if supply { "wired through, which this cable must not be" } else { "wired like its neighbours" }],
        );
        found.labels = vec![this_drawing(case)];
        if supply {
            "a shop that fills every contact wires the supply through, and two devices feed each other"
                .clone_into(&mut found.why);
        } else {
            "what isn't said is decided in the shop".clone_into(&mut found.why);
        }
        format!("have the drawing say `open {}`", case.list(&points)).clone_into(&mut found.remedy);
        let mut found = ask(found, supply);
        if !supply {
            found.severity = Severity::Note;
        }
        sink.report(found);
    }
}

/// A cable that may be screened, and a drawing that doesn't say whether it is.
fn screen(case: &Case<'_>, sink: &mut Sink) {
    let may = case
        .cable
        .links
        .iter()
        .find(|link| link.when_screened || (link.optional && case.cable.role(link.points[0]) == Role::Shell));
    let Some(link) = may else { return };
    let said =
        case.given.get(|settings| settings.kind).is_some() || link.points.iter().any(|point| case.named_at(*point).is_some());
    if said {
        return;
    }
    let mut found = finding(
        case,
        Code::DrawingScreenUnsaid,
        &link.points,
        format!("the drawing doesn't say whether the cable is screened ({})", case.list(&link.points)),
        ["no screen", "screened, bonded at both ends"],
    );
    found.labels = vec![this_drawing(case), case.required(link)];
    "a screen that is left floating, or bonded at one end where both were meant, does little".clone_into(&mut found.why);
    "ask for the construction (`type U/UTP`, `type S/FTP` …) and for where the screen goes at each end"
        .clone_into(&mut found.remedy);
    sink.report(ask(found, false));
}

/// Tolerances, the datum of the length, and the view.
fn tolerances(case: &Case<'_>, sink: &mut Sink) {
    let length = case.given.get(|settings| settings.length);
    if let Some(said) = length.filter(|said| said.value.tolerance.is_none()) {
        let mut found = finding(
            case,
            Code::DrawingToleranceMissing,
            &[],
            "the length has no tolerance",
            ["the supplier's usual tolerance", "a tolerance of the order"],
        );
        found.labels = vec![said.label("this length")];
        "a cable that comes out short can't be refused".clone_into(&mut found.why);
        "ask for it, as in `length 2 m +/- 20 mm`".clone_into(&mut found.remedy);
        sink.report(ask(found, false));
    }
    for (line, fact) in case.lines() {
        let FactKind::Component { figure: Some(figure), kind, .. } = fact.kind else { continue };
        let Some(quantity) = case.netlist.figure(figure).map(|figure| figure.quantity).filter(|of| of.tolerance.is_none()) else {
            continue;
        };
        let message = format!("the {} of {} has no tolerance", kind.word(), quantity.short());
        let mut found = finding(
            case,
            Code::DrawingToleranceMissing,
            &case.numbers(fact),
            message,
            ["the tolerance of the standard", "whatever is at hand"],
        );
        found.labels = vec![case.at(line, "this part")];
        "a part at the edge of its range reads as another one".clone_into(&mut found.why);
        "ask for it, as in `56 kohm +/- 5%`".clone_into(&mut found.remedy);
        sink.report(ask(found, false));
    }
    if length.is_some() && case.given.get(|settings| settings.datum).is_none() {
        let mut found = finding(
            case,
            Code::DrawingDatumMissing,
            &[],
            "it isn't said from where to where the length is measured",
            ["from mating face to mating face", "the cable between the plugs"],
        );
        found.labels = length.map(|said| said.label("from where to where?")).into_iter().collect();
        "the two readings differ by two plugs, some 60 to 100 mm".clone_into(&mut found.why);
        "ask for it, as in `datum \"face to face\"`".clone_into(&mut found.remedy);
        sink.report(ask(found, false));
    }
    if case.given.get(|settings| settings.view).is_none() {
        let mut found = finding(
            case,
            Code::DrawingViewMissing,
            &[],
            "it isn't said from which side the contacts are seen",
            ["at the mating face", "from the side where the wires go in"],
        );
        found.labels = vec![this_drawing(case)];
        "read from the wrong side, every row of contacts is mirrored, and a whole lot is built so".clone_into(&mut found.why);
        "ask for it, or for contact numbers as moulded on the connector: `view mating-face` or `view wiring-side`"
            .clone_into(&mut found.remedy);
        sink.report(ask(found, false));
    }
}

/// The connectors that the drawing names.
fn connectors(case: &Case<'_>, sink: &mut Sink) {
    let (source, lines) = case.given.connectors();
    for line in lines {
        let (end, drawn) = (source.slice(line.end), source.slice(line.side));
        let Some(at) = (0..case.cable.ends.len()).find(|at| case.ends.end(*at) == end) else {
            let message = format!("the drawing names a connector for end {end}, which {} doesn't have", case.cable.name);
            let mut found = finding(case, Code::DrawingConnectorDiffers, &[], message, ["another cable is meant", "a slip"]);
            found.labels = vec![Label::new(source, line.line, "this end")];
            "the drawing is for another cable, or its ends are named differently in its own rows".clone_into(&mut found.why);
            "ask which end is meant".clone_into(&mut found.remedy);
            sink.report(found);
            continue;
        };
        let wanted = &case.cable.ends[at].connector;
        let words = drawn.to_lowercase();
        if drawn.eq_ignore_ascii_case(&wanted.name) || wanted.title.to_lowercase().starts_with(&words) {
            continue;
        }
        // another of the catalogue is another connector; what the catalogue doesn't know may be the same by another name
        let known = connector_names().any(|name| name == words);
        let message =
            format!("end {end} is drawn with {drawn}: {} has {} there ({})", case.cable.name, wanted.name, wanted.title);
        let as_drawn = format!("{drawn}, and it doesn't mate");
        let mut found = finding(case, Code::DrawingConnectorDiffers, &[], message, [&as_drawn, &wanted.title]);
        found.labels = vec![Label::new(source, line.line, "this connector")];
        "another gender or series doesn't mate, or mates with mirrored contacts".clone_into(&mut found.why);
        format!("ask for {} at end {end}, or say which connector is meant by its catalogue name", wanted.name)
            .clone_into(&mut found.remedy);
        sink.report(if known { found } else { ask(found, true) });
    }
}
