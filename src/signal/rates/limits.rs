//! Limit lines of balanced cabling over frequency.
//!
//! Frequencies are in MHz, losses in dB, times in ns. A line gives nothing outside the frequencies that it is laid down for.

use schemars::JsonSchema;
use serde::{Deserialize, Serialize};

/// What a limit line is about.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize, JsonSchema)]
#[serde(rename_all = "kebab-case")]
#[non_exhaustive]
pub enum Quantity {
    /// Insertion loss in dB, at most.
    InsertionLoss,
    /// Return loss in dB, at least.
    ReturnLoss,
    /// Near-end crosstalk loss between two pairs in dB, at least.
    NearEndCrosstalk,
    /// Propagation delay in ns, at most.
    Delay,
    /// The difference of the delays of two pairs in ns, at most.
    Skew,
}

impl Quantity {
    /// The same in words.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Quantity::InsertionLoss => "insertion loss",
            Quantity::ReturnLoss => "return loss",
            Quantity::NearEndCrosstalk => "near-end crosstalk",
            Quantity::Delay => "delay",
            Quantity::Skew => "skew between pairs",
        }
    }

    /// The unit of its figures.
    #[must_use]
    pub fn unit(self) -> &'static str {
        match self {
            Quantity::Delay | Quantity::Skew => "ns",
            Quantity::InsertionLoss | Quantity::ReturnLoss | Quantity::NearEndCrosstalk => "dB",
        }
    }
}

/// A set of limit lines.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, JsonSchema)]
#[non_exhaustive]
pub enum Limits {
    /// 100 m of solid cable of category 5e (TIA-568-C.2).
    #[serde(rename = "cable-5e")]
    Cable5e,
    /// 100 m of solid cable of category 6 (TIA-568-C.2).
    #[serde(rename = "cable-6")]
    Cable6,
    /// 100 m of solid cable of category 6A (TIA-568-C.2).
    #[serde(rename = "cable-6a")]
    Cable6a,
    /// A channel of category 5e (TIA-568-C.2).
    #[serde(rename = "channel-5e")]
    Channel5e,
    /// A channel of category 6 (TIA-568-C.2), with the term for insertion loss deviation.
    #[serde(rename = "channel-6")]
    Channel6,
    /// A channel of class D (ISO/IEC 11801).
    #[serde(rename = "class-d")]
    ClassD,
    /// A channel of class E (ISO/IEC 11801).
    #[serde(rename = "class-e")]
    ClassE,
    /// A channel of class EA (ISO/IEC 11801), which is that of category 6A.
    #[serde(rename = "class-ea")]
    ClassEa,
    /// A channel of class F (ISO/IEC 11801).
    #[serde(rename = "class-f")]
    ClassF,
    /// A link segment of 1000BASE-T (IEEE 802.3, clause 40.7).
    #[serde(rename = "1000base-t")]
    Link1000,
    /// A link segment of 10BASE-T (IEEE 802.3, clause 14.4).
    #[serde(rename = "10base-t")]
    Link10,
}

use Limits::{Cable5e, Cable6, Cable6a, Channel5e, Channel6, ClassD, ClassE, ClassEa, ClassF, Link10, Link1000};

impl Limits {
    /// Every set.
    pub const ALL: [Limits; 11] =
        [Cable5e, Cable6, Cable6a, Channel5e, Channel6, ClassD, ClassE, ClassEa, ClassF, Link1000, Link10];

