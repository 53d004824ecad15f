//! The units of the netlist language.

/// What a figure measures.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Dimension {
    /// Electrical resistance, kept in ohm.
    Resistance,
    /// Capacitance, kept in farad.
    Capacitance,
    /// Length, kept in metres.
    Length,
    /// Conductor size: AWG number or square millimetres, each kept in its own unit.
    Gauge,
    /// Temperature, kept in degrees Celsius.
    Temperature,
    /// A share, kept in percent.
    Share,
}

impl Dimension {
    /// The dimension in words, with the units that may be written.
    #[must_use]
    pub fn words(self) -> &'static str {
        match self {
            Dimension::Resistance => "a resistance in ohm (mohm, kohm, Mohm …)",
            Dimension::Capacitance => "a capacitance in F (pF, nF, uF …)",
            Dimension::Length => "a length in m, mm, cm, km, ft or in",
            Dimension::Gauge => "a conductor size in AWG or mm2",
            Dimension::Temperature => "a temperature in C",
            Dimension::Share => "a percentage",
        }
    }

    /// The values that make sense, lowest and highest, in the unit that is kept (both included).
    ///
    /// The bounds only keep out slips of the pen; they are wide on purpose (common practice, no source). AWG numbers run
    /// from 4/0, written as -3, to 56 (ASTM B258 gives sizes up to 56). A cable at more than 200 °C, such as one whose
    /// temperature was typed in kelvin, isn't one that anybody measures.
    #[must_use]
    pub fn range(self) -> (f64, f64) {
        match self {
            Dimension::Resistance => (0.0, 1e15),
            Dimension::Capacitance => (0.0, 1.0),
            Dimension::Length => (0.0, 1e6),
            Dimension::Gauge => (-3.0, 1e4),
            Dimension::Temperature => (-65.0, 200.0),
            Dimension::Share => (0.0, 100.0),
        }
    }
}

/// A unit without its prefix.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
#[non_exhaustive]
pub enum Unit {
    /// Ohm.
    Ohm,
    /// Farad.
    Farad,
    /// Metre.
    Metre,
    /// American wire gauge number (ASTM B258).
    Awg,
    /// Square millimetre (IEC 60228 sizes).
    SquareMillimetre,
    /// Degree Celsius.
    Celsius,
    /// Percent.
    Percent,
}

impl Unit {
    /// The unit as the netlist language writes it.
    #[must_use]
    pub fn symbol(self) -> &'static str {
        match self {
            Unit::Ohm => "ohm",
            Unit::Farad => "F",
            Unit::Metre => "m",
            Unit::Awg => "AWG",
            Unit::SquareMillimetre => "mm2",
            Unit::Celsius => "C",
            Unit::Percent => "%",
        }
    }

    /// What the unit measures.
    #[must_use]
    pub fn dimension(self) -> Dimension {
        match self {
            Unit::Ohm => Dimension::Resistance,
            Unit::Farad => Dimension::Capacitance,
            Unit::Metre => Dimension::Length,
            Unit::Awg | Unit::SquareMillimetre => Dimension::Gauge,
            Unit::Celsius => Dimension::Temperature,
            Unit::Percent => Dimension::Share,
        }
    }

    /// Reads a unit with its prefix; the number is the power of ten, or for feet and inches the factor, that the prefix
    /// stands for.
    ///
    /// Case matters: `mohm` is a thousandth of an ohm, `Mohm` a million.
    ///
    /// ```
    /// use backshell::units::{Scale, Unit};
    /// assert_eq!(Unit::parse("Mohm"), Some((Unit::Ohm, Scale::Ten(6))));
    /// assert_eq!(Unit::parse("µF"), Some((Unit::Farad, Scale::Ten(-6))));
    /// assert_eq!(Unit::parse("Ohms"), None);
    /// ```
    #[must_use]
    pub fn parse(word: &str) -> Option<(Unit, Scale)> {
        let plain = match word {
            "ohm" | "\u{3a9}" | "\u{2126}" => Some(Unit::Ohm),
            "m" => Some(Unit::Metre),
            "F" => Some(Unit::Farad),
            "AWG" => Some(Unit::Awg),
            "mm2" | "mm²" => Some(Unit::SquareMillimetre),
            "C" | "°C" => Some(Unit::Celsius),
            "%" => Some(Unit::Percent),
            _ => None,
        };
        if let Some(unit) = plain {
            return Some((unit, Scale::Ten(0)));
        }
        match word {
            "ft" => return Some((Unit::Metre, Scale::Factor(0.3048))),
            "in" => return Some((Unit::Metre, Scale::Factor(0.0254))),
            "cm" => return Some((Unit::Metre, Scale::Ten(-2))),
            _ => {}
        }
        let prefix = word.chars().next()?;
        let power = match prefix {
            'p' => -12,
            'n' => -9,
            'u' | '\u{b5}' | '\u{3bc}' => -6,
            'm' => -3,
            'k' => 3,
            'M' => 6,
            'G' => 9,
            _ => return None,
        };
        let unit = match word.get(prefix.len_utf8()..)? {
            "ohm" | "\u{3a9}" | "\u{2126}" => Unit::Ohm,
            "m" => Unit::Metre,
            "F" => Unit::Farad,
            _ => return None,
        };
        Some((unit, Scale::Ten(power)))
    }

    /// Every spelling that is worth proposing when a unit can't be read.
    #[must_use]
    pub fn spellings() -> &'static [&'static str] {
        &["ohm", "mohm", "kohm", "Mohm", "Gohm", "pF", "nF", "uF", "m", "mm", "cm", "km", "ft", "in", "AWG", "mm2", "C", "%"]
    }
}

/// How a written unit relates to the unit that is kept.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Scale {
    /// A power of ten.
    Ten(i32),
    /// A plain factor (feet and inches: exact by definition, 1 ft = 0.3048 m).
    Factor(f64),
}
