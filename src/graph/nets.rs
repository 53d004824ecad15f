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

    /// The table that gives the points of any net.
    #[must_use]
    pub fn table(&self) -> NetTable {
        let mut bounds = vec![0_u32; self.of.len() + 1];
        for net in &self.of {
            bounds[*net as usize + 1] += 1;
        }
        for at in 0..self.of.len() {
            bounds[at + 1] += bounds[at];
        }
        let mut next = bounds.clone();
        let mut points = vec![0; self.of.len()];
        for (point, net) in (0..).zip(&self.of) {
            let place = &mut next[*net as usize];
            points[*place as usize] = point;
            *place += 1;
        }
        NetTable { bounds, points }
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

/// The points of each net, found from its number.
#[derive(Clone, Debug)]
pub struct NetTable {
    /// For each number, where the points of its net begin.
    bounds: Vec<u32>,
    points: Vec<u32>,
}

impl NetTable {
    /// The points of a net in ascending order; none where the number is no net's.
    #[must_use]
    pub fn of(&self, net: u32) -> &[u32] {
        let bound = |at: usize| self.bounds.get(at).map_or(0, |bound| *bound as usize);
        self.points.get(bound(net as usize)..bound(net as usize + 1)).unwrap_or_default()
    }
}
