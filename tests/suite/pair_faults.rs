//! Every two single faults of every catalogue cable, put in one after the other: found, and named for what they are.
//!
//! By default a sample of each cable; `BACKSHELL_CAMPAIGN=middle` takes more, `BACKSHELL_CAMPAIGN=full` all of them, or a
//! sample of 20,000 a cable where there are more. What was named otherwise is listed by class in
//! `target/tmp/pair_faults.txt`.
//!
//! What a pair must be named comes from the model alone:
//! - two faults that leave each other's conductors in peace are named as each alone;
//! - bridges that meet are one bridge of more conductors, breaks in one net are one break with more pieces, exchanges that
//!   share a conductor and come out as three in a circle are that circle;
//! - two faults that make the nets of the sound cable, of one single fault, or of a cause for a whole end, are named so,
//!   since one fault is likelier than two;
//! - where two other faults of the list give the same nets, either two may be named: continuity can't tell them apart.
//!   The test puts in what was named, and compares the nets.
//!
//! All else counts as not named exactly.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Write;
use std::path::Path;

use backshell::finding::{Severity, Verdict};
use backshell::pinmap::cable_names;
use backshell::verify::UnitReport;

use crate::campaign::{Random, Size, in_parallel};
use crate::injection::faults::{Deed, Kind, Named, Single, fallen, open_code, short_code, singles};
use crate::injection::whole_ends::whole_ends;
use crate::injection::{BUILDS, Build, Model, cable, check_all};

/// What nets are known as: faults that make them.
type Known = HashMap<Vec<usize>, Vec<Vec<Named>>>;

/// A sound cable, and everything that can be wrong with it.
struct Bench {
    sound: Model,
    singles: Vec<Single>,
    /// The singles that are named so.
    by_name: HashMap<Named, Vec<usize>>,
    /// What one fault, or nothing that the map minds, makes of the nets.
    known: Known,
    whole_ends: HashMap<Vec<usize>, Vec<&'static str>>,
}

/// How a pair came out.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    /// Both faults by name.
    Both,
    /// The one fault, or merged fault, that the two come to.
    Merged,
    /// Two other faults that give the same nets.
    Equivalent,
    /// A cause that takes in a whole end and gives the same nets.
    WholeEnd,
    /// Found, and named otherwise.
    Otherwise,
    /// Not found.
    Missed,
}

const OUTCOMES: [Outcome; 6] =
    [Outcome::Both, Outcome::Merged, Outcome::Equivalent, Outcome::WholeEnd, Outcome::Otherwise, Outcome::Missed];

/// The outcomes of a cable, and those that were named otherwise by class, with an example.
#[derive(Default)]
struct Tally {
    outcomes: BTreeMap<Outcome, usize>,
    /// By the kinds of the two faults: how many, and how many of them named exactly.
    kinds: BTreeMap<(Kind, Kind), [usize; 2]>,
    otherwise: BTreeMap<String, (usize, String)>,
    possible: usize,
}

impl Tally {
    fn add(&mut self, other: Tally) {
        self.possible += other.possible;
        for (outcome, count) in other.outcomes {
            *self.outcomes.entry(outcome).or_default() += count;
        }
        for (kinds, [all, exact]) in other.kinds {
            let sum = self.kinds.entry(kinds).or_default();
            *sum = [sum[0] + all, sum[1] + exact];
        }
        for (class, (count, example)) in other.otherwise {
            self.otherwise.entry(class).or_insert((0, example)).0 += count;
        }
    }

    fn of(&self, outcome: Outcome) -> usize {
        self.outcomes.get(&outcome).copied().unwrap_or(0)
    }

    fn all(&self) -> usize {
        self.outcomes.values().sum()
    }

    fn exact(&self) -> usize {
        self.all() - self.of(Outcome::Otherwise) - self.of(Outcome::Missed)
    }
}

