//! The model: signs that can be seen, measurements that show them, causes that bring them about; checked.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Deserialize;
use toml::Spanned;

use crate::finding::Problem;
use crate::text::{Source, visible};

use super::raw::{self, RawCause, RawMeasurement, RawModel, RawSign};

/// The model that comes with the program.
const EMBEDDED: &str = include_str!("causes.toml");

/// The most causes, signs and measurements of a file, each.
const MOST: usize = 64;

/// The most states that the signs of one measurement may have together: what is to be expected of it is a sum over all.
const MOST_OUTCOMES: usize = 20_000;

/// The least likelihood of a state: nothing that can be seen is impossible.
const LEAST: f64 = 0.001;

/// What causes are known, what they look like, and what shows it.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Model {
    /// What can be seen.
    pub signs: Vec<Sign>,
    /// What shows it.
    pub measurements: Vec<Measurement>,
    /// What may be behind it.
    pub causes: Vec<Cause>,
    /// The share that is kept for causes that the file doesn't know, 0 to 0.5.
    pub doubt: f64,
    /// The least share of a cause that stays until a sign was seen, 0 to 0.5.
    pub stays: f64,
}

/// Something that can be seen.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Sign {
    /// Its name, as `--observed` takes it.
    pub name: String,
    /// The question that it answers.
    pub asks: String,
    /// What the map of the cable must have for it.
    pub only_with: Option<OnlyWith>,
    /// How it can turn out; the first is the normal one.
    pub states: Vec<State>,
    /// How often each state is seen where a cause doesn't touch the sign.
    pub usual: Vec<f64>,
}

/// How a sign can turn out.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct State {
    /// Its name, as `--observed` takes it.
    pub name: String,
    /// It, in words.
    pub words: String,
}

/// What shows some signs.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Measurement {
    /// Its name.
    pub name: String,
    /// What to do.
    pub words: String,
    /// What that takes.
    pub needs: String,
    /// How long it takes, in minutes, above 0.
    pub minutes: f64,
    /// What it shows, as indices into [`Model::signs`].
    pub signs: Vec<usize>,
    /// What to mind before it.
    pub caution: Option<String>,
    /// True where the cable is plugged into equipment for it.
    pub plugged_in: bool,
}

/// What may be behind it.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub struct Cause {
    /// Its name.
    pub name: String,
    /// It, in words.
    pub words: String,
    /// Its prior weight, above 0, beside those of the others.
    pub prior: f64,
    /// What to do about it.
    pub remedy: String,
    /// What the map of the cable must have for it.
    pub only_with: Option<OnlyWith>,
    /// True where it sits at one plug or the other.
    pub at_an_end: bool,
    /// How to find its place.
    pub locate: Option<String>,
    /// The sign that must be seen before it may be ruled out, as an index into [`Model::signs`].
    pub stays_until: Option<usize>,
    /// For each sign, how often each of its states is seen with this cause.
    pub likelihood: Vec<Vec<f64>>,
    /// For each sign, whether the file says something of it for this cause.
    pub touches: Vec<bool>,
}

/// What the map of a cable must have for a sign or a cause to make sense.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "lowercase")]
#[non_exhaustive]
pub enum OnlyWith {
    /// Differential pairs.
    Pairs,
    /// A shell or an overall screen that is bonded.
    Shell,
    /// Drains or grounds.
    Ground,
    /// Parts in the plugs, or places where none may be.
    Parts,
    /// A supply.
    Supply,
}

/// What the map of a cable has.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub struct Applies {
    /// Differential pairs.
    pub pairs: bool,
    /// A shell or an overall screen that is bonded.
    pub shell: bool,
    /// Drains or grounds.
    pub ground: bool,
    /// Parts in the plugs, or places where none may be.
    pub parts: bool,
    /// A supply.
    pub supply: bool,
}

impl Applies {
    /// Everything.
    pub const ALL: Applies = Applies { pairs: true, shell: true, ground: true, parts: true, supply: true };

    /// Whether something makes sense for this cable.
    #[must_use]
    pub fn to(self, only_with: Option<OnlyWith>) -> bool {
        match only_with {
            None => true,
            Some(OnlyWith::Pairs) => self.pairs,
            Some(OnlyWith::Shell) => self.shell,
            Some(OnlyWith::Ground) => self.ground,
            Some(OnlyWith::Parts) => self.parts,
            Some(OnlyWith::Supply) => self.supply,
        }
    }
}

