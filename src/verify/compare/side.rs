//! The two units on the table, under one numbering of their contacts.

use std::cell::OnceCell;
use std::collections::BTreeSet;
use std::sync::Arc;

use crate::finding::{Label, Problem};
use crate::graph::{Nets, Paths};
use crate::netlist::{Bound, Fact, Netlist, Origin, PointLookup, Scope, Unit, bind};
use crate::pinmap::Cable;
use crate::text::visible;

use super::load::Loaded;
use super::points::Texts;
use crate::verify::case::places;
use crate::verify::unit::Prepared;
use crate::verify::{Checker, Given};

/// How many lines of one netlist a difference shows at most for one way through it.
const LINES: usize = 3;

/// One unit.
#[derive(Debug)]
pub(super) struct Side<'a> {
    pub(super) netlist: &'a Netlist,
    pub(super) unit: &'a Unit,
    pub(super) given: Given<'a>,
    pub(super) bound: Bound,
    pub(super) nets: Nets,
    paths: OnceCell<Paths>,
}

impl<'a> Side<'a> {
    fn new(loaded: &'a Loaded, unit: &'a Unit) -> Self {
        let given = Given::new(&loaded.head, &loaded.netlist, unit);
        let (bound, nets) = (Bound::default(), Nets::new(0, []));
        Side { netlist: &loaded.netlist, unit, given, bound, nets, paths: OnceCell::new() }
    }

    /// The facts of the unit, with their numbers.
    pub(super) fn facts(&self) -> impl Iterator<Item = (u32, &'a Fact)> + use<'a> {
        (self.unit.facts.start..).zip(self.netlist.facts_of(self.unit))
    }

    pub(super) fn is_drawing(&self) -> bool {
        self.given.origin() == Origin::Drawing
    }

    pub(super) fn is_listed(&self) -> bool {
        self.given.scope() != Scope::All
    }

    /// Whether the unit speaks of a contact.
    pub(super) fn knows(&self, point: u32) -> bool {
        match self.given.scope() {
            Scope::All => true,
            Scope::Listed => self.bound.probed(point),
            Scope::Stated => self.bound.joined_at(point).or(self.bound.open_at(point)).is_some(),
        }
    }

    /// A label on a fact.
    pub(super) fn at(&self, fact: u32, text: impl Into<String>) -> Label {
        places::at(self.netlist, self.unit, fact, text)
    }

    fn bind(&mut self, lookup: &dyn PointLookup) -> Vec<Problem> {
        let problems = bind(self.netlist, self.unit, lookup, &mut self.bound);
        self.nets = Nets::new(lookup.count(), self.bound.joins.iter().map(|join| (join.a, join.b)));
        problems
    }

    /// The ends that its contacts name.
    fn ends(&self) -> BTreeSet<&'a str> {
        let points = self.facts().flat_map(|(_, fact)| self.netlist.points_of(fact.kind.points()));
        points.map(|point| point.end(&self.netlist.source)).collect()
    }
}

/// Where the numbers of the contacts come from.
#[derive(Debug)]
enum Contacts {
    /// The map of the cable, under the names that each of the two gives its ends.
    Map([Arc<Prepared>; 2]),
    /// Their texts.
    Texts(Texts),
}

/// Both units.
#[derive(Debug)]
pub(super) struct Pair<'a> {
    pub(super) sides: [Side<'a>; 2],
    contacts: Contacts,
}

