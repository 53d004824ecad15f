//! What closes the help of each command: lines to try, with files that come with the program.
//!
//! The tests run every one of them, in order, in a folder that holds a copy of `netlists/`.

/// Of the program as a whole.
pub(super) const BACKSHELL: &str = "\
Examples:
  backshell maps displayport --sample
  backshell check netlists/reel7.netlist
  backshell explain pair.reversed

Exit status: 0 every unit conforms; 1 a unit fails or can't be decided; 2 the input or the command line can't be used.";

pub(super) const CHECK: &str = "\
Examples:
  backshell check netlists/reel7.netlist
  backshell check netlists/reel7.netlist --format csv
  backshell check netlists/tables/cue-drawing.csv --header netlists/tables/dome-cue.netlist
  backshell check --questions netlists/drawings/gauge-missing.netlist

Exit status: 0 every unit conforms; 1 a unit fails or can't be decided; 2 the input or the command line can't be used.";

pub(super) const COMPARE: &str = "\
Examples:
  backshell compare netlists/compare/ring-drawing.netlist netlists/compare/ring-reel.netlist
  backshell compare netlists/compare/ring-new.netlist netlists/compare/ring-aged.netlist --all

Exit status: 0 both are the same and complete, and conform to the map where there is one; 1 something differs or can't be \
decided; 2 the input or the command line can't be used.";

pub(super) const COMPLETIONS: &str = "\
Examples:
  backshell completions bash
  backshell completions zsh

The script goes to the standard output: write it into the folder where the shell looks for completions.";

pub(super) const CONFIG: &str = "\
Examples:
  backshell config
  backshell config --width 80 --colour never

Keys of the file: colour, width, maps (a list), record, causes; paths are read from its folder. Yours is \
backshell/config.toml in $XDG_CONFIG_HOME, or in .config of your home. None is taken from the current folder.";

pub(super) const COVERAGE: &str = "\
Examples:
  backshell coverage netlists/faults/coverage.blind.netlist
  backshell coverage --plan --cable usb2-a-b

Exit status: 0 all is seen; 1 something is hidden or left to probe; 2 the input or the command line can't be used.";

pub(super) const DIAGNOSE: &str = "\
Examples:
  backshell diagnose netlists/reel7.netlist --unit R7-0001
  backshell diagnose netlists/reel7.netlist --unit R7-0001 --observed swap=cured
  backshell diagnose netlists/reel7.netlist --observed list";

pub(super) const DRAW: &str = "\
Examples:
  backshell draw netlists/faults/two-faults.netlist
  backshell draw netlists/reel7.netlist --unit R7-0002 --format svg -o R7-0002.svg";

pub(super) const EXPLAIN: &str = "\
Examples:
  backshell explain
  backshell explain pair.reversed";

pub(super) const LOT: &str = "\
Examples:
  backshell lot netlists/lots/cue-microphones.netlist --size 200 --aql 1.5
  backshell lot netlists/lots/suppliers --sort-by cost
  backshell lot netlists/reel7.netlist --format junit";

pub(super) const MAN: &str = "\
Examples:
  backshell man
  backshell man pages/man1

`man -M pages backshell-check` then shows a page.";

pub(super) const MAPS: &str = "\
Examples:
  backshell maps displayport
  backshell maps usb2-a-b --sample
  backshell maps --maps netlists/cables
  backshell maps --new netlists/reel7.netlist --unit R7-0001 -o dome-ring.toml";

#[cfg(feature = "record")]
pub(super) const RECORD: &str = "\
Examples:
  backshell check netlists/reel7.netlist --record dome.db
  backshell record lot dome.db R7
  backshell record verify dome.db";

#[cfg(feature = "record")]
pub(super) const RECORD_UNIT: &str = "\
Examples:
  backshell check netlists/reel7.netlist --record dome.db
  backshell record unit dome.db R7-0002
  backshell record unit dome.db R7-0002 --format json";

#[cfg(feature = "record")]
pub(super) const RECORD_LOT: &str = "\
Examples:
  backshell check netlists/reel7.netlist --record dome.db
  backshell record lot dome.db R7";

#[cfg(feature = "record")]
pub(super) const RECORD_SUPPLIER: &str = "\
Examples:
  backshell check netlists/reel7.netlist --record dome.db
  backshell record supplier dome.db \"Quillon Looms\"";

#[cfg(feature = "record")]
pub(super) const RECORD_VERIFY: &str = "\
Examples:
  backshell check netlists/reel7.netlist --record dome.db
  backshell record verify dome.db";

pub(super) const REPORT: &str = "\
Examples:
  backshell report netlists/reel7.netlist -o reel7.html
  backshell report netlists/reel7.netlist --face non-conformance -o reel7-non-conformance.html

Exit status: as of `check`; where a certificate can't be given, none is written and it is 1 or 2.";

#[cfg(feature = "signal")]
pub(super) const SIGNAL: &str = "\
Examples:
  backshell signal netlists/signals/lane-sound.s4p
  backshell signal netlists/signals/lane-skewed.s4p --rated HBR3 --length 2 --pictures pictures

Exit status: 0 done, and the rated rate is carried; 1 it isn't, or that can't be told; 2 the files or the command line \
can't be used.";

#[cfg(feature = "signal")]
pub(super) const VIDEO: &str = "\
Examples:
  backshell video 3840x2160@120
  backshell video \"2560x1440@59.94, 10 bits\"
  backshell video --rate HBR3 --lanes 4";

#[cfg(feature = "record")]
pub(super) const WATCH: &str = "\
Examples:
  backshell watch netlists/lots/suppliers --once --record dome.db
  backshell watch netlists/lots/suppliers --once --record dome.db --lot samples
  backshell watch netlists/lots --once --lot F1 --size 40";

#[cfg(not(feature = "record"))]
pub(super) const WATCH: &str = "\
Examples:
  backshell watch netlists/lots/suppliers --once
  backshell watch netlists/lots/suppliers --once --lot samples
  backshell watch netlists/lots --once --lot F1 --size 40";
