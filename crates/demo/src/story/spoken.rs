//! Teach-backs of which there was a transcript, and teach-backs that two people heard.

use breakdown::{Breakdown, ItemKind, ItemView};
use jiff::civil::date;
use practice::{EventKind, PersonId};
use teachback::{Mark, Proposed, Settings, SpokenLine, TeachBack, Transcript, hear};

use super::engine::Engine;
use super::jobs::Job;
use crate::calendar::minutes_after;
use crate::cast::{TRAINER_NORTH, TRAINER_SOUTH};
use crate::dice::Dice;
use crate::people::id;
use crate::{DemoEvent, identifier};

/// Passes that were marked on a transcript.
const TRANSCRIPTS: usize = 4;
/// Passes that two people heard.
const HEARD_BY_TWO: usize = 8;

/// Puts what was proposed beside the marks of some passes, and a second listener beside some others.
pub(crate) fn listen(seed: u64, engine: &mut Engine<'_>) {
    let mut dice = Dice::new(seed, "listeners");
    let firsts: Vec<usize> = first_passes(engine);
    let jobs = engine.jobs;
    let (for_two, spoken) = firsts.split_at(firsts.len().saturating_sub(TRANSCRIPTS));
    for (n, place) in spoken.iter().enumerate() {
        let breakdown = jobs.in_force(Job::Vein, engine.events[*place].happened.date());
        if let EventKind::TeachBackHeard { teachback, .. } = &mut engine.events[*place].kind {
            let (transcript, words) = said(breakdown, teachback);
            let settings = Settings::default();
            let program = format!("wardwright {}", env!("CARGO_PKG_VERSION"));
            let heard = hear(breakdown, &transcript, &settings);
            let mut proposed = Proposed::of(&heard, settings.listen_below, program);
            // One trainer kept the words whole.
            proposed.transcript = (n + 1 == spoken.len()).then_some(words);
            teachback.proposed = Some(Box::new(proposed));
        }
    }
    for place in for_two.iter().rev().take(HEARD_BY_TWO) {
        if let Some(second) = second_listener(engine, *place, &mut dice) {
            engine.events.push(second);
        }
    }
    engine.events.sort_by_key(|event| (event.recorded, event.id));
}

/// First passes of the vein job from 2026 on, which nobody corrected: they have something to differ on, and no release
/// rests on them.
fn first_passes(engine: &Engine<'_>) -> Vec<usize> {
    let corrected = |event: &DemoEvent| engine.events.iter().any(|other| other.corrects == Some(event.id));
    let events = engine.events.iter().enumerate();
    let fits = |event: &DemoEvent| match &event.kind {
        EventKind::TeachBackHeard { teachback, .. } => {
            let job = engine.jobs.in_force(Job::Vein, event.happened.date());
            teachback.job == job.code
                && teachback.version == job.version
                && event.happened.date() >= date(2026, 1, 10)
                && event.corrects.is_none()
                && teachback.items.iter().any(|item| item.mark > Mark::Prompted)
                && teachback.items.iter().all(|item| item.mark != Mark::Unsafe)
        }
        _ => false,
    };
    events.filter(|(_, event)| fits(event) && !corrected(event)).map(|(place, _)| place).collect()
}

/// What the learner and the trainer said, as the marks tell it, and the same as lines with times.
fn said(breakdown: &Breakdown, teachback: &TeachBack) -> (Transcript, String) {
    let mut lines: Vec<SpokenLine> = Vec::new();
    let mut say = |speaker: &str, at_s: f64, text: String| {
        let (start_s, end_s) = (Some(at_s), Some(at_s + 2.0));
        lines.push(SpokenLine { start_s, end_s, speaker: Some(speaker.to_owned()), text });
    };
    let items = breakdown.items();
    for heard in &teachback.items {
        let (Some(view), Some(at_s)) = (items.iter().find(|view| view.id == heard.item), heard.at_s) else {
            continue;
        };
        let words = spoken(view);
        match heard.mark {
            Mark::Prompted => {
                let question = if view.id.kind() == ItemKind::Reason { "why" } else { "what next" };
                say("Trainer", at_s - 1.5, question.to_owned());
                say("Learner", at_s, words);
            }
            Mark::Led => {
                say("Trainer", at_s - 1.5, format!("and you {words} right"));
                say("Learner", at_s, "yes right".to_owned());
            }
            Mark::Partial => {
                let all: Vec<&str> = words.split(' ').collect();
                say("Learner", at_s, all[..all.len().div_ceil(2)].join(" "));
            }
            Mark::Wrong | Mark::Unsafe => say("Learner", at_s, format!("you need not {words}")),
            Mark::Unprompted => say("Learner", at_s, words),
            Mark::Missed => {}
        }
    }
    say("Learner", 2.0, "sorry i am on nights this week".to_owned());
    lines.sort_by(|one, other| one.start_s.unwrap_or(0.0).total_cmp(&other.start_s.unwrap_or(0.0)));
    let text = lines.iter().map(|line| {
        let at = line.start_s.unwrap_or(0.0).max(0.0) as u64;
        let speaker = line.speaker.as_deref().unwrap_or("");
        format!("[{:02}:{:02}] {speaker}: {}", at / 60, at % 60, line.text)
    });
    let text = text.collect::<Vec<_>>().join("\n");
    (Transcript { lines }, text)
}

/// The words of an item as somebody says them: no capitals, no signs.
fn spoken(view: &ItemView<'_>) -> String {
    let reason = view.key_point.and_then(|point| point.reasons.first()).filter(|_| view.id.reason);
    let (start, text) = match reason {
        Some(reason) => ("because ", reason.as_str()),
        None => ("", view.text),
    };
    let plain: String =
        text.to_lowercase().chars().map(|c| if c.is_alphanumeric() || c == '\'' { c } else { ' ' }).collect();
    format!("{start}{}", plain.split_whitespace().collect::<Vec<_>>().join(" "))
}

/// The other trainer heard the same pass: the clock a minute apart, and a few marks another.
fn second_listener(engine: &Engine<'_>, place: usize, dice: &mut Dice) -> Option<DemoEvent> {
    let first = &engine.events[place];
    let EventKind::TeachBackHeard { person, teachback } = &first.kind else { return None };
    let trainers = [id(TRAINER_NORTH), id(TRAINER_SOUTH)];
    let other: &PersonId = trainers.iter().find(|trainer| **trainer != first.by && *trainer != person)?;
    let mut heard = teachback.clone();
    for item in &mut heard.items {
        item.mark = match item.mark {
            Mark::Prompted if dice.chance(250_000) => Mark::Unprompted,
            Mark::Partial if dice.chance(350_000) => Mark::Prompted,
            Mark::Led if dice.chance(350_000) => Mark::Prompted,
            Mark::Unprompted if dice.chance(30_000) => Mark::Prompted,
            mark => mark,
        };
    }
    heard.same_pass_as = Some(identifier::text(first.id));
    heard.note = None;
    let recorded = minutes_after(first.recorded, dice.between(8, 25));
    Some(DemoEvent {
        id: identifier::written_at(recorded, dice),
        happened: minutes_after(first.happened, 1).min(recorded),
        recorded,
        by: other.clone(),
        kind: EventKind::TeachBackHeard { person: person.clone(), teachback: heard },
        corrects: None,
        correction_reason: None,
    })
}
