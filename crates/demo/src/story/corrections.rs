//! What was put right later: entries in the book and reports of the laboratory.

use jiff::civil::{Date, DateTime, date};
use practice::{EventKind, ObservedDraw, PersonId, Setting};
use teachback::Mark;

use super::engine::Engine;
use super::jobs::Job;
use super::marks;
use crate::calendar::{Shift, days_after, minutes_after};
use crate::cast::TWO_OF_FOURTEEN;
use crate::dice::Dice;
use crate::laboratory::{DemoSet, Sent};
use crate::people::id;
use crate::{DemoEvent, identifier};

/// Puts the corrections into the story: two of observed draws, one of a teach-back, one entry made in error.
pub(crate) fn correct(seed: u64, engine: &mut Engine<'_>, sets: Vec<DemoSet>) -> Sent {
    let mut dice = Dice::new(seed, "corrections");
    let mut sent = Sent { first: sets, corrected: Vec::new() };
    mistyped_specimen(engine, &sent, &mut dice);
    disputed_attribution(engine, &mut sent, &mut dice);
    teach_back_mark(engine, &mut dice);
    entered_twice(engine, &mut dice);
    corrected_reports(&mut sent);
    sent.corrected.sort_by(|a, b| (a.0, &a.1.specimen).cmp(&(b.0, &b.1.specimen)));
    engine.events.sort_by_key(|event| (event.recorded, event.id));
    sent
}

/// Writes the correction of an entry: the same moment, the right content, written later by the same hand.
fn push(
    engine: &mut Engine<'_>,
    place: usize,
    written: DateTime,
    kind: EventKind,
    reason: &str,
    dice: &mut Dice,
) {
    let earlier = &engine.events[place];
    let correction = DemoEvent {
        id: identifier::written_at(written, dice),
        happened: earlier.happened,
        recorded: written,
        by: earlier.by.clone(),
        kind,
        corrects: Some(earlier.id),
        correction_reason: Some(reason.to_owned()),
    };
    engine.events.push(correction);
}

fn observed(event: &DemoEvent) -> Option<&ObservedDraw> {
    match &event.kind {
        EventKind::DrawObserved(draw) if !draw.taken_over => Some(draw),
        _ => None,
    }
}

/// Draws of one learner that somebody watched up to a moment.
fn draws_so_far(engine: &Engine<'_>, draw: &ObservedDraw, until: DateTime) -> usize {
    engine
        .events
        .iter()
        .filter(|event| event.happened <= until && event.corrects.is_none())
        .filter_map(observed)
        .filter(|other| other.drawn_by == draw.drawn_by && other.job == draw.job)
        .count()
}

/// The first draw in a time that is early in a learner's story, so that the correction comes before the release.
fn early_draw(
    engine: &Engine<'_>,
    from: Date,
    fits: impl Fn(&DemoEvent, &ObservedDraw) -> bool,
) -> Option<usize> {
    engine.events.iter().position(|event| {
        observed(event).is_some_and(|draw| {
            event.happened.date() >= from
                && draw.setting == Setting::RealPatient
                && draw.job == engine.jobs.code(Job::Vein)
                && draws_so_far(engine, draw, event.happened) <= 2
                && fits(event, draw)
        })
    })
}

/// Two digits of a specimen number were swapped by hand.
fn mistyped_specimen(engine: &mut Engine<'_>, sent: &Sent, dice: &mut Dice) {
    let swapped = |draw: &ObservedDraw| {
        let number = draw.specimen.as_ref()?;
        let mut letters: Vec<char> = number.chars().collect();
        let last = letters.len().checked_sub(2)?;
        letters.swap(last, last + 1);
        let wrong: String = letters.into_iter().collect();
        let known = sent.first.iter().any(|set| set.specimen == wrong);
        (wrong != *number && !known).then_some(wrong)
    };
    let Some(place) = early_draw(engine, date(2026, 2, 20), |_, draw| swapped(draw).is_some()) else {
        return;
    };
    let Some(right) = observed(&engine.events[place]).cloned() else { return };
    if let EventKind::DrawObserved(wrong) = &mut engine.events[place].kind {
        wrong.specimen = swapped(&right);
    }
    let written = minutes_after(engine.events[place].recorded, dice.between(600, 1_300));
    push(
        engine,
        place,
        written,
        EventKind::DrawObserved(right),
        "Two digits of the specimen number were swapped; checked against the label.",
        dice,
    );
}

/// A draw was put down to a colleague on the same shift, in the book and on the label; both agreed on who drew.
fn disputed_attribution(engine: &mut Engine<'_>, sent: &mut Sent, dice: &mut Dice) {
    let other_on_shift = |engine: &Engine<'_>, event: &DemoEvent, draw: &ObservedDraw| -> Option<PersonId> {
        let on_shift = engine.roster.on(Shift::at(event.happened));
        on_shift
            .iter()
            .map(|who| &engine.members[*who].person)
            .find(|person| {
                person.id != draw.drawn_by
                    && person.id != draw.watched_by
                    && person.id != id(TWO_OF_FOURTEEN)
                    && person.role == practice::Role::Nurse
                    && Some(&person.unit) == unit_of(engine, &draw.drawn_by)
            })
            .map(|person| person.id.clone())
    };
    let fits = |event: &DemoEvent, draw: &ObservedDraw| {
        other_on_shift(engine, event, draw).is_some()
            && engine.events.iter().all(|e| e.corrects != Some(event.id))
    };
    let Some(place) = early_draw(engine, date(2026, 3, 20), fits) else { return };
    let Some(right) = observed(&engine.events[place]).cloned() else { return };
    let Some(wrong) = other_on_shift(engine, &engine.events[place], &right) else { return };
    let day = engine.events[place].happened.date();
    if let EventKind::DrawObserved(draw) = &mut engine.events[place].kind {
        draw.drawn_by = wrong.clone();
    }
    let written = days_after(engine.events[place].recorded.date(), 2).at(16, 10, 0, 0);
    push(
        engine,
        place,
        written,
        EventKind::DrawObserved(right.clone()),
        "The colleague named here disputed it: she was at another bed. Both nurses and the watcher agree who drew; the \
         laboratory was asked to correct the collector.",
        dice,
    );
    if let Some(set) = sent.first.iter_mut().find(|set| Some(&set.specimen) == right.specimen.as_ref()) {
        sent.corrected.push((days_after(day.last_of_month(), 16), set.clone()));
        set.collector = wrong.0;
    }
}