    /// Where its lines come from.
    #[must_use]
    pub fn source(self) -> &'static str {
        match self {
            Cable5e | Cable6 | Cable6a => "TIA-568-C.2, 100 m of solid cable (from memory)",
            Channel5e | Channel6 => "TIA-568-C.2, channel (from memory)",
            ClassD | ClassE | ClassF => {
                "ISO/IEC 11801, channel: insertion loss as presented to the IEEE 10GBASE-T task force in March 2004, the rest from \
                 memory"
            }
            ClassEa => "ISO/IEC 11801, channel of class EA (from memory)",
            Link1000 => "IEEE 802.3, clause 40.7 (from memory)",
            Link10 => "IEEE 802.3, clause 14.4 (from memory)",
        }
    }

    /// The lowest and the highest frequency of its lines in MHz.
    #[must_use]
    pub fn range(self) -> (f64, f64) {
        match self {
            Cable5e | Channel5e | ClassD | Link1000 => (1.0, 100.0),
            Cable6 | Channel6 | ClassE => (1.0, 250.0),
            Cable6a | ClassEa => (1.0, 500.0),
            ClassF => (1.0, 600.0),
            Link10 => (5.0, 10.0),
        }
    }

    /// One of its lines at a frequency in MHz. None outside its range, and where there is no such line.
    #[must_use]
    pub fn at(self, quantity: Quantity, mhz: f64) -> Option<f64> {
        let (from, to) = self.range();
        if !(from * (1.0 - 1e-9)..=to * (1.0 + 1e-9)).contains(&mhz) {
            return None;
        }
        match quantity {
            Quantity::InsertionLoss => Some(self.insertion_loss(mhz)),
            Quantity::ReturnLoss => self.return_loss(mhz),
            Quantity::NearEndCrosstalk => self.near_end_crosstalk(mhz),
            Quantity::Delay => self.delay(mhz),
            Quantity::Skew => self.skew(),
        }
    }

    /// The least that a limit of insertion loss comes to: ISO/IEC 11801 asks for no less than 4 dB (from memory).
    #[must_use]
    pub fn least_loss(self) -> f64 {
        if matches!(self, ClassD | ClassE | ClassEa | ClassF) { 4.0 } else { 0.0 }
    }

    fn insertion_loss(self, mhz: f64) -> f64 {
        let root = mhz.sqrt();
        let cable = |a: f64, b: f64, c: f64| a * root + b * mhz + c / root;
        match self {
            Cable5e => cable(1.967, 0.023, 0.050),
            Cable6 => cable(1.808, 0.017, 0.2),
            Cable6a => cable(1.82, 0.0091, 0.25),
            Channel5e => 1.02 * cable(1.967, 0.023, 0.050) + 4.0 * 0.04 * root,
            Channel6 => 1.02 * cable(1.808, 0.017, 0.2) + 4.0 * 0.02 * root + 0.0003 * mhz.powf(1.5),
            ClassD => 1.05 * cable(1.9108, 0.0222, 0.20) + 4.0 * 0.04 * root,
            ClassE => 1.05 * cable(1.82, 0.0169, 0.25) + 4.0 * 0.02 * root,
            ClassEa => 1.05 * cable(1.82, 0.0091, 0.25) + 4.0 * 0.02 * root,
            ClassF => 1.05 * cable(1.80, 0.0100, 0.20) + 4.0 * 0.02 * root,
            Link1000 => 2.1 * mhz.powf(0.529) + 0.4 / mhz,
            Link10 => 11.5,
        }
    }

    fn return_loss(self, mhz: f64) -> Option<f64> {
        let decade = |over: f64| (mhz / over).log10();
        Some(match self {
            Cable5e | Cable6 | Cable6a if mhz < 10.0 => 20.0 + 5.0 * decade(1.0),
            Cable5e | Cable6 | Cable6a if mhz < 20.0 => 25.0,
            Cable5e | Cable6 | Cable6a => 25.0 - 7.0 * decade(20.0),
            Channel5e | ClassD => 17.0 - 10.0 * decade(20.0).max(0.0),
            Channel6 | ClassE if mhz < 10.0 => 19.0,
            Channel6 | ClassE if mhz < 40.0 => 24.0 - 5.0 * decade(1.0),
            Channel6 | ClassE => 32.0 - 10.0 * decade(1.0),
            ClassEa if mhz < 10.0 => 19.0,
            ClassEa if mhz < 40.0 => 24.0 - 5.0 * decade(1.0),
            ClassEa => (32.0 - 10.0 * decade(1.0)).max(6.0),
            Link1000 => 15.0 - 10.0 * decade(20.0).max(0.0),
            ClassF | Link10 => return None,
        })
    }

    fn near_end_crosstalk(self, mhz: f64) -> Option<f64> {
        let decade = (mhz / 100.0).log10();
        let ratio = |loss: f64| 10f64.powf(-loss / 20.0);
        // the crosstalk of the cable and of two near connectors adds up in amplitude
        let channel = |cable: f64, connector: f64| -20.0 * (ratio(cable) + 2.0 * ratio(connector)).log10();
        let (cable_5, cable_6) = (35.3 - 15.0 * decade, 44.3 - 15.0 * decade);
        let connector_5 = 43.0 - 20.0 * decade;
        Some(match self {
            Cable5e => cable_5,
            Cable6 | Cable6a => cable_6,
            Channel5e | ClassD => channel(cable_5, connector_5).min(60.0),
            // class EA keeps the line of the connectors up to 500 MHz, which gives 27.9 dB there; TIA's category 6A lets them get
            // worse faster above 250 MHz and asks for 26.1 dB (both from memory)
            Channel6 | ClassE | ClassEa => channel(cable_6, 54.0 - 20.0 * decade).min(65.0),
            Link1000 => 27.1 - 16.8 * decade,
            Link10 => 26.0 - 15.0 * (mhz / 10.0).log10(),
            ClassF => return None,
        })
    }

    fn delay(self, mhz: f64) -> Option<f64> {
        let cable = 534.0 + 36.0 / mhz.sqrt();
        match self {
            Cable5e | Cable6 | Cable6a => Some(cable),
            Channel5e | Channel6 | ClassD | ClassE | ClassEa => Some(cable + 4.0 * 2.5),
            Link1000 => Some(570.0),
            Link10 => Some(1000.0),
            ClassF => None,
        }
    }

    fn skew(self) -> Option<f64> {
        match self {
            Cable5e | Cable6 | Cable6a => Some(45.0),
            Channel5e | Channel6 | ClassD | ClassE | ClassEa | Link1000 => Some(50.0),
            ClassF | Link10 => None,
        }
    }
}
