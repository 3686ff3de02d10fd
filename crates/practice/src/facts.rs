//! What the book says about each key point: how often it was missed, and where two watchers differed.

use breakdown::{ItemId, ItemKind, JobCode, KeyPointKind};
use jiff::civil::Date;
use stats::agreement::{Agreement, RatingCounts, RatingTable, gwet_ac1};
use stats::{ConfidenceLevel, Proportion, StatsError};
use teachback::Mark;

use crate::effective::standing_events;
use crate::event::{DrawMark, EventKind, History, ObservedDraw, Setting, SpotCheck};
use crate::file::Files;
use crate::versions::{Published, Versions};

/// How an item was done over a number of draws on real patients.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct DoneCounts {
    /// Done without help.
    pub done: u64,
    /// Done after a prompt.
    pub after_prompt: u64,
    /// Not done, or done wrong.
    pub not_done: u64,
    /// Did not apply.
    pub not_applicable: u64,
    /// Not seen, or not marked.
    pub not_seen: u64,
}

impl DoneCounts {
    /// Draws on which somebody saw whether it was done.
    pub fn seen(&self) -> u64 {
        self.done + self.after_prompt + self.not_done
    }

    /// Not done, out of the draws on which it was seen; an error when it was never seen.
    pub fn missed(&self) -> Result<Proportion, StatsError> {
        Proportion::new(self.not_done, self.seen())
    }

    /// Done only after a prompt, out of the draws on which it was seen; an error when it was never seen.
    pub fn prompted(&self) -> Result<Proportion, StatsError> {
        Proportion::new(self.after_prompt, self.seen())
    }

    fn add(&mut self, mark: DrawMark) {
        let count = match mark {
            DrawMark::Done => &mut self.done,
            DrawMark::AfterPrompt => &mut self.after_prompt,
            DrawMark::NotDone => &mut self.not_done,
            DrawMark::NotApplicable => &mut self.not_applicable,
            DrawMark::NotSeen => &mut self.not_seen,
        };
        *count += 1;
    }
}

/// How an item was said over a number of passes of a teach-back.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct SaidCounts {
    /// Without help.
    pub unprompted: u64,
    /// After a neutral question.
    pub prompted: u64,
    /// Only when led: not known.
    pub led: u64,
    /// In part.
    pub partial: u64,
    /// Not said.
    pub missed: u64,
    /// Something false was said.
    pub wrong: u64,
    /// Something false was said on a safety point.
    pub unsafe_: u64,
}

impl SaidCounts {
    /// Passes in which the item was judged.
    pub fn judged(&self) -> u64 {
        self.unprompted + self.prompted + self.led + self.partial + self.missed + self.wrong + self.unsafe_
    }

    /// Not known (led, in part, not said, wrong or unsafe), out of the passes in which it was judged; an error when
    /// it was never judged.
    pub fn not_known(&self) -> Result<Proportion, StatsError> {
        Proportion::new(self.judged() - self.unprompted - self.prompted, self.judged())
    }

    fn add(&mut self, mark: Mark) {
        let count = match mark {
            Mark::Unprompted => &mut self.unprompted,
            Mark::Prompted => &mut self.prompted,
            Mark::Led => &mut self.led,
            Mark::Partial => &mut self.partial,
            Mark::Missed => &mut self.missed,
            Mark::Wrong => &mut self.wrong,
            Mark::Unsafe => &mut self.unsafe_,
        };
        *count += 1;
    }
}

/// One key point of the breakdown in force, with what was said and what was done about it. The two stay apart.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct KeyPointFact {
    /// Place.
    pub item: ItemId,
    /// What it says.
    pub text: String,
    /// Whether it is a safety point.
    pub safety: bool,
    /// How it was said.
    pub said: SaidCounts,
    /// How it was done.
    pub done: DoneCounts,
}

