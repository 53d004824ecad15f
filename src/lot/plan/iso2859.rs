//! Single sampling by ISO 2859-1: lot size and level give a code letter, letter and AQL give the plan.
//!
//! The tables are those of MIL-STD-105E (1989), which is public; for these cells ISO 2859-1 and ANSI/ASQ Z1.4 agree with it for
//! normal and tightened inspection. What each row was checked against stands beside it.

use std::fmt;

/// The acceptance quality limits of the tables, in percent.
pub const AQLS: [f64; 5] = [0.65, 1.0, 1.5, 2.5, 4.0];

/// The code letters; there is no I and no O.
pub const LETTERS: [char; 16] = ['A', 'B', 'C', 'D', 'E', 'F', 'G', 'H', 'J', 'K', 'L', 'M', 'N', 'P', 'Q', 'R'];

/// The largest lot of each row but the last, which is for all above.
const LOTS: [u64; 14] = [8, 15, 25, 50, 90, 150, 280, 500, 1200, 3200, 10_000, 35_000, 150_000, 500_000];

/// The inspection level: how much is tested for the size of the lot.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
#[expect(clippy::exhaustive_enums, reason = "ISO 2859-1 has these seven levels")]
pub enum Level {
    /// The smallest special level, for tests that destroy or cost much.
    S1,
    /// The second special level.
    S2,
    /// The third special level.
    S3,
    /// The fourth special level.
    S4,
    /// About two fifths of what level II tests.
    I,
    /// The usual level.
    II,
    /// About one and a half times what level II tests.
    III,
}

impl Level {
    /// Every level.
    pub const ALL: [Level; 7] = [Level::S1, Level::S2, Level::S3, Level::S4, Level::I, Level::II, Level::III];

    /// The level as the standard writes it.
    #[must_use]
    pub fn name(self) -> &'static str {
        match self {
            Level::S1 => "S-1",
            Level::S2 => "S-2",
            Level::S3 => "S-3",
            Level::S4 => "S-4",
            Level::I => "I",
            Level::II => "II",
            Level::III => "III",
        }
    }

    /// The code letters of the lot sizes, table I.
    ///
    /// Level II: three public reproductions agree; S-2 and S-3 agree with the reproduction in SB 740-91-01 (US Army); levels I and
    /// III follow from public reproductions of MIL-STD-105E; S-1 and S-4 are from memory.
    fn letters(self) -> &'static [u8; 15] {
        match self {
            Level::S1 => b"AAAABBBBCCCCDDD",
            Level::S2 => b"AAABBBCCCDDDEEE",
            Level::S3 => b"AABBCCDDEEFFGGH",
            Level::S4 => b"AABCCDEEFGGHJJK",
            Level::I => b"AABCCDEFGHJKLMN",
            Level::II => b"ABCDEFGHJKLMNPQ",
            Level::III => b"BCDEFGHJKLMNPQR",
        }
    }
}

/// How strict the inspection is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_enums, reason = "ISO 2859-1 has these three")]
pub enum Inspection {
    /// Normal inspection, table II-A.
    Normal,
    /// Tightened inspection, table II-B.
    Tightened,
    /// Reduced inspection, table II-C.
    Reduced,
}

impl Inspection {
    /// The word for it.
    #[must_use]
    pub fn word(self) -> &'static str {
        match self {
            Inspection::Normal => "normal",
            Inspection::Tightened => "tightened",
            Inspection::Reduced => "reduced",
        }
    }
}

/// A cell of a master table.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[expect(clippy::exhaustive_enums, reason = "the master tables hold plans and two arrows")]
pub enum Cell {
    /// The plan of this row: accept up to the first number of units that aren't accepted, reject from the second on.
    Plan(u64, u64),
    /// Use the first plan below, with its sample size.
    Below,
    /// Use the first plan above, with its sample size.
    Above,
}

