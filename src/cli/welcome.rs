//! Where to begin: what the command says when it is called without a word.
//!
//! It goes to the error stream with exit status 2, as any command line that can't be used. A script whose list of files came
//! out empty must never read 0, "every unit conforms", nor find words in the place of a report.

/// The exit status of a call without a word.
pub(super) const STATUS: u8 = 2;

/// What it does, what to try, and how to get a netlist.
pub(super) const TEXT: &str = "\
backshell checks custom-made cable assemblies against the pin maps of their connectors: it reads a
netlist from a continuity tester, or from a drawing, and says of every unit whether it conforms.

Get a netlist of a sound display cable to play with, check it, and look at it:

  backshell maps displayport --sample > sample.netlist
  backshell check sample.netlist
  backshell draw sample.netlist

Exchange two contacts in sample.netlist, then check it again: the fault is shown at its lines.
`backshell maps` lists the cables, and `backshell --help` the commands.
";
