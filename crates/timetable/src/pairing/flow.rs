//! Whether every learner can have the fewest watched shifts asked for, exactly.

use std::collections::VecDeque;

use super::prepared::Prepared;

/// Learners who fall short, and by how many watched shifts.
pub(crate) type Short = Vec<(usize, u32)>;

/// Learner and shift of each pairing that gives every learner the fewest, or the learners who fall short and by how many.
pub(crate) fn least_pairings(prepared: &Prepared<'_>) -> Result<Vec<(usize, usize)>, Short> {
    let problem = prepared.problem;
    let mut network = Network::default();
    let (source, sink) = (network.node(), network.node());
    let shifts: Vec<usize> = problem.shifts.iter().map(|_| network.node()).collect();
    // Watchers: shift, preceptor in that week, preceptor, end.
    let mut turned = Vec::with_capacity(shifts.len());
    for (place, shift) in problem.shifts.iter().enumerate() {
        let node = network.node();
        network.edge(shifts[place], node, u32::from(shift.turns));
        turned.push(node);
    }
    for preceptor in &problem.preceptors {
        let whole = network.node();
        network.edge(whole, sink, preceptor.most_in_all);
        let weeks: Vec<usize> = (0..prepared.n_weeks).map(|_| network.node()).collect();
        for week in &weeks {
            network.edge(*week, whole, preceptor.most_per_week);
        }
        for shift in &preceptor.shifts {
            network.edge(turned[*shift], weeks[problem.shifts[*shift].week], 1);
        }
    }
    let mut from_source = Vec::new();
    let mut pairs = Vec::new();
    for (l, learner) in prepared.learners.iter().enumerate() {
        let node = network.node();
        from_source.push(network.edge(source, node, problem.learners[l].least_pairings));
        let weeks: Vec<usize> = (0..learner.n_weeks).map(|_| network.node()).collect();
        for week in &weeks {
            network.edge(node, *week, problem.learners[l].most_per_week);
        }
        for item in &learner.items {
            pairs.push((l, item.shift, network.edge(weeks[item.week], shifts[item.shift], 1)));
        }
    }
    while network.augment(source, sink) {}
    let short: Vec<(usize, u32)> = from_source
        .iter()
        .enumerate()
        .map(|(l, edge)| (l, network.edges[*edge].room))
        .filter(|(_, missing)| *missing > 0)
        .collect();
    if !short.is_empty() {
        return Err(short);
    }
    Ok(pairs
        .into_iter()
        .filter(|(_, _, edge)| network.edges[*edge].room == 0)
        .map(|(l, shift, _)| (l, shift))
        .collect())
}

struct Edge {
    to: usize,
    room: u32,
}

/// Edges lie in pairs: each with its way back.
#[derive(Default)]
struct Network {
    from: Vec<Vec<usize>>,
    edges: Vec<Edge>,
}

impl Network {
    fn node(&mut self) -> usize {
        self.from.push(Vec::new());
        self.from.len() - 1
    }

    fn edge(&mut self, from: usize, to: usize, room: u32) -> usize {
        let place = self.edges.len();
        self.edges.push(Edge { to, room });
        self.edges.push(Edge { to: from, room: 0 });
        self.from[from].push(place);
        self.from[to].push(place + 1);
        place
    }

    /// One more unit along a shortest path, where there is one.
    fn augment(&mut self, source: usize, sink: usize) -> bool {
        let mut by: Vec<Option<usize>> = vec![None; self.from.len()];
        let mut queue = VecDeque::from([source]);
        while let Some(node) = queue.pop_front() {
            for place in &self.from[node] {
                let edge = &self.edges[*place];
                if edge.room > 0 && edge.to != source && by[edge.to].is_none() {
                    by[edge.to] = Some(*place);
                    queue.push_back(edge.to);
                }
            }
        }
        let mut node = sink;
        if by[sink].is_none() {
            return false;
        }
        while let Some(place) = by[node] {
            self.edges[place].room -= 1;
            self.edges[place ^ 1].room += 1;
            node = self.edges[place ^ 1].to;
        }
        true
    }
}