impl Bench {
    fn new(sound: Model, build: Build) -> Self {
        let labels = sound.labels();
        let mut bench = Bench {
            singles: Vec::new(),
            by_name: HashMap::new(),
            known: HashMap::from([(labels.clone(), vec![Vec::new()])]),
            whole_ends: HashMap::new(),
            sound,
        };
        for single in Kind::ALL.into_iter().flat_map(|kind| singles(&bench.sound, build, kind)) {
            let nets = single.of(&bench.sound).labels();
            if nets == labels {
                continue; // can't be seen: the two faults would be one
            }
            let known = bench.known.entry(nets).or_default();
            let named: Vec<Named> = single.named.iter().cloned().collect();
            if !known.contains(&named) {
                known.push(named);
            }
            let Some(named) = single.named.clone() else { continue };
            // a contact of a conductor of two that is lifted is the conductor that is cut; circles are two exchanges
            let same =
                single.kind == Kind::Circle || matches!(single.deed, Deed::Lift(contact) if bench.sound.net(contact).len() == 2);
            bench.by_name.entry(named).or_default().push(bench.singles.len());
            if !same {
                bench.singles.push(single);
            } else {
                bench.by_name.values_mut().for_each(|of| of.retain(|at| *at < bench.singles.len()));
            }
        }
        for (code, _, model) in whole_ends(&bench.sound) {
            bench.whole_ends.entry(model.labels()).or_default().push(code);
        }
        bench
    }

    /// The two faults, one after the other.
    fn both(&self, one: usize, other: usize) -> Model {
        let mut model = self.singles[one].of(&self.sound);
        self.singles[other].deed.apply(&mut model);
        model
    }

    /// What one fault the two come to, where they meet.
    fn merged(&self, one: &Single, other: &Single, faulty: &Model) -> Option<Named> {
        let sound = &self.sound;
        let points = |single: &Single| single.named.as_ref().map(|named| named.points.clone()).unwrap_or_default();
        match (&one.deed, &other.deed) {
            (Deed::Bridge(a, b), Deed::Bridge(c, d)) => {
                let nets: BTreeSet<BTreeSet<usize>> = [a, b, c, d].into_iter().map(|contact| sound.net(*contact)).collect();
                let nets: Vec<&BTreeSet<usize>> = nets.iter().collect();
                if nets.len() == 4 {
                    return None;
                }
                let alone = |net: &BTreeSet<usize>| net.len() == 1;
                let (code, _) = short_code(sound, &nets)?;
                let code = if code != "power.short" && nets.iter().any(|net| alone(net)) { "unexpected" } else { code };
                Some(Named { code, points: nets.into_iter().flatten().copied().collect() })
            }
            (Deed::Cut(_) | Deed::Lift(_), Deed::Cut(_) | Deed::Lift(_)) => {
                let net = |single: &Single| points(single).first().map(|contact| sound.net(*contact));
                let whole = net(one).filter(|whole| Some(whole) == net(other).as_ref())?;
                let fallen = fallen(&whole, faulty);
                Some(Named { code: open_code(sound, &fallen), points: fallen.into_iter().collect() })
            }
            (Deed::Exchange(_), Deed::Exchange(_)) => {
                let union: BTreeSet<usize> = points(one).union(&points(other)).copied().collect();
                let nets = faulty.labels();
                let circles = (0..sound.cable.ends.len()).any(|end| {
                    let at: Vec<usize> = union.iter().copied().filter(|contact| sound.end(*contact) == end).collect();
                    let [a, b, c] = at[..] else { return false };
                    [[(a, b), (b, c)], [(b, c), (a, b)]].into_iter().any(|circle| {
                        let mut turned = sound.clone();
                        Deed::Exchange(circle.to_vec()).apply(&mut turned);
                        turned.labels() == nets
                    })
                });
                circles.then_some(Named { code: "miswired", points: union })
            }
            _ => None,
        }
    }

    /// Whether faults of these names, put in together, give these nets.
    fn gives(&self, named: &[Named], nets: &[usize]) -> bool {
        let of = |named: &Named| self.by_name.get(named).map_or(&[][..], Vec::as_slice);
        match named {
            [one, other] => of(one)
                .iter()
                .any(|a| of(other).iter().any(|b| self.both(*a, *b).labels() == nets || self.both(*b, *a).labels() == nets)),
            _ => false,
        }
    }

