//! What a netlist says of a unit itself: for the record, and for whatever sorts units by where they come from.

use crate::netlist::{Netlist, Setting, Settings, Unit, Word};
use crate::text::{Digest, Digester, Source, Span};

use crate::verify::Given;

/// What a netlist says of a unit itself.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
#[non_exhaustive]
pub struct About {
    /// The lot.
    pub lot: Option<String>,
    /// Who made or sold it.
    pub supplier: Option<String>,
    /// The type: the maker's name for the bulk cable, or its screening.
    pub kind: Option<String>,
    /// Every header line that holds for the unit, as it is written: what the limits of its figures follow from.
    pub header: Vec<String>,
    /// The digest of the unit's own lines: its `unit` line, the header lines inside it and the lines that state its facts,
    /// in the order of the file, each once and closed by one line feed. Blank lines and lines of comment are no part of it.
    pub digest: Digest,
}

impl About {
    /// What is said of this unit.
    pub(in crate::verify) fn of(given: &Given<'_>, netlist: &Netlist, unit: &Unit) -> Self {
        let word = |pick: fn(&Settings) -> Option<Setting<Word>>| given.get(pick).map(|said| said.text().to_owned());
        About {
            lot: word(|settings| settings.lot),
            supplier: word(|settings| settings.supplier),
            kind: word(|settings| settings.kind),
            header: given.lines().into_iter().map(str::to_owned).collect(),
            digest: of_lines(netlist, unit),
        }
    }
}

fn of_lines(netlist: &Netlist, unit: &Unit) -> Digest {
    let facts = netlist.facts_of(unit).iter().map(|fact| fact.span);
    let header = unit.settings.as_deref().map_or_else(Vec::new, Settings::lines);
    let mut places: Vec<Span> = std::iter::once(unit.line).chain(facts).chain(header.into_iter().map(|(_, at)| at)).collect();
    places.sort_unstable();
    let mut digester = Digester::default();
    let mut taken_to = 0;
    for place in places {
        let (start, end) = whole_lines(&netlist.source, place);
        if end >= taken_to {
            digester.take(netlist.source.text().as_bytes().get(start.max(taken_to)..end).unwrap_or_default());
            digester.take(b"\n");
            taken_to = end + 1;
        }
    }
    digester.finish()
}

/// The lines that a place lies in, without the end of the last.
fn whole_lines(source: &Source, place: Span) -> (usize, usize) {
    let text = source.text().as_bytes();
    let from = (place.start as usize).min(text.len());
    let to = (place.end() as usize).clamp(from, text.len());
    let start = memchr::memrchr(b'\n', &text[..from]).map_or(0, |at| at + 1);
    let end = memchr::memchr(b'\n', &text[to..]).map_or(text.len(), |at| to + at);
    let end = if end > start && text[end - 1] == b'\r' { end - 1 } else { end };
    (start, end)
}
