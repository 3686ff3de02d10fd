use super::circulation::Circulation;
use super::column::Prices;
use super::prepared::Prepared;

/// Whole units of cost in one learner done.
const FINE: f64 = 1e9;
/// What a turn towards the fewest watched shifts is worth more than anything else.
const MUST: f64 = 10.0;

/// How the turns of one share-out lie, by learner and place of the item, and what each learner gets of it.
#[derive(Debug, Clone)]
pub(crate) struct ShareOut {
    /// Turns in the order of the items, learner after learner.
    pub(crate) turns: Vec<u8>,
    /// Units of each learner.
    pub(crate) units: Vec<f64>,
    /// What keeping and changing known pairings brings; never too little.
    pub(crate) kept: f64,
}

/// One shift of one learner in the network.
#[derive(Debug, Clone, Copy)]
struct ItemArcs {
    turns: usize,
    /// What a pairing of few turns takes of a preceptor beyond its turns.
    beyond: Option<usize>,
}

/// Arcs on which a learner's fewest watched shifts pay.
#[derive(Debug, Clone, Copy)]
struct Least {
    whole: usize,
    turns: usize,
    /// What both pay when they are full.
    paid: f64,
}

/// What learners share, as a network: learner, week, turns of a shift, watching on the shift, preceptor in the week, preceptor.
///
/// A unit is a turn, and a pairing is T units of watching: its t turns, and T − t units beyond them. It asks for no more
/// than the limits of the problem do: a pairing may be parted, a week of a learner counts turns only, and the units beyond a
/// pairing's turns may be taken on another shift. So the best that the network can do is never below the best of a plan.
#[derive(Debug, Clone)]
pub(crate) struct Shared {
    network: Circulation,
    items: Vec<Vec<ItemArcs>>,
    least: Vec<Least>,
    nodes: Nodes,
}

/// Nodes whose heights say what things are worth.
#[derive(Debug, Clone)]
struct Nodes {
    sink: usize,
    /// By shift: its turns, and watching on it.
    shifts: Vec<usize>,
    watched: Vec<usize>,
    /// By learner: all, turns, and turns of each week.
    whole: Vec<usize>,
    in_turns: Vec<usize>,
    weeks: Vec<Vec<usize>>,
}

impl Shared {
    pub(crate) fn new(prepared: &Prepared<'_>) -> Shared {
        let problem = prepared.problem;
        let turns_of = |shift: usize| i64::from(problem.shifts[shift].turns);
        let sorted = |shifts: &mut dyn Iterator<Item = usize>| -> Vec<i64> {
            let mut turns: Vec<i64> = shifts.map(turns_of).collect();
            turns.sort_unstable();
            turns
        };
        // Most turns on so many of these shifts.
        let most_turns = |shifts: &mut dyn Iterator<Item = usize>, pairings: u32| -> i64 {
            sorted(shifts).into_iter().rev().take(pairings as usize).sum()
        };
        let mut network = Circulation::default();
        let (source, sink) = (network.node(), network.node());
        let all = problem.preceptors.iter().flat_map(|one| &one.shifts).map(|shift| turns_of(*shift)).sum();
        network.arc(sink, source, all);
        let shifts: Vec<usize> = problem.shifts.iter().map(|_| network.node()).collect();
        let watched: Vec<usize> = (0..shifts.len())
            .map(|shift| {
                let node = network.node();
                network.arc(shifts[shift], node, turns_of(shift));
                node
            })
            .collect();
        for preceptor in &problem.preceptors {
            let whole = network.node();
            let most = most_turns(&mut preceptor.shifts.iter().copied(), preceptor.most_in_all);
            network.arc(whole, sink, most);
            for week in 0..prepared.n_weeks {
                let own = || preceptor.shifts.iter().copied().filter(|s| problem.shifts[*s].week == week);
                let most = most_turns(&mut own(), preceptor.most_per_week);
                if most > 0 {
                    let node = network.node();
                    network.arc(node, whole, most);
                    own().for_each(|shift| {
                        network.arc(watched[shift], node, turns_of(shift));
                    });
                }
            }
        }
        let (mut items, mut least) = (Vec::new(), Vec::new());
        let mut nodes =
            Nodes { sink, shifts, watched, whole: Vec::new(), in_turns: Vec::new(), weeks: Vec::new() };
        for (l, learner) in prepared.learners.iter().enumerate() {
            let limits = &problem.learners[l];
            let (whole, in_turns) = (network.node(), network.node());
            let fewest = limits.least_pairings as usize;
            let own_turns = sorted(&mut learner.items.iter().map(|item| item.shift));
            let fewest_units: i64 = own_turns.into_iter().take(fewest).sum();
            least.push(Least {
                whole: network.arc(source, whole, fewest_units),
                turns: network.arc(whole, in_turns, fewest as i64),
                paid: MUST * (fewest_units + fewest as i64) as f64,
            });
            network.arc(source, whole, all);
            network.arc(whole, in_turns, all);
            let weeks: Vec<usize> = (0..learner.n_weeks)
                .map(|week| {
                    let mut own =
                        learner.items.iter().filter(|item| item.week == week).map(|item| item.shift);
                    let most = most_turns(&mut own, limits.most_per_week);
                    let here = network.node();
                    network.arc(in_turns, here, most);
                    here
                })
                .collect();
            let arcs = learner.items.iter().map(|item| {
                let turns = turns_of(item.shift);
                let has_beyond = turns > 1 && (fewest > 0 || item.cost < 0.0);
                ItemArcs {
                    turns: network.arc(weeks[item.week], nodes.shifts[item.shift], turns),
                    beyond: has_beyond.then(|| network.arc(whole, nodes.watched[item.shift], turns - 1)),
                }
            });
            items.push(arcs.collect());
            nodes.whole.push(whole);
            nodes.in_turns.push(in_turns);
            nodes.weeks.push(weeks);
        }
        Shared { network, items, least, nodes }
    }

