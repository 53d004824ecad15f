//! What a contact is for.

use serde::Deserialize;

/// The role of a contact in its connector.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Deserialize)]
#[non_exhaustive]
pub enum Role {
    /// A single-ended signal.
    #[serde(rename = "signal")]
    Signal,
    /// The plus conductor of a differential pair.
    #[serde(rename = "pair+")]
    PairPlus,
    /// The minus conductor of a differential pair.
    #[serde(rename = "pair-")]
    PairMinus,
    /// A ground or signal return.
    #[serde(rename = "ground")]
    Ground,
    /// The drain of a pair's screen.
    #[serde(rename = "drain")]
    Drain,
    /// A supply.
    #[serde(rename = "supply")]
    Supply,
    /// The return of a supply.
    #[serde(rename = "return")]
    Return,
    /// Detection or configuration.
    #[serde(rename = "detect")]
    Detect,
    /// Reserved, or not used.
    #[serde(rename = "unused")]
    Unused,
    /// The shell, or an overall screen.
    #[serde(rename = "shell")]
    Shell,
    /// Protective earth.
    #[serde(rename = "earth")]
    Earth,
}

impl Role {
    /// The role in the words of the trade.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Role::Signal => "signal",
            Role::PairPlus => "pair +",
            Role::PairMinus => "pair -",
            Role::Ground => "ground",
            Role::Drain => "screen drain",
            Role::Supply => "supply",
            Role::Return => "supply return",
            Role::Detect => "detect",
            Role::Unused => "unused",
            Role::Shell => "shell",
            Role::Earth => "protective earth",
        }
    }

    /// True for the conductors of a differential pair.
    #[must_use]
    pub fn is_pair(self) -> bool {
        matches!(self, Role::PairPlus | Role::PairMinus)
    }

    /// True for shells and screen drains.
    #[must_use]
    pub fn is_shield(self) -> bool {
        matches!(self, Role::Shell | Role::Drain)
    }

    /// True for conductors that carry a signal of any kind.
    #[must_use]
    pub fn is_signal(self) -> bool {
        matches!(self, Role::Signal | Role::PairPlus | Role::PairMinus | Role::Detect)
    }
}
