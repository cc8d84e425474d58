//! Conductances between nodes: a symmetric system with few entries in a row, solved by elimination.
//!
//! Our own code, since the ready-made sparse factorisation in Rust is under a licence that this project cannot take
//! over, and since a net of conductances allows better than a general matrix does. A node is eliminated as a
//! star is turned into a mesh: what is left are conductances again, made by adding and multiplying positive
//! numbers only. Nothing is subtracted, so no digit is lost, however unlike the pipes of a network are.

use std::collections::BTreeSet;

/// In which order nodes are eliminated, and which pairs of nodes that joins. It depends on who is joined to
/// whom, and serves for any conductances.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    /// Place in the order of each node.
    place: Vec<usize>,
    /// Column `k` holds `rows[starts[k]..starts[k + 1]]`: the later places that place `k` is joined to.
    starts: Vec<usize>,
    rows: Vec<usize>,
    /// For each place, the edges to later places: (later place, edge).
    edges: Vec<Vec<(usize, usize)>>,
}

/// Conductances eliminated, ready for any flows put in.
#[derive(Debug, Clone)]
pub(super) struct Factor {
    /// For each entry of the plan, the share of a node's flow that goes on to the later node.
    shares: Vec<f64>,
    /// All conductance of each place when its turn came.
    pivots: Vec<f64>,
}

impl Plan {
    /// From the edges between `count` nodes: those joined to fewest others go first, the lower index where
    /// two are equal.
    pub(super) fn new(count: usize, pairs: &[(usize, usize)]) -> Self {
        let mut neighbours: Vec<Vec<usize>> = vec![Vec::new(); count];
        for &(a, b) in pairs {
            if a != b {
                neighbours[a].push(b);
                neighbours[b].push(a);
            }
        }
        for list in &mut neighbours {
            list.sort_unstable();
            list.dedup();
        }
        let mut waiting: BTreeSet<(usize, usize)> = neighbours
            .iter()
            .enumerate()
            .map(|(node, list)| (list.len(), node))
            .collect();
        let mut place = vec![0; count];
        let mut columns: Vec<Vec<usize>> = Vec::with_capacity(count);
        let mut merged = Vec::new();
        while let Some((_, node)) = waiting.pop_first() {
            place[node] = columns.len();
            let around = std::mem::take(&mut neighbours[node]);
            for &other in &around {
                waiting.remove(&(neighbours[other].len(), other));
                merge(&neighbours[other], &around, &[node, other], &mut merged);
                std::mem::swap(&mut neighbours[other], &mut merged);
                waiting.insert((neighbours[other].len(), other));
            }
            columns.push(around);
        }

        let mut starts = vec![0];
        let mut rows = Vec::new();
        for column in columns {
            let begin = rows.len();
            rows.extend(column.into_iter().map(|node| place[node]));
            rows[begin..].sort_unstable();
            starts.push(rows.len());
        }
        let mut edges = vec![Vec::new(); count];
        for (edge, &(a, b)) in pairs.iter().enumerate() {
            if a != b {
                let (a, b) = (place[a], place[b]);
                edges[a.min(b)].push((a.max(b), edge));
            }
        }
        Self {
            place,
            starts,
            rows,
            edges,
        }
    }

    /// Eliminates with a conductance for each edge, and one from each node to where heads are fixed.
    pub(super) fn factor(&self, conductances: &[f64], to_fixed: &[f64]) -> Factor {
        let count = self.place.len();
        let mut ground = vec![0.0; count];
        for (node, &value) in to_fixed.iter().enumerate() {
            ground[self.place[node]] = value;
        }
        let mut shares = vec![0.0; self.rows.len()];
        let mut pivots = vec![0.0; count];
        let mut row = vec![0.0; count];
        // The earlier columns that touch each place next, as linked lists; `at` is where in the column.
        let mut first = vec![usize::MAX; count];
        let mut next = vec![usize::MAX; count];
        let mut at = self.starts[..count].to_vec();
        for j in 0..count {
            for &(later, edge) in &self.edges[j] {
                row[later] += conductances[edge];
            }
            let mut k = first[j];
            while k != usize::MAX {
                let following = next[k];
                let (here, end) = (at[k], self.starts[k + 1]);
                ground[j] += shares[here] * ground[k];
                let through = shares[here] * pivots[k];
                for entry in here + 1..end {
                    row[self.rows[entry]] += through * shares[entry];
                }
                at[k] = here + 1;
                if here + 1 < end {
                    let touched = self.rows[here + 1];
                    next[k] = first[touched];
                    first[touched] = k;
                }
                k = following;
            }
            let (start, end) = (self.starts[j], self.starts[j + 1]);
            let sum: f64 = self.rows[start..end].iter().map(|&r| row[r]).sum();
            pivots[j] = ground[j] + sum;
            for entry in start..end {
                shares[entry] = row[self.rows[entry]] / pivots[j];
                row[self.rows[entry]] = 0.0;
            }
            if start < end {
                let touched = self.rows[start];
                next[j] = first[touched];
                first[touched] = j;
            }
        }
        Factor { shares, pivots }
    }

