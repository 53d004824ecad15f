//! The catalogue: the files that are part of the program, and cable files on disk in the same form.

use std::collections::{HashMap, HashSet};
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::finding::Problem;
use crate::text::{Source, Span, read_whole, visible};

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
    /// Folders of a user's own cables and connectors.
    folders: Vec<PathBuf>,
    /// Cables that were handed over, found by their names before any other.
    known: Vec<Arc<Cable>>,
    connectors: HashMap<PathBuf, Arc<Connector>>,
    cables: HashMap<PathBuf, Arc<Cable>>,
}

/// A file of a user's folder as it was read, or every problem in it.
pub type ReadFile = Result<OwnFile, Vec<Problem>>;

/// A file of a user's folder.
#[derive(Clone, Debug)]
#[non_exhaustive]
pub enum OwnFile {
    /// A cable.
    Cable(Arc<Cable>),
    /// A connector.
    Connector(Arc<Connector>),
}

impl Catalogue {
    /// One that knows the built-in files alone; they are read when they are asked for.
    #[must_use]
    pub fn new() -> Self {
        Self::default()
    }

    /// One that also looks into these folders for cables and connectors of one's own.
    #[must_use]
    pub fn with_folders(folders: &[PathBuf]) -> Self {
        Catalogue { folders: folders.to_vec(), ..Self::default() }
    }

    /// The same with cables that are in memory already; they are found by their names before any other.
    #[must_use]
    pub fn and_cables(mut self, known: Vec<Arc<Cable>>) -> Self {
        self.known = known;
        self
    }

    /// A cable by its name, or by the path of its file, taken from `folder`.
    ///
    /// A name is one of the catalogue, or else that of a file NAME.toml in one of the user's folders or in `folder`; where
    /// there are two, none is taken. A cable file finds its connectors in itself, beside it, in a folder `connectors` beside
    /// it, in the user's folders, and then in the catalogue.
    ///
    /// # Errors
    /// An unknown name, with those that are near it, a file that can't be opened, or every problem in it.
    pub fn cable(&mut self, name: &str, folder: &Path) -> Result<Arc<Cable>, Vec<Problem>> {
        if let Some(cable) = self.known.iter().find(|known| known.name == name) {
            return Ok(Arc::clone(cable));
        }
        if is_path(name) && !cable_names().any(|known| known == name) {
            return self.cable_file(&folder.join(name), name);
        }
        let embedded = CABLES.iter().find(|(known, _)| *known == name);
        let own = self.files_named(name, folder);
        let path = match (embedded, own.as_slice()) {
            (Some((_, text)), []) => return self.built_in(name, text),
            (None, [path]) => path,
            (None, []) => return Err(vec![self.unknown_cable(name, folder)]),
            (_, paths) => return Err(vec![ambiguous(name, embedded.is_some(), paths)]),
        };
        let cable = self.cable_file(path, &path.display().to_string())?;
        if cable.name != name {
            return Err(vec![misnamed("cable", name, &cable.name, &cable.file, cable.name_at)]);
        }
        Ok(cable)
    }

    /// Whether a cable of that name or path is there, sound or not.
    #[must_use]
    pub fn knows(&self, name: &str, folder: &Path) -> bool {
        let built_in = cable_names().any(|known| known == name);
        built_in || if is_path(name) { folder.join(name).is_file() } else { !self.files_named(name, folder).is_empty() }
    }

    /// Whether a connector of that name is there, sound or not; `folder` is that of a netlist.
    #[must_use]
    pub fn knows_connector(&self, name: &str, folder: &Path) -> bool {
        let beside = Beside { folder, shown: Some(folder) };
        connector_names().any(|known| known == name)
            || (!name.contains(['/', '\\']) && self.own_connector(name, beside).is_some())
    }

    fn built_in(&mut self, name: &str, text: &str) -> Result<Arc<Cable>, Vec<Problem>> {
        let key = PathBuf::from(format!("catalogue/cables/{name}.toml"));
        if let Some(cable) = self.cables.get(&key) {
            return Ok(Arc::clone(cable));
        }
        let source = Source::new(key.display().to_string(), text);
        let cable = Arc::new(Cable::read(&source, &mut |connector| self.connector(connector, None))?);
        self.cables.insert(key, Arc::clone(&cable));
        Ok(cable)
    }

    /// The cable of a file on disk; `shown` is the name that reports give the file.
    fn cable_file(&mut self, path: &Path, shown: &str) -> Result<Arc<Cable>, Vec<Problem>> {
        if let Some(cable) = self.cables.get(path) {
            return Ok(Arc::clone(cable));
        }
        let source = read_file(path, shown)?;
        let beside = Beside { folder: path.parent().unwrap_or(Path::new("")), shown: Path::new(shown).parent() };
        let cable = Arc::new(Cable::read(&source, &mut |connector| self.connector(connector, Some(beside)))?);
        if cable_names().any(|known| known == cable.name) {
            return Err(vec![taken("cable", &cable.name, &cable.file, cable.name_at)]);
        }
        self.cables.insert(path.to_owned(), Arc::clone(&cable));
        Ok(cable)
    }

