//! Which joins lead from one point to another.

use std::collections::VecDeque;

use petgraph::graph::{EdgeIndex, NodeIndex, UnGraph};
use petgraph::visit::EdgeRef;

/// The joins as a graph: each edge carries the number of the fact behind it.
#[derive(Debug)]
pub struct Paths {
    graph: UnGraph<(), u32>,
}

impl Paths {
    /// The graph of `n` points and these joins `(point, point, fact)`. A join with a point at or above `n` is left out.
    #[must_use]
    pub fn new(n: usize, joins: impl IntoIterator<Item = (u32, u32, u32)>) -> Self {
        let mut graph = UnGraph::with_capacity(n, n);
        for _ in 0..n {
            graph.add_node(());
        }
        for (a, b, fact) in joins {
            if (a as usize) < n && (b as usize) < n {
                graph.add_edge(NodeIndex::new(a as usize), NodeIndex::new(b as usize), fact);
            }
        }
        Paths { graph }
    }

    /// The facts along a shortest way from any of `from` to any of `to`, in order, each once; empty where there is no
    /// way.
    #[must_use]
    pub fn between(&self, from: &[u32], to: &[u32]) -> Vec<u32> {
        let n = self.graph.node_count();
        let mut came: Vec<Option<EdgeIndex>> = vec![None; n];
        let mut seen = vec![false; n];
        let mut wanted = vec![false; n];
        for point in to {
            if let Some(wanted) = wanted.get_mut(*point as usize) {
                *wanted = true;
            }
        }
        let mut queue = VecDeque::new();
        for point in from {
            if let Some(seen) = seen.get_mut(*point as usize)
                && !std::mem::replace(seen, true)
            {
                queue.push_back(NodeIndex::new(*point as usize));
            }
        }
        while let Some(node) = queue.pop_front() {
            if wanted[node.index()] {
                return self.walk_back(node, &came);
            }
            for edge in self.graph.edges(node) {
                let next = if edge.source() == node { edge.target() } else { edge.source() };
                if !std::mem::replace(&mut seen[next.index()], true) {
                    came[next.index()] = Some(edge.id());
                    queue.push_back(next);
                }
            }
        }
        Vec::new()
    }

    fn walk_back(&self, mut node: NodeIndex, came: &[Option<EdgeIndex>]) -> Vec<u32> {
        let mut facts = Vec::new();
        while let Some(edge) = came[node.index()] {
            if let Some(fact) = self.graph.edge_weight(edge)
                && facts.last() != Some(fact)
            {
                facts.push(*fact);
            }
            let Some((a, b)) = self.graph.edge_endpoints(edge) else { break };
            node = if a == node { b } else { a };
        }
        facts.reverse();
        facts
    }
}
