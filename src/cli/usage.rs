//! How each command is called whose netlist or file only a few options make needless.
//!
//! What is derived from the arguments would show it in brackets, as if nobody had to give it.

pub(super) const CHECK: &str = "backshell check [OPTIONS] <NETLIST>...
       backshell check --print-schema";

pub(super) const COMPARE: &str = "backshell compare [OPTIONS] <NETLIST> <NETLIST>
       backshell compare --print-schema";

pub(super) const COVERAGE: &str = "backshell coverage [OPTIONS] <NETLIST>...
       backshell coverage --plan --cable <CABLE>
       backshell coverage --print-schema";

pub(super) const DIAGNOSE: &str = "backshell diagnose [OPTIONS] <NETLIST>...
       backshell diagnose --print-causes
       backshell diagnose --print-schema";

pub(super) const LOT: &str = "backshell lot [OPTIONS] <NETLIST>...
       backshell lot [OPTIONS] --merge <PART.json>...
       backshell lot --print-schema";

#[cfg(feature = "signal")]
pub(super) const SIGNAL: &str = "backshell signal [OPTIONS] <FILE>...
       backshell signal --print-schema";

#[cfg(feature = "signal")]
pub(super) const VIDEO: &str = "backshell video [OPTIONS] <MODE>
       backshell video [OPTIONS] --rate <RATE>
       backshell video --print-schema";
