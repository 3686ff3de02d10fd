//! A network of edges with room and cost, filled unit by unit along cheapest paths.

use std::collections::VecDeque;

struct Edge {
    to: usize,
    room: u32,
    cost: i64,
}

/// Edges lie in pairs: each with its way back.
#[derive(Default)]
pub(super) struct Network {
    from: Vec<Vec<usize>>,
    edges: Vec<Edge>,
}

impl Network {
    /// One more node.
    pub(super) fn node(&mut self) -> usize {
        self.from.push(Vec::new());
        self.from.len() - 1
    }

    /// One more edge; its place.
    pub(super) fn edge(&mut self, from: usize, to: usize, room: u32, cost: i64) -> usize {
        let place = self.edges.len();
        self.edges.push(Edge { to, room, cost });
        self.edges.push(Edge { to: from, room: 0, cost: -cost });
        self.from[from].push(place);
        self.from[to].push(place + 1);
        place
    }

    /// What an edge can still take.
    pub(super) fn room(&self, edge: usize) -> u32 {
        self.edges[edge].room
    }

    /// Whether an edge can take nothing more.
    pub(super) fn is_full(&self, edge: usize) -> bool {
        self.room(edge) == 0
    }

    /// One more unit along a cheapest path, where there is one. Without costs that is a shortest one.
    pub(super) fn augment(&mut self, source: usize, sink: usize) -> bool {
        const FAR: i64 = i64::MAX;
        let mut distance = vec![FAR; self.from.len()];
        let mut by: Vec<Option<usize>> = vec![None; self.from.len()];
        let mut waits = vec![false; self.from.len()];
        distance[source] = 0;
        let mut queue = VecDeque::from([source]);
        while let Some(node) = queue.pop_front() {
            waits[node] = false;
            for place in &self.from[node] {
                let edge = &self.edges[*place];
                let reached = distance[node] + edge.cost;
                if edge.room > 0 && reached < distance[edge.to] {
                    distance[edge.to] = reached;
                    by[edge.to] = Some(*place);
                    if !std::mem::replace(&mut waits[edge.to], true) {
                        queue.push_back(edge.to);
                    }
                }
            }
        }
        if distance[sink] == FAR {
            return false;
        }
        let mut node = sink;
        while let Some(place) = by[node] {
            self.edges[place].room -= 1;
            self.edges[place ^ 1].room += 1;
            node = self.edges[place ^ 1].to;
        }
        true
    }
}
