//! Whether every learner can have the fewest watched shifts asked for, exactly.

use super::network::Network;
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
        network.edge(shifts[place], node, u32::from(shift.turns), 0);
        turned.push(node);
    }
    for preceptor in &problem.preceptors {
        let whole = network.node();
        network.edge(whole, sink, preceptor.most_in_all, 0);
        let weeks: Vec<usize> = (0..prepared.n_weeks).map(|_| network.node()).collect();
        for week in &weeks {
            network.edge(*week, whole, preceptor.most_per_week, 0);
        }
        for shift in &preceptor.shifts {
            network.edge(turned[*shift], weeks[problem.shifts[*shift].week], 1, 0);
        }
    }
    let mut from_source = Vec::new();
    let mut pairs = Vec::new();
    for (l, learner) in prepared.learners.iter().enumerate() {
        let node = network.node();
        from_source.push(network.edge(source, node, problem.learners[l].least_pairings, 0));
        let weeks: Vec<usize> = (0..learner.n_weeks).map(|_| network.node()).collect();
        for week in &weeks {
            network.edge(node, *week, problem.learners[l].most_per_week, 0);
        }
        for item in &learner.items {
            pairs.push((l, item.shift, network.edge(weeks[item.week], shifts[item.shift], 1, 0)));
        }
    }
    while network.augment(source, sink) {}
    let short: Vec<(usize, u32)> = from_source
        .iter()
        .enumerate()
        .map(|(l, edge)| (l, network.room(*edge)))
        .filter(|(_, missing)| *missing > 0)
        .collect();
    if !short.is_empty() {
        return Err(short);
    }
    Ok(pairs
        .into_iter()
        .filter(|(_, _, edge)| network.is_full(*edge))
        .map(|(l, shift, _)| (l, shift))
        .collect())
}