impl<'a> Pair<'a> {
    /// Looks up every contact of both: in the map that the caller, both, or one of them names, else by their texts.
    pub(super) fn new(
        loaded: [&'a Loaded; 2],
        units: [&'a Unit; 2],
        checkers: &mut [Checker; 2],
        cable: Option<&str>,
    ) -> Result<Self, Vec<Problem>> {
        let mut sides = [0, 1].map(|at| Side::new(loaded[at], units[at]));
        let named = [0, 1].map(|at| cable.or_else(|| sides[at].given.get(|settings| settings.cable).map(|said| said.text())));
        let mut prepared = Vec::new();
        for at in 0..2 {
            // a netlist that names no cable is read by the map of the other, which is found from there
            let from = if named[at].is_some() { at } else { 1 - at };
            if let Some(name) = named[from] {
                prepared.push(checkers[from].prepare_as(name, &sides[at].given, units[at])?);
            }
        }
        let contacts = match <[Arc<Prepared>; 2]>::try_from(prepared) {
            Ok(both) if same_cable(&both[0].cable, &both[1].cable) => Contacts::Map(both),
            _ => Contacts::Texts(Texts::of([0, 1].map(|at| (sides[at].netlist, sides[at].unit)))),
        };
        let mut problems = Vec::new();
        for (at, side) in sides.iter_mut().enumerate() {
            problems.extend(match &contacts {
                Contacts::Map(prepared) => side.bind(&prepared[at].ends),
                Contacts::Texts(texts) => side.bind(texts),
            });
        }
        let pair = Pair { sides, contacts };
        problems.extend(pair.no_end_in_common());
        if problems.is_empty() && !units.iter().any(|unit| unit.broken) { Ok(pair) } else { Err(problems) }
    }

    /// Without a map, contacts can only be told by their texts.
    fn no_end_in_common(&self) -> Option<Problem> {
        let [one, two] = self.sides.each_ref().map(Side::ends);
        if self.map().is_some() || one.is_empty() || two.is_empty() || !one.is_disjoint(&two) {
            return None;
        }
        let list = |ends: BTreeSet<&str>| ends.into_iter().map(|end| visible(end).into_owned()).collect::<Vec<_>>().join(" ");
        let (one, two) = (list(one), list(two));
        let [first, second] = &self.sides;
        let problem = Problem::new("the two netlists have no end in common, and no map says which is which")
            .at(&first.netlist.source, first.unit.line, format!("its ends are {one}"))
            .at(&second.netlist.source, second.unit.line, format!("its ends are {two}"));
        Some(problem.help("name the cable, as in `--cable displayport`, and say the sides, as in `end P1 source`"))
    }

    /// The map that both are read by.
    pub(super) fn map(&self) -> Option<&[Arc<Prepared>; 2]> {
        match &self.contacts {
            Contacts::Map(prepared) => Some(prepared),
            Contacts::Texts(_) => None,
        }
    }

    /// Every contact.
    pub(super) fn points(&self) -> impl Iterator<Item = u32> + use<> {
        (0..).take(self.sides[0].nets.labels().len())
    }

    /// Whether both speak of a contact.
    pub(super) fn knows(&self, point: u32) -> bool {
        self.sides.iter().all(|side| side.knows(point))
    }

    /// Whether both are drawings, and whether exactly one is.
    pub(super) fn drawings(&self) -> usize {
        self.sides.iter().filter(|side| side.is_drawing()).count()
    }

    /// A contact as the first netlist writes it.
    pub(super) fn text(&self, point: u32) -> &str {
        match &self.contacts {
            Contacts::Map([first, _]) => first.ends.text(point),
            Contacts::Texts(texts) => texts.text(point),
        }
    }

    /// Contacts as the first netlist writes them.
    pub(super) fn texts(&self, points: &[u32]) -> Vec<String> {
        points.iter().map(|point| self.text(*point).to_owned()).collect()
    }

    /// Contacts in words; of many, the first few.
    pub(super) fn list(&self, points: &[u32]) -> String {
        const NAMED: usize = 4;
        let more = points.len().saturating_sub(NAMED);
        if more <= 1 {
            return self.texts(points).join(" ");
        }
        format!("{} and {more} more", self.texts(&points[..NAMED]).join(" "))
    }

    /// The signal that the map has on contacts, in brackets, where it is one.
    pub(super) fn signal(&self, points: &[u32]) -> String {
        let signals: BTreeSet<&str> = self
            .map()
            .map_or_else(BTreeSet::new, |[map, _]| points.iter().map(|point| map.cable.function(*point).name.as_str()).collect());
        match signals.first() {
            Some(signal) if signals.len() == 1 => format!(" ({signal})"),
            _ => String::new(),
        }
    }

    /// What messages call the two: by what they are where exactly one is a drawing, else by their files.
    pub(super) fn names(&self) -> [String; 2] {
        if self.drawings() == 1 {
            return self.sides.each_ref().map(|side| if side.is_drawing() { "the drawing" } else { "the build" }.to_owned());
        }
        let files = self.sides.each_ref().map(|side| side.netlist.source.name());
        let last = files.map(|file| file.rsplit(['/', '\\']).next().unwrap_or(file));
        let short = last.map(|file| file.strip_suffix(".netlist").unwrap_or(file));
        match (short[0] != short[1], files[0] != files[1]) {
            (true, _) => short.map(str::to_owned),
            (false, true) => files.map(str::to_owned),
            _ => ["the first", "the second"].map(str::to_owned),
        }
    }

    /// Ends that the two call by different names.
    pub(super) fn renamed_ends(&self) -> Vec<[String; 2]> {
        let Some([one, two]) = self.map() else { return Vec::new() };
        let names = (0..one.cable.ends.len()).map(|end| [one.ends.end(end).to_owned(), two.ends.end(end).to_owned()]);
        names.filter(|[one, two]| one != two).collect()
    }

    /// The lines of one netlist that join some contacts to others.
    pub(super) fn joined(&self, side: usize, from: &[u32], to: &[u32]) -> Vec<Label> {
        let of = &self.sides[side];
        let joins = || of.bound.joins.iter().map(|join| (join.a, join.b, join.fact));
        let way = of.paths.get_or_init(|| Paths::new(of.nets.labels().len(), joins())).between(from, to);
        let text = |nth: usize| match nth {
            0 => format!("{} to {}", self.list(from), self.list(to)),
            _ => "by way of this line".to_owned(),
        };
        way.iter().take(LINES).enumerate().map(|(nth, fact)| of.at(*fact, text(nth))).collect()
    }

    /// The lines of one netlist that show where contacts are.
    pub(super) fn shown(&self, side: usize, points: &[u32]) -> Vec<Label> {
        let of = &self.sides[side];
        let say = |points: &[u32], open: bool| format!("{} {}", self.list(points), if open { "open" } else { "here" });
        let mut labels = places::shown((of.netlist, of.unit, &of.bound), points, |point| point, |points| self.list(points), say);
        labels.truncate(2 * LINES);
        labels
    }
}

/// Whether two cables are the same: their own files and those of their connectors say the same.
fn same_cable(one: &Arc<Cable>, two: &Arc<Cable>) -> bool {
    let connectors = || one.ends.iter().zip(&two.ends).all(|(a, b)| a.connector.file.text() == b.connector.file.text());
    Arc::ptr_eq(one, two) || (one.file.text() == two.file.text() && one.ends.len() == two.ends.len() && connectors())
}
