//! Every two single faults of every catalogue cable, put in one after the other: found, and named for what they are.
//!
//! By default a sample of each cable, a larger one with `BACKSHELL_CAMPAIGN=middle`; with `BACKSHELL_CAMPAIGN=full` all of
//! them, or 20,000 a cable where there are more. What was named otherwise is listed by class in
//! `target/tmp/pair_faults.txt`.
//!
//! What a pair must be named comes from the model alone:
//! - two faults that leave each other's conductors in peace are named as each alone;
//! - bridges that meet are one bridge of more conductors, breaks in one net are one break with more pieces, exchanges that
//!   share a conductor and come out as three in a circle are that circle;
//! - a loose contact that moved on is named where it is now;
//! - two faults that make the nets of a sound cable, of one single fault, or of a cause for a whole end, are named so,
//!   since one fault is likelier than two;
//! - where two other faults of the list give the same nets, either two may be named: continuity can't tell them apart.
//!   The test puts in what was named, and compares the nets.
//!
//! A map leaves freedom: what one cable shows as two faults may be one fault of the cable built otherwise, and is then to be
//! named so. All else counts as not named exactly.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::fmt::Write;
use std::path::Path;
use std::sync::Arc;

use backshell::finding::Verdict;
use backshell::pinmap::{Cable, Role, cable_names};
use backshell::verify::UnitReport;

use crate::campaign::{Random, Size, in_parallel};
use crate::injection::faults::{Deed, Kind, Named, Single, fallen, open_code, short_code, singles};
use crate::injection::whole_ends::{is_another, whole_ends};
use crate::injection::{BUILDS, Build, Model, cable, check_all, weighs};

/// What nets are known as: faults that make them.
type Known = HashMap<Vec<usize>, Vec<Vec<Named>>>;

/// A cable in every way that it may be built, and everything that can be wrong with it.
struct Bench {
    sounds: Vec<Model>,
    /// Each with the sound cable that it is put into.
    singles: Vec<(usize, Single)>,
    /// How many of them are put in; the rest are only recognised.
    injected: usize,
    /// The singles that are named so.
    by_name: HashMap<Named, Vec<usize>>,
    /// What one fault, or nothing that the map minds, makes of the nets.
    known: Known,
    whole_ends: HashMap<Vec<usize>, BTreeSet<&'static str>>,
}

