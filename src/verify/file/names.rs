//! Which units of a file share a name, in memory that doesn't grow with the file. Two attempts at one unit don't.

use std::collections::{BTreeSet, HashMap};
use std::hash::{BuildHasher, BuildHasherDefault, DefaultHasher};

use super::parts::{Piece, unit_line};

/// So many names are looked at in one go, as hashes of eight bytes each; a file with more is gone through several times.
pub(in crate::verify) const AT_ONCE: usize = 4_400_000;

/// Names, each with its attempt, are compared by a hash of 64 bits.
fn name_hash(name: &[u8], attempt: u8) -> u64 {
    BuildHasherDefault::<DefaultHasher>::default().hash_one((name, attempt))
}

/// The names that more than one unit has, each with the place of the first: where its unit line starts, and how many lines lie
/// before it.
#[derive(Debug, Default)]
pub(in crate::verify) struct Names {
    again: HashMap<u64, Option<(u64, u64)>>,
}

impl Names {
    /// Whether no two units share a name.
    pub fn are_unlike(&self) -> bool {
        self.again.is_empty()
    }

    /// Whether more than one unit has that name and is that attempt.
    pub fn is_shared(&self, name: &str, attempt: u8) -> bool {
        !self.again.is_empty() && self.again.contains_key(&name_hash(name.as_bytes(), attempt))
    }

    /// Where the first unit of a name and an attempt stands that more than one unit has.
    pub fn first(&self, name: &str, attempt: u8) -> Option<(u64, u64)> {
        self.again.get(&name_hash(name.as_bytes(), attempt)).copied().flatten()
    }

    /// Notes where names that are shared come first; takes the pieces in their order.
    pub fn locate(&mut self, piece: &Piece) {
        let (mut counted_to, mut line) = (0, piece.line);
        each_name(&piece.bytes, |start, hash| {
            if let Some(first) = self.again.get_mut(&hash)
                && first.is_none()
            {
                line += memchr::memchr_iter(b'\n', &piece.bytes[counted_to..start]).count() as u64;
                counted_to = start;
                *first = Some((piece.offset + start as u64, line));
            }
        });
    }
}

/// The hashes of the names in a piece, in their order.
pub(in crate::verify) fn hashes(bytes: &[u8]) -> Vec<u64> {
    let mut hashes = Vec::with_capacity(bytes.len() / 256);
    each_name(bytes, |_, hash| hashes.push(hash));
    hashes
}

/// Gives the start of each `unit` line with the hash of the name on it.
fn each_name(bytes: &[u8], mut give: impl FnMut(usize, u64)) {
    for at in memchr::memmem::find_iter(bytes, b"unit") {
        let Some(start) = unit_line(bytes, at) else { continue };
        let end = memchr::memchr(b'\n', &bytes[at..]).map_or(bytes.len(), |end| at + end);
        let (name, attempt) = written_name(&bytes[at + 4..end]);
        give(start, name_hash(name, attempt));
    }
}

impl From<Twice> for Names {
    /// The names that come twice, their places yet to be [located](Self::locate).
    fn from(found: Twice) -> Self {
        Names { again: found.twice.into_iter().map(|hash| (hash, None)).collect() }
    }
}

/// Looks for hashes that come twice, holding only so many at a time.
///
/// ```
/// use backshell::verify::Twice;
/// let mut search = Twice::with_room_for(2);
/// loop {
///     search.take(&[17, 4, 9, 4, 30]);
///     if !search.needs_another_round() {
///         break;
///     }
/// }
/// assert!(search.found().eq([4]));
/// ```
#[derive(Debug)]
pub struct Twice {
    /// Of the hashes, those of one share in so many are looked at.
    share: u64,
    shares: u64,
    seen: Vec<u64>,
    room: usize,
    twice: BTreeSet<u64>,
}

impl Twice {
    /// A search that holds at most so many hashes, unless they are unlike hashes and leave the same rest by a power of two.
    #[must_use]
    pub fn with_room_for(room: usize) -> Self {
        // memory that isn't written to costs nothing, and growing would copy it
        Twice { share: 0, shares: 1, seen: Vec::with_capacity(room), room, twice: BTreeSet::new() }
    }

    /// Takes some of the hashes, in any order.
    pub fn take(&mut self, hashes: &[u64]) {
        for hash in hashes {
            if hash % self.shares == self.share {
                if self.seen.len() == self.room {
                    self.make_room();
                }
                if hash % self.shares == self.share {
                    self.seen.push(*hash);
                }
            }
        }
    }

    fn make_room(&mut self) {
        self.compare();
        while self.share == 0 && self.seen.len() > self.room / 2 && self.shares < 1 << 20 {
            // what doesn't fit has its turn when all of them are gone through again
            self.shares *= 2;
            let shares = self.shares;
            self.seen.retain(|hash| hash % shares == 0);
        }
    }

    /// Notes what comes twice, and keeps the rest once.
    fn compare(&mut self) {
        self.seen.sort_unstable();
        self.twice.extend(self.seen.windows(2).filter(|pair| pair[0] == pair[1]).map(|pair| pair[0]));
        self.seen.dedup();
    }

    /// Whether all hashes must be taken once more; to be asked when all were.
    pub fn needs_another_round(&mut self) -> bool {
        self.compare();
        self.seen.clear();
        self.share += 1;
        self.share < self.shares
    }

    /// The hashes that come twice or more, in ascending order.
    pub fn found(&self) -> impl Iterator<Item = u64> {
        self.twice.iter().copied()
    }
}

/// The name on a `unit` line, without quotation marks and comment, and which attempt it is.
fn written_name(rest: &[u8]) -> (&[u8], u8) {
    let rest = after_blanks(rest);
    let (name, rest) = match rest.strip_prefix(b"\"") {
        Some(quoted) => {
            let end = quoted.iter().position(|b| *b == b'"').unwrap_or(quoted.len());
            (&quoted[..end], quoted.get(end + 1..).unwrap_or_default())
        }
        None => rest.split_at(rest.iter().position(|b| matches!(b, b' ' | b'\t' | b'\r' | b'#' | b'"')).unwrap_or(rest.len())),
    };
    let attempt = after_blanks(rest).strip_prefix(b"attempt").map(after_blanks);
    match attempt {
        Some([digit @ b'1'..=b'9', ..]) => (name, digit - b'0'),
        _ => (name, 1),
    }
}

fn after_blanks(rest: &[u8]) -> &[u8] {
    &rest[rest.iter().position(|b| !matches!(b, b' ' | b'\t' | b'\r')).unwrap_or(rest.len())..]
}
