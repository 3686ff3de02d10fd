//! What became of a person's own watched draws, beside what was written down at the time. For that person and the
//! trainer only, and never a percentage.

use breakdown::ItemKind;
use culture::{BottleKind, CultureSet, Judged, Verdict};
use jiff::civil::DateTime;
use practice::{DrawMark, EventKind, ObservedDraw, PersonId, Setting, SpotCheck};

use crate::facts::{Desk, valid};
use crate::results::is_closed;

/// What the laboratory said of the set of one draw.
#[derive(Debug, Clone, PartialEq)]
pub enum AfterResult {
    /// Closed.
    Final {
        /// "negative", "contaminated".
        verdict: String,
        /// What the rule says.
        sentence: String,
        /// Organisms as the laboratory wrote them.
        organisms: Vec<String>,
        /// Bottles with their fill as the laboratory gave it: kind, millilitres.
        bottles: Vec<(String, Option<f64>)>,
        /// Minutes from the draw to the laboratory, where both are known.
        to_laboratory_min: Option<i64>,
    },
    /// Not final yet: what grew so far is not shown, because it may change.
    NotYet,
    /// The rule leaves the set out.
    LeftOut {
        /// What the rule says.
        sentence: String,
    },
    /// No specimen number was written down.
    NoSpecimen,
    /// The number is in no file of the laboratory.
    NotFound {
        /// The number as written.
        specimen: String,
    },
}

/// One draw beside its result.
#[derive(Debug, Clone, PartialEq)]
pub struct AfterDraw {
    /// When it was drawn.
    pub when: DateTime,
    /// Name of the job.
    pub job_name: String,
    /// Name of the watcher.
    pub watched_by: String,
    /// A trainer's spot check.
    pub spot_check: bool,
    /// What was written down at the time: what, and the words.
    pub circumstances: Vec<(String, String)>,
    /// Key points that were prompted or not done.
    pub open: Vec<String>,
    /// What the laboratory said.
    pub result: AfterResult,
}

/// A person's own draws beside their results.
#[derive(Debug, Clone, PartialEq)]
pub struct AfterPage {
    /// Name.
    pub name: String,
    /// Name and version of the rule behind the verdicts.
    pub rule: String,
    /// Draws on patients, latest first.
    pub draws: Vec<AfterDraw>,
    /// Why no percentage is made of them.
    pub sentence: String,
}

impl Desk {
    /// A person's own watched draws beside their results; `None` for somebody the book does not know.
    pub fn after(&self, id: &PersonId) -> Option<AfterPage> {
        let name = self.people.get(id)?.name.clone();
        let mut draws: Vec<AfterDraw> = valid(&self.material.history)
            .filter_map(|event| match &event.kind {
                EventKind::DrawObserved(draw) => Some((event.happened, draw, false)),
                EventKind::SpotChecked(SpotCheck(draw)) => Some((event.happened, draw, true)),
                _ => None,
            })
            .filter(|(_, draw, _)| draw.drawn_by == *id && draw.setting == Setting::RealPatient)
            .map(|(when, draw, spot_check)| self.after_draw(when, draw, spot_check))
            .collect();
        draws.sort_by_key(|draw| std::cmp::Reverse(draw.when));
        let n_final = draws.iter().filter(|draw| matches!(draw.result, AfterResult::Final { .. })).count();
        let sentence = format!(
            "{n_final} of {} watched draws have a final result. No percentage is made of them: chance alone moves so few \
             by more than skill does. What can be learnt is beside each draw.",
            draws.len()
        );
        Some(AfterPage { name, rule: self.rule_name(), draws, sentence })
    }

    fn after_draw(&self, when: DateTime, draw: &ObservedDraw, spot_check: bool) -> AfterDraw {
        let open = draw
            .items
            .iter()
            .filter(|item| item.item.kind() == ItemKind::KeyPoint)
            .filter(|item| matches!(item.mark, DrawMark::AfterPrompt | DrawMark::NotDone))
            .map(|item| self.words_of(draw, item.item, item.mark))
            .collect();
        let result = match draw.specimen.as_deref().map(str::trim).filter(|written| !written.is_empty()) {
            None => AfterResult::NoSpecimen,
            Some(specimen) => match self.set_of(specimen) {
                None => AfterResult::NotFound { specimen: specimen.to_owned() },
                Some((set, judged)) => self.after_result(set, judged),
            },
        };
        let job_name = self
            .jobs
            .iter()
            .find(|(code, _)| *code == draw.job)
            .map_or_else(|| draw.job.0.clone(), |(_, name)| name.clone());
        AfterDraw {
            when,
            job_name,
            watched_by: self.name_of(&draw.watched_by),
            spot_check,
            circumstances: circumstances(draw),
            open,
            result,
        }
    }

    fn after_result(&self, set: &CultureSet, judged: &Judged) -> AfterResult {
        let sentence = judged.clause.sentence(&self.material.rules);
        if judged.verdict() == Verdict::Excluded {
            return AfterResult::LeftOut { sentence };
        }
        if !is_closed(judged) {
            return AfterResult::NotYet;
        }
        let minutes = |from: DateTime, to: DateTime| to.duration_since(from).as_secs() / 60;
        AfterResult::Final {
            verdict: judged.verdict().to_string(),
            sentence,
            organisms: set.isolates.iter().map(|isolate| isolate.reported_name.clone()).collect(),
            bottles: set
                .bottles
                .iter()
                .map(|bottle| (bottle_words(bottle.kind).to_owned(), bottle.fill_ml))
                .collect(),
            to_laboratory_min: set
                .collected
                .time()
                .zip(set.received)
                .map(|(drawn, received)| minutes(drawn, received))
                .filter(|minutes| *minutes >= 0),
        }
    }
}

fn bottle_words(kind: BottleKind) -> &'static str {
    match kind {
        BottleKind::Aerobic => "aerobic",
        BottleKind::Anaerobic => "anaerobic",
        BottleKind::Paediatric => "paediatric",
        BottleKind::Other => "bottle",
    }
}

/// What was written down at a draw beside its marks, in words: what it is, and what was seen.
pub fn circumstances(draw: &ObservedDraw) -> Vec<(String, String)> {
    let seen = &draw.circumstances;
    let mut rows = Vec::new();
    let mut add = |what: &str, words: String| rows.push((what.to_owned(), words));
    add("attempts", draw.attempts.to_string());
    if !seen.difficulty.is_empty() {
        add("difficult", seen.difficulty.iter().map(|each| each.words()).collect::<Vec<_>>().join(", "));
    }
    if let Some(from) = seen.drawn_from {
        let why = seen.why_there.map(|why| format!(": {}", why.words())).unwrap_or_default();
        add("drawn from", format!("{}{why}", from.words()));
    }
    if !seen.fills.is_empty() {
        let fills: Vec<String> = seen
            .fills
            .iter()
            .map(|(bottle, tenths)| format!("{} {:.1} mL", bottle.words(), f64::from(*tenths) / 10.0))
            .collect();
        add("fill as seen", fills.join(", "));
    }
    if let Some(stopped) = seen.stopped {
        add("stopped", stopped.words().to_owned());
    }
    if let Some(seconds) = seen.lasted_s {
        add("lasted", format!("{} min {} s", seconds / 60, seconds % 60));
    }
    if draw.taken_over {
        add("taken over", "by the watcher".to_owned());
    }
    if let Some(note) = draw.note.as_deref().filter(|note| !note.trim().is_empty()) {
        add("note", note.to_owned());
    }
    rows
}
