//! A column of times in four bytes each.

use super::Moment;

/// A moment for each set: four bytes while all lie within 34 years of the first, else eight.
#[derive(Debug, Clone)]
pub struct Moments(Width);

#[derive(Debug, Clone)]
enum Width {
    /// Steps from a base; [`NONE`] where no time is known.
    Four {
        base: Option<i64>,
        steps: Vec<u32>,
    },
    Eight(Vec<Moment>),
}

const NONE: u32 = u32::MAX;

impl Default for Moments {
    fn default() -> Self {
        Self(Width::Four { base: None, steps: Vec::new() })
    }
}

fn step(base: &mut Option<i64>, moment: Moment) -> Option<u32> {
    if moment.is_none() {
        return Some(NONE);
    }
    let base = *base.get_or_insert(moment.0.saturating_sub(1 << 31));
    u32::try_from(moment.0.checked_sub(base)?).ok().filter(|step| *step != NONE)
}

impl Moments {
    /// One more set; [`Moment::NONE`] where no time is known.
    pub fn push(&mut self, moment: Moment) {
        match &mut self.0 {
            Width::Four { base, steps } => match step(base, moment) {
                Some(step) => steps.push(step),
                None => {
                    self.widen();
                    self.push(moment);
                }
            },
            Width::Eight(moments) => moments.push(moment),
        }
    }

    /// The moment of a set; [`Moment::NONE`] beyond the last.
    pub fn get(&self, place: usize) -> Moment {
        match &self.0 {
            Width::Four { base, steps } => match (base, steps.get(place)) {
                (Some(base), Some(step)) if *step != NONE => Moment(base + i64::from(*step)),
                _ => Moment::NONE,
            },
            Width::Eight(moments) => moments.get(place).copied().unwrap_or(Moment::NONE),
        }
    }

    /// Gives a set another moment. Nothing happens beyond the last set.
    pub fn set(&mut self, place: usize, moment: Moment) {
        if place >= self.len() {
            return;
        }
        match &mut self.0 {
            Width::Four { base, steps } => match step(base, moment) {
                Some(step) => steps[place] = step,
                None => {
                    self.widen();
                    self.set(place, moment);
                }
            },
            Width::Eight(moments) => moments[place] = moment,
        }
    }

    fn widen(&mut self) {
        self.0 = Width::Eight((0..self.len()).map(|place| self.get(place)).collect());
    }

    /// How many sets there are.
    pub fn len(&self) -> usize {
        match &self.0 {
            Width::Four { steps, .. } => steps.len(),
            Width::Eight(moments) => moments.len(),
        }
    }

    /// Whether there is no set.
    pub fn is_empty(&self) -> bool {
        self.len() == 0
    }

    /// Whether every set has a moment.
    pub(crate) fn all_known(&self) -> bool {
        match &self.0 {
            Width::Four { steps, .. } => steps.iter().all(|step| *step != NONE),
            Width::Eight(moments) => moments.iter().all(|moment| !moment.is_none()),
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn moment() -> impl Strategy<Value = Moment> {
        let day = 2 * 86_400_i64;
        prop_oneof![
            20 => (0_i64..20_000 * day).prop_map(Moment),
            3 => Just(Moment::NONE),
            1 => (-4_371_222 * day..2_932_897 * day).prop_map(Moment),
            1 => prop::sample::select(vec![-(1_i64 << 31), (1 << 31) - 2, (1 << 31) - 1, 1 << 31]).prop_map(Moment),
        ]
    }

    proptest! {
        /// Against a plain list.
        #[test]
        fn moments_come_back(moments in prop::collection::vec(moment(), 0..20), changes in prop::collection::vec((0_usize..25, moment()), 0..10)) {
            let mut plain = moments.clone();
            let mut column = Moments::default();
            for moment in moments {
                column.push(moment);
            }
            for (place, moment) in changes {
                if let Some(known) = plain.get_mut(place) {
                    *known = moment;
                }
                column.set(place, moment);
            }
            let there: Vec<Moment> = (0..plain.len()).map(|place| column.get(place)).collect();
            prop_assert_eq!(&there, &plain);
            prop_assert_eq!(column.len(), plain.len());
            prop_assert_eq!(column.get(plain.len()), Moment::NONE);
            prop_assert_eq!(column.all_known(), plain.iter().all(|moment| !moment.is_none()));
        }
    }
}
