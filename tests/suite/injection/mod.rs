//! A model of a physical cable, into which faults are put.
//!
//! It takes nothing from the program but the rows of a map: nets, codes and points that a fault must lead to are worked
//! out here, in another way than in the program.

pub mod faults;
pub mod whole_ends;

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use backshell::finding::{Code, Finding, Severity, Verdict};
use backshell::pinmap::{Cable, Catalogue, Link, Role};
use backshell::verify::{Options, UnitReport, check_text};

/// The folder of the invented cables.
fn own() -> Vec<PathBuf> {
    vec![PathBuf::from("netlists/cables")]
}

/// A cable of the catalogue, or an invented one.
pub fn cable(name: &str) -> Arc<Cable> {
    Catalogue::with_folders(&own()).cable(name, Path::new("")).unwrap_or_else(|problems| panic!("{name}: {problems:?}"))
}

/// A catalogue map as a user has it who found a source for each row that is from memory: the path of a copy.
pub fn sourced(name: &str) -> String {
    let text = cable(name).file.text().replace("checked = [], from-memory = true", "checked = [\"OWN\"]");
    let path = format!("{}/sourced-{name}-{:?}.toml", env!("CARGO_TARGET_TMPDIR"), std::thread::current().id());
    let path = path.replace(['(', ')'], "");
    let own = path.rsplit('/').next().unwrap().trim_end_matches(".toml");
    let text = text.replace(&format!("name = \"{name}\""), &format!("name = \"{own}\""));
    std::fs::write(&path, text + "OWN = \"a page that the user found\"\n").unwrap();
    path
}

/// How a sound sample is built, where the map leaves freedom.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Build {
    /// Without the conductors that may be missing.
    Plain,
    /// With them.
    Full,
    /// With them, and everything commoned in the plugs that may be.
    Commoned,
}

pub const BUILDS: [Build; 3] = [Build::Plain, Build::Full, Build::Commoned];

/// A physical conductor, or a tie in a plug: the contacts that it joins.
#[derive(Clone, Debug)]
pub struct Wire {
    /// Its contacts by their place in the map.
    pub contacts: Vec<usize>,
    /// The row of the map; none for what commons a group.
    pub link: Option<usize>,
}

/// A cable with its wires.
#[derive(Clone)]
pub struct Model {
    pub cable: Arc<Cable>,
    pub wires: Vec<Wire>,
    /// Where the parts that a plug must have are, in the order of the map.
    pub parts: Vec<[usize; 2]>,
}

impl Model {
    pub fn sound(cable: &Arc<Cable>, build: Build) -> Self {
        let Model { cable, mut wires, parts } = Model::with(cable, |_| build != Build::Plain);
        if build == Build::Commoned {
            for group in 0..cable.groups.len() {
                for end in 0..cable.ends.len() {
                    let of_group = cable.links.iter().filter(|link| link.group == Some(group)).flat_map(|link| &link.points);
                    let contacts: Vec<usize> =
                        of_group.map(|point| *point as usize).filter(|point| cable.points[*point].end == end).collect();
                    wires.push(Wire { contacts, link: None });
                }
            }
        }
        Model { cable, wires, parts }
    }

    /// A sound cable with those of the conductors that may be missing.
    pub fn with(cable: &Arc<Cable>, has: impl Fn(usize) -> bool) -> Self {
        let there = |(at, link): &(usize, &Link)| !(link.optional || link.when_screened) || has(*at);
        let wires = cable.links.iter().enumerate().filter(there);
        let wires =
            wires.map(|(at, link)| Wire { contacts: link.points.iter().map(|point| *point as usize).collect(), link: Some(at) });
        let parts = cable.parts.iter().filter(|part| !part.optional).map(|part| part.points.map(|point| point as usize));
        Model { cable: Arc::clone(cable), wires: wires.collect(), parts: parts.collect() }
    }

    pub fn end(&self, contact: usize) -> usize {
        self.cable.points[contact].end
    }

    pub fn role(&self, contact: usize) -> Role {
        self.cable.role(u32::try_from(contact).unwrap())
    }

    pub fn text(&self, contact: usize) -> String {
        self.cable.points[contact].text.clone()
    }

    pub fn texts(&self, contacts: impl IntoIterator<Item = usize>) -> BTreeSet<String> {
        contacts.into_iter().map(|contact| self.text(contact)).collect()
    }

