//! A cable's map derived from a known-good sample or a drawing, for review.

mod sample;

use std::path::Path;
use std::sync::Arc;

use crate::finding::Problem;
use crate::graph::Nets;
use crate::netlist::{Bound, ComponentKind, Netlist, Origin, PointLookup, Scope, Unit, bind};
use crate::pinmap::{Beside, Cable, Catalogue, Connector, End, EndNames, cable_names, is_name};
use crate::text::visible;
use crate::units::Quantity;

use crate::verify::checks::contradictions::contradictions;
use crate::verify::compare::{Loaded, Texts, load};
use crate::verify::{Checker, Given, Options, UnitReport};
use sample::Sample;

/// What a sample says of its cable, and the words for whoever reviews it.
#[derive(Debug)]
pub struct Derived {
    /// The name of the new cable.
    pub name: String,
    /// The unit and the file that it comes from.
    pub from: String,
    /// Whether that is a drawing.
    pub is_drawing: bool,
    /// How far the netlist goes: what it doesn't speak of is not known.
    pub scope: Scope,
    /// Its ends.
    pub ends: Vec<DerivedEnd>,
    /// Its nets of two contacts and more.
    pub rows: Vec<DerivedRow>,
    /// The contacts that touch nothing, and whether the sample names them.
    pub alone: Vec<(String, bool)>,
    /// The parts in its plugs.
    pub parts: Vec<DerivedPart>,
    /// The most that a conductor measured, where that was measured, in ohm.
    pub most_ohm: Option<f64>,
    sample: Loaded,
    /// Which unit of it.
    unit: usize,
}

/// One end of a derived cable.
#[derive(Debug)]
#[non_exhaustive]
pub struct DerivedEnd {
    /// The name that the netlist gives it.
    pub name: String,
    /// Its side, where the netlist or the cable that it names says so.
    pub side: Option<String>,
    /// The connector.
    pub connector: DerivedConnector,
}

/// The connector of a derived end.
#[derive(Debug)]
#[non_exhaustive]
pub enum DerivedConnector {
    /// One that is known, with the port whose names hold, where that matters, and whether somebody said which port.
    Known {
        /// The connector.
        connector: Arc<Connector>,
        /// The port, and whether the netlist's cable says so; else it is a guess.
        port: Option<(String, bool)>,
    },
    /// One that only the sample knows.
    New {
        /// A name for it.
        name: String,
        /// What the netlist calls it.
        title: Option<String>,
        /// The contacts that the sample names.
        pins: Vec<DerivedPin>,
    },
}

/// A contact of a connector that only the sample knows.
#[derive(Debug)]
#[non_exhaustive]
pub struct DerivedPin {
    /// Its number or letter.
    pub pin: String,
    /// The signal of its net; none where it touches nothing.
    pub signal: Option<String>,
    /// The pair that it was measured to be in, and whether it is taken for plus.
    pub pair: Option<(String, bool)>,
    /// The pair whose screen's drain lands here.
    pub drains: Option<String>,
}

/// A net of a sample.
#[derive(Debug)]
#[non_exhaustive]
pub struct DerivedRow {
    /// A name for its signal.
    pub signal: String,
    /// Its contacts.
    pub points: Vec<String>,
    /// True where it has several contacts at one end: wires of their own may have been commoned there.
    pub commoned: bool,
    /// What the sample says besides: the colours of its wires, and its resistances.
    pub remarks: Vec<String>,
}

/// A part of a sample.
#[derive(Debug)]
#[non_exhaustive]
pub struct DerivedPart {
    /// Resistor, capacitor or diode.
    pub kind: ComponentKind,
    /// Its contacts, a diode's anode first.
    pub points: [String; 2],
    /// Its value, where it has one.
    pub value: Option<Quantity>,
    /// How far from the value the next one may be, in percent.
    pub percent: f64,
}

/// Derives a cable from a unit of a file; `-` is the standard input.
///
/// `unit` says which, where there are several; `name` names the new cable. The connectors are those of the cable that the
/// netlist names (or `options.cable`), else those of its `connector` lines, else new ones with the contacts that the sample names.
///
/// # Errors
/// A netlist that can't be used, a unit that isn't there, ends or contacts that can't be.
pub fn derive_file(path: &Path, unit: Option<&str>, name: Option<&str>, options: &Options) -> Result<Derived, Vec<Problem>> {
    let loaded = load::file(path, &options.forms).map_err(|problem| vec![problem])?;
    derive(&path.display().to_string(), loaded, unit, name, options)
}

