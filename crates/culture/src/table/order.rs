//! Sets patient by patient, in order of time.

use std::ops::Range;

use super::SetTable;

/// The sets of a table patient by patient; those of one patient by time.
#[derive(Debug, Clone)]
pub struct PatientOrder {
    /// Places of the sets.
    places: Vec<u32>,
    /// Where the sets of each patient end.
    ends: Vec<u32>,
}

impl PatientOrder {
    /// Orders the sets of a table on so many threads; the order is the same on any number. A counting sort by patient, then a sort of each patient's few sets by the latest
    /// and the earliest moment they can have been taken, then by specimen number.
    pub fn of(table: &SetTable, threads: usize) -> Self {
        let patients = &table.columns().patients;
        let mut ends = vec![0_u32; table.n_patients() as usize + 1];
        for patient in patients {
            ends[*patient as usize + 1] += 1;
        }
        for place in 1..ends.len() {
            ends[place] += ends[place - 1];
        }
        // `ends[p]` is where patient p starts; writing moves it to where p ends.
        let mut places = vec![0_u32; patients.len()];
        for (place, patient) in (0_u32..).zip(patients) {
            let next = &mut ends[*patient as usize];
            places[*next as usize] = place;
            *next += 1;
        }
        ends.pop();
        let mut order = Self { places, ends };
        order.sort(table, threads);
        order
    }

    /// Sorts each patient's sets by time; threads take patients side by side.
    fn sort(&mut self, table: &SetTable, threads: usize) {
        let parts = self.parts(threads);
        let mut places = self.places.as_mut_slice();
        let mut taken = 0;
        let mut jobs = Vec::new();
        for part in parts {
            let ends = &self.ends[part];
            let end = ends.last().map_or(taken, |end| *end as usize);
            let (own, rest) = places.split_at_mut(end - taken);
            jobs.push((own, ends, taken));
            (places, taken) = (rest, end);
        }
        let last = jobs.pop();
        std::thread::scope(|scope| {
            for (places, ends, from) in jobs {
                scope.spawn(move || sort_patients(table, places, ends, from));
            }
            if let Some((places, ends, from)) = last {
                sort_patients(table, places, ends, from);
            }
        });
    }

    /// The patients in so many parts, or fewer, with about as many sets each.
    pub(crate) fn parts(&self, n: usize) -> Vec<Range<usize>> {
        let n_sets = self.places.len();
        let mut parts = Vec::new();
        let mut start = 0;
        for part in 1..=n.max(1) {
            let sets = n_sets as u64 * part as u64 / n.max(1) as u64;
            let end = if part == n.max(1) {
                self.ends.len()
            } else {
                self.ends.partition_point(|end| u64::from(*end) <= sets)
            };
            if end > start {
                parts.push(start..end);
                start = end;
            }
        }
        parts
    }

    /// The sets of some patients, by time.
    pub(crate) fn patients_of(&self, part: Range<usize>) -> impl Iterator<Item = &[u32]> {
        let mut start = part.start.checked_sub(1).map_or(0, |above| self.ends[above]) as usize;
        self.ends[part].iter().map(move |&end| {
            let sets = &self.places[start..end as usize];
            start = end as usize;
            sets
        })
    }

    /// The sets of each patient, by time.
    pub fn patients(&self) -> impl Iterator<Item = &[u32]> {
        self.patients_of(0..self.ends.len())
    }
}

/// Sorts the sets of patients that end there; `from` places stand before them.
fn sort_patients(table: &SetTable, places: &mut [u32], ends: &[u32], from: usize) {
    let order = |place: &u32| {
        let timing = table.timing(*place as usize);
        (timing.latest, timing.earliest)
    };
    let mut start = 0;
    for &end in ends {
        let end = end as usize - from;
        let sets = &mut places[start..end];
        if sets.len() > 1 {
            sets.sort_unstable_by(|a, b| {
                order(a)
                    .cmp(&order(b))
                    .then_with(|| (table.id(*a as usize), a).cmp(&(table.id(*b as usize), b)))
            });
        }
        start = end;
    }
}
