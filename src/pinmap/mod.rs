//! Connectors and cables: what joins what, as the published standards say.
//!
//! A TOML file is read twice: as written, where every value keeps its span, and then checked, where every
//! problem is collected and shown at its place. The rest of the crate sees only what was checked.

mod cable;
mod catalogue;
mod connector;
mod entries;
mod link_rates;
mod lookup;
mod raw;
mod role;
mod rows;
mod sample;
mod table;

pub use cable::{Cable, End, Excluded, FindConnector, Group, Limit, Limited, Link, MapPoint, Pairing, Part, Unconnected};
pub use catalogue::{Beside, Catalogue, OwnFile, ReadFile, cable_names, connector_names, is_path};
pub use connector::{Connector, Function, Pin, Provenance, is_name};
pub use link_rates::{Lane, LinkRates};
pub use lookup::EndNames;
pub use role::Role;
pub use sample::sound_netlist;
