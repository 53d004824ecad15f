//! Where a conductor is broken, from the capacitance of its pieces.
//!
//! A conductor has a capacitance to its neighbours that grows evenly with length, so a piece has its share of it. That
//! holds where the conductor is broken through, its neighbours run alongside all the way, and the leads, connectors and
//! fixture have been taken off every reading. Source: the capacitance per metre of a uniform line (standard texts, from
//! memory); the uncertainties are those of the GUM (JCGM 100:2008, 5.1.2, from memory), first order, for readings that are
//! independent of each other. An error that all readings of a meter share falls out of the ratio, so this is on the safe
//! side.

/// A reading and how well it is known.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Reading {
    /// The value, in farad or metre.
    pub value: f64,
    /// Its uncertainty as a share of the value (0.02 for 2 %); standard or expanded, but the same for all.
    pub relative: f64,
}

impl Reading {
    /// A reading and its relative uncertainty.
    ///
    /// ```
    /// use backshell::units::Reading;
    /// let reading = Reading::new(150e-12, 0.02);
    /// assert_eq!(reading.relative, 0.02);
    /// ```
    #[must_use]
    pub fn new(value: f64, relative: f64) -> Self {
        Reading { value, relative }
    }

    fn sound(&self) -> bool {
        self.value.is_finite() && self.value >= 0.0 && self.relative.is_finite() && self.relative >= 0.0
    }
}

/// How far away a break is.
#[derive(Clone, Copy, Debug, PartialEq)]
#[non_exhaustive]
pub struct Distance {
    /// Distance from end 1 in metres, from 0 to the length.
    pub metres: f64,
    /// Its uncertainty in metres, standard or expanded as those of the readings were.
    pub uncertainty: f64,
    /// How far beyond the length the readings would have put it, in metres; 0 as a rule. Where this is more than the
    /// uncertainty, the conductor isn't simply broken, or the sibling isn't its equal.
    pub beyond: f64,
}

/// The distance of a break from end 1, from the capacitance of the broken conductor read at both ends: L·c1/(c1 + c2).
///
/// Length in metres, capacitances in farad. Uncertainty: (u/d)² = u_L² + (c2/(c1 + c2))² (u_1² + u_2²), all relative.
/// `None` if the length isn't above 0, a capacitance is negative, both are 0, or any figure is infinite or NaN.
///
/// ```
/// use backshell::units::{Reading, break_from_both_ends};
/// let length = Reading::new(5.0, 0.0);
/// let distance = break_from_both_ends(length, Reading::new(150e-12, 0.01), Reading::new(92.5e-12, 0.01)).unwrap();
/// assert!((distance.metres - 3.0928).abs() < 1e-4);
/// assert!((distance.uncertainty - 0.0167).abs() < 1e-4);
/// ```
#[must_use]
pub fn break_from_both_ends(length: Reading, end_1: Reading, end_2: Reading) -> Option<Distance> {
    let total = end_1.value + end_2.value;
    if ![length, end_1, end_2].iter().all(Reading::sound) || length.value <= 0.0 || total <= 0.0 {
        return None;
    }
    let (near, far) = (end_1.value / total, end_2.value / total);
    let relative = length.relative.hypot(far * end_1.relative.hypot(end_2.relative));
    Some(distance(length.value, near, relative))
}

/// The distance of a break from end 1, from the capacitance of the broken conductor and of a sound one of its kind in the
/// same cable, both read at end 1: L·c1/c.
///
/// Length in metres, capacitances in farad. Uncertainty: (u/d)² = u_L² + u_1² + u_c², all relative. `None` if the length
/// or the sound conductor's capacitance isn't above 0, the broken one's is negative, or any figure is infinite or NaN.
///
/// ```
/// use backshell::units::{Reading, break_from_sibling};
/// let length = Reading::new(2.0, 0.01);
/// let distance = break_from_sibling(length, Reading::new(33e-12, 0.02), Reading::new(99e-12, 0.02)).unwrap();
/// assert!((distance.metres - 0.6667).abs() < 1e-4);
/// assert!((distance.uncertainty - 0.02).abs() < 1e-12); // 3 % of it
/// ```
#[must_use]
pub fn break_from_sibling(length: Reading, broken: Reading, sound: Reading) -> Option<Distance> {
    if ![length, broken, sound].iter().all(Reading::sound) || length.value <= 0.0 || sound.value <= 0.0 {
        return None;
    }
    let relative = length.relative.hypot(broken.relative.hypot(sound.relative));
    Some(distance(length.value, broken.value / sound.value, relative))
}

fn distance(length: f64, share: f64, relative: f64) -> Distance {
    let metres = length * share;
    Distance { metres: metres.min(length), uncertainty: metres * relative, beyond: (metres - length).max(0.0) }
}
