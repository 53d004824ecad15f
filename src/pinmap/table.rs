//! Numbers for short texts, such as the names of contacts.

use std::collections::HashMap;

/// Finds short texts without hashing them as strings: eight bytes fit a machine word.
#[derive(Debug, Default)]
pub(super) struct Table {
    slots: Vec<(u64, u32)>,
    used: usize,
    shift: u32,
    long: HashMap<Box<str>, u32>,
}

/// Eight bytes of text as one number; zero stands for an empty slot, so that no text may begin with it.
fn key(text: &[u8]) -> Option<u64> {
    if text.len() > 8 || text.first().is_none_or(|b| *b == 0) {
        return None;
    }
    Some(text.iter().fold(0, |word, b| word << 8 | u64::from(*b)))
}

impl Table {
    /// A table with room for so many texts; it grows where there are more.
    pub fn with_room_for(texts: usize) -> Self {
        // small tables are kept sparse, large ones small
        let sparse = if texts < 1 << 12 { 4 } else { 2 };
        let bits = (texts.max(1) * sparse).next_power_of_two().trailing_zeros().max(4);
        Table { slots: vec![(0, 0); 1 << bits], used: 0, shift: 68 - bits.max(5), long: HashMap::new() }
    }

    /// Gives a text its number, unless it has one already.
    pub fn insert(&mut self, text: &str, number: u32) -> bool {
        let Some(key) = key(text.as_bytes()) else {
            if self.long.contains_key(text) {
                return false;
            }
            self.long.insert(text.into(), number);
            return true;
        };
        if (self.used + 1) * 2 > self.slots.len() {
            self.grow();
        }
        let mut at = self.slot(key);
        while self.slots[at].0 != 0 {
            if self.slots[at].0 == key {
                return false;
            }
            at = (at + 1) & (self.slots.len() - 1);
        }
        self.slots[at] = (key, number);
        self.used += 1;
        true
    }

    fn grow(&mut self) {
        let mut larger = Table::with_room_for(2 * (self.used + 1));
        for (key, number) in self.slots.iter().copied().filter(|(key, _)| *key != 0) {
            let mut at = larger.slot(key);
            while larger.slots[at].0 != 0 {
                at = (at + 1) & (larger.slots.len() - 1);
            }
            larger.slots[at] = (key, number);
        }
        (self.slots, self.shift) = (larger.slots, larger.shift);
    }

    /// Texts that differ in the last four bits alone, such as the numbers of a decade, are neighbours, so that a long list is read
    /// and written in large steps through memory.
    fn slot(&self, key: u64) -> usize {
        let block = (key >> 8).wrapping_mul(0x9e37_79b9_7f4a_7c15) >> self.shift;
        let slot = usize::try_from(block << 4 | key & 15).unwrap_or(0);
        slot & (self.slots.len() - 1)
    }

    /// The number of a text.
    pub fn find(&self, text: &str) -> Option<u32> {
        let Some(key) = key(text.as_bytes()) else { return self.long.get(text).copied() };
        let mut at = self.slot(key);
        loop {
            let (known, number) = *self.slots.get(at)?;
            if known == key {
                return Some(number);
            }
            if known == 0 {
                return None;
            }
            at = (at + 1) & (self.slots.len() - 1);
        }
    }
}
