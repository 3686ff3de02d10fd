//! Watchers whose marks differ from what chance would give, as questions for the trainer and never as accusations.

use std::collections::BTreeMap;

use breakdown::{ItemId, JobCode};
use jiff::civil::{Date, DateTime};
use stats::people::benjamini_hochberg;
use stats::{Probability, Proportion, StatsError};

use crate::effective::standing_events;
use crate::event::{DrawMark, EventKind, History, ObservedDraw, PersonId, Setting, SpotCheck};
use crate::versions::Versions;

/// One preceptor's marks, and how their learners did later.
#[derive(Debug, Clone, PartialEq)]
pub struct WatcherFacts {
    /// Who watched.
    pub watcher: PersonId,
    /// Draws on which they marked a missed safety point, of those they watched.
    pub marked: Proportion,
    /// The same of every other watcher of the job; `None` when nobody else watched.
    pub others: Option<Proportion>,
    /// Chance of so few marked faults or fewer, were they to see what the others see.
    pub so_few: Option<Probability>,
    /// Their learners' draws with a missed safety point, of those the trainer or others watched after release; `None`
    /// when there is none. A learner is theirs when they watched most of the draws before release.
    pub later: Option<Proportion>,
    /// The same of every other preceptor's learners.
    pub later_others: Option<Proportion>,
    /// Chance of so many later faults or more, were their learners like the others'.
    pub later_so_many: Option<Probability>,
    /// Worth asking about: a chance of less than 1 in 20 also when all watchers are looked at together.
    pub questions: Vec<String>,
}

/// Chance below which a question is worth asking: 1 in 20, common practice.
const RARE: f64 = 0.05;

/// Chance of at most `marked` faults in so many draws, given those of others and what is not known of their rate.
///
/// # Formula
/// Beta-binomial: the others' rate is Beta(x + 1/2, n − x + 1/2) after x of n; the sum over k up to those marked.
/// # Range
/// Up to 100,000 draws.
/// # Ends
/// Every draw marked: 1.
/// # Source
/// Posterior predictive of the binomial; by definition.
/// # Check
/// None marked in n by the product (b / (a + b)) ((b + 1) / (a + b + 1)) ... by hand; scipy's `betabinom`.
///
/// # Example
/// ```
/// use practice::chance_of_so_few;
/// use stats::Proportion;
///
/// // The others marked none on their one draw: Beta(1/2, 3/2), so none in one draw has the chance 3/4.
/// let chance = chance_of_so_few(Proportion::new(0, 1)?, Proportion::new(0, 1)?)?;
/// assert!((chance.get() - 0.75).abs() < 1e-12);
/// # Ok::<(), stats::StatsError>(())
/// ```
pub fn chance_of_so_few(marked: Proportion, others: Proportion) -> Result<Probability, StatsError> {
    let (n, k_most) = (marked.trials() as f64, marked.events());
    let a = others.events() as f64 + 0.5;
    let b = (others.trials() - others.events()) as f64 + 0.5;
    // None marked, then each next by its ratio.
    let mut term: f64 = (0..marked.trials()).map(|i| (b + i as f64) / (a + b + i as f64)).product();
    let mut sum = term;
    for k in 0..k_most {
        let k = k as f64;
        term *= (n - k) / (k + 1.0) * (a + k) / (b + n - k - 1.0);
        sum += term;
    }
    Probability::new(sum.min(1.0))
}

/// Chance of at least so many faults, the other end of [`chance_of_so_few`].
fn chance_of_so_many(seen: Proportion, others: Proportion) -> Result<Probability, StatsError> {
    match seen.events().checked_sub(1) {
        None => Probability::new(1.0),
        Some(fewer) => {
            let below = chance_of_so_few(Proportion::new(fewer, seen.trials())?, others)?;
            Probability::new((1.0 - below.get()).clamp(0.0, 1.0))
        }
    }
}

/// What each watcher of a job marked, and how their learners did after release, on a day.
pub fn watcher_facts(history: &History, job: &JobCode, today: Date) -> Result<Vec<WatcherFacts>, StatsError> {
    let gathered = Gathered::read(history, job, today);
    let total = |counts: &BTreeMap<PersonId, (u64, u64)>, without: &PersonId| {
        counts
            .iter()
            .filter(|(who, _)| *who != without)
            .fold((0, 0), |sum, (_, one)| (sum.0 + one.0, sum.1 + one.1))
    };
    let share = |(events, trials): (u64, u64)| Proportion::new(events, trials).ok();
    let mut facts = Vec::new();
    for (watcher, counts) in &gathered.marked {
        let Some(marked) = share(*counts) else { continue };
        let others = share(total(&gathered.marked, watcher));
        let later = gathered.later.get(watcher).copied().and_then(share);
        let later_others = share(total(&gathered.later, watcher));
        let so_few = others.map(|others| chance_of_so_few(marked, others)).transpose()?;
        let later_so_many = match (later, later_others) {
            (Some(later), Some(others)) => Some(chance_of_so_many(later, others)?),
            _ => None,
        };
        facts.push(WatcherFacts {
            watcher: watcher.clone(),
            marked,
            others,
            so_few,
            later,
            later_others,
            later_so_many,
            questions: Vec::new(),
        });
    }
    ask(&mut facts);
    Ok(facts)
}

