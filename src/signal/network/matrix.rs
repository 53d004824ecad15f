//! Square matrices of a few complex numbers, row by row.

use num_complex::Complex64;

/// Solves `a x = b` for a square `x` of the same size; none where `a` is singular or a result isn't finite.
///
/// Gaussian elimination with partial pivoting: exact enough for the few ports of a cable.
pub(in crate::signal) fn solve(mut a: Vec<Complex64>, mut b: Vec<Complex64>, size: usize) -> Option<Vec<Complex64>> {
    for column in 0..size {
        let weight = |row: usize| a[row * size + column].norm_sqr();
        let pivot = (column..size).max_by(|one, other| weight(*one).total_cmp(&weight(*other)))?;
        if weight(pivot) == 0.0 {
            return None;
        }
        for at in 0..size {
            a.swap(pivot * size + at, column * size + at);
            b.swap(pivot * size + at, column * size + at);
        }
        let head = a[column * size + column];
        for row in (0..size).filter(|row| *row != column) {
            let factor = a[row * size + column] / head;
            for at in 0..size {
                let (above_a, above_b) = (a[column * size + at], b[column * size + at]);
                a[row * size + at] -= factor * above_a;
                b[row * size + at] -= factor * above_b;
            }
        }
    }
    for row in 0..size {
        let head = a[row * size + row];
        b[row * size..(row + 1) * size].iter_mut().for_each(|value| *value /= head);
    }
    b.iter().all(|value| value.is_finite()).then_some(b)
}

/// Solves `x a = b`.
pub(in crate::signal) fn solve_right(a: &[Complex64], b: &[Complex64], size: usize) -> Option<Vec<Complex64>> {
    solve(transposed(a, size), transposed(b, size), size).map(|x| transposed(&x, size))
}

/// Rows for columns.
pub(in crate::signal) fn transposed(of: &[Complex64], size: usize) -> Vec<Complex64> {
    (0..size * size).map(|at| of[at % size * size + at / size]).collect()
}

/// The product of two matrices.
pub(in crate::signal) fn product(a: &[Complex64], b: &[Complex64], size: usize) -> Vec<Complex64> {
    (0..size * size)
        .map(|at| {
            let (row, column) = (at / size, at % size);
            (0..size).map(|k| a[row * size + k] * b[k * size + column]).sum()
        })
        .collect()
}

/// The matrix with `one` taken off, or added where it is negative, on the diagonal.
pub(in crate::signal) fn less_diagonal(of: &[Complex64], size: usize, one: f64) -> Vec<Complex64> {
    let mut result = of.to_vec();
    for at in 0..size {
        result[at * size + at] -= one;
    }
    result
}
