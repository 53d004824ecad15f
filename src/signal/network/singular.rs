//! The largest singular value of a small matrix of complex numbers: how much more may come out of a network than goes in.
//!
//! Own code of fifty lines rather than a library of linear algebra: the matrices are 2 × 2 to 8 × 8, there are thousands of
//! them, and nothing else is asked.

use num_complex::Complex64;

/// The largest singular value, by rotations that make the columns orthogonal two at a time (one-sided Jacobi, Hestenes
/// 1958). Exact to rounding also where all singular values are alike, as in a network without loss.
pub(in crate::signal) fn largest_singular_value(n: usize, a: &[Complex64]) -> f64 {
    let mut columns: Vec<Vec<Complex64>> = (0..n).map(|column| (0..n).map(|row| a[row * n + column]).collect()).collect();
    for _ in 0..30 {
        let mut turned = false;
        for p in 0..n {
            for q in p + 1..n {
                let (before, from_q) = columns.split_at_mut(q);
                turned |= orthogonalise(&mut before[p], &mut from_q[0]);
            }
        }
        if !turned {
            break;
        }
    }
    columns.iter().map(|column| square(column)).fold(0.0, f64::max).sqrt()
}

fn square(column: &[Complex64]) -> f64 {
    column.iter().map(Complex64::norm_sqr).sum()
}

/// Turns two columns until they are orthogonal; false where they are already.
fn orthogonalise(p: &mut [Complex64], q: &mut [Complex64]) -> bool {
    let (alpha, beta) = (square(p), square(q));
    let overlap: Complex64 = p.iter().zip(q.iter()).map(|(x, y)| x.conj() * y).sum();
    let gamma = overlap.norm();
    if gamma <= 1e-14 * (alpha * beta).sqrt() || gamma == 0.0 {
        return false;
    }
    let phase = overlap / gamma;
    let zeta = (beta - alpha) / (2.0 * gamma);
    let tangent = 1f64.copysign(zeta) / (zeta.abs() + zeta.hypot(1.0));
    let cosine = 1.0 / tangent.hypot(1.0);
    let sine = cosine * tangent;
    for (x, y) in p.iter_mut().zip(q.iter_mut()) {
        let straight = *y * phase.conj();
        (*x, *y) = (*x * cosine - straight * sine, *x * sine + straight * cosine);
    }
    true
}
