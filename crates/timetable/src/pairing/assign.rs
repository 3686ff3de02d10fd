//! Who watches which pairing, once it is known who learns when.

use std::collections::BTreeMap;

use super::network::Network;
use super::prepared::Prepared;

/// What it costs to give a known pairing another preceptor, against one step of an uneven load.
const OTHER_PRECEPTOR: i64 = 10_000;

/// A preceptor for each pairing (learner and shift): those already named where possible, the load as even as it can be
/// (least sum of squares). `None` when the pairings cannot all be watched.
///
/// Successive shortest paths on the network pairing, preceptor on that shift, preceptor in that week, preceptor.
pub(crate) fn assign(prepared: &Prepared<'_>, pairings: &[(usize, usize)]) -> Option<Vec<usize>> {
    let problem = prepared.problem;
    let mut named = BTreeMap::new();
    for pairing in problem.known.iter().flat_map(|known| &known.pairings) {
        named.insert((pairing.learner, pairing.shift), pairing.preceptor);
    }
    let mut network = Network::default();
    let (source, sink) = (network.node(), network.node());
    let n_most = pairings.len() as u32;
    let weeks: Vec<Vec<usize>> = problem
        .preceptors
        .iter()
        .map(|preceptor| {
            let whole = network.node();
            for step in 0..preceptor.most_in_all.min(n_most) {
                network.edge(whole, sink, 1, 2 * i64::from(step) + 1);
            }
            (0..prepared.n_weeks)
                .map(|_| {
                    let week = network.node();
                    network.edge(week, whole, preceptor.most_per_week, 0);
                    week
                })
                .collect()
        })
        .collect();
    let mut on_shift: BTreeMap<(usize, usize), usize> = BTreeMap::new();
    let mut chosen = Vec::with_capacity(pairings.len());
    for (learner, shift) in pairings {
        let node = network.node();
        network.edge(source, node, 1, 0);
        let mut edges = Vec::new();
        for preceptor in &prepared.on[*shift] {
            let here = *on_shift.entry((*preceptor, *shift)).or_insert_with(|| {
                let here = network.node();
                network.edge(here, weeks[*preceptor][problem.shifts[*shift].week], 1, 0);
                here
            });
            let cost = match named.get(&(*learner, *shift)) {
                Some(known) if *known != Some(*preceptor) => OTHER_PRECEPTOR,
                _ => 0,
            };
            edges.push((*preceptor, network.edge(node, here, 1, cost)));
        }
        chosen.push(edges);
    }
    for _ in pairings {
        if !network.augment(source, sink) {
            return None;
        }
    }
    chosen
        .into_iter()
        .map(|edges| edges.into_iter().find(|(_, edge)| network.is_full(*edge)).map(|(p, _)| p))
        .collect()
}