impl OnlyWith {
    /// The thing in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            OnlyWith::Pairs => "pairs",
            OnlyWith::Shell => "bonded shell",
            OnlyWith::Ground => "drains or grounds",
            OnlyWith::Parts => "parts in its plugs",
            OnlyWith::Supply => "supply",
        }
    }
}

impl Model {
    /// The text of the model that comes with the program.
    #[must_use]
    pub fn embedded_text() -> &'static str {
        EMBEDDED
    }

    /// The model that comes with the program.
    ///
    /// # Errors
    /// None, as long as the file that was built in is sound; a test reads it.
    pub fn embedded() -> Result<Model, Vec<Problem>> {
        Model::read(&Source::new("causes.toml", EMBEDDED))
    }

    /// Reads and checks a file of causes.
    ///
    /// # Errors
    /// Every problem of the file, each at its span.
    pub fn read(source: &Arc<Source>) -> Result<Model, Vec<Problem>> {
        let RawModel { doubt, stays, sign, measurement, cause } = raw::read(source)?;
        let mut reader = Reader { source, problems: Vec::new() };
        reader.within(&doubt, (0.0, 0.5), "a share from 0 to 0.5");
        reader.within(&stays, (0.0, 0.5), "a share from 0 to 0.5");
        reader.few(sign.len(), "signs", sign.last());
        reader.few(measurement.len(), "measurements", measurement.last());
        reader.few(cause.len(), "causes", cause.last());
        reader.unique(sign.iter().map(|entry| &entry.get_ref().name));
        reader.unique(measurement.iter().map(|entry| &entry.get_ref().name));
        reader.unique(cause.iter().map(|entry| &entry.get_ref().name));
        if sign.is_empty() || cause.len() < 2 {
            reader.problems.push(Problem::new(format!(
                "the file of causes {} needs a sign and two causes at least: with fewer there is nothing to tell apart",
                visible(source.name())
            )));
        }
        if !reader.problems.is_empty() {
            return Err(reader.problems);
        }
        let signs: Vec<Sign> = sign.into_iter().map(|entry| reader.sign(entry.into_inner())).collect();
        let measurements = measurement.into_iter().map(|entry| reader.measurement(entry.into_inner(), &signs)).collect();
        let causes = cause.into_iter().map(|entry| reader.cause(entry.into_inner(), &signs)).collect();
        if !reader.problems.is_empty() {
            return Err(reader.problems);
        }
        Ok(Model { signs, measurements, causes, doubt: doubt.into_inner(), stays: stays.into_inner() })
    }

    /// The sign of that name.
    #[must_use]
    pub fn sign(&self, name: &str) -> Option<usize> {
        self.signs.iter().position(|sign| sign.name == name)
    }

    /// The cause of that name.
    #[must_use]
    pub fn cause(&self, name: &str) -> Option<usize> {
        self.causes.iter().position(|cause| cause.name == name)
    }
}

impl Sign {
    /// The state of that name.
    #[must_use]
    pub fn state(&self, name: &str) -> Option<usize> {
        self.states.iter().position(|state| state.name == name)
    }
}

/// What reads a file, and collects its problems.
struct Reader<'a> {
    source: &'a Arc<Source>,
    problems: Vec<Problem>,
}

