//! Copper wire: its area, its resistance, and what raises the resistance.
//!
//! Figures are for one conductor, one way: a loop has twice the length.

use super::{Bound, Dimension, Quantity, Unit};

/// Resistivity of annealed copper at 20 °C, 100 % IACS: 1/58 ohm mm²/m (IEC 60028, from
/// memory).
pub const COPPER_OHM_MM2_PER_METRE: f64 = 1.0 / 58.0;

/// Temperature coefficient of the resistance of annealed copper at 20 °C, 100 % IACS, per kelvin (NBS Handbook 100,
/// table 2, from memory).
pub const COPPER_PER_KELVIN: f64 = 0.003_93;

/// The temperatures for which resistance is given, in °C, both included: the straight line of [`COPPER_PER_KELVIN`] holds
/// there to some 2 % (from memory; the bounds are common practice, no source).
pub const COPPER_CELSIUS: (f64, f64) = (-65.0, 200.0);

/// Conductivity of the aluminium in copper-clad wire, as a share of copper's: EC aluminium, 61 % IACS.
pub const ALUMINIUM_CONDUCTIVITY: f64 = 0.61;

/// By how much stranding raises the resistance at most, over a solid wire of the same metal area: 2 % for concentric lay
/// (ASTM B8, from memory). Bunched and roped conductors can have more: see [`lay_factor`].
pub const STRANDED_MOST: f64 = 1.02;

/// By how much a stranded conductor may lie below the solid wire of its AWG number: the common seven strands of eight
/// sizes finer (7 × 32 for 24 AWG) hold 9.5 % more copper, and read 0.913 of the solid wire before lay is counted
/// (computed from the formula of ASTM B258).
pub const SEVEN_STRANDS_LEAST: f64 = 0.913;

/// By how much tinning raises the resistance at most, by the diameter of the strand (of the wire, if solid) in inch:
/// `(from, to, factor)`, finest last; a size at a
/// border belongs to the thicker band. ASTM B33-04, table 2: the greatest resistivity that is accepted, in ohm
/// g/m², over the 0.15328 of plain copper. The last band of the standard begins at 0.0030 inch (40 AWG).
pub const TINNED_MOST: [(f64, f64, f64); 5] = [
    (0.290, 0.460, 0.156_95 / 0.153_28),
    (0.103, 0.290, 0.157_76 / 0.153_28),
    (0.0201, 0.103, 0.159_40 / 0.153_28),
    (0.0111, 0.0201, 0.162_79 / 0.153_28),
    (0.0030, 0.0111, 0.164_54 / 0.153_28),
];

const AWG: (f64, f64) = (-3.0, 56.0);
const MM_PER_INCH: f64 = 25.4;

/// The diameter in mm of a solid wire of an AWG number: 0.127 mm · 92^((36 − n)/39) (ASTM B258, from memory).
///
/// Sizes run from 4/0, written as -3, to 56; a number between two sizes is taken as it is. `None` outside them.
///
/// ```
/// use backshell::units::awg_diameter_mm;
/// assert!((awg_diameter_mm(36.0).unwrap() - 0.127).abs() < 1e-12);
/// assert!((awg_diameter_mm(-3.0).unwrap() - 11.684).abs() < 1e-12); // 460 mil
/// assert_eq!(awg_diameter_mm(57.0), None);
/// ```
#[must_use]
pub fn awg_diameter_mm(awg: f64) -> Option<f64> {
    (AWG.0..=AWG.1).contains(&awg).then(|| 0.127 * 92_f64.powf((36.0 - awg) / 39.0))
}

/// The area in mm² of a solid wire of an AWG number (ASTM B258); sizes -3 to 56, `None` outside them.
///
/// ```
/// use backshell::units::awg_area_mm2;
/// assert!((awg_area_mm2(24.0).unwrap() - 0.204_73).abs() < 1e-5);
/// ```
#[must_use]
pub fn awg_area_mm2(awg: f64) -> Option<f64> {
    awg_diameter_mm(awg).map(|diameter| std::f64::consts::FRAC_PI_4 * diameter * diameter)
}

/// The AWG number, with its fraction, of a solid wire of this area in mm²: [`awg_area_mm2`] the other way round. `None`
/// where that would be outside -3 to 56.
///
/// ```
/// use backshell::units::awg_of_area;
/// assert!((awg_of_area(0.204_73).unwrap() - 24.0).abs() < 1e-3);
/// assert_eq!(awg_of_area(0.0), None);
/// ```
#[must_use]
pub fn awg_of_area(mm2: f64) -> Option<f64> {
    if mm2.is_nan() || mm2 <= 0.0 {
        return None;
    }
    let diameter = (mm2 / std::f64::consts::FRAC_PI_4).sqrt();
    let awg = 36.0 - 39.0 * (diameter / 0.127).ln() / 92_f64.ln();
    // a hair outside is the rounding of the logarithm
    (AWG.0 - 1e-9..=AWG.1 + 1e-9).contains(&awg).then(|| awg.clamp(AWG.0, AWG.1))
}

/// The metal area in mm² of a gauge, AWG (as solid wire) or mm² (taken at its word).
///
/// `None` if the quantity is no gauge, is only a limit (`<`, `>`), or lies outside AWG -3 to 56 or 0 (left out) to
/// 10 000 mm². A tolerance isn't looked at.
///
/// ```
/// use backshell::units::{Quantity, Unit, area_mm2};
/// assert_eq!(area_mm2(&Quantity::new(1.5, Unit::SquareMillimetre)), Some(1.5));
/// assert_eq!(area_mm2(&Quantity::new(1.5, Unit::Metre)), None);
/// ```
#[must_use]
pub fn area_mm2(gauge: &Quantity) -> Option<f64> {
    if gauge.bound != Bound::Exact {
        return None;
    }
    match gauge.unit {
        Unit::Awg => awg_area_mm2(gauge.value),
        Unit::SquareMillimetre => (gauge.value > 0.0 && gauge.value <= Dimension::Gauge.range().1).then_some(gauge.value),
        _ => None,
    }
}