/// The same from a text that is already in memory.
///
/// # Errors
/// As those of [`derive_file`].
pub fn derive_text(
    file: &str,
    text: &str,
    unit: Option<&str>,
    name: Option<&str>,
    options: &Options,
) -> Result<Derived, Vec<Problem>> {
    let loaded = load::text(file, text).map_err(|problem| vec![problem])?;
    derive(file, loaded, unit, name, options)
}

fn derive(
    file: &str,
    mut loaded: Loaded,
    unit: Option<&str>,
    name: Option<&str>,
    options: &Options,
) -> Result<Derived, Vec<Problem>> {
    let problems = std::mem::take(&mut loaded.problems);
    let netlist = &loaded.netlist;
    let unit = match chosen(netlist, unit) {
        Ok(unit) if !unit.broken => unit,
        _ if !problems.is_empty() => return Err(problems),
        Ok(_) => return Err(vec![Problem::new("this unit has lines that can't be read")]),
        Err(problem) => return Err(vec![problem]),
    };
    let given = Given::new(&loaded.head, netlist, unit);
    let mut bound = Bound::default();
    let texts = Texts::of([(netlist, unit)]);
    let problems = bind(netlist, unit, &texts, &mut bound);
    if !problems.is_empty() {
        return Err(problems);
    }
    let nets = Nets::new(texts.count(), bound.joins.iter().map(|join| (join.a, join.b)));
    let problems = contradictions(netlist, unit, None, &bound, &nets);
    if !problems.is_empty() {
        return Err(problems);
    }
    let sample = Sample { netlist, unit, texts: &texts, bound: &bound, nets: &nets };
    let mut catalogue = Catalogue::with_folders(&options.maps);
    let said = options.cable.clone().or_else(|| given.get(|settings| settings.cable).map(|said| said.text().to_owned()));
    let known = match &said {
        Some(cable) if catalogue.knows(cable, &loaded.folder) => Some(catalogue.cable(cable, &loaded.folder)?),
        _ => None,
    };
    let name = match (name, &said, &known) {
        (Some(name), ..) => name.to_owned(),
        (None, _, Some(cable)) => format!("own-{}", cable.name),
        (None, Some(said), None) => Path::new(said).file_stem().unwrap_or_default().to_string_lossy().into_owned(),
        (None, None, None) => "my-cable".to_owned(),
    };
    if !is_name(&name) {
        let problem = Problem::new(format!("no cable can be called `{}`", visible(&name)));
        return Err(vec![problem.help("a name has letters, digits, `_`, `-` and `.`: give one with `--name NAME`")]);
    }
    if cable_names().any(|known| known == name) {
        let problem = Problem::new(format!("the catalogue has a cable `{name}` already"));
        return Err(vec![problem.help("give your own another name, with `--name NAME`")]);
    }
    let (lines_source, end_lines) = given.ends();
    let entries: Vec<(&str, &str)> =
        end_lines.iter().map(|line| (lines_source.slice(line.end), lines_source.slice(line.side))).collect();
    let side_of = |end: &str| entries.iter().find(|(name, _)| *name == end).map(|(_, side)| (*side).to_owned());
    let rows = sample.rows();
    let ends = if let Some(cable) = &known {
        let names = EndNames::renamed(cable, &entries).map_err(|(nth, why)| {
            let line = end_lines.get(nth).map_or(unit.line, |line| line.line);
            vec![Problem::new("no such side").at(lines_source, line, why)]
        })?;
        let end = |(at, end): (usize, &End)| {
            let port = end.connector.sides.get(usize::from(end.far_side)).map(|port| (port.clone(), true));
            let connector = DerivedConnector::Known { connector: Arc::clone(&end.connector), port };
            DerivedEnd { name: names.end(at).to_owned(), side: end.side.clone(), connector }
        };
        cable.ends.iter().enumerate().map(end).collect()
    } else {
        let (source, lines) = given.connectors();
        let mut ends = Vec::new();
        for (end, points) in sample.by_end() {
            let line = lines.iter().find(|line| source.slice(line.end) == end);
            let title = line.map(|line| source.slice(line.side));
            let connector = match title.filter(|title| catalogue.knows_connector(title, &loaded.folder)) {
                Some(title) => {
                    let connector =
                        catalogue.connector(title, Some(Beside { folder: &loaded.folder, shown: Some(&loaded.folder) }))?;
                    let port = connector.sides.get(ends.len().min(1)).map(|port| (port.clone(), false));
                    DerivedConnector::Known { connector, port }
                }
                None => DerivedConnector::New {
                    name: format!("{name}-{}", end.to_ascii_lowercase()),
                    title: title.map(str::to_owned),
                    pins: sample.pins(&points, &rows),
                },
            };
            ends.push(DerivedEnd { side: side_of(&end), name: end, connector });
        }
        ends
    };
    sample.fits(&ends)?;
    let parts = sample.parts();
    // a part between two ends lies in series in a path: its contacts are wired
    let end = |point: &String| point.split_once('.').map(|(end, _)| end.to_owned());
    let series = |part: &&DerivedPart| end(&part.points[0]) != end(&part.points[1]);
    let wired: Vec<&String> = parts.iter().filter(series).flat_map(|part| &part.points).collect();
    let mut alone = sample.alone(&ends);
    alone.retain(|(point, _)| !wired.contains(&point));
    let mut derived = Derived {
        name,
        from: match netlist.name_of(unit) {
            Some(unit) => format!("{} in {}", visible(unit), visible(file)),
            None => visible(file).into_owned(),
        },
        is_drawing: given.origin() == Origin::Drawing,
        scope: given.scope(),
        alone,
        rows: rows.into_iter().map(|(_, row)| row).collect(),
        ends,
        parts,
        most_ohm: sample.most_ohm(),
        unit: netlist.units.iter().position(|other| std::ptr::eq(other, unit)).unwrap_or(0),
        sample: loaded,
    };
    derived.name_signals(known.as_deref());
    Ok(derived)
}

