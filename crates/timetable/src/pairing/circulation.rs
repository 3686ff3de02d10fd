//! A cheapest circulation that is kept cheapest while its costs change.

use std::cmp::Reverse;
use std::collections::BinaryHeap;

/// Arcs lie in pairs, each with its way back; what flows always keeps every node even.
///
/// Heights make every arc with room cost 0 or more (reduced costs). When costs change, the arcs that would now pay are filled,
/// and what is then too much at one node goes along cheapest paths to where too little is: successive shortest paths.
#[derive(Debug, Clone, Default)]
pub(super) struct Circulation {
    to: Vec<usize>,
    room: Vec<i64>,
    cost: Vec<i64>,
    from: Vec<Vec<usize>>,
    height: Vec<i64>,
    excess: Vec<i64>,
    distance: Vec<i64>,
    by: Vec<usize>,
}

const FAR: i64 = i64::MAX;

impl Circulation {
    /// One more node.
    pub(super) fn node(&mut self) -> usize {
        self.from.push(Vec::new());
        self.height.push(0);
        self.excess.push(0);
        self.from.len() - 1
    }

    /// One more arc without a cost; its place.
    pub(super) fn arc(&mut self, from: usize, to: usize, room: i64) -> usize {
        let place = self.to.len();
        self.to.extend([to, from]);
        self.room.extend([room, 0]);
        self.cost.extend([0, 0]);
        self.from[from].push(place);
        self.from[to].push(place + 1);
        place
    }

    /// Sets what a unit on an arc costs.
    pub(super) fn set_cost(&mut self, arc: usize, cost: i64) {
        self.cost[arc] = cost;
        self.cost[arc + 1] = -cost;
    }

    /// What flows on an arc.
    pub(super) fn flow(&self, arc: usize) -> i64 {
        self.room[arc + 1]
    }

    /// Height of a node: along an arc that flows and has room it rises by the arc's cost.
    pub(super) fn height(&self, node: usize) -> i64 {
        self.height[node]
    }

    /// What everything that flows costs.
    pub(super) fn cost(&self) -> i64 {
        (0..self.to.len()).step_by(2).map(|arc| self.room[arc + 1] * self.cost[arc]).sum()
    }

    /// Makes the circulation a cheapest one for the costs as they are now.
    pub(super) fn settle(&mut self) {
        for arc in 0..self.to.len() {
            let (from, to) = (self.to[arc ^ 1], self.to[arc]);
            let room = self.room[arc];
            if room > 0 && self.cost[arc] + self.height[from] < self.height[to] {
                self.push(arc, room);
                self.excess[from] -= room;
                self.excess[to] += room;
            }
        }
        while let Some(target) = self.nearest_lack() {
            let mut most = -self.excess[target];
            let mut node = target;
            while let Some(arc) = self.arc_to(node) {
                most = most.min(self.room[arc]);
                node = self.to[arc ^ 1];
            }
            most = most.min(self.excess[node]);
            self.excess[node] -= most;
            self.excess[target] += most;
            let mut node = target;
            while let Some(arc) = self.arc_to(node) {
                self.push(arc, most);
                node = self.to[arc ^ 1];
            }
        }
    }

    fn push(&mut self, arc: usize, units: i64) {
        self.room[arc] -= units;
        self.room[arc ^ 1] += units;
    }

    fn arc_to(&self, node: usize) -> Option<usize> {
        Some(self.by[node]).filter(|arc| *arc < self.to.len())
    }

    /// The nearest node with too little, from any with too much (Dijkstra); heights are brought up to it.
    fn nearest_lack(&mut self) -> Option<usize> {
        self.distance.clear();
        self.distance.resize(self.from.len(), FAR);
        self.by.clear();
        self.by.resize(self.from.len(), usize::MAX);
        let mut heap = BinaryHeap::new();
        for (node, excess) in self.excess.iter().enumerate() {
            if *excess > 0 {
                self.distance[node] = 0;
                heap.push(Reverse((0, node)));
            }
        }
        let mut done = Vec::new();
        while let Some(Reverse((distance, node))) = heap.pop() {
            if distance > self.distance[node] {
                continue;
            }
            if self.excess[node] < 0 {
                for other in done {
                    self.height[other] += self.distance[other] - distance;
                }
                return Some(node);
            }
            done.push(node);
            for arc in &self.from[node] {
                let to = self.to[*arc];
                if self.room[*arc] > 0 {
                    let reached = distance + self.cost[*arc] + self.height[node] - self.height[to];
                    if reached < self.distance[to] {
                        self.distance[to] = reached;
                        self.by[to] = *arc;
                        heap.push(Reverse((reached, to)));
                    }
                }
            }
        }
        None
    }
}
