//! Sets patient by patient, in order of time.

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
    /// Orders the sets of a table. A counting sort by patient, then a sort of each patient's few sets by the latest
    /// and the earliest moment they can have been taken, then by specimen number.
    pub fn of(table: &SetTable) -> Self {
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
        let order = |place: &u32| {
            let timing = table.timing(*place as usize);
            (timing.latest, timing.earliest)
        };
        let mut start = 0;
        for &end in &ends {
            let sets = &mut places[start..end as usize];
            if sets.len() > 1 {
                sets.sort_unstable_by(|a, b| {
                    order(a)
                        .cmp(&order(b))
                        .then_with(|| (table.id(*a as usize), a).cmp(&(table.id(*b as usize), b)))
                });
            }
            start = end as usize;
        }
        Self { places, ends }
    }

    /// The sets of each patient, by time.
    pub fn patients(&self) -> impl Iterator<Item = &[u32]> {
        let mut start = 0;
        self.ends.iter().map(move |&end| {
            let sets = &self.places[start..end as usize];
            start = end as usize;
            sets
        })
    }
}