    /// The files NAME.toml in the user's folders and in `folder`, each once.
    fn files_named(&self, name: &str, folder: &Path) -> Vec<PathBuf> {
        let mut found: Vec<PathBuf> = Vec::new();
        let mut known = HashSet::new();
        for folder in self.folders.iter().map(PathBuf::as_path).chain([folder]) {
            let path = folder.join(format!("{name}.toml"));
            if path.is_file() && known.insert(path.canonicalize().unwrap_or_else(|_| path.clone())) {
                found.push(path);
            }
        }
        found
    }

    /// The files of one's own folders, in alphabetical order, each as it was read.
    ///
    /// # Errors
    /// Each file by itself: every problem in it. A folder that can't be read is the only problem of the whole.
    pub fn own(&mut self) -> Result<Vec<(PathBuf, ReadFile)>, Problem> {
        let mut files = Vec::new();
        for folder in self.folders.clone() {
            for path in toml_files(&folder)?.into_iter().chain(toml_files(&folder.join("connectors")).unwrap_or_default()) {
                let shown = path.display().to_string();
                let read = match read_file(&path, &shown) {
                    Ok(source) if is_connector(source.text()) => {
                        let name = path.file_stem().unwrap_or_default().to_string_lossy().into_owned();
                        self.connector_file(&path, &shown, &name).map(OwnFile::Connector)
                    }
                    Ok(_) => self.cable_file(&path, &shown).map(OwnFile::Cable),
                    Err(problems) => Err(problems),
                };
                files.push((path, read));
            }
        }
        Ok(files)
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
    pub fn connector(&mut self, name: &str, beside: Option<Beside<'_>>) -> Result<Arc<Connector>, Vec<Problem>> {
        let embedded = CONNECTORS.iter().find(|(known, _)| *known == name);
        let own = beside.filter(|_| !name.contains(['/', '\\'])).and_then(|beside| self.own_connector(name, beside));
        match (own, embedded) {
            (Some((path, _)), Some(_)) => Err(vec![ambiguous_connector(name, &path)]),
            (Some((path, shown)), None) => self.connector_file(&path, &shown, name),
            (None, Some((_, text))) => {
                let key = PathBuf::from(format!("catalogue/connectors/{name}.toml"));
                if let Some(connector) = self.connectors.get(&key) {
                    return Ok(Arc::clone(connector));
                }
                let connector = Arc::new(Connector::read(&Source::new(key.display().to_string(), *text))?);
                self.connectors.insert(key, Arc::clone(&connector));
                Ok(connector)
            }
            (None, None) => {
                let problem = Problem::new(format!("no connector `{}` in the catalogue, nor in a file", visible(name)));
                let near = near(name, connector_names());
                Err(vec![match near.as_str() {
                    "" => problem
                        .help(format!("write it in {}.toml beside the cable file, or under [[connector]] in it", visible(name))),
                    near => problem.help(format!("did you mean {near}?")),
                }])
            }
        }
    }

    /// The file of a connector of one's own, the nearest first, and how reports call it.
    fn own_connector(&self, name: &str, beside: Beside<'_>) -> Option<(PathBuf, String)> {
        let file = format!("{name}.toml");
        let in_folder =
            |folder: &Path| [folder.join(&file), folder.join("connectors").join(&file)].into_iter().find(|path| path.is_file());
        if let Some(path) = in_folder(beside.folder) {
            let within = path.strip_prefix(beside.folder).unwrap_or(&path);
            let shown = beside.shown.unwrap_or(Path::new("")).join(within).display().to_string();
            return Some((path, shown));
        }
        let path = self.folders.iter().find_map(|folder| in_folder(folder))?;
        let shown = path.display().to_string();
        Some((path, shown))
    }

    fn connector_file(&mut self, path: &Path, shown: &str, name: &str) -> Result<Arc<Connector>, Vec<Problem>> {
        if let Some(connector) = self.connectors.get(path) {
            return Ok(Arc::clone(connector));
        }
        let connector = Connector::read(&read_file(path, shown)?)?;
        if connector_names().any(|known| known == connector.name) {
            return Err(vec![taken("connector", &connector.name, &connector.file, connector.name_at)]);
        }
        if connector.name != name {
            return Err(vec![misnamed("connector", name, &connector.name, &connector.file, connector.name_at)]);
        }
        let connector = Arc::new(connector);
        self.connectors.insert(path.to_owned(), Arc::clone(&connector));
        Ok(connector)
    }

    fn unknown_cable(&self, name: &str, folder: &Path) -> Problem {
        let own: Vec<String> = self
            .folders
            .iter()
            .map(PathBuf::as_path)
            .chain([folder])
            .flat_map(|folder| toml_files(folder).unwrap_or_default())
            .filter_map(|path| path.file_stem().map(|stem| stem.to_string_lossy().into_owned()))
            .collect();
        let mut known: Vec<&str> = cable_names().collect();
        known.extend(own.iter().map(String::as_str));
        known.sort_unstable();
        known.dedup();
        let problem = Problem::new(format!("no cable `{}` in the catalogue", visible(name)));
        match near(name, known.into_iter()).as_str() {
            "" => problem.help(
                "`backshell maps` lists the catalogue; a cable of your own is found beside the netlist, in the folder of `--maps`, \
                 or by the path of its file, which ends in .toml",
            ),
            near => problem.help(format!("did you mean {near}? `backshell maps` lists the catalogue")),
        }
    }
}

/// The folder that a cable file lies in.
#[derive(Clone, Copy, Debug)]
#[non_exhaustive]
pub struct Beside<'a> {
    /// The folder.
    pub folder: &'a Path,
    /// How reports call it, where they call the cable file by a shorter name.
    pub shown: Option<&'a Path>,
}

