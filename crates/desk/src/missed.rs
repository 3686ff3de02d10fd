use std::collections::BTreeMap;

use breakdown::{ItemId, JobCode};
use practice::{KeyPointFact, SaidPair};
use stats::agreement::{Agreement, RatingCounts, RatingTable, cohen_kappa, gwet_ac1};
use stats::{ConfidenceLevel, StatsError};
use teachback::Mark;

use crate::beside::ProposalsChanged;
use crate::facts::Desk;
use crate::rate::rate;
use crate::view::Rate;

/// Fewest times a key point must have been judged, said and done together, before it is ranked. Common practice, no
/// source: below that a single learner decides.
pub const FEWEST_TO_RANK: u64 = 5;

/// One key point with how it was said and done, over all learners since the last major change.
#[derive(Debug, Clone, PartialEq)]
pub struct MissedPoint {
    /// Place.
    pub item: ItemId,
    /// What it says.
    pub text: String,
    /// Safety point.
    pub safety: bool,
    /// Not said, of the teach-backs in which it was judged.
    pub missed: Rate,
    /// Said only after a neutral question.
    pub prompted: Rate,
    /// Led or in part.
    pub in_part: Rate,
    /// Wrong or unsafe.
    pub wrong: Rate,
    /// After a prompt or not done, of the draws on which it was seen.
    pub not_done: Rate,
    /// What it cost: every time somebody had to ask, lead, put right or step in, said and done together.
    pub cost: u64,
    /// Times it was judged, said and done together.
    pub judged: u64,
}

/// How far two who listened to the same pass agree.
#[derive(Debug, Clone, PartialEq)]
pub struct ListenersAgree {
    /// Passes that two people heard.
    pub passes: u64,
    /// Items that both marked alike, of those that both marked.
    pub alike: Rate,
    /// Gwet's AC1 in words with its interval, or why there is none.
    pub ac1: String,
    /// Cohen's kappa in words with its interval, or why there is none.
    pub kappa: String,
    /// Items on which they differed, most often first, with how often and of how many.
    pub differed: Vec<(ItemId, u64, u64)>,
}

/// What many learners miss in one job.
#[derive(Debug, Clone, PartialEq)]
pub struct MissedPage {
    /// Job.
    pub job: JobCode,
    /// Its name.
    pub job_name: String,
    /// Key points judged often enough, dearest first; at the same cost safety points first.
    pub ranked: Vec<MissedPoint>,
    /// Key points judged too seldom to be ranked, in the breakdown's order.
    pub too_few: Vec<MissedPoint>,
    /// How far two listeners agree; `None` when no pass was heard by two.
    pub listeners: Option<ListenersAgree>,
    /// How often proposals from transcripts were changed; `None` when no pass was marked on a transcript.
    pub proposals: Option<ProposalsChanged>,
}

impl Desk {
    /// What many learners miss in a job; `None` for a job without a breakdown in force.
    pub fn missed(&self, job: &JobCode) -> Option<MissedPage> {
        let job_name = self.in_force(job)?.job.clone();
        let history = &self.material.history;
        let facts = practice::key_point_facts(history, job, self.today());
        let (mut ranked, too_few): (Vec<_>, Vec<_>) =
            facts.into_iter().map(missed_point).partition(|point| point.judged >= FEWEST_TO_RANK);
        ranked.sort_by_key(|point| (std::cmp::Reverse(point.cost), !point.safety, point.item));
        let pairs = practice::paired_teach_backs(history, job, self.today());
        let listeners = listeners_agree(&pairs);
        let proposals = self.proposals_changed(job);
        Some(MissedPage { job: job.clone(), job_name, ranked, too_few, listeners, proposals })
    }
}

fn missed_point(fact: KeyPointFact) -> MissedPoint {
    let said = &fact.said;
    let judged = said.judged();
    let of_said = |n: u64, what: &str| rate(n, judged, what, "teach-backs in which it was judged");
    let open_done = fact.done.after_prompt + fact.done.not_done;
    MissedPoint {
        item: fact.item,
        safety: fact.safety,
        missed: of_said(said.missed, "not said"),
        prompted: of_said(said.prompted, "after a prompt"),
        in_part: of_said(said.led + said.partial, "led or in part"),
        wrong: of_said(said.wrong + said.unsafe_, "wrong or unsafe"),
        not_done: rate(open_done, fact.done.seen(), "with help or not done", "draws on which it was seen"),
        cost: judged - said.unprompted + open_done,
        judged: judged + fact.done.seen(),
        text: fact.text,
    }
}

/// Three kinds of marks: without help, after a prompt, not known.
fn kind(mark: Mark) -> usize {
    match mark {
        Mark::Unprompted => 0,
        Mark::Prompted => 1,
        Mark::Led | Mark::Partial | Mark::Missed | Mark::Wrong | Mark::Unsafe => 2,
    }
}

fn listeners_agree(pairs: &[SaidPair]) -> Option<ListenersAgree> {
    let marks: Vec<(ItemId, usize, usize)> = pairs
        .iter()
        .flat_map(|pair| &pair.marks)
        .map(|(item, one, other)| (*item, kind(*one), kind(*other)))
        .collect();
    if marks.is_empty() {
        return None;
    }
    let mut by_item: BTreeMap<ItemId, (u64, u64)> = BTreeMap::new();
    for (item, one, other) in &marks {
        let (differing, of) = by_item.entry(*item).or_default();
        *differing += u64::from(one != other);
        *of += 1;
    }
    let alike = marks.iter().filter(|(_, one, other)| one == other).count() as u64;
    let mut differed: Vec<(ItemId, u64, u64)> = by_item
        .into_iter()
        .filter(|(_, (differing, _))| *differing > 0)
        .map(|(item, (differing, of))| (item, differing, of))
        .collect();
    differed.sort_by_key(|(item, differing, _)| (std::cmp::Reverse(*differing), *item));
    let rated: Vec<(usize, usize)> = marks.iter().map(|(_, one, other)| (*one, *other)).collect();
    let table = RatingTable::from_pairs(3, &rated);
    let level = ConfidenceLevel::default();
    let ac1 =
        table.as_ref().map(|table| gwet_ac1(&RatingCounts::from_table(table), level)).map_err(Clone::clone);
    let kappa = table.as_ref().map_err(Clone::clone).and_then(|table| cohen_kappa(table, level));
    Some(ListenersAgree {
        passes: pairs.len() as u64,
        alike: rate(alike, marks.len() as u64, "marked alike", "items that two listeners marked"),
        ac1: in_words(ac1),
        kappa: in_words(kappa),
        differed,
    })
}

fn in_words(agreement: Result<Agreement, StatsError>) -> String {
    match agreement {
        Ok(agreement) => match &agreement.interval {
            Ok(interval) => format!(
                "{:.2}, 95 % interval {:.2} to {:.2}, from {} items",
                agreement.estimate,
                interval.lower(),
                interval.upper(),
                agreement.n_cases
            ),
            Err(why) => {
                format!("{:.2}, from {} items; {why}", agreement.estimate, agreement.n_cases)
            }
        },
        Err(why) => format!("not defined: {why}"),
    }
}
