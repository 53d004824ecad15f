//! The Touchstone files that a unit names: `sparameters A.1 A.3 B.12 B.10 lane0.s4p`.
//!
//! The line says which contact each port of the file was connected to: port 1 to the first point, and so on. The near end
//! is that of port 1. Whether the figures agree is looked up in them: most of what goes into a port must come out at the
//! other end, and at the contact that the netlist joins it to. Whoever judges a unit calls this once for it; it decides
//! nothing about verdicts.

use std::path::{Path, PathBuf};

use crate::finding::{Label, Problem};
use crate::graph::Nets;
use crate::netlist::{Bound, Fact, FactKind, Netlist, Point, Unit};
use crate::signal::touchstone::{self, PortsFrom};
use crate::signal::{Doubt, Network, PortOrder, Way, leads_to};
use crate::text::{Span, visible};

/// How many ports the file of a pair has.
const PORTS: usize = 4;

/// A way to a contact of the same end contradicts the line if no more than this is lost on it, in dB; weaker than that,
/// the conductor may be broken, and what comes out is coupling (common practice, no source).
const LOOPS_BACK_DB: f64 = -6.0;

/// The figures of a pair, with the contacts that they were measured at.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct SignalFile {
    /// The file as the netlist names it, seen from the netlist's folder.
    pub path: PathBuf,
    /// The line, as an index into [`Netlist::facts`].
    pub fact: u32,
    /// The contacts: two at the near end, then for each of them the far one that it leads to.
    pub points: [Point; PORTS],
    /// For each of the contacts, which port of the file is there, from 0.
    pub ports: [usize; PORTS],
    /// The figures, with ports in the order of `points`, at the references that the file states.
    pub network: Network,
    /// How the number of ports is known.
    pub ports_from: PortsFrom,
    /// Whether the through paths of the file confirm the line; if not, why that can't be told.
    pub confirmed: Result<(), Doubt>,
    /// The line of the netlist.
    pub label: Label,
}

/// The files that a unit names.
#[derive(Debug, Default)]
#[non_exhaustive]
pub struct SignalFiles {
    /// Those that can be used, in the order of the netlist.
    pub files: Vec<SignalFile>,
    /// What is wrong with the others, each at its line.
    pub problems: Vec<Problem>,
}

impl SignalFiles {
    /// Reads every file that a unit names; `folder` is the one that their paths are taken from.
    ///
    /// With the points and nets of the unit, through paths are held against its joins too.
    #[must_use]
    pub fn of(netlist: &Netlist, unit: &Unit, folder: &Path, nets: Option<(&Bound, &Nets)>) -> Self {
        let mut all = SignalFiles::default();
        for (fact_id, fact) in (unit.facts.start..).zip(netlist.facts_of(unit)) {
            let FactKind::SParameters { points, path } = fact.kind else { continue };
            let Ok(points) = <[Point; PORTS]>::try_from(netlist.points_of(points)) else { continue };
            let line = Line { netlist, fact, fact_id, points, path, nets };
            match line.read(folder) {
                Ok(file) => all.files.push(file),
                Err(problems) => all.problems.extend(problems),
            }
        }
        all
    }
}

/// One `sparameters` line.
struct Line<'a> {
    netlist: &'a Netlist,
    fact: &'a Fact,
    fact_id: u32,
    points: [Point; PORTS],
    path: Span,
    nets: Option<(&'a Bound, &'a Nets)>,
}

