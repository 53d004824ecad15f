//! Digits that a spreadsheet took from pins and from the names of units: only their neighbours give them away.

use std::collections::{HashMap, HashSet};

use crate::text::Span;

use super::build::{Builder, UnitId};
use super::damage::Damage;

/// What the names of one column have in common.
#[derive(Default)]
struct Habit {
    /// The digits of the longest name that begins with a zero.
    width: usize,
    /// What stands before the `E` in names such as `22E1`.
    mantissas: HashSet<String>,
}

impl Habit {
    fn learn(&mut self, name: &str) {
        let digits = |word: &str| !word.is_empty() && word.bytes().all(|b| b.is_ascii_digit());
        if name.len() > 1 && name.starts_with('0') && digits(name) {
            self.width = self.width.max(name.len());
        } else if let Some((mantissa, power)) = name.split_once(['E', 'e'])
            && digits(mantissa)
            && digits(power)
        {
            self.mantissas.insert(mantissa.to_owned());
        }
    }

    fn says_something(&self) -> bool {
        self.width > 0 || !self.mantissas.is_empty()
    }

    fn damage(&self, name: &str) -> Option<Damage> {
        if !name.bytes().all(|b| b.is_ascii_digit()) {
            None
        } else if name.len() < self.width {
            Some(Damage::ZerosLost(self.width))
        } else {
            Damage::exponent_lost(name, |mantissa| self.mantissas.contains(mantissa))
        }
    }
}

/// Reports bare pins and names of units that seem to have lost digits. A pin that was written with its end is safe: no
/// spreadsheet takes `A.01` for a number.
pub(super) fn lost_digits(to: &mut Builder<'_>, mut suspects: Vec<(Damage, String)>) {
    let mut pins: HashMap<String, Habit> = HashMap::new();
    for (end, pin) in to.words_read_otherwise().filter_map(|point| point.split_once('.')) {
        if !pins.contains_key(end) {
            pins.insert(end.to_owned(), Habit::default());
        }
        if let Some(habit) = pins.get_mut(end) {
            habit.learn(pin);
        }
    }
    let mut lost: Vec<(UnitId, Span, Damage)> = Vec::new();
    if pins.values().any(Habit::says_something) {
        for (unit, place, point) in to.read_otherwise() {
            let damage = point.split_once('.').and_then(|(end, pin)| pins.get(end)?.damage(pin));
            lost.extend(damage.map(|damage| (unit, place, damage)));
        }
    }
    let mut units = Habit::default();
    let names = to.unit_names();
    names.iter().for_each(|(_, name)| units.learn(to.source.written(*name)));
    if units.says_something() {
        for (unit, name) in &names {
            let words = to.source.written(*name);
            if let Some(damage) = units.damage(words) {
                suspects.push((damage.clone(), words.to_owned()));
                lost.push((*unit, *name, damage));
            }
        }
    }
    may_lack_rows(to, &names, &suspects);
    lost.sort_by_key(|(_, place, _)| *place);
    // a contact stands in several facts of its row
    lost.dedup_by_key(|(_, place, _)| *place);
    for (unit, place, damage) in lost {
        let problem = damage.problem(to.source, place);
        to.spoil(Some(unit), problem);
    }
}

/// A row under a damaged name may belong to the unit whose name that was: it lacks the row, and has no verdict either.
fn may_lack_rows(to: &mut Builder<'_>, names: &[(UnitId, Span)], suspects: &[(Damage, String)]) {
    let plain = |name: &str| name.chars().filter(|c| c.is_alphanumeric()).collect::<String>().to_lowercase();
    let mut originals: HashSet<String> = HashSet::new();
    let mut lengths: HashSet<usize> = HashSet::new();
    let mut without_zeros: HashSet<&str> = HashSet::new();
    for (damage, name) in suspects {
        match damage {
            Damage::Date(may_be) | Damage::Exponent(may_be) if !may_be.is_empty() => {
                originals.extend(may_be.iter().map(|name| plain(name)))
            }
            Damage::ExponentLost(name) => originals.extend([plain(name)]),
            Damage::Shortened(digits, _) => lengths.extend([*digits]),
            Damage::Rounded => lengths.extend([name.len()]),
            Damage::ZerosLost(_) => without_zeros.extend([name.as_str()]),
            // whatever else it is may stand for any of them
            _ => return to.mark(None),
        }
    }
    if suspects.is_empty() {
        return;
    }
    for (unit, name) in names {
        let words = to.source.written(*name);
        let number = words.bytes().all(|b| b.is_ascii_digit());
        let original = originals.contains(&plain(words))
            || (number && lengths.contains(&words.len()))
            || without_zeros.contains(words.trim_start_matches('0'));
        if original {
            to.mark(Some(*unit));
        }
    }
}
