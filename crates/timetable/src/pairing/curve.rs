use super::prepared::Prepared;

/// The upper hull of a learner's chances over a range of units.
#[derive(Debug, Clone)]
struct Hull {
    /// Units and chance, along a line that bends down only.
    points: Vec<(u32, f64)>,
}

impl Hull {
    fn over(done: &[f64], from: usize, to: usize) -> Option<Hull> {
        let mut points: Vec<(u32, f64)> = Vec::new();
        for (units, chance) in done.iter().enumerate().take(to).skip(from) {
            let now = (units as u32, *chance);
            while let [.., a, b] = points[..]
                && slope(a, b) <= slope(b, now)
            {
                points.pop();
            }
            points.push(now);
        }
        (!points.is_empty()).then_some(Hull { points })
    }

    /// The point that is best when a unit costs so much.
    fn best(&self, price: f64) -> Choice {
        // Along the hull slopes fall: as long as the next point gains more than its units cost.
        let (mut low, mut high) = (0, self.points.len() - 1);
        while low < high {
            let at = (low + high) / 2;
            if slope(self.points[at], self.points[at + 1]) > price {
                low = at + 1;
            } else {
                high = at;
            }
        }
        let (units, chance) = self.points[low];
        Choice { units, chance, value: chance - price * f64::from(units) }
    }
}

fn slope((units, chance): (u32, f64), (more, better): (u32, f64)) -> f64 {
    (better - chance) / f64::from(more - units)
}

/// Units a learner chooses at a price.
#[derive(Debug, Clone, Copy)]
pub(crate) struct Choice {
    pub(crate) units: u32,
    pub(crate) chance: f64,
    /// Chance less what the units cost.
    pub(crate) value: f64,
}

/// A learner's chances below their threshold and from it; `None` where there are no such units.
///
/// The chance of being done first bends up and then down. Over the whole range its hull would give a half of each of two
/// learners for what one whole learner needs; over either part it is all but the chance itself.
#[derive(Debug, Clone)]
pub(crate) struct Curve {
    below: Option<Hull>,
    from: Option<Hull>,
}

impl Curve {
    pub(crate) fn new(prepared: &Prepared<'_>, l: usize) -> Curve {
        let done = &prepared.problem.learners[l].done;
        let threshold = prepared.learners[l].threshold.min(done.len());
        Curve { below: Hull::over(done, 0, threshold), from: Hull::over(done, threshold, done.len()) }
    }

    /// The best choice on one side of the threshold.
    pub(crate) fn best(&self, reaches: bool, price: f64) -> Option<Choice> {
        let hull = if reaches { &self.from } else { &self.below };
        hull.as_ref().map(|hull| hull.best(price))
    }
}
