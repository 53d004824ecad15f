//! Nets: the connected components of the joins.

use petgraph::unionfind::UnionFind;

/// A partition of the points `0..n` into nets.
///
/// A net goes by the number of its lowest point, so that two partitions are equal exactly if they hold the same nets.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Nets {
    of: Vec<u32>,
}

impl Nets {
    /// The nets of `n` points under these joins. A join with a point at or above `n` is left out.
    ///
    /// ```
    /// use backshell::graph::Nets;
    /// let nets = Nets::new(4, [(0, 2), (2, 3)]);
    /// assert!(nets.same(0, 3));
    /// assert!(!nets.same(0, 1));
    /// ```
    #[must_use]
    pub fn new(n: usize, joins: impl IntoIterator<Item = (u32, u32)>) -> Self {
        let mut sets = UnionFind::<u32>::new(n);
        for (a, b) in joins {
            if (a as usize) < n && (b as usize) < n {
                sets.union(a, b);
            }
        }
        let mut lowest = vec![u32::MAX; n];
        let mut of = sets.into_labeling();
        for (point, root) in (0..).zip(&mut of) {
            let low = &mut lowest[*root as usize];
            if *low == u32::MAX {
                *low = point;
            }
            *root = *low;
        }
        Nets { of }
    }

    /// The net of a point: the number of the net's lowest point.
    #[must_use]
    pub fn of(&self, point: u32) -> u32 {
        self.of.get(point as usize).copied().unwrap_or(point)
    }

    /// Whether two points are one net.
    #[must_use]
    pub fn same(&self, a: u32, b: u32) -> bool {
        self.of(a) == self.of(b)
    }

    /// For each point, its net.
    #[must_use]
    pub fn labels(&self) -> &[u32] {
        &self.of
    }

    /// For each net, by its number, how many points it has; 0 for numbers that are no net's.
    #[must_use]
    pub fn sizes(&self) -> Vec<u32> {
        let mut sizes = vec![0; self.of.len()];
        for net in &self.of {
            sizes[*net as usize] += 1;
        }
        sizes
    }

    /// The nets with their points, both in ascending order; a point that touches nothing is a net of its own.
    #[must_use]
    pub fn members(&self) -> Vec<Vec<u32>> {
        let mut by_net: Vec<Vec<u32>> = vec![Vec::new(); self.of.len()];
        for (point, net) in (0..).zip(&self.of) {
            by_net[*net as usize].push(point);
        }
        by_net.retain(|points| !points.is_empty());
        by_net
    }
}
