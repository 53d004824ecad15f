//! Cables and connectors of a user's own: where they are found, and every error in them shown at its place.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use backshell::finding::Verdict;
use backshell::report::{Terminal, Writer};
use backshell::verify::{Options, check_text};

fn broken_files() -> Vec<String> {
    let entries = std::fs::read_dir("netlists/cables/broken").unwrap().map(|entry| entry.unwrap().path());
    let toml = entries.filter(|path| path.extension().is_some_and(|extension| extension == "toml"));
    let mut names: Vec<String> = toml.map(|path| path.file_stem().unwrap().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

fn backshell(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_backshell")).args(arguments).output().unwrap()
}

fn errors(arguments: &[&str]) -> String {
    let output = backshell(arguments);
    assert_eq!(output.status.code(), Some(2), "{arguments:?}: {}", String::from_utf8_lossy(&output.stderr));
    String::from_utf8([output.stdout, output.stderr].concat()).unwrap()
}

/// Every file of `netlists/cables/broken`, one a kind of error, as `check` shows it.
#[test]
fn every_kind_of_error() {
    for name in broken_files() {
        let options = Options::default().with_map("netlists/cables/broken");
        let mut out = Vec::new();
        let mut writer = Terminal::new(&mut out, false);
        let outcome = check_text("own.netlist", &format!("cable {name}\nunit one\nA.1 B.1\n"), &options, |batch| {
            assert!(batch.problems.iter().all(|problem| !problem.labels.is_empty()), "{name}: a problem without a place");
            writer.batch("own.netlist", &batch).unwrap();
        });
        writer.finish(&outcome).unwrap();
        assert_eq!(outcome.status(), 2, "{name}");
        insta::assert_snapshot!(format!("broken__{name}"), String::from_utf8(out).unwrap());
    }
}

/// Every command that reads a map shows the same errors at the same places.
#[test]
fn every_command_shows_them() {
    let folder = Scratch::new("commands");
    let netlist = folder.file("own.netlist", "cable nothing\nA.1 B.1\n");
    for name in broken_files() {
        let path = format!("netlists/cables/broken/{name}.toml");
        let places = |text: &str| -> Vec<String> {
            text.lines().filter_map(|line| line.split_once("╭─[")).map(|(_, at)| at.trim_end_matches(']').to_owned()).collect()
        };
        if name == "other-name" {
            // the path of a file says which one is meant, whatever it is called
            assert_eq!(backshell(&["check", &netlist, "--cable", &path]).status.code(), Some(0));
            continue;
        }
        let wanted = places(&errors(&["check", &netlist, "--cable", &path]));
        assert!(!wanted.is_empty(), "{name}");
        for command in [
            vec!["coverage", &netlist, "--cable", &path],
            vec!["compare", &netlist, &netlist, "--cable", &path],
            vec!["draw", &netlist, "--cable", &path],
            vec!["maps", &path],
        ] {
            assert_eq!(places(&errors(&command)), wanted, "{command:?}");
        }
    }
}

/// `backshell maps --maps FOLDER` reads every file of a folder, lists the sound ones and shows the errors of the others.
#[test]
fn a_folder_is_listed_and_checked() {
    let sound = backshell(&["maps", "--maps", "netlists/cables"]);
    let listed = String::from_utf8(sound.stdout).unwrap();
    assert_eq!(sound.status.code(), Some(0));
    for name in ["dome-interlock", "dome-cue", "dome-terminal", "dome-patch"] {
        assert!(listed.lines().any(|line| line.starts_with(&format!("{name} "))), "{name} in {listed}");
    }
    let broken = errors(&["maps", "--maps", "netlists/cables/broken"]);
    for name in broken_files().iter().filter(|name| *name != "other-name" && *name != "field") {
        assert!(broken.contains(&format!("broken/{name}.toml:")), "{name} in {broken}");
    }
    assert!(errors(&["maps", "--maps", "no-such-folder"]).contains("no such folder"));
    assert!(errors(&["check", "netlists/reel7.netlist", "--maps", "no-such-folder"]).contains("no such folder"));
}

/// A folder of one's own, removed at the end.
struct Scratch(PathBuf);

impl Scratch {
    fn new(name: &str) -> Self {
        let folder = std::env::temp_dir().join(format!("backshell-own-{name}-{}", std::process::id()));
        std::fs::create_dir_all(folder.join("maps/connectors")).unwrap();
        Scratch(folder)
    }

    fn file(&self, name: &str, text: &str) -> String {
        let path = self.0.join(name);
        std::fs::write(&path, text).unwrap();
        path.display().to_string()
    }

    fn path(&self, name: &str) -> String {
        self.0.join(name).display().to_string()
    }
}

impl Drop for Scratch {
    fn drop(&mut self) {
        std::fs::remove_dir_all(&self.0).ok();
    }
}

const LUG: &str = "name = \"dome-lug\"\ntitle = \"a lug\"\nstandard = \"drawing DR-20\"\n\
                   pins = [{ pin = \"1\", name = \"lamp\", role = \"signal\", from-memory = true }]\n";

fn lead(name: &str) -> String {
    format!(
        "name = \"{name}\"\ntitle = \"dome lamp lead\"\nstandard = \"drawing DR-20\"\n\
         ends = [{{ end = \"A\", connector = \"dome-lug\" }}, {{ end = \"B\", connector = \"dome-lug\" }}]\n\
         conductors = [{{ signal = \"lamp\", points = [\"A.1\", \"B.1\"], from-memory = true }}]\n"
    )
}

/// A cable without a path is found beside the netlist and in the folder of `--maps`; its connectors in itself, beside it, in
/// `connectors`, and in the folder of `--maps`.
#[test]
fn where_own_cables_are_found() {
    let inline = format!("{}\n[[connector]]\n{LUG}", lead("dome-lamp"));
    for (cable, text, connector) in [
        ("dome-lamp.toml", inline.as_str(), None),
        ("dome-lamp.toml", &lead("dome-lamp"), Some("dome-lug.toml")),
        ("dome-lamp.toml", &lead("dome-lamp"), Some("maps/dome-lug.toml")),
        ("dome-lamp.toml", &lead("dome-lamp"), Some("maps/connectors/dome-lug.toml")),
        ("maps/dome-lamp.toml", &inline, None),
        ("maps/dome-lamp.toml", &lead("dome-lamp"), Some("maps/dome-lug.toml")),
        ("maps/dome-lamp.toml", &lead("dome-lamp"), Some("maps/connectors/dome-lug.toml")),
    ] {
        let folder = Scratch::new("found");
        folder.file(cable, text);
        connector.map(|connector| folder.file(connector, LUG));
        let netlist = folder.file("lamp.netlist", "cable dome-lamp\nA.1 B.1\n");
        let maps = folder.path("maps");
        for command in ["check", "coverage"] {
            let output = backshell(&[command, &netlist, "--maps", &maps]);
            let told = String::from_utf8_lossy(&output.stderr).into_owned() + &String::from_utf8_lossy(&output.stdout);
            assert_eq!(output.status.code(), Some(0), "{command} {cable} {connector:?}: {told}");
        }
        let by_option = folder.file("bare.netlist", "A.1 B.1\n");
        let output = backshell(&["check", &by_option, "--cable", "dome-lamp", "--maps", &maps]);
        assert_eq!(output.status.code(), Some(0), "--cable {cable} {connector:?}");
        let compared = backshell(&["compare", &netlist, &netlist, "--maps", &maps, "--format", "json"]);
        assert!(String::from_utf8_lossy(&compared.stdout).contains("dome-lamp"), "compare {cable} {connector:?}");
        let drawn = backshell(&["draw", &netlist, "--maps", &maps]);
        assert_eq!(drawn.status.code(), Some(0), "draw {cable} {connector:?}");
    }
}

/// Which of two files of one name is meant can't be told: no verdict, and both are named.
#[test]
fn no_name_is_shadowed() {
    let folder = Scratch::new("shadow");
    let maps = folder.path("maps");
    folder.file("dome-lug.toml", LUG);
    let own = folder.file("xlr3.toml", &lead("xlr3"));
    let netlist = folder.file("lamp.netlist", "cable xlr3\nA.1 B.1\nA.2 B.2\nA.3 B.3\n");
    let told = errors(&["check", &netlist]);
    assert!(told.contains("two cables go by the name `xlr3`") && told.contains("lamp.netlist:1:1"), "{told}");
    assert!(errors(&["maps", &own]).contains("the catalogue has a cable `xlr3` already"));
    std::fs::remove_file(own).unwrap();
    assert_eq!(backshell(&["check", &netlist]).status.code(), Some(0));

    folder.file("dome-lamp.toml", &lead("dome-lamp"));
    folder.file("maps/dome-lamp.toml", &lead("dome-lamp"));
    let lamp = folder.file("lamp.netlist", "cable dome-lamp\nA.1 B.1\n");
    assert_eq!(backshell(&["check", &lamp]).status.code(), Some(0), "only the one beside it is looked at");
    let told = errors(&["check", &lamp, "--maps", &maps]);
    assert!(told.contains("two cables go by the name `dome-lamp`"), "{told}");
    // the folder of the netlist, named once more, holds no second file
    assert_eq!(backshell(&["check", &lamp, "--maps", &folder.path("")]).status.code(), Some(0));

    folder.file("hdmi-a.toml", &LUG.replace("dome-lug", "hdmi-a"));
    folder.file("dome-lamp.toml", &lead("dome-lamp").replace("dome-lug", "hdmi-a"));
    let told = errors(&["check", &lamp]);
    assert!(told.contains("two connectors go by the name `hdmi-a`") && told.contains("dome-lamp.toml:4:"), "{told}");
}

/// A path on the command line is taken from the current folder, one in a netlist from the netlist's.
#[test]
fn where_paths_start() {
    let text = "A.1 B.1\nA.2 B.2\nA.3 B.3 1 ohm\nA.4 B.4\n";
    let folder = Scratch::new("paths");
    let netlist = folder.file("interlock.netlist", text);
    let output = backshell(&["check", &netlist, "--cable", "netlists/cables/dome-interlock.toml"]);
    assert_ne!(output.status.code(), Some(2), "{}", String::from_utf8_lossy(&output.stdout));
    let cable = Path::new("netlists/cables/dome-interlock.toml").canonicalize().unwrap();
    let options = Options::default().with_cable(cable.display().to_string());
    let mut verdict = None;
    check_text("own", text, &options, |batch| verdict = Some(batch.reports[0].verdict));
    assert_eq!(verdict, Some(Verdict::Inconclusive), "its parts were not measured");
}
