//! Which observations belong to one culture.

use std::collections::{HashMap, HashSet};

use super::store::{Resource, Store};
use super::values::list;

/// Most observations of one report.
const MOST_OBSERVATIONS: usize = 10_000;

/// Which observations belong together: members, and those derived from others.
pub(super) struct Growth {
    derived: HashMap<usize, Vec<usize>>,
    /// Observations that belong to a report or to another observation.
    belongs: HashSet<usize>,
}

impl Growth {
    pub(super) fn of(store: &Store) -> Self {
        let mut growth = Self { derived: HashMap::new(), belongs: HashSet::new() };
        for (at, resource) in store.all().filter(|(_, resource)| resource.kind() == "Observation") {
            for reference in list(&resource.value, "derivedFrom") {
                let origin = store.resolve(at, reference);
                if let Some(origin) = origin.filter(|origin| store.at(*origin).kind() == "Observation") {
                    growth.derived.entry(origin).or_default().push(at);
                }
            }
        }
        let is_observation = |at: &usize| store.at(*at).kind() == "Observation";
        let reports = store.all().filter(|(_, resource)| resource.kind() == "DiagnosticReport");
        let mut open: Vec<usize> = reports
            .flat_map(|(at, resource)| {
                list(&resource.value, "result").filter_map(move |reference| store.resolve(at, reference))
            })
            .filter(is_observation)
            .collect();
        // Everything below a report belongs to it; so does everything below an observation that nothing is above.
        let mut above: HashSet<usize> = HashSet::new();
        for (at, _) in store.all().filter(|(at, _)| is_observation(at)) {
            above.extend(growth.next(store, at));
        }
        growth.belongs.extend(open.iter().copied());
        let roots = store.all().map(|(at, _)| at).filter(|at| is_observation(at) && !above.contains(at));
        open.extend(roots);
        let mut met: HashSet<usize> = open.iter().copied().collect();
        growth.spread(store, open, &mut met);
        // Of those that only name each other, the first is the one the others belong to.
        for (at, _) in store.all().filter(|(at, _)| is_observation(at)) {
            if met.insert(at) {
                growth.spread(store, vec![at], &mut met);
                growth.belongs.remove(&at);
            }
        }
        growth
    }

    /// Everything that is a row by itself, in the order of the files.
    pub(super) fn rows(&self, store: &Store) -> Vec<usize> {
        let is_row = |(at, resource): &(usize, &Resource)| match resource.kind() {
            "DiagnosticReport" => true,
            "Observation" => !self.belongs.contains(at),
            _ => false,
        };
        store.all().filter(is_row).map(|(at, _)| at).collect()
    }

    /// Marks what is below the open ones as belonging to something.
    fn spread(&mut self, store: &Store, mut open: Vec<usize>, met: &mut HashSet<usize>) {
        while let Some(at) = open.pop() {
            for next in self.next(store, at) {
                self.belongs.insert(next);
                if met.insert(next) {
                    open.push(next);
                }
            }
        }
    }

    /// Members of an observation and what is derived from it; not the observation itself.
    fn next(&self, store: &Store, at: usize) -> Vec<usize> {
        let members = list(&store.at(at).value, "hasMember").filter_map(|member| store.resolve(at, member));
        let derived = self.derived.get(&at).into_iter().flatten().copied();
        members.chain(derived).filter(|next| *next != at && store.at(*next).kind() == "Observation").collect()
    }

    /// What is below an observation, to the end, up to [`MOST_OBSERVATIONS`].
    pub(super) fn below(&self, store: &Store, from: usize) -> Vec<usize> {
        let mut found = Vec::new();
        let mut met = HashSet::from([from]);
        let mut open = vec![from];
        while let Some(at) = open.pop().filter(|_| found.len() < MOST_OBSERVATIONS) {
            for next in self.next(store, at) {
                if met.insert(next) {
                    found.push(next);
                    open.push(next);
                }
            }
        }
        found
    }
}
