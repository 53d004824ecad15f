//! A connector: its contacts, their names and roles.

use std::collections::{BTreeMap, HashMap, HashSet};
use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use crate::finding::Problem;
use crate::text::{Source, Span, visible};

use super::Role;
use super::raw::{self, OneOrMore, RawConnector, place};
use super::rows::LongLists;
use super::table::Table;

/// A connector type.
#[derive(Debug)]
pub struct Connector {
    /// The catalogue name.
    pub name: String,
    /// Where the file gives it.
    pub name_at: Span,
    /// What it is, in words.
    pub title: String,
    /// The published standard.
    pub standard: String,
    /// The two port roles, where they change the names of the contacts; else empty.
    pub sides: Vec<String>,
    /// The contact field on the mating face of the plug, rows from top to bottom; empty where it isn't known. An empty
    /// text is a place without a contact. Each entry is an index into `pins`.
    pub rows: Vec<Vec<Option<usize>>>,
    /// The contacts, the shell last.
    pub pins: Vec<Pin>,
    /// The sources that `checked` lists refer to.
    pub sources: BTreeMap<String, String>,
    /// The file.
    pub file: Arc<Source>,
    /// For each contact, by its number or letter, the index into `pins`.
    numbers: Table,
    /// The contact that was found last: long lists name them in their order.
    last: AtomicUsize,
}

/// A contact.
#[derive(Debug)]
#[non_exhaustive]
pub struct Pin {
    /// Its number or letter, as printed on the connector; text, and case matters.
    pub pin: String,
    /// What it is on the first side, or on both.
    pub near: Function,
    /// What it is on the second side, where that differs.
    pub far: Option<Function>,
    /// The pairs whose screen drains land here.
    pub drains: Vec<String>,
    /// Where this row comes from.
    pub provenance: Provenance,
    /// The entry in the file.
    pub span: Span,
}

/// What a contact does.
#[derive(Clone, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Function {
    /// The signal, as the standard names it.
    pub name: String,
    /// Its role.
    pub role: Role,
    /// The differential pair that it belongs to.
    pub pair: Option<String>,
}

/// Where a row of a pin map comes from.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct Provenance {
    /// The keys of the published sources that agree with it.
    pub checked: Vec<String>,
    /// True where it, or part of it, was recalled or derived without a source.
    pub from_memory: bool,
}

impl Provenance {
    /// True where nothing that was published stands behind the row.
    #[must_use]
    pub fn is_from_memory_alone(&self) -> bool {
        self.from_memory && self.checked.is_empty()
    }
}

impl Connector {
    /// Reads and checks a connector file.
    ///
    /// # Errors
    /// Every problem of the file, each at its span.
    pub fn read(source: &Arc<Source>) -> Result<Connector, Vec<Problem>> {
        if let Some(lists) = LongLists::of(source.text())
            && let Some(written) = raw::read_short(&lists)
            && let Ok(connector) = Self::checked(source, written, &lists)
            && lists.are_read()
        {
            return Ok(connector);
        }
        Self::checked(source, raw::read(source)?, &LongLists::none())
    }

    /// Checks a connector as it was written, in a file of its own or in that of a cable.
    pub(super) fn checked(source: &Arc<Source>, written: RawConnector, lists: &LongLists<'_>) -> Result<Connector, Vec<Problem>> {
        let mut problems = Vec::new();
        let name_at = place(&written.name);
        name_fits("connector", source, &written.name, &mut problems);
        let mut pins = Vec::with_capacity(written.pins.len().max(lists.about()));
        let mut numbers = Table::with_room_for(pins.capacity());
        for entry in lists.all(written.pins) {
            let span = place(&entry);
            let pin = entry.into_inner();
            let number_at = place(&pin.pin);
            let number = pin.pin.into_inner();
            if !numbers.insert(&number, u32::try_from(pins.len()).unwrap_or(u32::MAX)) {
                let first = pins.iter().find(|known: &&Pin| known.pin == number).map_or(span, |known| known.span);
                problems.push(
                    Problem::new(format!("contact {} twice", visible(&number))).at(source, number_at, "again here").at(
                        source,
                        first,
                        "first here",
                    ),
                );
            }
            if !is_pin_text(&number) {
                problems.push(Problem::new("a contact that no netlist can name").at(
                    source,
                    number_at,
                    "letters, digits, `_`, `+` and `-` only",
                ));
            }
            let near = Function { name: pin.name, role: pin.role, pair: pin.pair };
            let far = pin.far.map(|far| Function { name: far.name, role: far.role, pair: far.pair });
            for function in std::iter::once(&near).chain(&far) {
                if function.pair.is_some() != function.role.is_pair() {
                    problems.push(Problem::new("a pair's contact needs `pair` and the role `pair+` or `pair-`").at(
                        source,
                        span,
                        "one without the other",
                    ));
                }
            }
            let provenance = provenance(source, &pin.checked, pin.from_memory, &written.sources, &mut problems);
            let drains = pin.drains.map(OneOrMore::into_vec).unwrap_or_default();
            pins.push(Pin { pin: number, near, far, drains, provenance, span });
        }
        let rows = rows(source, &written.rows, &pins, &mut problems);
        if !matches!(written.sides.len(), 0 | 2) {
            problems.push(Problem::new("`sides` names two port roles, or is left out").at(
                source,
                place(&written.name),
                "this connector",
            ));
        }
        check_pairs(source, &pins, &mut problems);
        if !problems.is_empty() {
            return Err(problems);
        }
        Ok(Connector {
            name: written.name.into_inner(),
            name_at,
            numbers,
            last: AtomicUsize::new(0),
            title: written.title,
            standard: written.standard,
            sides: written.sides,
            rows,
            pins,
            sources: written.sources,
            file: Arc::clone(source),
        })
    }

