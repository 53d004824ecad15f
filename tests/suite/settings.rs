//! Colour, width, quiet, and the user's own settings: what is in force, and what is never taken.

use std::path::Path;
use std::process::Output;

use crate::scratch::{Scratch, command, lead, text};

/// The command with a home of its own, so that nobody's settings come in.
fn at_home(home: &Path, arguments: &[&str]) -> Output {
    command().env("XDG_CONFIG_HOME", home).args(arguments).output().unwrap()
}

fn said(output: &Output) -> String {
    text(&output.stdout) + &text(&output.stderr)
}

const REEL: &str = "netlists/reel7.netlist";

#[test]
fn texts_are_broken_at_the_width() {
    let scratch = Scratch::new("width");
    let columns = |arguments: &[&str], first: &str| {
        let output = at_home(&scratch.0, arguments);
        text(&output.stdout)
            .lines()
            .filter(|line| line.trim_start().starts_with(first))
            .map(|line| line.chars().count())
            .max()
            .unwrap_or_else(|| panic!("{arguments:?}: no line of {first}"))
    };
    for (arguments, first) in [
        (vec!["check", REEL], "why"),
        (vec!["lot", REEL], "proof"),
        (vec!["diagnose", REEL, "--unit", "R7-0001"], "- "),
        (vec!["compare", "netlists/compare/ring-drawing.netlist", "netlists/compare/ring-reel.netlist"], "The wiring"),
    ] {
        let wide = columns(&arguments, first);
        let narrow = columns(&[arguments.clone(), vec!["--width", "50"]].concat(), first);
        assert!(narrow <= 50 && wide > 50, "{arguments:?}: {wide} and {narrow}");
    }
    for wrong in ["39", "1001", "wide"] {
        assert_eq!(at_home(&scratch.0, &["--width", wrong, "check", REEL]).status.code(), Some(2), "{wrong}");
    }
}

#[test]
fn colour_as_it_is_asked_for() {
    let scratch = Scratch::new("colour");
    let unread = "netlists/invalid/unreadable-lines.netlist";
    let folder = scratch.folder("in");
    std::fs::copy(unread, folder.join("a.netlist")).unwrap();
    let commands = [
        vec!["check", REEL],
        vec!["draw", "netlists/faults/two-faults.netlist"],
        vec!["maps", "--maps", "no-such"],
        // what can't be used, on whatever way it comes
        vec!["check", "--questions", unread],
        vec!["report", unread],
        vec!["watch", folder.to_str().unwrap(), "--once", "--quiet", "0"],
    ];
    for command in commands {
        std::fs::remove_file(folder.join(".backshell-seen")).ok();
        let with =
            |when: &str| said(&at_home(&scratch.0, &[command.clone(), vec!["--colour", when]].concat())).contains('\u{1b}');
        assert!(with("always"), "{command:?}");
        assert!(!with("never") && !with("auto"), "{command:?}");
    }
    assert_eq!(at_home(&scratch.0, &["--colour", "sometimes", "check", REEL]).status.code(), Some(2));
}

#[test]
fn quiet_keeps_the_summary_and_the_danger() {
    let scratch = Scratch::new("quiet");
    let quiet = at_home(&scratch.0, &["check", "--quiet", REEL]);
    let loud = at_home(&scratch.0, &["check", REEL]);
    assert_eq!(quiet.status.code(), loud.status.code());
    assert_eq!(
        text(&quiet.stdout),
        "10 units: 1 conforms, 8 fail, 1 inconclusive\nDO NOT CONNECT: R7-0005\n",
        "{}",
        text(&quiet.stderr)
    );
    let lot = text(&at_home(&scratch.0, &["lot", "--quiet", REEL]).stdout);
    assert!(lot.contains("DO NOT CONNECT: 1 unit") && lot.contains("8 fail") && lot.lines().count() <= 4, "{lot}");
    let pair = ["compare", "--quiet", "netlists/compare/ring-drawing.netlist", "netlists/compare/ring-reel.netlist"];
    let compared = text(&at_home(&scratch.0, &pair).stdout);
    assert!(
        compared
            .lines()
            .all(|line| line.contains(" inconclusive") || line.starts_with("DO NOT CONNECT ") || line.starts_with("Only in ")),
        "{compared}"
    );
    assert!(!compared.is_empty());
    // what can't be read is never kept quiet
    let broken = at_home(&scratch.0, &["check", "--quiet", "netlists/invalid/unknown-cable.netlist"]);
    assert_eq!(broken.status.code(), Some(2));
    assert!(text(&broken.stdout).contains("unknown-cable.netlist:"), "{}", text(&broken.stdout));
    assert_eq!(at_home(&scratch.0, &["check", "--quiet", "--format", "json", REEL]).status.code(), Some(2));
}