    /// The best share-out when a unit of learner `l` is worth `worth[l]`: no less than any plan's worth, and how it lies.
    pub(crate) fn best(&mut self, prepared: &Prepared<'_>, worth: &[f64]) -> (f64, ShareOut) {
        // Rounded so that nothing is worth less than it should be.
        let cost = |gain: f64| libm::floor(-gain * FINE) as i64;
        for (l, arcs) in self.items.iter().enumerate() {
            self.network.set_cost(self.least[l].whole, cost(MUST));
            self.network.set_cost(self.least[l].turns, cost(MUST));
            for (item, arcs) in prepared.learners[l].items.iter().zip(arcs) {
                let shift = &prepared.problem.shifts[item.shift];
                let kept = -item.cost / f64::from(shift.turns);
                self.network.set_cost(arcs.turns, cost(worth[l] * f64::from(shift.units_per_turn) + kept));
                if let Some(beyond) = arcs.beyond {
                    self.network.set_cost(beyond, cost(kept));
                }
            }
        }
        self.network.settle();
        let paid: f64 = self.least.iter().map(|least| least.paid).sum();
        let value = -(self.network.cost() as f64) / FINE - paid;
        let mut share = ShareOut { turns: Vec::new(), units: Vec::with_capacity(worth.len()), kept: 0.0 };
        for (l, arcs) in self.items.iter().enumerate() {
            let mut units = 0.0;
            for (item, arcs) in prepared.learners[l].items.iter().zip(arcs) {
                let shift = &prepared.problem.shifts[item.shift];
                let turns = self.network.flow(arcs.turns);
                let beyond = arcs.beyond.map_or(0, |beyond| self.network.flow(beyond));
                units += turns as f64 * f64::from(shift.units_per_turn);
                share.kept -= item.cost * (turns + beyond) as f64 / f64::from(shift.turns);
                share.turns.push(turns as u8);
            }
            share.units.push(units);
        }
        (value, share)
    }

    /// Prices of whole pairings that say the same as the last share-out.
    pub(crate) fn prices(&self, prepared: &Prepared<'_>) -> Prices {
        let nodes = &self.nodes;
        let rise =
            |from: usize, to: usize| (self.network.height(to) - self.network.height(from)) as f64 / FINE;
        let turns_of = |shift: usize| f64::from(prepared.problem.shifts[shift].turns);
        let of_shifts = |price: &dyn Fn(usize) -> f64| (0..nodes.shifts.len()).map(price).collect();
        let most_turns =
            |l: usize| prepared.learners[l].items.iter().map(|item| turns_of(item.shift)).fold(1.0, f64::max);
        Prices {
            watch: of_shifts(&|s| (rise(nodes.watched[s], nodes.sink) * turns_of(s)).max(0.0)),
            turn: of_shifts(&|s| rise(nodes.shifts[s], nodes.watched[s]).max(0.0)),
            least: (0..nodes.whole.len())
                .map(|l| {
                    let (whole, turns) = (nodes.whole[l], nodes.in_turns[l]);
                    (rise(whole, nodes.sink) * most_turns(l) + rise(turns, whole)).max(0.0)
                })
                .collect(),
            week: nodes
                .weeks
                .iter()
                .enumerate()
                .map(|(l, weeks)| {
                    let price = |week: &usize| (rise(nodes.in_turns[l], *week) * most_turns(l)).max(0.0);
                    weeks.iter().map(price).collect()
                })
                .collect(),
        }
    }
}
