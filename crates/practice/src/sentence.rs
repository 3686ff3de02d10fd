//! What an event says, in one sentence with its counts and what they are out of.

use breakdown::{ItemId, ItemKind};
use teachback::{Mark, TeachBack};

use crate::effective::standing_events;
use crate::event::{DrawItem, DrawMark, EventKind, History, ObservedDraw, Role, Scope, Setting};
use crate::judge::listed;
use crate::versions::{Versions, key_points};
use crate::words::{Names, day_in_words};

/// Says in one sentence what an event of a history says, with its counts and what they are out of.
pub struct Sentences<'a> {
    versions: Versions<'a>,
    names: Names<'a>,
}

impl<'a> Sentences<'a> {
    /// Prepares the sentences of a history: its breakdowns tell how many key points there are, and it names its people.
    pub fn new(history: &'a History) -> Sentences<'a> {
        let events = standing_events(history);
        Sentences { versions: Versions::read(&events), names: Names::read(&events) }
    }

    /// What happened, in a sentence.
    pub fn of(&self, kind: &EventKind) -> String {
        sentence(kind, &self.versions, &self.names)
    }
}

/// The sentence for an event. Counts are of key points; the versions tell how many there are. Someone without a name in
/// the book is called by their identifier.
pub(crate) fn sentence(kind: &EventKind, versions: &Versions<'_>, names: &Names<'_>) -> String {
    match kind {
        EventKind::PersonAdded(person) => {
            let role = match person.role {
                Role::Nurse => "nurse",
                Role::Preceptor => "preceptor",
                Role::Trainer => "trainer",
            };
            format!("Joined {} as {role} on {}.", person.unit, day_in_words(person.started))
        }
        EventKind::BreakdownPublished(breakdown) => {
            format!("Breakdown of {} published, version {}.", breakdown.code, breakdown.version)
        }
        EventKind::Planned { by, .. } => format!("On the timetable: needed by {}.", day_in_words(*by)),
        EventKind::Demonstrated { version, .. } => format!("Demonstrated, version {version}."),
        EventKind::TeachBackHeard { teachback, .. } => teach_back(teachback, versions),
        EventKind::DrawObserved(draw) => observed(draw, "Draw", versions, names),
        EventKind::SpotChecked(check) => observed(&check.0, "Spot check of a draw", versions, names),
        EventKind::Released(release) => {
            let to = scope(release.scope);
            match &release.reason {
                Some(reason) => format!("Released {to}, version {}: {reason}", release.version),
                None => format!("Released {to}, version {}.", release.version),
            }
        }
        EventKind::Withdrawn { reason, .. } => format!("Standing withdrawn: {reason}"),
        EventKind::NotYet { reason, .. } => format!("Not released yet: {reason}"),
        EventKind::ConfidenceSaid { clean_of_ten, .. } => {
            format!("Own confidence: of the next ten draws, no safety point missed on {clean_of_ten}.")
        }
        EventKind::RulePublished { rule, why } => {
            format!("Release rule published: {}, version {}. {why}", rule.name, rule.version)
        }
        EventKind::RefresherDone { version, reason, .. } => match reason {
            Some(reason) => format!("Refresher done, version {version}: {reason}"),
            None => format!("Refresher done, version {version}."),
        },
        EventKind::PersonLeft { .. } => "Left the unit or went on leave.".to_owned(),
        EventKind::EnteredInError => "Entered in error: it did not happen.".to_owned(),
    }
}

/// A scope in the trade's words, after "released".
pub(crate) fn scope(scope: Scope) -> &'static str {
    match scope {
        Scope::OwnPatients => "to own patients",
        Scope::AllPatients => "to all patients",
        Scope::MayPrecept => "to all patients and to precept",
    }
}

fn teach_back(heard: &TeachBack, versions: &Versions<'_>) -> String {
    let points: Vec<_> = heard.items.iter().filter(|item| item.item.kind() == ItemKind::KeyPoint).collect();
    let with = |mark: Mark| points.iter().filter(|item| item.mark == mark).count();
    let named = |mark: Mark| {
        listed(&points.iter().filter(|item| item.mark == mark).map(|item| item.item).collect::<Vec<_>>())
    };
    let of = match versions.get(&heard.job, heard.version) {
        Some(published) => format!("of {} key points", key_points(published.breakdown).len()),
        None => format!("of the {} key points judged", points.len()),
    };
    let mut parts = vec![format!("{of}, {} said unprompted", with(Mark::Unprompted))];
    for (mark, words) in [
        (Mark::Prompted, "after a neutral question"),
        (Mark::Led, "only when led"),
        (Mark::Partial, "in part"),
        (Mark::Missed, "not said"),
        (Mark::Wrong, "wrong"),
        (Mark::Unsafe, "unsafe"),
    ] {
        if with(mark) > 0 {
            parts.push(format!("{} {words} ({})", with(mark), named(mark)));
        }
    }
    let what = if heard.same_pass_as.is_some() {
        "The same pass of the teach-back heard by another listener"
    } else {
        "Teach-back heard"
    };
    let from = if heard.proposed.is_some() { ", marked on its transcript" } else { "" };
    format!("{what}, version {}{from}: {}.", heard.version, parts.join(", "))
}

fn observed(draw: &ObservedDraw, what: &str, versions: &Versions<'_>, names: &Names<'_>) -> String {
    let place = match draw.setting {
        Setting::RealPatient => "on a real patient",
        Setting::Simulated => "on a training arm",
    };
    let points: Vec<_> = draw.items.iter().filter(|item| item.item.kind() == ItemKind::KeyPoint).collect();
    let seen: Vec<_> = points
        .iter()
        .filter(|item| !matches!(item.mark, DrawMark::NotApplicable | DrawMark::NotSeen))
        .collect();
    let with = |mark: DrawMark| seen.iter().filter(|item| item.mark == mark).count();
    let named = |mark: DrawMark| {
        listed(&seen.iter().filter(|item| item.mark == mark).map(|item| item.item).collect::<Vec<_>>())
    };
    let mut parts =
        vec![format!("{} of {} key points seen were done without help", with(DrawMark::Done), seen.len())];
    if with(DrawMark::AfterPrompt) > 0 {
        parts.push(format!(
            "{} after a prompt ({})",
            with(DrawMark::AfterPrompt),
            named(DrawMark::AfterPrompt)
        ));
    }
    if with(DrawMark::NotDone) > 0 {
        parts.push(format!("{} not done ({})", with(DrawMark::NotDone), named(DrawMark::NotDone)));
    }
    let not_seen = points.iter().filter(|item| item.mark == DrawMark::NotSeen).count();
    if not_seen > 0 {
        parts.push(format!("{not_seen} not seen"));
    }
    let missed = safety_missed(draw, versions);
    if !missed.is_empty() {
        parts.push(format!("safety points missed: {}", listed(&missed)));
    }
    let taken_over = if draw.taken_over { ", taken over by the watcher" } else { "" };
    let watcher = names.of(&draw.watched_by);
    format!("{what} {place}, watched by {watcher}{taken_over}: {}.", parts.join(", "))
}

fn safety_missed(draw: &ObservedDraw, versions: &Versions<'_>) -> Vec<ItemId> {
    let Some(published) = versions.get(&draw.job, draw.version) else { return Vec::new() };
    let missed = |point: &ItemId| {
        draw.items.iter().any(|DrawItem { item, mark }| item == point && *mark == DrawMark::NotDone)
    };
    published.breakdown.safety_points().into_iter().filter(missed).collect()
}
