//! How the command meets a stranger: help whose examples run, completions, a manual, and where to begin.

use std::collections::BTreeSet;
use std::path::Path;
use std::process::Output;

use crate::scratch::{Scratch, command, run, text};

/// Every command, by the words that call it, as the help lists them.
fn commands() -> Vec<Vec<String>> {
    let mut all = Vec::new();
    below(&[], &mut all);
    assert!(all.len() > 12, "{all:?}");
    all
}

fn below(words: &[String], all: &mut Vec<Vec<String>>) {
    let help = help(words);
    let Some((_, list)) = help.split_once("\nCommands:\n") else { return };
    for line in list.lines().take_while(|line| !line.is_empty()) {
        let name = line.strip_prefix("  ").filter(|line| !line.starts_with(' ')).and_then(|line| line.split(' ').next());
        if let Some(name) = name.filter(|name| *name != "help") {
            let words = [words, &[name.to_owned()]].concat();
            all.push(words.clone());
            below(&words, all);
        }
    }
}

fn help(words: &[String]) -> String {
    let output = command().args(words).arg("--help").output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{words:?}");
    text(&output.stdout)
}

/// Copies a folder with all below it.
fn copy(from: &Path, to: &Path) {
    std::fs::create_dir_all(to).unwrap();
    for entry in std::fs::read_dir(from).unwrap() {
        let path = entry.unwrap().path();
        let target = to.join(path.file_name().unwrap());
        if path.is_dir() { copy(&path, &target) } else { std::fs::write(&target, std::fs::read(&path).unwrap()).unwrap() }
    }
}

/// The words of a line, as a shell takes them apart: at blanks, but not between quotation marks.
fn words(line: &str) -> Vec<String> {
    let parts = line.split('"').enumerate();
    parts
        .flat_map(|(nth, part)| {
            let inside = nth % 2 == 1;
            let words: Vec<&str> = if inside { vec![part] } else { part.split_whitespace().collect() };
            words.into_iter().map(str::to_owned).collect::<Vec<_>>()
        })
        .collect()
}

/// The examples of a help text.
fn examples(help: &str) -> Vec<&str> {
    let list = help.split_once("Examples:\n").map_or("", |(_, list)| list);
    list.lines().map_while(|line| line.strip_prefix("  ")).collect()
}

fn in_folder(folder: &Path, line: &str) -> Output {
    let words = words(line);
    assert_eq!(words[0], "backshell", "{line}");
    command().current_dir(folder).args(&words[1..]).output().unwrap()
}

#[test]
fn every_example_of_every_help_runs() {
    for words in [vec![Vec::new()], commands()].concat() {
        let help = help(&words);
        let examples = examples(&help);
        assert!(examples.len() >= 2, "{words:?} has no examples");
        let scratch = Scratch::new("examples");
        copy(Path::new("netlists"), &scratch.path("netlists"));
        let own = format!("backshell {}", words.join(" "));
        assert!(examples.iter().any(|line| line.starts_with(&own)), "{words:?}: no example of its own");
        for line in examples {
            let output = in_folder(&scratch.0, line);
            let status = output.status.code();
            assert!(matches!(status, Some(0 | 1)), "{line}: {status:?}\n{}", text(&output.stderr));
            assert!(!output.stdout.is_empty() || line.contains(" -o "), "{line}: nothing was said");
            assert!(line.chars().count() < 110, "{line} is too long for a help");
        }
    }
}

/// What a call can't do without is shown so, and each question of a record asks in its own words.
#[test]
fn help_shows_what_is_required() {
    for (command, usage) in [("check", "<NETLIST>..."), ("lot", "<NETLIST>..."), ("compare", "<NETLIST> <NETLIST>")] {
        let first = format!("Usage: backshell {command} [OPTIONS] {usage}\n");
        assert!(help(&[command.to_owned()]).contains(&first), "{command}");
        let without = run(&[command]);
        assert_eq!(without.status.code(), Some(2), "{command}");
        assert!(text(&without.stderr).contains(&first), "{command}: {}", text(&without.stderr));
        assert_eq!(run(&[command, "--print-schema"]).status.code(), Some(0), "{command}");
    }
    for what in ["unit", "lot", "supplier"].iter().filter(|_| cfg!(feature = "record")) {
        let said = help(&["record".to_owned(), (*what).to_owned()]);
        assert!(said.contains(&format!("The {what}, as the netlists name it")), "{said}");
    }
}

#[test]
fn every_command_has_its_page() {
    let scratch = Scratch::new("man");
    let folder = scratch.path("new/man1");
    let output = run(&[Path::new("man"), &folder]);
    assert_eq!(output.status.code(), Some(0), "{}", text(&output.stderr));
    let found: BTreeSet<String> =
        std::fs::read_dir(&folder).unwrap().map(|entry| entry.unwrap().file_name().into_string().unwrap()).collect();
    let wanted: BTreeSet<String> = [vec![Vec::new()], commands()]
        .concat()
        .into_iter()
        .map(|words| [vec!["backshell".to_owned()], words].concat().join("-") + ".1")
        .collect();
    assert_eq!(found, wanted);
    for name in &found {
        let page = std::fs::read_to_string(folder.join(name)).unwrap();
        assert!(page.contains("\n.TH backshell"), "{name}");
        for section in [".SH NAME", ".SH SYNOPSIS", ".SH DESCRIPTION", "Examples:"] {
            assert!(page.contains(section), "{name} lacks {section}");
        }
    }
    assert_eq!(run(&["man"]).stdout, std::fs::read(folder.join("backshell.1")).unwrap());
    let file = scratch.file("taken", "");
    assert_eq!(run(&[Path::new("man"), &file]).status.code(), Some(2));
}