    /// For each contact the lowest one of its net.
    pub fn labels(&self) -> Vec<usize> {
        fn lowest(of: &[usize], mut contact: usize) -> usize {
            while of[contact] != contact {
                contact = of[contact];
            }
            contact
        }
        let mut of: Vec<usize> = (0..self.cable.points.len()).collect();
        for wire in &self.wires {
            for two in wire.contacts.windows(2) {
                let (a, b) = (lowest(&of, two[0]), lowest(&of, two[1]));
                of[a.max(b)] = a.min(b);
            }
        }
        (0..of.len()).map(|contact| lowest(&of, contact)).collect()
    }

    /// Whether every row of the map about these contacts is from memory, without a published source: what breaks nothing
    /// else is a caution.
    pub fn is_from_memory(&self, contacts: impl IntoIterator<Item = usize>) -> bool {
        let contacts: BTreeSet<usize> = contacts.into_iter().collect();
        let here = |point: &u32| contacts.contains(&(*point as usize));
        let links = self.cable.links.iter().filter(|link| link.points.iter().any(here)).map(|link| &link.provenance);
        let rules = self.cable.unconnected.iter().filter(|rule| here(&rule.point)).map(|rule| &rule.provenance);
        let memory = links.chain(rules).all(|row| row.from_memory && row.checked.is_empty());
        let grave = |contact: &usize| matches!(self.role(*contact), Role::Supply | Role::Earth);
        assert!(!memory || !contacts.iter().any(grave), "{}: a supply from memory; settle what is a hazard", self.cable.name);
        memory
    }

    /// The nets.
    pub fn nets(&self) -> BTreeSet<BTreeSet<usize>> {
        let mut nets: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
        for (contact, net) in self.labels().into_iter().enumerate() {
            nets.entry(net).or_default().insert(contact);
        }
        nets.into_values().collect()
    }

    /// The net that a contact is in.
    pub fn net(&self, contact: usize) -> BTreeSet<usize> {
        let labels = self.labels();
        (0..labels.len()).filter(|other| labels[*other] == labels[contact]).collect()
    }

    /// The netlist: one line a net, with those that are open.
    pub fn netlist(&self) -> String {
        let open = self.nets().into_iter().filter(|net| net.len() == 1).flatten();
        let open: String = open.map(|contact| format!("open {}\n", self.text(contact))).collect();
        format!("cable {}\n{}{open}", self.cable.name, self.lines())
    }

    /// The lines of a unit, without those that are open.
    pub fn lines(&self) -> String {
        let mut lines = String::new();
        for net in self.nets().into_iter().filter(|net| net.len() > 1) {
            let texts: Vec<String> = net.iter().map(|contact| self.text(*contact)).collect();
            lines += &(texts.join(" ") + "\n");
        }
        lines + &self.part_lines()
    }

    /// The lines of the parts.
    pub fn part_lines(&self) -> String {
        let mut lines = String::new();
        let required = self.cable.parts.iter().filter(|part| !part.optional);
        for (part, points) in required.zip(&self.parts) {
            let [a, b] = points.map(|point| self.text(point));
            let value = part.value.map(|value| value.short()).unwrap_or_default();
            lines += &format!("{} {a} {b} {value}\n", part.kind.word());
        }
        lines
    }

    // ------------------------------------------------------------------------------------- faults

    /// The conductor is cut: its contacts hang together only within each plug.
    pub fn cut(&mut self, wire: usize) {
        let contacts = self.wires[wire].contacts.clone();
        let mut by_end: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for contact in contacts {
            by_end.entry(self.end(contact)).or_default().push(contact);
        }
        let mut pieces = by_end.into_values();
        self.wires[wire].contacts = pieces.next().unwrap_or_default();
        for contacts in pieces {
            self.wires.push(Wire { contacts, link: None });
        }
    }

    /// A contact is lifted: nothing reaches it any more.
    pub fn lift(&mut self, contact: usize) {
        for wire in &mut self.wires {
            wire.contacts.retain(|other| *other != contact);
        }
    }

    pub fn bridge(&mut self, a: usize, b: usize) {
        self.wires.push(Wire { contacts: vec![a, b], link: None });
    }