#[test]
fn the_command_line_goes_before_the_file() {
    let scratch = Scratch::new("config");
    let folder = scratch.folder("backshell");
    scratch.folder("backshell/own");
    std::fs::write(folder.join("config.toml"), "width = 60\ncolour = \"always\"\nmaps = [\"own\"]\n").unwrap();
    let shown = said(&at_home(&scratch.0, &["config"]));
    for line in ["colour = \"always\"", "width = 60", "backshell/own\"]", "# from "] {
        assert!(shown.contains(line), "{shown}");
    }
    // what is shown is a file of settings that says the same
    let again = scratch.file("again.toml", &shown);
    let same = said(&at_home(&scratch.0, &["config", "--config", again.to_str().unwrap()]));
    let lines = |text: &str| text.lines().skip(1).map(str::to_owned).collect::<Vec<_>>();
    assert_eq!(lines(&same), lines(&shown));
    let changed = said(&at_home(&scratch.0, &["config", "--width", "70", "--colour", "never"]));
    assert!(changed.contains("width = 70") && changed.contains("colour = \"never\""), "{changed}");
    assert!(said(&at_home(&scratch.0, &["check", REEL])).contains('\u{1b}'));
    assert!(!said(&at_home(&scratch.0, &["check", REEL, "--no-config"])).contains('\u{1b}'));
    assert!(said(&at_home(&scratch.0, &["config", "--no-config"])).contains("there is no file of settings"));
    // a home without a folder of configuration of its own
    let home = scratch.folder("home/.config/backshell");
    std::fs::write(home.join("config.toml"), "width = 66\n").unwrap();
    let output = command().env_remove("XDG_CONFIG_HOME").env("HOME", scratch.path("home")).arg("config").output().unwrap();
    assert!(text(&output.stdout).contains("width = 66"));
}

#[test]
fn nothing_is_taken_from_the_current_folder() {
    let scratch = Scratch::new("config-here");
    scratch.file("backshell.toml", "nonsense");
    scratch.file("config.toml", "nonsense");
    scratch.folder("backshell");
    scratch.file("backshell/config.toml", "nonsense");
    let netlist = scratch.file("good.netlist", lead("M-1", "M1", true));
    for home in ["", "."] {
        let mut one = command();
        one.current_dir(&scratch.0).env("XDG_CONFIG_HOME", home).env("HOME", home);
        let output = one.arg("check").arg(&netlist).output().unwrap();
        assert_eq!(output.status.code(), Some(0), "{home:?}: {}", said(&output));
    }
}

#[test]
fn what_the_file_has_wrong_is_shown_there() {
    let scratch = Scratch::new("config-wrong");
    for (content, place, words) in [
        ("widht = 80\n", ":1:1", "width"),
        ("width = 80\ncolour = \"grey\"\n", ":2:10", "auto"),
        ("width = 8\n", ":1:9", "40 to 1000"),
        ("width = \"80\"\n", ":1:9", ""),
        ("maps = [\".\", \"gone\"]\n", ":1:14", "no such folder"),
        ("causes = \"gone.toml\"\n", ":1:10", "no such file"),
        ("limits = \"none\"\n", ":1:1", "causes"),
        ("width = \n", ":1:9", ""),
    ] {
        let file = scratch.file("wrong.toml", content);
        for command in [vec!["check", REEL], vec!["config"], vec!["lot", REEL]] {
            let output = at_home(&scratch.0, &[command, vec!["--config", file.to_str().unwrap()]].concat());
            let shown = text(&output.stderr);
            assert_eq!(output.status.code(), Some(2), "{content}");
            assert!(output.stdout.is_empty(), "{content}: {}", text(&output.stdout));
            assert!(shown.contains(&format!("wrong.toml{place}]")) && shown.contains(words), "{content}: {shown}");
        }
    }
    assert_eq!(at_home(&scratch.0, &["config", "--config", "no-such.toml"]).status.code(), Some(2));
    assert_eq!(at_home(&scratch.0, &["config", "--config", "a.toml", "--no-config"]).status.code(), Some(2));
}

#[cfg(feature = "record")]
#[test]
fn a_record_of_the_settings_keeps_verdicts() {
    let scratch = Scratch::new("config-record");
    let netlist = scratch.file("good.netlist", lead("M-1", "M1", true));
    let file = scratch.file("settings.toml", "record = \"dome.db\"\n");
    let output = command().args(["check", "--config"]).args([&file, &netlist]).output().unwrap();
    assert_eq!(output.status.code(), Some(0), "{}", said(&output));
    assert!(scratch.path("dome.db").exists());
    let other = scratch.path("other.db");
    let output = command().args(["check", "--config"]).args([&file, &netlist]).arg("--record").arg(&other).output().unwrap();
    assert!(text(&output.stderr).contains("other.db") && other.exists(), "{}", said(&output));
}

#[test]
fn causes_and_maps_of_the_settings_hold() {
    let scratch = Scratch::new("config-maps");
    let cue = std::fs::read("netlists/cables/dome-cue.toml").unwrap();
    scratch.folder("own");
    scratch.file("own/dome-cue.toml", cue);
    let causes = at_home(&scratch.0, &["diagnose", "--print-causes"]).stdout;
    scratch.file("causes.toml", text(&causes).replace("[[cause]]", "[[cuase]]"));
    let file = scratch.file("settings.toml", "maps = [\"own\"]\n");
    let settings = file.to_str().unwrap();
    let shown = said(&at_home(&scratch.0, &["maps", "--config", settings]));
    assert!(shown.contains("dome-cue"), "{shown}");
    assert!(!said(&at_home(&scratch.0, &["maps"])).contains("dome-cue"));
    scratch.file("settings.toml", "causes = \"causes.toml\"\n");
    let output = at_home(&scratch.0, &["diagnose", REEL, "--config", settings]);
    assert_eq!(output.status.code(), Some(2));
    assert!(text(&output.stderr).contains("causes.toml:"), "{}", said(&output));
}