/// Draws of each released person that somebody watched after the release, in the order in which they happened: true where
/// a safety point was missed. For [`fault_watch`](crate::fault_watch).
pub fn outcomes_after_release(
    history: &History,
    job: &JobCode,
    today: Date,
) -> BTreeMap<PersonId, Vec<bool>> {
    Gathered::read(history, job, today).outcomes
}

/// Writes the questions, with the chances adjusted for looking at everybody.
fn ask(facts: &mut [WatcherFacts]) {
    let adjusted = |chances: &[Option<Probability>]| -> Vec<Option<f64>> {
        let known: Vec<Probability> = chances.iter().flatten().copied().collect();
        let mut together = benjamini_hochberg(&known).into_iter();
        chances.iter().map(|chance| chance.and_then(|_| together.next()).map(Probability::get)).collect()
    };
    let few = adjusted(&facts.iter().map(|one| one.so_few).collect::<Vec<_>>());
    let many = adjusted(&facts.iter().map(|one| one.later_so_many).collect::<Vec<_>>());
    for ((one, few), many) in facts.iter_mut().zip(few).zip(many) {
        if let (Some(chance), Some(together), Some(others)) = (one.so_few, few, one.others)
            && together < RARE
        {
            one.questions.push(format!(
                "{} marked a missed safety point on {} of {} draws, other watchers on {} of {}. By chance alone this \
                 would happen in {}. Easier draws, better learners, or a mark that is hard to give? Watch a draw \
                 together and compare.",
                one.watcher,
                one.marked.events(),
                one.marked.trials(),
                others.events(),
                others.trials(),
                in_a_hundred(chance.get()),
            ));
        }
        if let (Some(chance), Some(together), Some(later), Some(others)) =
            (one.later_so_many, many, one.later, one.later_others)
            && together < RARE
        {
            one.questions.push(format!(
                "After release, learners whom {} watched most missed a safety point on {} of {} draws, others' learners \
                 on {} of {}. By chance alone this would happen in {}. Was something shown another way? Go through the \
                 breakdown together.",
                one.watcher,
                later.events(),
                later.trials(),
                others.events(),
                others.trials(),
                in_a_hundred(chance.get()),
            ));
        }
    }
}

fn in_a_hundred(chance: f64) -> String {
    match chance * 100.0 {
        cases if cases < 1.0 => "fewer than 1 of 100 cases".to_owned(),
        cases => format!("{cases:.0} of 100 cases"),
    }
}

#[derive(Default)]
struct Gathered {
    /// Draws with a missed safety point and draws, by watcher.
    marked: BTreeMap<PersonId, (u64, u64)>,
    /// The same after release, by who watched most before it.
    later: BTreeMap<PersonId, (u64, u64)>,
    /// After release, by who drew.
    outcomes: BTreeMap<PersonId, Vec<bool>>,
}

impl Gathered {
    fn read(history: &History, job: &JobCode, today: Date) -> Gathered {
        let events = standing_events(history);
        let versions = Versions::read(&events);
        let mut released: BTreeMap<&PersonId, DateTime> = BTreeMap::new();
        let mut watched: Vec<(DateTime, &ObservedDraw)> = Vec::new();
        for known in events.iter().filter(|known| known.event.happened.date() <= today) {
            match &known.event.kind {
                EventKind::Released(release) if release.job == *job => {
                    released.entry(&release.person).or_insert(known.event.happened);
                }
                EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))
                    if draw.job == *job && draw.setting == Setting::RealPatient =>
                {
                    watched.push((known.event.happened, draw));
                }
                _ => {}
            }
        }
        let mut gathered = Gathered::default();
        let mut before: BTreeMap<&PersonId, BTreeMap<&PersonId, u64>> = BTreeMap::new();
        let mut after: BTreeMap<&PersonId, (u64, u64)> = BTreeMap::new();
        for (happened, draw) in watched {
            let safety: Vec<ItemId> =
                versions.get(job, draw.version).map(|one| one.breakdown.safety_points()).unwrap_or_default();
            let missed =
                draw.items.iter().any(|one| one.mark == DrawMark::NotDone && safety.contains(&one.item));
            let count = gathered.marked.entry(draw.watched_by.clone()).or_default();
            *count = (count.0 + u64::from(missed), count.1 + 1);
            if released.get(&draw.drawn_by).is_some_and(|released| happened > *released) {
                gathered.outcomes.entry(draw.drawn_by.clone()).or_default().push(missed);
                let count = after.entry(&draw.drawn_by).or_default();
                *count = (count.0 + u64::from(missed), count.1 + 1);
            } else {
                *before.entry(&draw.drawn_by).or_default().entry(&draw.watched_by).or_default() += 1;
            }
        }
        for (learner, (faults, draws)) in after {
            let watchers = before.get(learner).into_iter().flatten();
            // The first by identifier where two watched as many.
            if let Some((watcher, _)) = watchers.max_by_key(|(who, n)| (**n, std::cmp::Reverse(**who))) {
                let count = gathered.later.entry((*watcher).clone()).or_default();
                *count = (count.0 + faults, count.1 + draws);
            }
        }
        gathered
    }
}
