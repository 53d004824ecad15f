//! Networks of resistors: what a meter reads between two points, and which edges have no other way around them.

use std::cmp::Reverse;
use std::collections::{BTreeMap, BinaryHeap};
use std::fmt;

use petgraph::algo::bridges::bridges;
use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};
use petgraph::unionfind::UnionFind;
use petgraph::visit::EdgeRef;

/// The least and the greatest resistance of an edge that isn't a tie, in ohm. Far outside what a cable can show: they
/// only keep the sums from overflow and underflow.
const RANGE: (f64, f64) = (1e-15, 1e18);

/// Why a [`Network`] can't be built: the first edge that is wrong.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
#[non_exhaustive]
pub enum EdgeError {
    /// The edge of this index names a node at or above the number of nodes.
    NoSuchNode(usize),
    /// The edge of this index has a resistance that is neither 0 nor from 1e-15 to 1e18 ohm.
    Resistance(usize),
}

impl fmt::Display for EdgeError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            EdgeError::NoSuchNode(edge) => write!(f, "edge {edge} leads to a node that isn't in the network"),
            EdgeError::Resistance(edge) => {
                write!(f, "the resistance of edge {edge} is neither 0 nor from {:e} to {:e} ohm", RANGE.0, RANGE.1)
            }
        }
    }
}

impl std::error::Error for EdgeError {}

/// A network of resistors: nodes `0..n` and edges with a resistance in ohm.
///
/// It is a multigraph: any number of edges may join the same two nodes, and each goes by its index in the order in which
/// they were given. An edge of 0 ohm is a tie, which makes its two nodes one as long as it is there. An edge from a node
/// to itself carries no current.
#[derive(Clone, Debug)]
pub struct Network {
    graph: UnGraph<(), f64>,
}

impl Network {
    /// The network of `n` nodes and these edges `(node, node, ohm)`.
    ///
    /// # Errors
    ///
    /// [`EdgeError`] for the first edge that names a node at or above `n`, or whose resistance is neither 0 (a tie) nor
    /// from 1e-15 to 1e18 ohm (so not negative, infinite or NaN).
    ///
    /// ```
    /// use backshell::graph::{EdgeError, Network};
    /// assert!(Network::new(2, [(0, 1, 0.1), (1, 0, 0.0)]).is_ok());
    /// assert_eq!(Network::new(2, [(0, 2, 0.1)]).err(), Some(EdgeError::NoSuchNode(0)));
    /// assert_eq!(Network::new(2, [(0, 1, 0.1), (0, 1, -0.1)]).err(), Some(EdgeError::Resistance(1)));
    /// ```
    pub fn new(n: u32, edges: impl IntoIterator<Item = (u32, u32, f64)>) -> Result<Self, EdgeError> {
        let mut graph = UnGraph::with_capacity(n as usize, n as usize);
        for _ in 0..n {
            graph.add_node(());
        }
        for (index, (a, b, ohm)) in edges.into_iter().enumerate() {
            if a >= n || b >= n {
                return Err(EdgeError::NoSuchNode(index));
            }
            if ohm != 0.0 && !(RANGE.0..=RANGE.1).contains(&ohm) {
                return Err(EdgeError::Resistance(index));
            }
            graph.add_edge(NodeIndex::new(a as usize), NodeIndex::new(b as usize), ohm);
        }
        Ok(Network { graph })
    }

    /// The effective resistance between two nodes in ohm: what an ideal four-wire meter reads across them.
    ///
    /// `None` where no way leads from one to the other, or one isn't in the network. From a node to itself, and between
    /// nodes that are tied, it is 0.
    ///
    /// Nodal analysis: the Laplacian of the part that holds both nodes is reduced by Gaussian elimination, node by node
    /// of the fewest neighbours, until only the two are left (Kron reduction; for circuits the star-mesh transformation).
    /// The diagonal is never kept but summed anew from the row, as Grassmann, Taksar and Heyman do for Markov chains
    /// (1985, from memory); since nothing is subtracted, the result keeps its digits even where milliohms and gigohms
    /// meet, and no pivoting is needed. That it equals the definition by the pseudoinverse is in Klein and Randić,
    /// "Resistance distance", J. Math. Chem. 12 (1993).
    ///
    /// ```
    /// use backshell::graph::Network;
    /// // three ground wires of 0.1 ohm in parallel with a shell of 0.01 ohm: 1/130 ohm
    /// let network = Network::new(3, [(0, 1, 0.1), (0, 1, 0.1), (0, 1, 0.1), (0, 1, 0.01)])?;
    /// assert!((network.effective(0, 1).unwrap() - 1.0 / 130.0).abs() < 1e-15);
    /// assert_eq!(network.effective(0, 2), None);
    /// # Ok::<(), backshell::graph::EdgeError>(())
    /// ```
    #[must_use]
    pub fn effective(&self, a: u32, b: u32) -> Option<f64> {
        self.between(a, b, None)
    }

    /// The effective resistance between two nodes in ohm after the edge of this index is gone: what the meter would read
    /// if this conductor were broken.
    ///
    /// `None` where no way is left, or where a node or the edge isn't in the network.
    ///
    /// ```
    /// use backshell::graph::Network;
    /// let network = Network::new(3, [(0, 1, 0.2), (0, 1, 0.2), (1, 2, 0.3)])?;
    /// assert!((network.without(0, 0, 2).unwrap() - 0.5).abs() < 1e-15);
    /// assert_eq!(network.without(2, 0, 2), None);
    /// # Ok::<(), backshell::graph::EdgeError>(())
    /// ```
    #[must_use]
    pub fn without(&self, edge: usize, a: u32, b: u32) -> Option<f64> {
        if edge >= self.graph.edge_count() {
            return None;
        }
        self.between(a, b, Some(EdgeIndex::new(edge)))
    }