impl Reader<'_> {
    fn wrong<T>(&mut self, at: &Spanned<T>, message: impl Into<String>, label: impl Into<String>) {
        self.problems.push(Problem::new(message).at(self.source, at.span().into(), label));
    }

    fn few<T>(&mut self, count: usize, what: &str, last: Option<&Spanned<T>>) {
        if let (true, Some(last)) = (count > MOST, last) {
            self.wrong(last, format!("{count} {what}: {MOST} at most"), "too many");
        }
    }

    fn within(&mut self, value: &Spanned<f64>, (least, most): (f64, f64), what: &str) {
        if !(least..=most).contains(value.get_ref()) {
            self.wrong(value, "a figure that can't be used", format!("expected {what}"));
        }
    }

    fn positive(&mut self, value: &Spanned<f64>) {
        self.within(value, (1e-6, 1e6), "a number above 0, up to a million");
    }

    /// Names are of letters, digits and hyphens, and each is there once.
    fn unique<'n>(&mut self, names: impl Iterator<Item = &'n Spanned<String>>) {
        let mut known = BTreeSet::new();
        for name in names {
            let text = name.get_ref();
            if text.is_empty() || !text.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '-') {
                self.wrong(name, "a name that can't be used", "expected small letters, digits and hyphens");
            } else if !known.insert(text.as_str()) {
                self.wrong(name, format!("`{text}` is there twice"), "the second one");
            }
        }
    }

    fn sign(&mut self, raw: RawSign) -> Sign {
        if raw.states.len() < 2 || raw.states.len() > 8 {
            self.wrong(&raw.name, "a sign needs two to eight states", "its states can't be used");
        }
        self.unique(raw.states.iter().map(|state| &state.get_ref().name));
        let states: Vec<State> = raw
            .states
            .into_iter()
            .map(Spanned::into_inner)
            .map(|state| State { name: state.name.into_inner(), words: state.words })
            .collect();
        let usual = self.shares(&raw.usual, states.len());
        Sign { name: raw.name.into_inner(), asks: raw.asks, only_with: raw.only_with, states, usual }
    }

    /// Shares of the states of a sign: each above nothing, and together one.
    fn shares(&mut self, raw: &Spanned<Vec<f64>>, states: usize) -> Vec<f64> {
        let shares = raw.get_ref();
        let sum: f64 = shares.iter().sum();
        if shares.len() != states {
            let message = format!("{} shares for {states} states", shares.len());
            self.wrong(raw, message, "expected one share for each state, in their order");
        } else if let Some(share) = shares.iter().find(|share| !(LEAST..=1.0).contains(*share)) {
            let message = format!("a share of {share}: nothing that can be seen is impossible, and nothing certain");
            self.wrong(raw, message, format!("expected {LEAST} to 1 for each state"));
        } else if (sum - 1.0).abs() > 0.005 {
            self.wrong(raw, "shares that aren't one together", format!("they are {sum:.3} together"));
        }
        shares.iter().map(|share| share / sum).collect()
    }

    fn known_sign(&mut self, name: &Spanned<String>, signs: &[Sign]) -> Option<usize> {
        let at = signs.iter().position(|sign| sign.name == *name.get_ref());
        if at.is_none() {
            let names: Vec<&str> = signs.iter().map(|sign| sign.name.as_str()).collect();
            self.wrong(name, format!("no sign `{}`", visible(name.get_ref())), "not among the signs of this file");
            if let Some(problem) = self.problems.last_mut() {
                problem.help = Some(format!("the signs are {}", names.join(", ")));
            }
        }
        at
    }

    fn measurement(&mut self, raw: RawMeasurement, signs: &[Sign]) -> Measurement {
        self.positive(&raw.minutes);
        self.unique(raw.signs.iter());
        let shown: Vec<usize> = raw.signs.iter().filter_map(|name| self.known_sign(name, signs)).collect();
        let outcomes = shown.iter().fold(1_usize, |so_far, sign| so_far.saturating_mul(signs[*sign].states.len().max(1)));
        if raw.signs.is_empty() || outcomes > MOST_OUTCOMES {
            let label = if raw.signs.is_empty() { "it shows no sign" } else { "its signs have too many states together" };
            self.wrong(&raw.name, "a measurement that can't be used", label);
        }
        Measurement {
            name: raw.name.into_inner(),
            words: raw.words,
            needs: raw.needs,
            minutes: raw.minutes.into_inner(),
            signs: shown,
            caution: raw.caution,
            plugged_in: raw.plugged_in,
        }
    }

    fn cause(&mut self, raw: RawCause, signs: &[Sign]) -> Cause {
        self.positive(&raw.prior);
        let mut likelihood: Vec<Vec<f64>> = signs.iter().map(|sign| sign.usual.clone()).collect();
        let mut touches = vec![false; signs.len()];
        for (name, shares) in &raw.seen {
            if let Some(sign) = self.known_sign(name, signs) {
                likelihood[sign] = self.shares(shares, signs[sign].states.len());
                touches[sign] = true;
            }
        }
        let stays_until = raw.stays_until.as_ref().and_then(|name| self.known_sign(name, signs));
        Cause {
            name: raw.name.into_inner(),
            words: raw.words,
            prior: raw.prior.into_inner(),
            remedy: raw.remedy,
            only_with: raw.only_with,
            at_an_end: raw.at_an_end,
            locate: raw.locate,
            stays_until,
            likelihood,
            touches,
        }
    }
}