impl<'a> Beside<'a> {
    /// Beside the files of this folder, called by its own path.
    #[must_use]
    pub fn new(folder: &'a Path) -> Self {
        Self { folder, shown: None }
    }

    /// How reports call it, where they call the cable file by a shorter name.
    #[must_use]
    pub fn with_shown(self, shown: &'a Path) -> Self {
        Self { shown: Some(shown), ..self }
    }
}

/// The names by which a file would be found twice are an error: whoever wrote it may mean either.
fn ambiguous(name: &str, built_in: bool, paths: &[PathBuf]) -> Problem {
    let mut places: Vec<String> = paths.iter().map(|path| visible(&path.display().to_string()).into_owned()).collect();
    if built_in {
        places.insert(0, "the catalogue".to_owned());
    }
    Problem::new(format!("two cables go by the name `{}`: in {}", visible(name), places.join(" and in ")))
        .help("give your own cable another name (the file's and the `name` in it), or name it by its path")
}

fn ambiguous_connector(name: &str, path: &Path) -> Problem {
    let path = path.display().to_string();
    Problem::new(format!("two connectors go by the name `{}`: in the catalogue and in {}", visible(name), visible(&path)))
        .help("give your own connector another name: the file's, the `name` in it, and here")
}

/// A name that the catalogue has already.
pub(super) fn taken(what: &str, name: &str, file: &Arc<Source>, at: Span) -> Problem {
    Problem::new(format!("the catalogue has a {what} `{}` already", visible(name)))
        .at(file, at, "this name")
        .help(format!("give your own {what} another name, so that no report mistakes it for the published one"))
}

/// A file that calls its content otherwise than itself.
fn misnamed(what: &str, asked: &str, name: &str, file: &Arc<Source>, at: Span) -> Problem {
    Problem::new(format!("the file {} holds a {what} `{}`", visible(file.name()), visible(name)))
        .at(file, at, format!("it is found by the name `{}`", visible(asked)))
        .help("file and name must agree: rename one of the two")
}

/// Whether a file holds a connector: it lists contacts.
fn is_connector(text: &str) -> bool {
    let (root, _) = toml::de::DeTable::parse_recoverable(text);
    let has = |key: &str| root.get_ref().iter().any(|(known, _)| known.get_ref() == key);
    has("pins") && !has("ends") && !has("conductors")
}

/// The TOML files of a folder, in alphabetical order.
fn toml_files(folder: &Path) -> Result<Vec<PathBuf>, Problem> {
    let here = if folder.as_os_str().is_empty() { Path::new(".") } else { folder };
    let shown = folder.display().to_string();
    let entries = std::fs::read_dir(here)
        .map_err(|error| Problem::new(format!("the folder {} can't be opened: {error}", visible(&shown))))?;
    let mut files: Vec<PathBuf> = entries
        .filter_map(|entry| Some(folder.join(entry.ok()?.file_name())))
        .filter(|path| path.extension().is_some_and(|extension| extension == "toml") && path.is_file())
        .collect();
    files.sort();
    Ok(files)
}

/// Whether a name can only be a path: it has a separator, or the extension of a cable file.
#[must_use]
pub fn is_path(name: &str) -> bool {
    name.contains(['/', '\\']) || name.ends_with(".toml")
}

fn read_file(path: &Path, shown: &str) -> Result<Arc<Source>, Vec<Problem>> {
    match read_whole(path) {
        Ok(text) => Ok(Source::new(shown, text)),
        Err(why) => Err(vec![Problem::new(format!("the pin map {} {why}", visible(shown)))]),
    }
}

/// The near names, in words: those that differ in a few letters, or share a part. Empty where there is none.
fn near<'k>(name: &str, known: impl Iterator<Item = &'k str>) -> String {
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
    near.iter().map(|(_, candidate)| format!("`{}`", visible(candidate))).collect::<Vec<_>>().join(", ")
}