/// The cells of a table: a row for each letter, a column for each AQL. `v` and `^` are the arrows, a letter from `a` on is a plan.
struct Table {
    sizes: [u64; 16],
    plans: &'static [(u64, u64)],
    cells: [&'static [u8; 5]; 16],
}

/// Table II-A. Rows A to Q were compared, cell by cell and arrow by arrow, with the reproduction by the US National Institute of
/// Building Sciences (75 of 75 agree); row R is from memory.
const NORMAL: Table = Table {
    sizes: [2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800, 1250, 2000],
    plans: &[(0, 1), (1, 2), (2, 3), (3, 4), (5, 6), (7, 8), (10, 11), (14, 15), (21, 22)],
    cells: [
        b"vvvvv", b"vvvva", b"vvva^", b"vva^v", b"va^vb", b"a^vbc", b"^vbcd", b"vbcde", b"bcdef", b"cdefg", b"defgh", b"efghi",
        b"fghi^", b"ghi^^", b"hi^^^", b"i^^^^",
    ],
};

/// Table II-B. Rows A to L were compared with the same reproduction; M to R are from memory, and follow its structure.
const TIGHTENED: Table = Table {
    sizes: NORMAL.sizes,
    plans: &[(0, 1), (1, 2), (2, 3), (3, 4), (5, 6), (8, 9), (12, 13), (18, 19)],
    cells: [
        b"vvvvv", b"vvvvv", b"vvvva", b"vvvav", b"vvavv", b"vavvb", b"avvbc", b"vvbcd", b"vbcde", b"bcdef", b"cdefg", b"defgh",
        b"efgh^", b"fgh^^", b"gh^^^", b"h^^^^",
    ],
};

/// Table II-C of MIL-STD-105E, from memory. Between acceptance and rejection number, the lot is accepted and inspection goes
/// back to normal (ISO 2859-1 of 1999 has no such gap).
const REDUCED: Table = Table {
    sizes: [2, 2, 2, 3, 5, 8, 13, 20, 32, 50, 80, 125, 200, 315, 500, 800],
    plans: &[(0, 1), (0, 2), (1, 3), (1, 4), (2, 5), (3, 6), (5, 8), (7, 10), (10, 13)],
    cells: NORMAL.cells,
};

fn table(inspection: Inspection) -> &'static Table {
    match inspection {
        Inspection::Normal => &NORMAL,
        Inspection::Tightened => &TIGHTENED,
        Inspection::Reduced => &REDUCED,
    }
}

/// The code letter of a lot, as an index into [`LETTERS`].
#[must_use]
pub fn letter(lot: u64, level: Level) -> usize {
    let row = LOTS.iter().position(|most| lot <= *most).unwrap_or(LOTS.len());
    let letter = char::from(level.letters()[row]);
    LETTERS.iter().position(|known| *known == letter).unwrap_or(0)
}

/// The sample size in the row of a code letter.
#[must_use]
pub fn sample_size(inspection: Inspection, letter: usize) -> u64 {
    table(inspection).sizes[letter.min(LETTERS.len() - 1)]
}

/// The cell of a code letter and an AQL, both as indices; none out of range.
#[must_use]
pub fn cell(inspection: Inspection, letter: usize, aql: usize) -> Option<Cell> {
    let table = table(inspection);
    match *table.cells.get(letter)?.get(aql)? {
        b'v' => Some(Cell::Below),
        b'^' => Some(Cell::Above),
        plan => table.plans.get(usize::from(plan.checked_sub(b'a')?)).map(|(accept, reject)| Cell::Plan(*accept, *reject)),
    }
}

/// A single sampling plan.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Single {
    /// The code letter whose plan it is: where an arrow was followed, another than that of the lot.
    pub letter: char,
    /// The code letter of the lot.
    pub lot_letter: char,
    /// How many units to test, drawn at random.
    pub n: u64,
    /// The lot is accepted with up to so many that aren't.
    pub accept: u64,
    /// It is rejected from so many on.
    pub reject: u64,
    /// The AQL in percent.
    pub aql: f64,
    /// The level.
    pub level: Level,
    /// How strict.
    pub inspection: Inspection,
    /// Whether the sample isn't smaller than the lot: every unit is tested.
    pub every_unit: bool,
}

impl fmt::Display for Single {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let Single { level, aql, inspection, letter, n, accept, reject, .. } = self;
        write!(f, "ISO 2859-1 single sampling, level {}, AQL {aql:?} %, {} inspection, ", level.name(), inspection.word())?;
        if self.lot_letter == *letter {
            write!(f, "letter {letter}")?;
        } else {
            write!(f, "letter {}, by the arrow the plan of {letter}", self.lot_letter)?;
        }
        write!(f, ": test {n}, accept with {accept}, reject with {reject}")
    }
}

/// The plan for a lot. None where the AQL isn't one of [`AQLS`], or the lot has fewer than two units, which the table doesn't
/// have.
#[must_use]
pub fn single(lot: u64, level: Level, aql: f64, inspection: Inspection) -> Option<Single> {
    let column = AQLS.iter().position(|known| (known - aql).abs() < 1e-9)?;
    if lot < 2 {
        return None;
    }
    let start = letter(lot, level);
    let mut row = start;
    // an arrow leads to a plan in its direction; no column has arrows that point at each other
    let (accept, reject) = loop {
        match cell(inspection, row, column)? {
            Cell::Plan(accept, reject) => break (accept, reject),
            Cell::Below => row += 1,
            Cell::Above => row = row.checked_sub(1)?,
        }
    };
    let n = sample_size(inspection, row);
    Some(Single {
        letter: LETTERS[row],
        lot_letter: LETTERS[start],
        n: n.min(lot),
        accept,
        reject,
        aql,
        level,
        inspection,
        every_unit: n >= lot,
    })
}