    /// The contacts change places, each with its partner.
    pub fn exchange(&mut self, pairs: &[(usize, usize)]) {
        let turn = |contact: usize| {
            let found = pairs.iter().find(|(a, b)| *a == contact || *b == contact);
            found.map_or(contact, |(a, b)| if *a == contact { *b } else { *a })
        };
        for wire in &mut self.wires {
            for contact in &mut wire.contacts {
                *contact = turn(*contact);
            }
        }
    }

    /// What sits on the tied contacts and what sits on another contact change places: all of the tied ones move as one.
    pub fn exchange_tied(&mut self, tied: &[usize], single: usize) {
        for wire in &mut self.wires {
            let moved = |contact: &usize| match *contact {
                contact if contact == single => tied.to_vec(),
                contact if tied.contains(&contact) => vec![single],
                contact => vec![contact],
            };
            let mut contacts: Vec<usize> = wire.contacts.iter().flat_map(moved).collect();
            contacts.dedup();
            wire.contacts = contacts;
        }
    }

    /// Wires that run from end to end.
    pub fn through(&self) -> Vec<usize> {
        let spans = |wire: &Wire| wire.link.is_some() && wire.contacts.iter().any(|c| self.end(*c) != self.end(wire.contacts[0]));
        (0..self.wires.len()).filter(|at| spans(&self.wires[*at])).collect()
    }

    /// The contacts of a wire at an end.
    pub fn at_end(&self, wire: usize, end: usize) -> Vec<usize> {
        self.wires[wire].contacts.iter().copied().filter(|contact| self.end(*contact) == end).collect()
    }

    /// The pairs of wires that form a differential pair, by the contacts of end 0: (plus wire, minus wire).
    pub fn pairs(&self) -> Vec<(usize, usize)> {
        let mut pairs = Vec::new();
        for plus in self.through() {
            for minus in self.through() {
                let (Some(p), Some(m)) = (self.at_end(plus, 0).first().copied(), self.at_end(minus, 0).first().copied()) else {
                    continue;
                };
                let pair = |contact: usize| self.cable.function(u32::try_from(contact).unwrap()).pair.clone();
                if self.role(p) == Role::PairPlus && self.role(m) == Role::PairMinus && pair(p) == pair(m) {
                    pairs.push((plus, minus));
                }
            }
        }
        pairs
    }
}

/// What the program says to cables of one type, as the units of one netlist.
pub fn check_all(models: &[Model]) -> Vec<UnitReport> {
    let Some(first) = models.first() else { return Vec::new() };
    let mut netlist = format!("cable {}\n", first.cable.name);
    for (nth, model) in models.iter().enumerate() {
        netlist += &format!("unit {nth}\n{}", model.lines());
    }
    let reports = check_units(&netlist);
    assert_eq!(reports.len(), models.len());
    reports
}

/// What the program says to the units of a netlist.
pub fn check_units(netlist: &str) -> Vec<UnitReport> {
    let mut reports = Vec::new();
    let mut options = Options::default();
    options.maps = own();
    check_text("injected.netlist", netlist, &options, |batch| {
        assert!(batch.problems.is_empty(), "{netlist}\n{:?}", batch.problems.iter().map(|p| &p.message).collect::<Vec<_>>());
        reports.extend(batch.reports);
    });
    reports
}

/// What the program says to a netlist of one unit.
pub fn check(netlist: &str) -> UnitReport {
    let mut reports = check_units(netlist);
    assert_eq!(reports.len(), 1, "{netlist}");
    reports.remove(0)
}

/// The codes of findings, but for the caution that some conductors hide others: it is true of the sound cable too.
pub fn codes(findings: &[Finding]) -> Vec<&'static str> {
    let hidden = |finding: &&Finding| finding.code == Code::CoverageBlind && !finding.undecided;
    findings.iter().filter(|finding| !hidden(finding)).map(|finding| finding.code.text()).collect()
}

/// Whether a finding keeps a unit from conforming.
pub fn weighs(finding: &Finding) -> bool {
    finding.severity == Severity::Fail || finding.undecided
}

pub fn points(finding: &Finding) -> BTreeSet<String> {
    finding.points.iter().cloned().collect()
}

/// Checks that a netlist conforms, and says why not.
pub fn assert_conforms(netlist: &str) {
    let report = check(netlist);
    let messages: Vec<&str> = report.findings.iter().map(|finding| finding.message.as_str()).collect();
    assert_eq!(report.verdict, Verdict::Conforms, "{netlist}\n{messages:?}");
}