    /// The indices of the bridges, ascending: the edges whose loss cuts the network, each the only way between its two
    /// sides.
    ///
    /// A go/no-go continuity test finds the loss of a bridge only; that of any other edge is masked. Ties are edges like
    /// any other here. Edges that join the same two nodes are counted first: an edge that is doubled is no bridge, be the
    /// other a resistor or a tie. The bridges of the simple graph that is left are petgraph's
    /// (`petgraph::algo::bridges`, depth-first search on a stack of its own, so depth is no limit); on a multigraph it
    /// would call both of two parallel edges bridges, hence the count. Time: linear but for a sort of the edges.
    ///
    /// ```
    /// use backshell::graph::Network;
    /// let network = Network::new(3, [(0, 1, 0.1), (1, 0, 0.1), (1, 2, 0.1)])?;
    /// assert_eq!(network.bridges(), [2]);
    /// # Ok::<(), backshell::graph::EdgeError>(())
    /// ```
    #[must_use]
    pub fn bridges(&self) -> Vec<usize> {
        let mut joins: Vec<(NodeIndex, NodeIndex, usize)> = self
            .graph
            .edge_references()
            .filter(|edge| edge.source() != edge.target())
            .map(|edge| {
                let (a, b) = (edge.source(), edge.target());
                (a.min(b), a.max(b), edge.id().index())
            })
            .collect();
        joins.sort_unstable();
        // each edge of the simple graph knows the one edge behind it, unless there are several
        let mut simple: UnGraph<(), Option<usize>> = UnGraph::with_capacity(self.graph.node_count(), joins.len());
        for _ in 0..self.graph.node_count() {
            simple.add_node(());
        }
        for same in joins.chunk_by(|one, other| (one.0, one.1) == (other.0, other.1)) {
            simple.add_edge(same[0].0, same[0].1, if same.len() == 1 { Some(same[0].2) } else { None });
        }
        let mut found: Vec<usize> = bridges(&simple).filter_map(|edge| *edge.weight()).collect();
        found.sort_unstable();
        found
    }

    fn between(&self, a: u32, b: u32, gone: Option<EdgeIndex>) -> Option<f64> {
        let n = self.graph.node_count();
        if a as usize >= n || b as usize >= n {
            return None;
        }
        if a == b {
            return Some(0.0);
        }
        let part = self.part(NodeIndex::new(a as usize), gone);
        let (a, b) = (0, *part.numbers.get(&NodeIndex::new(b as usize))?);
        let mut ties = UnionFind::<usize>::new(part.numbers.len());
        for (u, v, ohm) in &part.edges {
            if *ohm == 0.0 {
                ties.union(*u, *v);
            }
        }
        let of = ties.into_labeling();
        if of[a] == of[b] {
            return Some(0.0);
        }
        let mut rows: Vec<BTreeMap<usize, f64>> = vec![BTreeMap::new(); of.len()];
        for (u, v, ohm) in &part.edges {
            let (u, v) = (of[*u], of[*v]);
            if u != v {
                *rows[u].entry(v).or_default() += 1.0 / ohm;
                *rows[v].entry(u).or_default() += 1.0 / ohm;
            }
        }
        Some(1.0 / reduce(rows, of[a], of[b]))
    }

    /// The nodes that can be reached from one, numbered from 0 (which is the one), and the edges among them.
    fn part(&self, from: NodeIndex, gone: Option<EdgeIndex>) -> Part {
        let mut part = Part { numbers: BTreeMap::from([(from, 0)]), edges: Vec::new() };
        let mut order = vec![from];
        let mut at = 0;
        while let Some(node) = order.get(at).copied() {
            for edge in self.graph.edges(node).filter(|edge| Some(edge.id()) != gone) {
                let next = edge.target();
                let fresh = part.numbers.len();
                let number = *part.numbers.entry(next).or_insert(fresh);
                if number == fresh {
                    order.push(next);
                }
                // an edge is seen from both of its nodes: it is kept once
                if at < number {
                    part.edges.push((at, number, *edge.weight()));
                }
            }
            at += 1;
        }
        part
    }
}

#[derive(Debug)]
struct Part {
    numbers: BTreeMap<NodeIndex, usize>,
    edges: Vec<(usize, usize, f64)>,
}

/// The conductance between `a` and `b` once every other node is eliminated. `rows` holds each node's conductances to its
/// neighbours, in siemens.
fn reduce(mut rows: Vec<BTreeMap<usize, f64>>, a: usize, b: usize) -> f64 {
    let mut queue: BinaryHeap<Reverse<(usize, usize)>> = rows
        .iter()
        .enumerate()
        .filter(|(node, row)| *node != a && *node != b && !row.is_empty())
        .map(|(node, row)| Reverse((row.len(), node)))
        .collect();
    while let Some(Reverse((degree, node))) = queue.pop() {
        if degree != rows[node].len() {
            // an entry from before its neighbours changed: the right one is in the queue too
            continue;
        }
        let star: Vec<(usize, f64)> = std::mem::take(&mut rows[node]).into_iter().collect();
        let sum: f64 = star.iter().map(|(_, siemens)| siemens).sum();
        for (i, (u, to_u)) in star.iter().enumerate() {
            rows[*u].remove(&node);
            for (v, to_v) in &star[i + 1..] {
                let siemens = to_u * (to_v / sum);
                *rows[*u].entry(*v).or_default() += siemens;
                *rows[*v].entry(*u).or_default() += siemens;
            }
        }
        for (u, _) in star {
            if u != a && u != b && !rows[u].is_empty() {
                queue.push(Reverse((rows[u].len(), u)));
            }
        }
    }
    rows[a].get(&b).copied().unwrap_or(0.0)
}