/// Counts for each key point of the breakdown in force on a day, over everybody, since the last major change.
///
/// A draw that two people watched counts once, with the worse mark; draws on a training arm and draws taken over do
/// not count. Empty when no breakdown of the job is in force.
pub fn key_point_facts(history: &History, job: &JobCode, today: Date) -> Vec<KeyPointFact> {
    let events = standing_events(history);
    let versions = Versions::read(&events);
    let files = Files::read(&events, &versions, today);
    let Some(Published { breakdown, .. }) = versions.in_force(job, today) else { return Vec::new() };
    let mut facts: Vec<_> = breakdown
        .items()
        .into_iter()
        .filter(|item| item.id.kind() == ItemKind::KeyPoint)
        .map(|item| KeyPointFact {
            item: item.id,
            text: item.text.to_owned(),
            safety: item.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety),
            said: SaidCounts::default(),
            done: DoneCounts::default(),
        })
        .collect();
    for file in files.files.iter().filter(|((_, of), _)| of == job).map(|(_, file)| file) {
        let draws = file
            .draws
            .iter()
            .filter(|draw| draw.is_practice && versions.is_current(job, draw.version, today));
        for draw in draws {
            facts.iter_mut().for_each(|fact| fact.done.add(draw.mark(fact.item)));
        }
        for pass in file.passes.iter().filter(|pass| versions.is_current(job, pass.teachback.version, today))
        {
            for fact in &mut facts {
                let heard = pass.teachback.items.iter().filter(|heard| heard.item == fact.item);
                if let Some(mark) = heard.map(|heard| heard.mark).max() {
                    fact.said.add(mark);
                }
            }
        }
    }
    facts
}

/// Marks that two watchers gave the same item of the same draws, where both saw it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct PairedMarks {
    /// Place.
    pub item: ItemId,
    /// One pair per draw: the mark of the watcher recorded first, then the other's.
    pub pairs: Vec<(DrawMark, DrawMark)>,
}

impl PairedMarks {
    /// Draws on which both gave the same mark, out of those on which both saw it; an error when there is none.
    pub fn agreement(&self) -> Result<Proportion, StatsError> {
        let same = self.pairs.iter().filter(|(one, other)| one == other).count();
        Proportion::new(same as u64, self.pairs.len() as u64)
    }

    /// Agreement beyond chance (Gwet's AC1, `stats::agreement::gwet_ac1`) over done, after a prompt and not done; an error
    /// when no draw was seen by both. AC1 rather than kappa, because nearly every mark is "done".
    pub fn ac1(&self, level: ConfidenceLevel) -> Result<Agreement, StatsError> {
        let category = |mark: DrawMark| match mark {
            DrawMark::Done | DrawMark::NotApplicable | DrawMark::NotSeen => 0,
            DrawMark::AfterPrompt => 1,
            DrawMark::NotDone => 2,
        };
        let pairs: Vec<_> =
            self.pairs.iter().map(|(one, other)| (category(*one), category(*other))).collect();
        Ok(gwet_ac1(&RatingCounts::from_table(&RatingTable::from_pairs(3, &pairs)?), level))
    }
}

/// Key points of a job on which two people marked the same draw, on versions that are current on a day.
///
/// Two entries are of one draw when the same person drew and both name the same specimen number, or, where one of
/// them names none, when they happened at the same minute.
pub fn paired_marks(history: &History, job: &JobCode, today: Date) -> Vec<PairedMarks> {
    let events = standing_events(history);
    let versions = Versions::read(&events);
    let watched: Vec<_> = events
        .iter()
        .filter(|known| known.event.happened.date() <= today)
        .filter_map(|known| match &known.event.kind {
            EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw)) => {
                Some((known.event.happened, draw))
            }
            _ => None,
        })
        .filter(|(_, draw)| draw.job == *job && draw.setting == Setting::RealPatient)
        .filter(|(_, draw)| versions.is_current(job, draw.version, today))
        .collect();
    let mut pairs: std::collections::BTreeMap<ItemId, Vec<(DrawMark, DrawMark)>> = Default::default();
    for (place, (happened, first)) in watched.iter().enumerate() {
        let second = watched[place + 1..].iter().find(|(other_happened, other)| {
            other.drawn_by == first.drawn_by
                && other.watched_by != first.watched_by
                && match (&first.specimen, &other.specimen) {
                    (Some(one), Some(two)) => one == two,
                    _ => happened == other_happened,
                }
        });
        if let Some((_, second)) = second {
            for marked in first.items.iter().filter(|marked| marked.item.kind() == ItemKind::KeyPoint) {
                if let (Some(one), Some(two)) = (seen(first, marked.item), seen(second, marked.item)) {
                    pairs.entry(marked.item).or_default().push((one, two));
                }
            }
        }
    }
    pairs.into_iter().map(|(item, pairs)| PairedMarks { item, pairs }).collect()
}

fn seen(draw: &ObservedDraw, item: ItemId) -> Option<DrawMark> {
    draw.items
        .iter()
        .find(|marked| marked.item == item)
        .map(|marked| marked.mark)
        .filter(|mark| matches!(mark, DrawMark::Done | DrawMark::AfterPrompt | DrawMark::NotDone))
}