    /// The contact of that number or letter.
    #[must_use]
    pub fn find(&self, pin: &str) -> Option<usize> {
        let last = self.last.load(Ordering::Relaxed);
        let near = (last..last + 2).find(|at| self.pins.get(*at).is_some_and(|known| known.pin == pin));
        let found = near.or_else(|| self.numbers.find(pin).map(|at| at as usize))?;
        self.last.store(found, Ordering::Relaxed);
        Some(found)
    }

    /// The contact whose number or letter differs from a text in case or leading zeros alone.
    #[must_use]
    pub fn near(&self, pin: &str) -> Option<&str> {
        let alike = |known: &&str| {
            known.eq_ignore_ascii_case(pin) || known.trim_start_matches('0') == pin.trim_start_matches('0') && !pin.is_empty()
        };
        self.pins.iter().map(|known| known.pin.as_str()).find(alike)
    }
}

impl Pin {
    /// What the contact is on a side.
    #[must_use]
    pub fn function(&self, far_side: bool) -> &Function {
        match &self.far {
            Some(far) if far_side => far,
            _ => &self.near,
        }
    }
}

/// The name of a connector or a cable stands in netlists and in reports: one word of them.
pub(super) fn name_fits(what: &str, source: &Arc<Source>, name: &toml::Spanned<String>, problems: &mut Vec<Problem>) {
    let text = name.get_ref();
    if !is_name(text) {
        problems.push(Problem::new(format!("a name that no {what} can have")).at(
            source,
            place(name),
            "letters, digits, `_`, `-` and `.` only",
        ));
    }
}

/// Whether a cable or a connector can be called so: letters, digits, `_`, `-` and `.`.
#[must_use]
pub fn is_name(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'-' | b'.'))
}

/// Letters, digits, `_`, `+` and `-`, as in the netlist language.
fn is_pin_text(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|b| b.is_ascii_alphanumeric() || matches!(b, b'_' | b'+' | b'-'))
}

fn rows(
    source: &Arc<Source>,
    written: &[Vec<toml::Spanned<String>>],
    pins: &[Pin],
    problems: &mut Vec<Problem>,
) -> Vec<Vec<Option<usize>>> {
    if written.is_empty() {
        return Vec::new();
    }
    let numbers: HashMap<&str, usize> = pins.iter().map(|pin| pin.pin.as_str()).zip(0..).collect();
    let mut placed = HashSet::new();
    written
        .iter()
        .map(|row| {
            row.iter()
                .map(|entry| {
                    let number = entry.get_ref();
                    if number.is_empty() {
                        return None;
                    }
                    let found = numbers.get(number.as_str()).copied();
                    let wrong = match found {
                        None => Some("no contact of this number under `pins`"),
                        Some(_) if !placed.insert(number.clone()) => Some("placed twice"),
                        Some(_) => None,
                    };
                    if let Some(wrong) = wrong {
                        problems.push(Problem::new(format!("`rows` and `pins` disagree about contact {}", visible(number))).at(
                            source,
                            place(entry),
                            wrong,
                        ));
                    }
                    found
                })
                .collect()
        })
        .collect()
}

/// Every pair has one plus and one minus contact, on each side.
fn check_pairs(source: &Arc<Source>, pins: &[Pin], problems: &mut Vec<Problem>) {
    for far_side in [false, true] {
        let mut pairs: BTreeMap<&str, Vec<&Pin>> = BTreeMap::new();
        for pin in pins {
            if let Some(pair) = &pin.function(far_side).pair {
                pairs.entry(pair).or_default().push(pin);
            }
        }
        for (name, members) in pairs {
            let plus = members.iter().filter(|pin| pin.function(far_side).role == Role::PairPlus).count();
            if members.len() != 2 || plus != 1 {
                problems.push(Problem::new(format!("pair {name} needs one plus and one minus contact")).at(
                    source,
                    members[0].span,
                    format!("{} contacts, {plus} of them plus", members.len()),
                ));
            }
        }
        if pins.iter().all(|pin| pin.far.is_none()) {
            break;
        }
    }
}

/// The provenance of an entry; unknown source keys are problems.
pub(super) fn provenance(
    source: &Arc<Source>,
    checked: &[toml::Spanned<String>],
    from_memory: bool,
    sources: &BTreeMap<String, String>,
    problems: &mut Vec<Problem>,
) -> Provenance {
    for key in checked {
        if !sources.contains_key(key.get_ref()) {
            problems.push(Problem::new(format!("source {} isn't described under [sources]", key.get_ref())).at(
                source,
                place(key),
                "this key",
            ));
        }
    }
    Provenance { checked: checked.iter().map(|key| key.get_ref().clone()).collect(), from_memory }
}