    fn judge(&self, (one, other): (usize, usize), report: &UnitReport) -> (Outcome, String) {
        let faulty = self.both(one, other);
        let nets = faulty.labels();
        let number = |text: &String| self.sound.cable.point(text).unwrap() as usize;
        let failing = report.findings.iter().filter(|finding| finding.severity == Severity::Fail);
        let mut named: Vec<Named> = failing
            .map(|finding| Named { code: finding.code.text(), points: finding.points.iter().map(number).collect() })
            .collect();
        named.sort();
        let outcome = self.outcome((one, other), &faulty, &nets, &named, report.verdict);
        if !matches!(outcome, Outcome::Otherwise | Outcome::Missed) {
            return (outcome, String::new());
        }
        let (one, other) = (&self.singles[one], &self.singles[other]);
        let mut example = format!("{:?} {:?}, {:?} {:?}; named", one.kind, one.deed, other.kind, other.deed);
        for finding in &report.findings {
            let _ = write!(example, " {} {}", finding.code, finding.points.join(" "));
        }
        let lines = self.sound.lines();
        let changed = faulty.lines().lines().filter(|line| !lines.contains(line)).collect::<Vec<_>>().join("; ");
        let _ = write!(example, "; nets {changed}");
        (outcome, example)
    }

    fn outcome(
        &self,
        (one, other): (usize, usize),
        faulty: &Model,
        nets: &[usize],
        named: &[Named],
        verdict: Verdict,
    ) -> Outcome {
        if let Some(known) = self.known.get(nets) {
            let right = known.iter().any(|known| known == named);
            return match right {
                true => Outcome::Merged,
                false if named.is_empty() => Outcome::Missed,
                false => Outcome::Otherwise,
            };
        }
        let (one, other) = (&self.singles[one], &self.singles[other]);
        let points: BTreeSet<usize> =
            [one, other].iter().filter_map(|s| s.named.as_ref()).flat_map(|n| n.points.clone()).collect();
        if verdict != Verdict::Fails || named.iter().all(|named| named.points.is_disjoint(&points)) {
            return Outcome::Missed;
        }
        let mut wanted: Vec<Named> = [one, other].iter().filter_map(|single| single.named.clone()).collect();
        wanted.sort();
        if named == wanted {
            return Outcome::Both;
        }
        if let [only] = named {
            if self.merged(one, other, faulty).as_ref() == Some(only) {
                return Outcome::Merged;
            }
            if self.whole_ends.get(nets).is_some_and(|codes| codes.contains(&only.code)) {
                return Outcome::WholeEnd;
            }
        }
        if self.gives(named, nets) { Outcome::Equivalent } else { Outcome::Otherwise }
    }

    /// Tries some pairs of the faults, or all of them.
    fn run(&self, most: usize, random: &mut Random) -> Tally {
        let n = self.singles.len();
        let mut tally = Tally { possible: n * n.saturating_sub(1) / 2, ..Tally::default() };
        let pairs: Vec<(usize, usize)> = if tally.possible <= most {
            (0..n).flat_map(|one| (one + 1..n).map(move |other| (one, other))).collect()
        } else {
            let mut pair = || loop {
                let (one, other) = (random.below(n), random.below(n));
                if one != other {
                    return (one.min(other), one.max(other));
                }
            };
            (0..most).map(|_| pair()).collect()
        };
        for some in pairs.chunks(500) {
            let mut netlist = format!("cable {}\n", self.sound.cable.name);
            for (nth, (one, other)) in some.iter().enumerate() {
                let _ = write!(netlist, "unit {nth}\n{}", self.both(*one, *other).lines());
            }
            let reports = check_all(&netlist);
            assert_eq!(reports.len(), some.len());
            for (pair, report) in some.iter().zip(&reports) {
                let (outcome, example) = self.judge(*pair, report);
                *tally.outcomes.entry(outcome).or_default() += 1;
                let kinds = (self.singles[pair.0].kind, self.singles[pair.1].kind);
                let exact = !matches!(outcome, Outcome::Otherwise | Outcome::Missed);
                let count = tally.kinds.entry(kinds).or_default();
                *count = [count[0] + 1, count[1] + usize::from(exact)];
                if !exact {
                    let name = |at: usize| self.singles[at].named.as_ref().map_or("", |named| named.code);
                    let mut codes: Vec<&str> = report.findings.iter().map(|finding| finding.code.text()).collect();
                    codes.sort_unstable();
                    let class = format!("{} with {}, named {}", name(pair.0), name(pair.1), codes.join(" "));
                    tally.otherwise.entry(class).or_insert((0, format!("{}: {example}", self.sound.cable.name))).0 += 1;
                }
            }
        }
        tally
    }
}