    /// The heads that drive these flows, put in at the nodes, out to where heads are fixed (at 0).
    pub(super) fn heads(&self, factor: &Factor, flows: &[f64]) -> Vec<f64> {
        let count = self.place.len();
        let mut x = vec![0.0; count];
        for (node, &flow) in flows.iter().enumerate() {
            x[self.place[node]] = flow;
        }
        for j in 0..count {
            for entry in self.starts[j]..self.starts[j + 1] {
                x[self.rows[entry]] += factor.shares[entry] * x[j];
            }
        }
        for j in (0..count).rev() {
            x[j] /= factor.pivots[j];
            for entry in self.starts[j]..self.starts[j + 1] {
                x[j] += factor.shares[entry] * x[self.rows[entry]];
            }
        }
        self.place.iter().map(|&place| x[place]).collect()
    }
}

/// What is in either of two sorted lists, but for two values.
fn merge(a: &[usize], b: &[usize], without: &[usize; 2], into: &mut Vec<usize>) {
    into.clear();
    let (mut i, mut j) = (0, 0);
    while i < a.len() || j < b.len() {
        let value = match (a.get(i), b.get(j)) {
            (Some(&x), Some(&y)) if x == y => {
                j += 1;
                i += 1;
                x
            }
            (Some(&x), Some(&y)) if x < y => {
                i += 1;
                x
            }
            (Some(&x), None) => {
                i += 1;
                x
            }
            (_, Some(&y)) => {
                j += 1;
                y
            }
            (None, None) => break,
        };
        if !without.contains(&value) {
            into.push(value);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn heads_drive_the_flows_put_in() {
        // A wheel of seven nodes with spokes of very unlike conductance, held at one rim node.
        let pairs = [
            (0, 1),
            (0, 2),
            (0, 3),
            (0, 4),
            (0, 5),
            (0, 6),
            (1, 2),
            (2, 3),
            (3, 4),
            (4, 5),
            (5, 6),
            (6, 1),
            (2, 3),
        ];
        let conductances: Vec<f64> = (0..pairs.len())
            .map(|i| libm::pow(10.0, (i * 7 % 13) as f64 - 6.0))
            .collect();
        let mut to_fixed = vec![0.0; 7];
        to_fixed[4] = 1e-9;
        let flows = [1.0, -2.0, 0.5, 0.25, 0.125, 3.0, -1.0];
        let plan = Plan::new(7, &pairs);
        let heads = plan.heads(&plan.factor(&conductances, &to_fixed), &flows);
        // All that is put in leaves at node 4, whose head follows alone.
        let total: f64 = flows.iter().sum();
        assert!((heads[4] * 1e-9 / total - 1.0).abs() < 1e-14, "{heads:?}");
        // Where conductances are weak enough to tell heads apart, each node's balance holds.
        let weak: Vec<f64> = conductances.iter().map(|c| 1.0 + c / 1e6).collect();
        to_fixed[4] = 2.0;
        let heads = plan.heads(&plan.factor(&weak, &to_fixed), &flows);
        for node in 0..7 {
            let mut out = to_fixed[node] * heads[node] - flows[node];
            for (&(a, b), c) in pairs.iter().zip(&weak) {
                if a == node {
                    out += c * (heads[a] - heads[b]);
                } else if b == node {
                    out += c * (heads[b] - heads[a]);
                }
            }
            assert!(out.abs() < 1e-14, "{node}: {out}");
        }
    }
}
