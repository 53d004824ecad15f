//! The catalogue: the files that are part of the program, and cable files on disk in the same form.

use std::collections::HashMap;
use std::path::Path;
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, visible};

use super::{Cable, Connector};

include!(concat!(env!("OUT_DIR"), "/catalogue.rs"));

/// The names of the catalogue's cables, in alphabetical order.
pub fn cable_names() -> impl Iterator<Item = &'static str> {
    CABLES.iter().map(|(name, _)| *name)
}

/// The names of the catalogue's connectors, in alphabetical order.
pub fn connector_names() -> impl Iterator<Item = &'static str> {
    CONNECTORS.iter().map(|(name, _)| *name)
}

/// Finds cables and connectors by name, or by path, and reads each once.
#[derive(Debug, Default)]
pub struct Catalogue {
    connectors: HashMap<String, Arc<Connector>>,
    cables: HashMap<String, Arc<Cable>>,
}

impl Catalogue {
    /// An empty one; files are read when they are asked for.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// A cable by its catalogue name, or by the path of its file, taken from `folder`.
    ///
    /// A cable file finds its connectors beside it, then in a folder `connectors` beside it, then in the catalogue.
    ///
    /// # Errors
    /// An unknown name, with those that are near it, a file that can't be opened, or every problem in it.
    pub fn cable(&mut self, name: &str, folder: &Path) -> Result<Arc<Cable>, Vec<Problem>> {
        let embedded = CABLES.iter().find(|(known, _)| *known == name);
        let path = folder.join(name);
        let key = if embedded.is_some() { name.to_owned() } else { path.display().to_string() };
        if let Some(cable) = self.cables.get(&key) {
            return Ok(Arc::clone(cable));
        }
        let (source, beside) = match embedded {
            Some((_, text)) => (Source::new(format!("catalogue/cables/{name}.toml"), *text), None),
            None if is_path(name) => (read_file(&path, name)?, path.parent().map(Path::to_path_buf)),
            None => return Err(vec![unknown_cable(name)]),
        };
        let cable = Arc::new(Cable::read(&source, &mut |connector| self.connector(connector, beside.as_deref()))?);
        self.cables.insert(key, Arc::clone(&cable));
        Ok(cable)
    }

    /// The other cables of the catalogue that have the same connectors at the same ends, in alphabetical order.
    pub fn like(&mut self, cable: &Cable) -> Vec<Arc<Cable>> {
        let connectors = |cable: &Cable| cable.ends.iter().map(|end| end.connector.name.clone()).collect::<Vec<_>>();
        let wanted = connectors(cable);
        let mut found = Vec::new();
        for (name, text) in CABLES {
            // most files need not be read: they don't even name the connectors
            if *name == cable.name || !wanted.iter().all(|connector| text.contains(&format!("\"{connector}\""))) {
                continue;
            }
            if let Ok(other) = self.cable(name, Path::new(""))
                && connectors(&other) == wanted
            {
                found.push(other);
            }
        }
        found
    }

    /// A connector by its name; `beside` is the folder of the cable file that asks for it.
    ///
    /// # Errors
    /// An unknown name, or every problem of its file.
    pub fn connector(&mut self, name: &str, beside: Option<&Path>) -> Result<Arc<Connector>, Vec<Problem>> {
        let file = format!("{name}.toml");
        let own = beside.filter(|_| !name.contains(['/', '\\'])).and_then(|folder| {
            [folder.join(&file), folder.join("connectors").join(&file)].into_iter().find(|path| path.is_file())
        });
        let key = own.as_ref().map_or_else(|| name.to_owned(), |path| path.display().to_string());
        if let Some(connector) = self.connectors.get(&key) {
            return Ok(Arc::clone(connector));
        }
        let source = match (&own, CONNECTORS.iter().find(|(known, _)| *known == name)) {
            (Some(path), _) => read_file(path, &file)?,
            (None, Some((_, text))) => Source::new(format!("catalogue/connectors/{file}"), *text),
            (None, None) => {
                let problem = Problem::new(format!("no connector `{}` in the catalogue", visible(name)));
                return Err(vec![with_near(problem, name, connector_names())]);
            }
        };
        let connector = Arc::new(Connector::read(&source)?);
        self.connectors.insert(key, Arc::clone(&connector));
        Ok(connector)
    }
}

/// A name that can only be a path: it has a separator, or the extension of a cable file.
fn is_path(name: &str) -> bool {
    name.contains(['/', '\\']) || name.ends_with(".toml")
}

fn read_file(path: &Path, shown: &str) -> Result<Arc<Source>, Vec<Problem>> {
    match std::fs::read_to_string(path) {
        Ok(text) => Ok(Source::new(shown, text)),
        Err(error) => Err(vec![Problem::new(format!("the pin map {} can't be opened: {error}", visible(shown)))]),
    }
}

fn unknown_cable(name: &str) -> Problem {
    let problem = Problem::new(format!("no cable `{}` in the catalogue", visible(name)));
    with_near(problem, name, cable_names())
}

/// Adds the near names: those that differ in a few letters, or share a part.
fn with_near(problem: Problem, name: &str, known: impl Iterator<Item = &'static str>) -> Problem {
    let wanted = name.to_lowercase();
    let mut near: Vec<(usize, &str)> = known
        .filter_map(|candidate| {
            let distance = strsim::damerau_levenshtein(candidate, &wanted);
            let shares = wanted.len() >= 3 && (candidate.contains(wanted.as_str()) || wanted.contains(candidate));
            let related = candidate.split('-').any(|part| part.len() >= 3 && wanted.contains(part));
            (distance <= 2 || shares || related).then_some((if shares { distance.min(3) } else { distance }, candidate))
        })
        .collect();
    near.sort_unstable();
    near.truncate(6);
    if near.is_empty() {
        return problem.help("`backshell maps` lists the catalogue; the path of a cable file ends in .toml");
    }
    let names = near.iter().map(|(_, candidate)| format!("`{candidate}`")).collect::<Vec<_>>().join(", ");
    problem.help(format!("did you mean {names}? `backshell maps` lists the catalogue"))
}
