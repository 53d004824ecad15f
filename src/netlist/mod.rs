//! The netlist language: one line, one fact, and every fact keeps its span.
//!
//! [`parse`] reads a text and never gives up at the first error: an unreadable line costs that line only.
//! [`read`] takes the other forms too: a from-to table, or a print-out by reading rules. All give the same facts, at the
//! places where they stand in the user's own file.
//! [`print`](fn@print) writes a netlist back in its canonical form; reading that gives the same facts.
//!
//! ```
//! use backshell::{netlist, text::Source};
//! let source = Source::new("one.netlist", "cable xlr3\nA.1 B.1 0.2 ohm\nA.2 B.2\nA.3 B.3\n");
//! let read = netlist::parse(&source);
//! assert!(read.problems.is_empty());
//! assert_eq!(read.units.len(), 1);
//! assert_eq!(read.facts.len(), 3);
//! ```

mod bind;
mod build;
mod by_unit;
mod cells;
mod damage;
mod form;
mod grammar;
mod header;
mod headings;
mod lost;
mod messages;
mod model;
mod parse;
mod pattern;
mod print;
mod printout;
mod row;
mod rules;
mod settings;
mod table;
mod twists;

pub use bind::{Bound, Joined, PointLookup, bind};
pub use by_unit::UnitReader;
pub use damage::Damage;
pub use form::{Form, Forms, Header, is_named_as_input, read};
pub use headings::Field;
pub use model::{ComponentKind, Fact, FactKind, Figure, FigureId, Netlist, Point, PointRange, Unit};
pub use parse::{Part, parse, parse_part};
pub use pattern::{Likeness, Pattern, Place};
pub use print::{print, quoted};
pub use rules::Rules;
pub use settings::{Action, EndSetting, Origin, Price, Scope, Setting, Settings, View, Word};
pub use table::TableOptions;