/// The resistance in ohm per metre of a solid wire of annealed copper at a temperature in °C:
/// (1/58 ohm mm²/m) / A · (1 + 0.00393 (T − 20)), with the figures of [`COPPER_OHM_MM2_PER_METRE`] and
/// [`COPPER_PER_KELVIN`].
///
/// A stranded conductor of the same AWG number lies between [`SEVEN_STRANDS_LEAST`] and [`STRANDED_MOST`] of it; tinned
/// strands have up to [`tinned_most`] of it. Sizes in mm² are nominal: IEC 60228 limits their resistance, not their area,
/// and its limits for 0.5 to 25 mm² are 4 to 8 % above this for plain solid and stranded conductors (classes 1 and 2),
/// 10 to 16 % for plain flexible ones (class 5) and up to 20 % for coated flexible ones.
///
/// `None` where [`area_mm2`] is, and for a temperature outside [`COPPER_CELSIUS`].
///
/// ```
/// use backshell::units::{Quantity, Unit, copper_ohm_per_metre};
/// let gauge = Quantity::new(24.0, Unit::Awg);
/// assert!((copper_ohm_per_metre(&gauge, 20.0).unwrap() - 0.084_215).abs() < 1e-6);
/// assert!((copper_ohm_per_metre(&gauge, 60.0).unwrap() - 0.097_454).abs() < 1e-6);
/// ```
#[must_use]
pub fn copper_ohm_per_metre(gauge: &Quantity, celsius: f64) -> Option<f64> {
    if !(COPPER_CELSIUS.0..=COPPER_CELSIUS.1).contains(&celsius) {
        return None;
    }
    let area = area_mm2(gauge)?;
    Some(COPPER_OHM_MM2_PER_METRE / area * (1.0 + COPPER_PER_KELVIN * (celsius - 20.0)))
}

/// The AWG number, with its fraction, of a solid copper wire that has `ratio` times the resistance of this gauge: what a
/// conductor that reads too high (or low) would be if it were only thinner (or thicker). Three sizes are very nearly a
/// factor of two.
///
/// `None` where [`area_mm2`] is, for a ratio that isn't above 0, and where the answer would be outside -3 to 56.
///
/// ```
/// use backshell::units::{Quantity, Unit, awg_of_ratio};
/// let awg = awg_of_ratio(&Quantity::new(24.0, Unit::Awg), 2.5283).unwrap();
/// assert!((awg - 28.0).abs() < 1e-3);
/// ```
#[must_use]
pub fn awg_of_ratio(gauge: &Quantity, ratio: f64) -> Option<f64> {
    if ratio.is_nan() || ratio <= 0.0 {
        return None;
    }
    awg_of_area(area_mm2(gauge)? / ratio)
}

/// How many times the resistance of copper a copper-clad aluminium wire of the same diameter has, by its share of copper
/// by volume (0 to 1): 1 / (0.61 (1 − v) + v), the rule of mixtures.
///
/// The classes of ASTM B566 are 10 % (10A, 10H) and 15 % (15A, 15H) of copper by volume. The rule is slightly
/// optimistic: the limits of that standard, about 63 to 65 % IACS (from memory), allow somewhat more resistance. `None`
/// for a share outside 0 to 1.
///
/// ```
/// use backshell::units::copper_clad_ratio;
/// assert!((copper_clad_ratio(0.10).unwrap() - 1.5408).abs() < 1e-4);
/// assert_eq!(copper_clad_ratio(1.0), Some(1.0));
/// ```
#[must_use]
pub fn copper_clad_ratio(copper_by_volume: f64) -> Option<f64> {
    let v = copper_by_volume;
    (0.0..=1.0).contains(&v).then(|| 1.0 / (ALUMINIUM_CONDUCTIVITY * (1.0 - v) + v))
}

/// By how much tinning raises the resistance at most, for strands (or a solid wire) of this diameter in mm
/// ([`TINNED_MOST`]). It goes by the strand, not by the conductor. `None` outside 0.0762 to 11.684 mm (40 AWG to 4/0).
///
/// ```
/// use backshell::units::tinned_most;
/// assert!((tinned_most(0.127).unwrap() - 1.0735).abs() < 1e-4); // 36 AWG
/// assert_eq!(tinned_most(0.01), None);
/// ```
#[must_use]
pub fn tinned_most(strand_mm: f64) -> Option<f64> {
    // a billionth, so that a size that is exactly at a border isn't put beyond it by rounding
    let inch = strand_mm / MM_PER_INCH * (1.0 + 1e-9);
    if inch.is_nan() || inch > TINNED_MOST[0].1 * (1.0 + 2e-9) {
        return None;
    }
    TINNED_MOST.iter().find(|(least, _, _)| inch >= *least).map(|(_, _, factor)| *factor)
}

/// How many times the straight length a strand has, by its lay ratio: the length of lay over the pitch diameter of the
/// layer. √(1 + (π/m)²), from the geometry of a helix; common ratios run from 8 to 20 (common practice, no source).
///
/// `None` for a ratio that isn't above 0.
///
/// ```
/// use backshell::units::lay_factor;
/// assert!((lay_factor(16.0).unwrap() - 1.0191).abs() < 1e-4);
/// ```
#[must_use]
pub fn lay_factor(lay_ratio: f64) -> Option<f64> {
    (lay_ratio > 0.0).then(|| 1.0_f64.hypot(std::f64::consts::PI / lay_ratio))
}
