//! The score of a rule as a walk: one point up with a clean draw, some down with a fault, never below 0.

use crate::rule::PointsTest;

/// Those who lack points still, by points.
#[derive(Debug, Clone)]
pub(crate) struct Walk {
    needed: usize,
    lost_by_fault: usize,
    clean: f64,
    lacking: Vec<f64>,
}

impl Walk {
    /// Somebody with so many points; nobody where they are enough.
    pub(crate) fn begun(test: Option<PointsTest>, points: u16, clean: f64) -> Walk {
        let (needed, lost_by_fault) =
            test.map_or((0, 0), |test| (usize::from(test.needed), usize::from(test.lost_by_fault)));
        let mut lacking = vec![0.0; needed];
        if let Some(here) = lacking.get_mut(usize::from(points)) {
            *here = 1.0;
        }
        Walk { needed, lost_by_fault, clean, lacking }
    }

    pub(crate) fn needed(&self) -> usize {
        self.needed
    }

    /// How many numbers of points somebody can have just after a fault, from 0 on.
    pub(crate) fn n_after_fault(&self) -> usize {
        if self.needed == 0 { 0 } else { self.needed.saturating_sub(self.lost_by_fault).max(1) }
    }

    /// Chance of lacking points.
    pub(crate) fn waiting(&self) -> f64 {
        self.lacking.iter().sum()
    }

    /// One more draw; `after_fault` gets, by points, the chance of a fault with it by those who lacked points.
    pub(crate) fn step(&mut self, after_fault: &mut [f64]) {
        let Some(last) = self.needed.checked_sub(1) else { return };
        let fault = 1.0 - self.clean;
        let kept = self.lost_by_fault.min(last);
        after_fault.fill(0.0);
        after_fault[0] = fault * self.lacking[..=kept].iter().sum::<f64>();
        for (there, mass) in after_fault.iter_mut().zip(&self.lacking[kept..]).skip(1) {
            *there = fault * mass;
        }
        self.lacking.copy_within(..last, 1);
        self.lacking[0] = 0.0;
        self.lacking.iter_mut().for_each(|mass| *mass *= self.clean);
        self.lacking.iter_mut().zip(after_fault.iter()).for_each(|(mass, more)| *mass += more);
    }

    /// What is still to come in the mean for those who lack points: one for each draw until they have them, and with
    /// each fault until then so much as `at_fault` says, by the points after it.
    ///
    /// With p points it is `X(p) = 1 + f at_fault(t) + q X(p + 1) + f X(t)`, t the points after a fault. The
    /// unknowns are taken out from the most points down, each with a band of those below it, by sums of positive numbers
    /// alone (W. K. Grassmann, M. I. Taksar, D. P. Heyman, Operations Research 33, 1985, 1107; from memory), so a mean
    /// of many draws keeps its digits.
    pub(crate) fn mean_to_come(&self, at_fault: &[f64]) -> f64 {
        let (clean, fault) = (self.clean, 1.0 - self.clean);
        let n = self.needed;
        // Of each number of points: what it adds, and its shares in those below.
        let mut adds = vec![0.0; n];
        let mut shares = vec![0.0; n * n];
        let (mut above, mut through) = (0.0, 1.0);
        for points in (0..n).rev() {
            let (here, upper) = shares.split_at_mut((points + 1) * n);
            let here = &mut here[points * n..points * n + points];
            let lowest = points.saturating_sub(self.lost_by_fault);
            if let Some(upper) = upper.get(lowest..points) {
                here[lowest..].iter_mut().zip(upper).for_each(|(share, upper)| *share = clean * upper);
            }
            if let Some(share) = here.get_mut(lowest) {
                *share += fault;
            }
            through *= clean;
            let leaves = here[lowest..].iter().sum::<f64>() + through;
            here[lowest..].iter_mut().for_each(|share| *share /= leaves);
            through /= leaves;
            above = (1.0 + fault * at_fault[lowest] + clean * above) / leaves;
            adds[points] = above;
        }
        // What a number of points adds, with what those below it add.
        for points in 1..n {
            let (below, here) = adds.split_at_mut(points);
            let lowest = points.saturating_sub(self.lost_by_fault);
            let shares = &shares[points * n..points * n + points];
            here[0] +=
                below[lowest..].iter().zip(&shares[lowest..]).map(|(add, share)| add * share).sum::<f64>();
        }
        self.lacking.iter().zip(&adds).map(|(mass, add)| mass * add).sum()
    }
}
