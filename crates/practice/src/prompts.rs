//! How long a run of clean draws that is long enough waits until the prompts on its last draws are few enough.

use crate::rule::ReleaseRule;

/// Most places of prompts that are kept at once, 16 bytes each. A rule with more gets no chances with prompts.
const MOST_PLACES: usize = 4_000_000;

/// Draws beyond which the wait is not followed.
const LONGEST_WAIT: usize = 10_000;

/// A wait of which so little is left is not followed further.
const NOTHING: f64 = 1e-20;

/// Further clean draws of a run that is just long enough, all else of the rule being there, until its last draws have no
/// more prompts than allowed.
///
/// Nothing was asked of the prompts before, so the draws that count are prompted or not each for itself, and the wait is
/// the same for every fault rate, number of draws and score. It is worked out once for a curve.
#[derive(Debug, Clone, PartialEq)]
pub(crate) struct Waiting {
    /// Chance of just so many, from 0 on.
    pub(crate) just: Vec<f64>,
    /// Chance of more than so many.
    pub(crate) more: Vec<f64>,
    /// The share by which both fall from draw to draw after the last.
    pub(crate) share: f64,
}

impl Waiting {
    /// Nobody waits.
    pub(crate) fn none() -> Waiting {
        Waiting { just: vec![1.0], more: vec![0.0], share: 0.0 }
    }

    /// For somebody prompted on so many of their clean draws; `None` where the rule tells apart more places of prompts
    /// than are kept.
    pub(crate) fn of_rule(rule: &ReleaseRule, prompt_rate: f64) -> Option<Waiting> {
        let run = usize::from(rule.clean_in_a_row);
        // As many prompts as draws can never be too many: one on each draw at most.
        match rule.safety_prompts_allowed.map(usize::from).filter(|allowed| *allowed < run) {
            Some(allowed) if prompt_rate > 0.0 => Waiting::of(run, allowed, prompt_rate),
            _ => Some(Waiting::none()),
        }
    }

    fn of(run: usize, allowed: usize, prompted: f64) -> Option<Waiting> {
        if prompted >= 1.0 {
            return Some(Waiting { just: vec![0.0], more: vec![1.0], share: 1.0 });
        }
        if allowed == 0 {
            return Some(Waiting::of_unprompted_run(run, prompted));
        }
        let mut places = Places::before_the_first_look(run, allowed, prompted)?;
        Some(Waiting::followed(run, allowed, prompted, |_, _| places.draw()))
    }

    /// With no prompt allowed only the last prompt matters.
    fn of_unprompted_run(run: usize, prompted: f64) -> Waiting {
        let plain = 1.0 - prompted;
        let clear = (0..run).fold(1.0, |chance, _| chance * plain);
        Waiting::followed(run, 0, prompted, |more, n| {
            // A prompt just before the last `run` draws, and until then no run without; the same for a prompt on one of
            // them and none after it. What was before the first look is not known to have had one.
            let before = |draws: usize| n.checked_sub(draws).map_or(1.0, |at| more[at]);
            let just = prompted * clear * before(run + 1);
            let (still, _) = (1..=run)
                .fold((0.0, prompted), |(sum, chance), draws| (sum + chance * before(draws), chance * plain));
            (just, still)
        })
    }

    /// The wait from its first draws on. `draw` gives the chances that it ends with the next draw, the n-th, and that it
    /// does not; it is handed the chances so far.
    fn followed(
        run: usize,
        allowed: usize,
        prompted: f64,
        mut draw: impl FnMut(&[f64], usize) -> (f64, f64),
    ) -> Waiting {
        // At the first look: the binomial chances of so many prompts on the draws that count.
        let mut chances = vec![0.0; run + 1];
        chances[0] = 1.0;
        for _ in 0..run {
            for n in (0..=run).rev() {
                let fewer = if n > 0 { chances[n - 1] } else { 0.0 };
                chances[n] = chances[n] * (1.0 - prompted) + fewer * prompted;
            }
        }
        let few: f64 = chances[..=allowed].iter().sum();
        let many: f64 = chances[allowed + 1..].iter().rev().sum();
        let mut waiting = Waiting { just: vec![few], more: vec![many], share: 0.0 };
        let (mut hazard, mut n_same) = (0.0f64, 0);
        for n in 1..=LONGEST_WAIT {
            let before = waiting.more[n - 1];
            if before < NOTHING {
                break;
            }
            let (just, more) = draw(&waiting.more, n);
            waiting.just.push(just);
            waiting.more.push(more);
            waiting.share = more / before;
            // The first looks share draws with what was before them, so for a while they may be alike by themselves.
            let now = just / before;
            n_same = if n > run && (now - hazard).abs() <= 1e-13 * now { n_same + 1 } else { 0 };
            hazard = now;
            if n_same >= 16 {
                break;
            }
        }
        waiting
    }

    /// Sums over the wait t of `q^t` times the chance of just so many and of more than so many, for a run that goes on
    /// from draw to draw with chance q.
    pub(crate) fn sums(&self, clean: f64) -> (f64, f64) {
        let to_the_end = |chances: &[f64]| {
            let mut power = 1.0;
            let mut sum = 0.0;
            for chance in chances {
                sum += chance * power;
                power *= clean;
            }
            let last = chances.last().map_or(0.0, |chance| chance * power);
            if last == 0.0 { sum } else { sum + last * self.share / (1.0 - self.share * clean) }
        };
        (to_the_end(&self.just), to_the_end(&self.more))
    }
}

