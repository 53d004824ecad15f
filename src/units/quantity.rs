//! A figure with its unit, its bound and its tolerance.

use std::fmt;

use super::Unit;

/// Whether a figure is the value itself or only a limit to it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Hash)]
#[expect(clippy::exhaustive_enums, reason = "a figure is a value, or a limit from one side or the other")]
pub enum Bound {
    /// The value.
    #[default]
    Exact,
    /// Less than (`<`): the value lies below.
    Below,
    /// More than (`>`): the value lies above, as testers print it for good insulation.
    Above,
}

/// The stated spread about a value.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub enum Tolerance {
    /// In percent of the value.
    Percent(f64),
    /// In the unit of the value.
    Absolute(f64),
}

/// A figure: its value in the base unit (ohm, farad, metre, AWG number, square millimetre, degree Celsius, percent).
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Quantity {
    /// The value in the base unit of `unit`; finite.
    pub value: f64,
    /// The unit without prefix.
    pub unit: Unit,
    /// Whether the value is exact, or a limit.
    pub bound: Bound,
    /// The stated tolerance, if there is one.
    pub tolerance: Option<Tolerance>,
}

impl Quantity {
    /// Whether the value is exact, or a limit.
    #[must_use]
    pub const fn with_bound(self, bound: Bound) -> Self {
        Self { bound, ..self }
    }

    /// The stated tolerance, if there is one.
    #[must_use]
    pub const fn with_tolerance(self, tolerance: Tolerance) -> Self {
        Self { tolerance: Some(tolerance), ..self }
    }

    /// A plain value without bound or tolerance.
    #[must_use]
    pub fn new(value: f64, unit: Unit) -> Self {
        Quantity { value, unit, bound: Bound::Exact, tolerance: None }
    }

    /// The half-width of its tolerance, in the unit of the value; none where it has no tolerance.
    ///
    /// ```
    /// use backshell::units::{Quantity, Tolerance, Unit};
    /// let resistor = Quantity::new(56e3, Unit::Ohm).with_tolerance(Tolerance::Percent(5.0));
    /// assert_eq!(resistor.spread(), Some(2800.0));
    /// ```
    #[must_use]
    #[inline]
    pub fn spread(&self) -> Option<f64> {
        self.tolerance.map(|tolerance| match tolerance {
            Tolerance::Percent(percent) => self.value.abs() * percent / 100.0,
            Tolerance::Absolute(spread) => spread.abs(),
        })
    }

    /// The figure for people: at most four significant digits, with the prefix that suits it.
    ///
    /// ```
    /// use backshell::units::{Quantity, Unit};
    /// assert_eq!(Quantity::new(0.0412, Unit::Ohm).short(), "41.2 mohm");
    /// assert_eq!(Quantity::new(56e3, Unit::Ohm).short(), "56 kohm");
    /// ```
    #[must_use]
    pub fn short(&self) -> String {
        let sign = self.sign();
        let tolerance = match self.tolerance {
            Some(Tolerance::Percent(p)) => format!(" +/- {}%", digits(p)),
            Some(Tolerance::Absolute(a)) => format!(" +/- {}", Quantity::new(a, self.unit).short()),
            None => String::new(),
        };
        let prefixes: &[(f64, &str)] = match self.unit {
            Unit::Ohm => &[(1e9, "G"), (1e6, "M"), (1e3, "k"), (1.0, ""), (1e-3, "m")],
            Unit::Farad => &[(1.0, ""), (1e-6, "u"), (1e-9, "n"), (1e-12, "p")],
            Unit::Metre => &[(1.0, ""), (1e-3, "m")],
            _ => &[(1.0, "")],
        };
        let size = self.value.abs();
        let (scale, prefix) = prefixes
            .iter()
            .find(|(scale, _)| size >= *scale * 0.999_95)
            .or(if size == 0.0 { None } else { prefixes.last() })
            .copied()
            .unwrap_or((1.0, ""));
        let space = if self.unit == Unit::Percent { "" } else { " " };
        format!("{sign}{}{space}{prefix}{}{tolerance}", digits(self.value / scale), self.unit.symbol())
    }

    fn sign(&self) -> &'static str {
        match self.bound {
            Bound::Exact => "",
            Bound::Below => "<",
            Bound::Above => ">",
        }
    }
}

/// At most four significant digits, without trailing zeros.
fn digits(value: f64) -> String {
    if value == 0.0 || !value.is_finite() {
        return format!("{value}");
    }
    #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss)]
    let places = (3 - value.abs().log10().floor() as i64).clamp(0, 12) as usize;
    let text = format!("{value:.places$}");
    if text.contains('.') { text.trim_end_matches('0').trim_end_matches('.').to_owned() } else { text }
}

impl fmt::Display for Quantity {
    /// The figure as the netlist language writes it, in the base unit, with every digit: reading it gives it back.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}{} {}", self.sign(), self.value, self.unit.symbol())?;
        match self.tolerance {
            Some(Tolerance::Percent(p)) => write!(f, " +/- {p}%"),
            Some(Tolerance::Absolute(a)) => write!(f, " +/- {a} {}", self.unit.symbol()),
            None => Ok(()),
        }
    }
}