impl Line<'_> {
    fn read(&self, folder: &Path) -> Result<SignalFile, Vec<Problem>> {
        let (near, far) = self.ends().map_err(|problem| vec![*problem])?;
        let path = folder.join(self.netlist.source.slice(self.path));
        let read = touchstone::read_file(&path).map_err(|problems| self.named_here(problems))?;
        if read.network.ports() != PORTS {
            let words = format!("{} ports, known {}", read.network.ports(), read.ports_from.words());
            let problem = Problem::new(format!("{} isn't the file of one pair", self.file()))
                .at(&self.netlist.source, self.path, words)
                .help("the line names four points, so the file has four ports: two at each end");
            return Err(vec![problem]);
        }
        let ways: Vec<Result<Way, Doubt>> = (0..PORTS).map(|port| leads_to(&read.network, port)).collect();
        self.loops_back(&read.network, &ways, near)?;
        let shown = crossed_by_figures(&ways, near, far);
        let joined = self.crossed_by_joins(near, far);
        if let (Some(shown), Some(joined)) = (shown, joined)
            && shown != joined
        {
            return Err(vec![self.other_than_joined(near, far, shown)]);
        }
        let far = if shown.or(joined).unwrap_or(false) { [far[1], far[0]] } else { far };
        let ports = [near[0], near[1], far[0], far[1]];
        let network = read.network.reordered(&ports).ok_or_else(|| {
            let problem = Problem::new(format!("the ports of {} can't be put in order", self.file()));
            vec![problem.at(&self.netlist.source, self.fact.span, "four ports at four points")]
        })?;
        Ok(SignalFile {
            path,
            fact: self.fact_id,
            points: ports.map(|port| self.points[port]),
            ports,
            network,
            ports_from: read.ports_from,
            confirmed: confirmed(ways, near, far),
            label: Label::new(&self.netlist.source, self.fact.span, "its ports 1 to 4, at these points in this order"),
        })
    }

    /// The ports at the near end, that of the first point, and those at the far end.
    fn ends(&self) -> Result<([usize; 2], [usize; 2]), Box<Problem>> {
        let end = |port: usize| self.text(port).get(..self.points[port].end_len as usize).unwrap_or_default();
        let (near, far): (Vec<usize>, Vec<usize>) = (0..PORTS).partition(|port| end(*port) == end(0));
        let twice = (0..PORTS).find(|port| (0..*port).any(|other| self.text(other) == self.text(*port)));
        if let Some(port) = twice {
            let label = "two ports can't be at one contact";
            let problem = Problem::new("the same point twice on one line");
            return Err(problem.at(&self.netlist.source, self.points[port].span, label).into());
        }
        match (near.as_slice(), far.as_slice()) {
            ([one, two], [three, four]) if end(*three) == end(*four) => Ok(([*one, *two], [*three, *four])),
            _ => Err(Problem::new("a pair is measured at two contacts of each end")
                .at(&self.netlist.source, self.fact.span, "not two points at one end and two at another")
                .help("name the contact of each port, 1 to 4, as in `sparameters A.1 A.3 B.12 B.10 lane0.s4p`")
                .into()),
        }
    }

    /// The problems of a file, with the place where the netlist names it: once, and where they have no place of their own.
    fn named_here(&self, mut problems: Vec<Problem>) -> Vec<Problem> {
        for (nth, problem) in problems.iter_mut().enumerate() {
            if nth == 0 || problem.labels.is_empty() {
                problem.labels.push(Label::new(&self.netlist.source, self.path, "named here"));
            }
        }
        problems
    }

    /// # Errors
    /// Where most of what goes in at one end comes out at the same end, though the netlist joins nothing there.
    fn loops_back(&self, network: &Network, ways: &[Result<Way, Doubt>], near: [usize; 2]) -> Result<(), Vec<Problem>> {
        let is_near = |port: usize| near.contains(&port);
        let back = ways.iter().enumerate().find_map(|(from, way)| {
            let way = way.as_ref().ok()?;
            let same_end = is_near(from) == is_near(way.to) && way.decibel > LOOPS_BACK_DB;
            (same_end && !self.joined(from, way.to)).then_some((from, *way))
        });
        let Some((from, way)) = back else { return Ok(()) };
        let label = format!("{:.1} dB from port {} to port {}", way.decibel, from + 1, way.to + 1);
        let message = format!("what goes in at {} comes out at {}, at the same end", self.text(from), self.text(way.to));
        let problem = Problem::new(message).at(&self.netlist.source, self.fact.span, label);
        Err(vec![match self.better_order(network, near) {
            Some(line) => problem.help(format!(
                "the points stand in the order of the file's ports, 1 to 4; by its through paths, that would be `{line}`"
            )),
            None => problem.help("the points stand in the order of the file's ports, 1 to 4; look up how they were connected"),
        }])
    }

    /// The line with its points in the order that the through paths show.
    fn better_order(&self, network: &Network, near: [usize; 2]) -> Option<String> {
        let sequence = PortOrder::guess(network).ok()?.sequence(PORTS)?;
        let by_end = (0..PORTS).filter(|port| near.contains(port)).chain((0..PORTS).filter(|port| !near.contains(port)));
        let mut points = [""; PORTS];
        for (port, point) in sequence.iter().zip(by_end) {
            *points.get_mut(*port)? = self.text(point);
        }
        Some(format!("sparameters {} {}", points.join(" "), self.file()))
    }

    /// Whether the netlist joins the points of two ports.
    fn joined(&self, one: usize, other: usize) -> bool {
        self.nets.is_some_and(|(bound, nets)| {
            let numbers = bound.numbers(self.fact);
            numbers.get(one).zip(numbers.get(other)).is_some_and(|(one, other)| nets.same(*one, *other))
        })
    }

    /// Whether the joins of the netlist lead from the first near point to the second far one; none where they don't say.
    fn crossed_by_joins(&self, near: [usize; 2], far: [usize; 2]) -> Option<bool> {
        let straight = self.joined(near[0], far[0]) || self.joined(near[1], far[1]);
        let crossed = self.joined(near[0], far[1]) || self.joined(near[1], far[0]);
        (straight != crossed).then_some(crossed)
    }

    fn other_than_joined(&self, near: [usize; 2], far: [usize; 2], crossed: bool) -> Problem {
        let shown = far[usize::from(crossed)];
        let joined = far[usize::from(!crossed)];
        // the join that says so may be that of either conductor
        let (from, shown, joined) = match self.joined(near[0], joined) {
            true => (near[0], shown, joined),
            false => (near[1], joined, shown),
        };
        let (at, to, other) = (self.text(from), self.text(shown), self.text(joined));
        let problem = Problem::new(format!("{} leads from {at} to {to}, and the netlist joins {at} to {other}", self.file()))
            .at(&self.netlist.source, self.fact.span, format!("what enters port {} comes out of port {}", from + 1, shown + 1))
            .help("look up which contacts the ports were connected to, and measure the joins again");
        let line = self.nets.and_then(|(bound, _)| {
            let number = bound.numbers(self.fact).get(from)?;
            self.netlist.facts.get(bound.joined_at(*number)? as usize)
        });
        match line {
            Some(line) => problem.at(&self.netlist.source, line.span, "joined here"),
            None => problem,
        }
    }

    fn text(&self, port: usize) -> &str {
        self.points[port].text(&self.netlist.source)
    }

    /// The path as the netlist writes it, fit to be shown.
    fn file(&self) -> String {
        visible(self.netlist.source.slice(self.path)).into_owned()
    }
}

/// Whether the figures lead from the first near port to the second far one; none where they don't say, or say both.
fn crossed_by_figures(ways: &[Result<Way, Doubt>], near: [usize; 2], far: [usize; 2]) -> Option<bool> {
    let leads = |from: usize, to: usize| ways[from].as_ref().is_ok_and(|way| way.to == to);
    let either = |one: usize, other: usize| leads(one, other) || leads(other, one);
    let straight = either(near[0], far[0]) || either(near[1], far[1]);
    let crossed = either(near[0], far[1]) || either(near[1], far[0]);
    (straight != crossed).then_some(crossed)
}

/// Whether every port leads to the far one of its conductor, and back.
fn confirmed(ways: Vec<Result<Way, Doubt>>, near: [usize; 2], far: [usize; 2]) -> Result<(), Doubt> {
    let partners = ways.into_iter().map(|way| way.map(|way| way.to)).collect::<Result<Vec<usize>, Doubt>>()?;
    let pairs = near.iter().zip(&far);
    match pairs.into_iter().all(|(near, far)| partners[*near] == *far && partners[*far] == *near) {
        true => Ok(()),
        false => Err(Doubt::Unknown { partners }),
    }
}
