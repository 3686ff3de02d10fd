//! Supplies for a number of draws.

use crate::model::{Breakdown, Supply};

/// What must lie ready for a number of draws.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct SupplyNeed {
    /// What.
    pub name: String,
    /// How many for all draws; `None` where the breakdown gives no count.
    pub count: Option<u64>,
}

/// Supplies for `n_draws` runs of the job, the same supply on two lines put together.
pub fn supplies(breakdown: &Breakdown, n_draws: u32) -> Vec<SupplyNeed> {
    let mut needs: Vec<SupplyNeed> = Vec::new();
    for Supply { count, name } in &breakdown.supplies {
        let count = count.map(|count| u64::from(count) * u64::from(n_draws));
        match needs.iter_mut().find(|need| need.name.eq_ignore_ascii_case(name)) {
            Some(need) => need.count = need.count.zip(count).map(|(known, more)| known + more),
            None => needs.push(SupplyNeed { name: name.clone(), count }),
        }
    }
    needs
}