/// The unit of that name, or the only one.
fn chosen<'n>(netlist: &'n Netlist, name: Option<&str>) -> Result<&'n Unit, Problem> {
    let units = &netlist.units;
    match (name, units.as_slice()) {
        (None, [only]) => Ok(only),
        (None, _) => Err(Problem::new(format!("{} units: `--unit NAME` says which is the sample", units.len()))),
        (Some(name), _) => units
            .iter()
            .find(|unit| netlist.name_of(unit) == Some(name))
            .ok_or_else(|| Problem::new(format!("no unit {} in this netlist", visible(name)))),
    }
}

impl Derived {
    /// A connector of its ends that is known.
    #[must_use]
    pub fn known_connector(&self, name: &str) -> Option<&Arc<Connector>> {
        self.ends.iter().find_map(|end| match &end.connector {
            DerivedConnector::Known { connector, .. } if connector.name == name => Some(connector),
            _ => None,
        })
    }

    /// The verdict on the sample itself, checked against a cable: the one that was derived from it, to see that it conforms.
    ///
    /// # Errors
    /// What keeps it from having one.
    pub fn check(&self, cable: &Arc<Cable>) -> Result<UnitReport, Vec<Problem>> {
        let options = Options { cable: Some(cable.name.clone()), known: vec![Arc::clone(cable)], ..Options::default() };
        let mut checker = Checker::new(self.sample.folder.clone(), &options);
        checker.check(&self.sample.head, &self.sample.netlist, &self.sample.netlist.units[self.unit])
    }

    /// The verdict on the sample against the cable that its own netlist names; none where it names none, or one that isn't known.
    #[must_use]
    pub fn check_as_named(&self, options: &Options) -> Option<UnitReport> {
        let options = Options { cable: None, maps: options.maps.clone(), ..Options::default() };
        let mut checker = Checker::new(self.sample.folder.clone(), &options);
        checker.check(&self.sample.head, &self.sample.netlist, &self.sample.netlist.units[self.unit]).ok()
    }

    /// Rows take the names that known connectors give their first contacts.
    fn name_signals(&mut self, cable: Option<&Cable>) {
        let ends = &self.ends;
        for row in &mut self.rows {
            let Some((end, pin)) = row.points.first().and_then(|point| point.split_once('.')) else { continue };
            let Some(at) = ends.iter().position(|known| known.name == end) else { continue };
            let DerivedConnector::Known { connector, port } = &ends[at].connector else { continue };
            let far = cable.map_or_else(
                || port.as_ref().is_some_and(|(port, _)| connector.sides.get(1) == Some(port)),
                |cable| cable.ends[at].far_side,
            );
            if let Some(pin) = connector.find(pin) {
                row.signal.clone_from(&connector.pins[pin].function(far).name);
            }
        }
    }
}