#[test]
fn every_shell_completes_every_command() {
    for shell in ["bash", "elvish", "fish", "powershell", "zsh"] {
        let output = run(&["completions", shell]);
        assert_eq!(output.status.code(), Some(0), "{shell}");
        let script = text(&output.stdout);
        for words in commands() {
            assert!(script.contains(words.last().unwrap().as_str()), "{shell}: {words:?}");
        }
        assert!(script.contains("decimal-comma"), "{shell} completes no options");
    }
    assert_eq!(run(&["completions", "runes"]).status.code(), Some(2));
    assert_eq!(run(&["completions"]).status.code(), Some(2));
}

#[test]
fn bash_takes_the_completions() {
    let script = text(&run(&["completions", "bash"]).stdout);
    let asks = format!(
        "{script}\nCOMP_WORDS=(backshell co); COMP_CWORD=1; _backshell backshell co backshell\necho \"${{COMPREPLY[@]}}\""
    );
    let Ok(output) = std::process::Command::new("bash").args(["--norc", "-c", &asks]).output() else { return };
    assert_eq!(text(&output.stdout).trim(), "coverage compare completions config", "{}", text(&output.stderr));
}

#[test]
fn a_call_without_a_word_says_where_to_begin() {
    let output = run::<&str>(&[]);
    assert_eq!(output.status.code(), Some(2));
    assert!(output.stdout.is_empty());
    let said = text(&output.stderr);
    assert!(said.lines().count() <= 15 && said.lines().all(|line| line.chars().count() <= 100), "{said}");
    let scratch = Scratch::new("welcome");
    let lines: Vec<&str> = said.lines().filter_map(|line| line.strip_prefix("  ")).collect();
    assert_eq!(lines.len(), 3);
    for line in lines {
        let (line, target) = line.split_once(" > ").map_or((line, None), |(line, target)| (line, Some(target)));
        let output = in_folder(&scratch.0, line);
        assert_eq!(output.status.code(), Some(0), "{line}: {}", text(&output.stderr));
        if let Some(name) = target {
            scratch.file(name, &output.stdout);
        }
    }
}

/// What keeps its length: data, scripts, pictures, what is to be read from afar, and netlists and maps to go on with.
const KEEPS: [&str; 11] = [
    "--format",
    "completions",
    "man",
    "draw",
    "--draw",
    "--sample",
    "--print-causes",
    "--print-schema",
    "--new",
    "config",
    "watch",
];

/// Lines of tables, with three columns or more; of drawings; and such as can't be broken, for a digest or a path in them.
fn keeps_its_length(line: &str) -> bool {
    let gaps = line.trim().split("  ").filter(|cell| !cell.trim().is_empty()).count();
    let drawn = line.contains(['│', '╭', '╰', '·', '─']);
    gaps > 2 || drawn || line.split_whitespace().any(|word| word.len() > 40)
}

/// Whatever a command says to people is broken at the width, and at any width it says the same.
#[test]
fn every_command_keeps_to_the_width() {
    let ink = |said: &str| -> String {
        said.chars().filter(|c| !c.is_whitespace() && !('\u{2500}'..='\u{257f}').contains(c) && !"·#".contains(*c)).collect()
    };
    let (mut broken, mut too_long) = (BTreeSet::new(), Vec::new());
    for called in commands() {
        let scratch = Scratch::new("width");
        copy(Path::new("netlists"), &scratch.path("netlists"));
        let help = help(&called);
        for line in examples(&help) {
            let said = |width: &str| text(&in_folder(&scratch.0, &format!("{line} --width {width}")).stdout);
            if words(line).iter().any(|word| KEEPS.contains(&word.as_str())) {
                in_folder(&scratch.0, line);
                continue;
            }
            // what is kept or written the first time is there afterwards
            said("60");
            let [narrow, usual, wide] = ["60", "100", "1000"].map(said);
            for (said, width) in [(&narrow, 60), (&usual, 100)] {
                for long in said.lines().filter(|line| line.chars().count() > width && !keeps_its_length(line)) {
                    too_long.push(format!("{line} --width {width}: {long}"));
                }
            }
            assert_eq!(ink(&narrow), ink(&wide), "{line}: words are lost or added");
            assert_eq!(ink(&usual), ink(&wide), "{line}: words are lost or added");
            if narrow.lines().count() > wide.lines().count() {
                broken.insert(called[0].clone());
            }
        }
    }
    assert!(too_long.is_empty(), "{}", too_long.join("\n"));
    let mut wanted = vec!["check", "compare", "coverage", "diagnose", "explain", "lot", "maps", "signal", "video"];
    wanted.extend(cfg!(feature = "record").then_some("record"));
    for command in wanted {
        assert!(broken.contains(command), "{command} breaks no line");
    }
}