/// Where the latest prompts of a run are that still has too many on its last draws: of one more than allowed, the draw of
/// the latest and the gaps between them. The earliest of them is the one to wait for: with each draw those are through
/// whose earliest leaves the last draws, unless there is a new prompt.
struct Places {
    run: usize,
    allowed: usize,
    prompted: f64,
    /// For each of the last `run` draws as the latest prompt: by the gaps in order, the chance of these, and its sum over
    /// the last gap from 1 up.
    latest: Vec<Vec<(f64, f64)>>,
    newest: usize,
    /// Where a row of last gaps ends, and how many it has.
    rows: Vec<(usize, usize)>,
    /// The rows that differ in their last gap but one only, in order.
    groups: Vec<std::ops::Range<usize>>,
    /// What the numbers in `latest` are to be multiplied by: a draw without a prompt changes this and nothing else.
    scale: f64,
}

impl Places {
    /// Before the first look, when nothing is known: `None` with too many places.
    fn before_the_first_look(run: usize, allowed: usize, prompted: f64) -> Option<Places> {
        // All ways to choose the gaps: run - 1 over allowed.
        let mut ways = 1usize;
        for part in 1..=allowed.min(run - 1 - allowed) {
            ways = ways * (run - part) / part;
            if ways * run > MOST_PLACES {
                return None;
            }
        }
        let mut places = Places {
            run,
            allowed,
            prompted,
            latest: Vec::new(),
            newest: 0,
            rows: Vec::new(),
            groups: Vec::new(),
            scale: 1.0,
        };
        let mut sums = Vec::new();
        if allowed == 1 {
            places.rows.push((run - 1, run - 1));
            places.groups.push(0..1);
            sums.push(0);
        } else {
            places.lay_out(allowed - 2, 0, &mut sums);
        }
        // Each prompt and each draw without one after the earliest of them.
        let plain = 1.0 - prompted;
        let first = libm::pow(prompted, allowed as f64 + 1.0);
        places.latest = (0..run)
            .map(|draws_since| {
                let mut chances = Vec::with_capacity(ways);
                for ((_, n_gaps), sum) in places.rows.iter().zip(&sums) {
                    let mut so_far = 0.0;
                    let mut chance =
                        first * libm::pow(plain, (draws_since + sum + 1) as f64 - allowed as f64);
                    for _ in 0..*n_gaps {
                        so_far += chance;
                        chances.push((chance, so_far));
                        chance *= plain;
                    }
                }
                chances
            })
            .collect();
        // The latest prompt on the last draw stands first, and from there backwards.
        places.latest[1..].reverse();
        Some(places)
    }

    /// Rows by all gaps but the last two in order, so many of them; `sum` is that of the gaps before. `sums` gets the sum
    /// of all gaps but the last of each row.
    fn lay_out(&mut self, n_gaps: usize, sum: usize, sums: &mut Vec<usize>) {
        let left = self.run - 1 - sum;
        if n_gaps > 0 {
            // Two more gaps at least come after it.
            for gap in 1..left.saturating_sub(n_gaps) {
                self.lay_out(n_gaps - 1, sum + gap, sums);
            }
            return;
        }
        let begun = self.rows.len();
        let mut end = self.rows.last().map_or(0, |(end, _)| *end);
        for gap in 1..left {
            end += left - gap;
            self.rows.push((end, left - gap));
            sums.push(sum + gap);
        }
        self.groups.push(begun..self.rows.len());
    }

    /// One more clean draw: the chances that the prompts are few enough with it for the first time, and that they are not.
    fn draw(&mut self) -> (f64, f64) {
        let plain = 1.0 - self.prompted;
        let by = self.prompted / plain;
        let now = (self.newest + 1) % self.run;
        let mut new = std::mem::take(&mut self.latest[now]);
        let mut places = new.iter_mut();
        let (mut all, mut oldest, mut sum) = (0.0, 0.0, 0.0);
        for gap in 1..self.run {
            let chances = &self.latest[(now + self.run - gap) % self.run];
            for group in &self.groups {
                if self.allowed > 1 {
                    sum = 0.0;
                }
                for (end, n_gaps) in &self.rows[group.clone()] {
                    // Rows of a group become shorter.
                    if *n_gaps < gap {
                        break;
                    }
                    // Those not through with this draw unless it has no prompt, which leaves the last of them behind.
                    let (last, together) = chances[end - gap];
                    all += together;
                    oldest += last;
                    sum += together * by;
                    if let Some(place) = places.next() {
                        *place = (together * by, sum);
                    }
                }
            }
        }
        self.latest[now] = new;
        self.newest = now;
        let just = self.scale * plain * oldest;
        let more = self.scale * (plain * (all - oldest) + self.prompted * all);
        self.scale *= plain;
        if self.scale < 1e-100 {
            self.latest.iter_mut().flatten().for_each(|(chance, sum)| {
                *chance *= self.scale;
                *sum *= self.scale;
            });
            self.scale = 1.0;
        }
        (just, more)
    }
}