fn unit_of<'e>(engine: &Engine<'e>, person: &PersonId) -> Option<&'e String> {
    engine.members.iter().find(|member| member.person.id == *person).map(|member| &member.person.unit)
}

/// The trainer remembers that a point was said after a question.
fn teach_back_mark(engine: &mut Engine<'_>, dice: &mut Dice) {
    let found = engine.events.iter().enumerate().find_map(|(place, event)| match &event.kind {
        EventKind::TeachBackHeard { person, teachback } if event.happened.date() >= date(2026, 1, 20) => {
            let breakdown = engine.jobs.in_force(Job::Vein, event.happened.date());
            let item =
                marks::correctable(breakdown, teachback).filter(|_| teachback.job == breakdown.code)?;
            Some((place, person.clone(), teachback.clone(), item))
        }
        _ => None,
    });
    let Some((place, person, mut teachback, item)) = found else { return };
    for heard in teachback.items.iter_mut().filter(|heard| heard.item == item) {
        heard.mark = Mark::Prompted;
    }
    let written = minutes_after(engine.events[place].recorded, dice.between(40, 90));
    push(
        engine,
        place,
        written,
        EventKind::TeachBackHeard { person, teachback },
        "Marked as not said by a slip of the finger: it was said after a question.",
        dice,
    );
}

/// A draw on the training arm was written twice, from the phone and again at the desk.
fn entered_twice(engine: &mut Engine<'_>, dice: &mut Dice) {
    let simulated = engine.events.iter().position(|event| {
        event.happened.date() >= date(2026, 6, 10)
            && observed(event).is_some_and(|draw| draw.setting == Setting::Simulated)
    });
    let Some(place) = simulated else { return };
    let again = DemoEvent {
        recorded: minutes_after(engine.events[place].recorded, 75),
        ..engine.events[place].clone()
    };
    let again = DemoEvent { id: identifier::written_at(again.recorded, dice), ..again };
    let written = minutes_after(again.recorded, 20);
    engine.events.push(again);
    let place = engine.events.len() - 1;
    push(
        engine,
        place,
        written,
        EventKind::EnteredInError,
        "Entered twice: the phone had sent it already.",
        dice,
    );
}

/// Reports the laboratory corrected: a name that became another germ, a name made exact, a late growth.
fn corrected_reports(sent: &mut Sent) {
    let alone = |sets: &[DemoSet], set: &DemoSet| {
        sets.iter()
            .filter(|other| other.episode == set.episode && other.specimen != set.specimen)
            .all(DemoSet::is_clear)
    };
    let grew = |set: &DemoSet, name: &'static str| {
        set.cancelled.is_none()
            && set.in_series
            && set.bottles.iter().any(|bottle| bottle.organisms.contains(&name))
    };
    let mut find =
        |from: Date, fits: &dyn Fn(&DemoSet) -> bool, came: Date, change: &dyn Fn(&mut DemoSet)| {
            let found = sent.first.iter().find(|set| {
                set.collected.date() >= from
                    && set.collector != id(TWO_OF_FOURTEEN).0
                    && fits(set)
                    && alone(&sent.first, set)
            });
            if let Some(set) = found {
                let mut corrected = set.clone();
                change(&mut corrected);
                sent.corrected.push((came, corrected));
            }
        };
    let rename = |set: &mut DemoSet, from: &str, to: &'static str| {
        for organism in set.bottles.iter_mut().flat_map(|bottle| bottle.organisms.iter_mut()) {
            if *organism == from {
                *organism = to;
            }
        }
    };
    let staph = "STAPHYLOCOCCUS, COAGULASE NEGATIVE";
    find(date(2025, 9, 1), &|set| grew(set, staph), date(2025, 11, 18), &|set| {
        rename(set, staph, "STAPH AUREUS")
    });
    let made_exact = [
        ("Corynebacterium sp.", "Corynebacterium striatum"),
        ("Coag neg staph", "Staphylococcus hominis"),
        ("Viridans group streptococcus", "Streptococcus mitis"),
    ];
    let vague = |set: &DemoSet| made_exact.iter().any(|(vague, _)| grew(set, vague));
    find(date(2026, 1, 1), &vague, date(2026, 5, 20), &|set| {
        for (vague, exact) in made_exact {
            rename(set, vague, exact);
        }
    });
    let clear = |set: &DemoSet| set.is_clear() && set.in_series && set.cancelled.is_none() && set.is_adult();
    find(date(2026, 7, 11), &clear, date(2026, 8, 24), &|set| {
        if let Some(bottle) = set.bottles.last_mut() {
            bottle.organisms.push("CUTIBACTERIUM ACNES");
        }
    });
}