/// The cable built in still other ways that the map allows: with some of the conductors that may be missing (every choice
/// of up to four, else all but one and only one), and with two conductors of a group commoned.
fn others(cable: &Arc<Cable>) -> Vec<Model> {
    let links = cable.links.iter().enumerate().filter(|(_, link)| link.optional || link.when_screened);
    let free: Vec<usize> = links.map(|(at, _)| at).collect();
    let chosen: Vec<Vec<usize>> = if free.len() <= 4 {
        let bits = |mask: usize| free.iter().enumerate().filter(move |(bit, _)| mask >> bit & 1 == 1);
        (0..1 << free.len()).map(|mask| bits(mask).map(|(_, at)| *at).collect()).collect()
    } else {
        let but = |at: usize| free.iter().copied().filter(|other| *other != at).collect();
        free.iter().flat_map(|at| [vec![*at], but(*at)]).collect()
    };
    let some_missing = chosen.iter().map(|chosen| Model::with(cable, |link| chosen.contains(&link)));
    let commoned = [Build::Plain, Build::Full].into_iter().flat_map(|build| {
        let sound = Model::sound(cable, build);
        let free = singles(&sound, build, Kind::Short).into_iter().filter(|single| single.named.is_none());
        free.map(move |single| single.of(&sound)).collect::<Vec<_>>()
    });
    some_missing.chain(commoned).collect()
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
    fn new(name: &str) -> Self {
        let cable = cable(name);
        let mut bench = Bench {
            sounds: Vec::new(),
            singles: Vec::new(),
            injected: 0,
            by_name: HashMap::new(),
            known: HashMap::new(),
            whole_ends: HashMap::new(),
        };
        let builds = BUILDS.map(|build| (build, Model::sound(&cable, build)));
        let others = others(&cable).into_iter().map(|sound| (Build::Full, sound));
        for (nth, (build, sound)) in builds.into_iter().chain(others).enumerate() {
            let labels = sound.labels();
            if bench.sounds.iter().any(|other| other.labels() == labels) {
                continue; // built so, it is the same cable as built otherwise
            }
            bench.known.insert(labels.clone(), vec![Vec::new()]);
            let all = Kind::ALL.into_iter().flat_map(|kind| singles(&sound, build, kind));
            // a fault that can't be seen would make the two of them one
            all.filter(|single| single.of(&sound).labels() != labels).for_each(|single| bench.add(&sound, single));
            for (code, _, model) in whole_ends(&sound) {
                bench.whole_ends.entry(model.labels()).or_default().insert(code);
            }
            bench.sounds.push(sound);
            if nth < BUILDS.len() {
                bench.injected = bench.singles.len();
            }
        }
        for sound in &bench.sounds {
            bench.known.insert(sound.labels(), vec![Vec::new()]);
        }
        bench
    }

    /// Takes note of a single fault of the sound cable that is taken up next.
    fn add(&mut self, sound: &Model, single: Single) {
        let named: Vec<Named> = single.named.iter().cloned().collect();
        let known = self.known.entry(single.of(sound).labels()).or_default();
        if !known.contains(&named) {
            known.push(named);
        }
        // a contact of a conductor of two that is lifted is the conductor that is cut; a circle is two exchanges
        let again = matches!(single.deed, Deed::Lift(contact) if sound.net(contact).len() == 2) || single.kind == Kind::Circle;
        if let Some(named) = single.named.clone().filter(|_| !again) {
            self.by_name.entry(named).or_default().push(self.singles.len());
            self.singles.push((self.sounds.len(), single));
        }
    }

    fn sound(&self, one: usize) -> &Model {
        &self.sounds[self.singles[one].0]
    }

    /// The two faults, one after the other.
    fn both(&self, one: usize, other: usize) -> Model {
        let mut model = self.singles[one].1.of(self.sound(one));
        self.singles[other].1.deed.apply(&mut model);
        model
    }

    /// What one fault the two come to, where they meet.
    fn merged(sound: &Model, one: &Single, other: &Single, faulty: &Model) -> Option<Named> {
        let points = |single: &Single| single.named.as_ref().map(|named| named.points.clone()).unwrap_or_default();
        match (&one.deed, &other.deed) {
            (Deed::Bridge(a, b), Deed::Bridge(c, d)) => {
                let nets: BTreeSet<BTreeSet<usize>> = [a, b, c, d].into_iter().map(|contact| sound.net(*contact)).collect();
                let nets: Vec<&BTreeSet<usize>> = nets.iter().collect();
                if nets.len() == 4 {
                    return None;
                }
                let alone = |net: &BTreeSet<usize>| net.len() == 1;
                let idle = |net: &BTreeSet<usize>| alone(net) && net.iter().all(|at| sound.role(*at) == Role::Unused);
                let (busy, idle): (Vec<_>, Vec<_>) = nets.iter().copied().partition(|net| !idle(net));
                // the gravest of them
                let code = match short_code(sound, &busy) {
                    Some(("power.short", _)) if busy.len() > 1 => "power.short",
                    Some((code, _)) if busy.len() > 1 && idle.is_empty() && !busy.iter().any(|net| alone(net)) => code,
                    None if busy.len() > 1 && busy.iter().all(|net| alone(net)) => "power.end-to-end",
                    _ => "unexpected",
                };
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
            [one, other] => of(one).iter().any(|a| {
                let mut beside = of(other).iter().filter(|b| self.singles[**b].0 == self.singles[*a].0);
                beside.any(|b| self.both(*a, *b).labels() == nets || self.both(*b, *a).labels() == nets)
            }),
            _ => false,
        }
    }

    fn judge(&self, (one, other): (usize, usize), report: &UnitReport) -> (Outcome, String) {
        let faulty = self.both(one, other);
        let nets = faulty.labels();
        let sound = self.sound(one);
        let number = |text: &String| sound.cable.point(text).unwrap() as usize;
        let failing = report.findings.iter().filter(|finding| weighs(finding));
        let mut named: Vec<Named> = failing
            .map(|finding| Named { code: finding.code.text(), points: finding.points.iter().map(number).collect() })
            .collect();
        // what breaks nothing but rows from memory is a caution: all of what was named is, or else the cable fails
        let memory = |named: &Named| !named.points.is_empty() && sound.is_from_memory(named.points.iter().copied());
        let verdict = if named.iter().all(memory) { Verdict::Inconclusive } else { Verdict::Fails };
        assert!(named.is_empty() || report.verdict == verdict, "{}: {named:?} {:?}", sound.cable.name, report.verdict);
        named.sort();
        let outcome = self.outcome((one, other), &faulty, &nets, &named, report.verdict);
        if !matches!(outcome, Outcome::Otherwise | Outcome::Missed) {
            return (outcome, String::new());
        }
        let (one, other) = (&self.singles[one].1, &self.singles[other].1);
        let mut example = format!("{:?} {:?}, {:?} {:?}; named", one.kind, one.deed, other.kind, other.deed);
        for finding in &report.findings {
            let _ = write!(example, " {} {}", finding.code, finding.points.join(" "));
        }
        let lines = sound.lines();
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
        let sound = self.sound(one);
        let (one, other) = (&self.singles[one].1, &self.singles[other].1);
        if let [only] = named
            && only.code.starts_with("wiring.")
            && is_another(&sound.cable, nets)
        {
            return Outcome::WholeEnd;
        }
        let points: BTreeSet<usize> =
            [one, other].iter().filter_map(|s| s.named.as_ref()).flat_map(|n| n.points.clone()).collect();
        if verdict == Verdict::Conforms || named.iter().all(|named| named.points.is_disjoint(&points)) {
            return Outcome::Missed;
        }
        let mut wanted: Vec<Named> = [one, other].iter().filter_map(|single| single.named.clone()).collect();
        wanted.sort();
        if named == wanted || Some(named) == moved(sound, one, other).as_deref() {
            return Outcome::Both;
        }
        if let [only] = named {
            if Self::merged(sound, one, other, faulty).as_ref() == Some(only) {
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
        let n = self.injected;
        let mates = |one: usize| (one + 1..n).take_while(move |other| self.singles[*other].0 == self.singles[one].0);
        let mut tally = Tally { possible: (0..n).map(|one| mates(one).count()).sum(), ..Tally::default() };
        let pairs: Vec<(usize, usize)> = if tally.possible <= most {
            (0..n).flat_map(|one| mates(one).map(move |other| (one, other))).collect()
        } else {
            let mut pair = || loop {
                let (one, other) = (random.below(n), random.below(n));
                if one != other && self.singles[one].0 == self.singles[other].0 {
                    return (one.min(other), one.max(other));
                }
            };
            (0..most).map(|_| pair()).collect()
        };
        for some in pairs.chunks(500) {
            let reports = check_all(&some.iter().map(|(one, other)| self.both(*one, *other)).collect::<Vec<_>>());
            for (pair, report) in some.iter().zip(&reports) {
                let (outcome, example) = self.judge(*pair, report);
                *tally.outcomes.entry(outcome).or_default() += 1;
                let kinds = (self.singles[pair.0].1.kind, self.singles[pair.1].1.kind);
                let exact = !matches!(outcome, Outcome::Otherwise | Outcome::Missed);
                let count = tally.kinds.entry(kinds).or_default();
                *count = [count[0] + 1, count[1] + usize::from(exact)];
                if !exact {
                    let name = |at: usize| self.singles[at].1.named.as_ref().map_or("", |named| named.code);
                    let mut codes: Vec<&str> = report.findings.iter().map(|finding| finding.code.text()).collect();
                    codes.sort_unstable();
                    let class = format!("{} with {}, named {}", name(pair.0), name(pair.1), codes.join(" "));
                    tally.otherwise.entry(class).or_insert((0, format!("{}: {example}", self.sounds[0].cable.name))).0 += 1;
                }
            }
        }
        tally
    }
}

/// What is found where a loose contact of a net of many moved with the exchange that came after the break: it is named
/// where it is now.
fn moved(sound: &Model, broken: &Single, exchanged: &Single) -> Option<Vec<Named>> {
    let (Deed::Cut(_) | Deed::Lift(_), Deed::Exchange(exchanges)) = (&broken.deed, &exchanged.deed) else { return None };
    let (mut loose, other) = (broken.named.clone()?, exchanged.named.clone()?);
    if loose.points.iter().any(|contact| sound.net(*contact).len() == 2) {
        return None;
    }
    for (a, b) in exchanges {
        let turn = |contact: &usize| {
            if contact == a {
                *b
            } else if contact == b {
                *a
            } else {
                *contact
            }
        };
        loose.points = loose.points.iter().map(turn).collect();
    }
    let mut named = vec![loose, other];
    named.sort();
    Some(named)
}

#[test]
fn every_two_faults() {
    let most = Size::asked_for().of(2_000, 8_000, 20_000);
    let names: Vec<&str> = cable_names().collect();
    let tallies = in_parallel(&names, |nth, name| Bench::new(name).run(most, &mut Random::new(nth)));
    let cables: BTreeMap<&str, Tally> = names.into_iter().zip(tallies).collect();
    let short_of: Vec<&str> =
        cables.iter().filter(|(_, tally)| tally.exact() * 100 < tally.all() * 95).map(|(name, _)| *name).collect();
    let report = report(cables, most);
    println!("{}", report.0);
    std::fs::write(Path::new(env!("CARGO_TARGET_TMPDIR")).join("pair_faults.txt"), &report.0).unwrap();
    let all = report.1;
    assert_eq!(all.of(Outcome::Missed), 0, "every pair is found");
    assert!(short_of.is_empty(), "less than 95 % named exactly: {short_of:?}");
    assert!(all.all() > 50_000, "{} pairs tried", all.all());
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