#[test]
fn every_two_faults() {
    let size = Size::asked_for();
    let most = size.of(300, 3_000, 20_000);
    let mut jobs = Vec::new();
    for name in cable_names() {
        let cable = cable(name);
        let mut known: Vec<Vec<usize>> = Vec::new();
        for build in BUILDS {
            let sound = Model::sound(&cable, build);
            if !known.contains(&sound.labels()) {
                known.push(sound.labels());
                jobs.push((name, build, sound));
            }
        }
    }
    let builds = |name: &str| jobs.iter().filter(|(other, ..)| *other == name).count();
    let results = in_parallel(&jobs, |nth, (name, build, sound)| {
        let mut random = Random::new(nth);
        Bench::new(sound.clone(), *build).run(most.div_ceil(builds(name)), &mut random)
    });
    let mut cables: BTreeMap<&str, Tally> = BTreeMap::new();
    for ((name, ..), tally) in jobs.iter().zip(results) {
        cables.entry(name).or_default().add(tally);
    }
    let report = report(cables, most);
    println!("{}", report.0);
    std::fs::write(Path::new(env!("CARGO_TARGET_TMPDIR")).join("pair_faults.txt"), &report.0).unwrap();
    let all = report.1;
    assert_eq!(all.of(Outcome::Missed), 0, "every pair is found");
    assert!(all.exact() * 100 >= all.all() * 95, "{} of {} named exactly", all.exact(), all.all());
}

fn percent(part: usize, whole: usize) -> f64 {
    100.0 * f64::from(u32::try_from(part).unwrap()) / f64::from(u32::try_from(whole.max(1)).unwrap())
}

/// The report, and everything together.
fn report(cables: BTreeMap<&str, Tally>, most: usize) -> (String, Tally) {
    let mut text = format!("Pairs of faults, at most {most} a cable, seed {:#x}\n\n", Random::SEED);
    let _ = writeln!(
        text,
        "{:28} {:>9} {:>7} {:>8}  {}",
        "cable",
        "possible",
        "tried",
        "exact %",
        OUTCOMES.map(|o| format!("{o:?}")).join(" ")
    );
    let mut all = Tally::default();
    for (name, tally) in cables {
        let counts = OUTCOMES.map(|outcome| tally.of(outcome).to_string()).join(" ");
        let exact = percent(tally.exact(), tally.all());
        let _ = writeln!(text, "{name:28} {:9} {:7} {exact:8.2}  {counts}", tally.possible, tally.all());
        all.add(tally);
    }
    let exact = percent(all.exact(), all.all());
    let counts = OUTCOMES.map(|outcome| all.of(outcome).to_string()).join(" ");
    let _ = writeln!(text, "{:28} {:9} {:7} {exact:8.2}  {counts}\n", "all", all.possible, all.all());
    for ((one, other), [count, exact]) in &all.kinds {
        let _ = writeln!(text, "{:40} {count:7} {:8.2}", format!("{one:?} with {other:?}"), percent(*exact, *count));
    }
    let _ = writeln!(text, "\nNamed otherwise, or missed, by class:");
    let mut rest: Vec<(&String, &(usize, String))> = all.otherwise.iter().collect();
    rest.sort_by_key(|(_, (count, _))| usize::MAX - count);
    for (class, (count, example)) in rest {
        let _ = writeln!(text, "{count:6}  {class}\n        {example}");
    }
    (text, all)
}
