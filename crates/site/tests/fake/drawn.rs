//! Invented draws: whom a form lists and what a draw shows. The marks are echoed, nothing is judged.

use breakdown::{ItemId, ItemKind, JobCode, Version};
use desk::{AtTheBed, DrawTimer, ObserveForm, ObservedPage};
use jiff::civil::DateTime;
use practice::{DrawMark, EventKind, PersonId, Role, SpotCheck};
use site::{DeskError, Draft, ObserveDesk};
use uuid::Uuid;

use super::{Fake, job};

fn form(code: &JobCode, version: Option<Version>) -> Option<ObserveForm> {
    let breakdown = [job::vein(), job::central_line()].into_iter().find(|each| each.code == *code)?;
    if version.is_some_and(|version| version != breakdown.version) {
        return None;
    }
    let person = |id: &str, name: &str, role, against: Option<&str>| AtTheBed {
        id: PersonId(id.into()),
        name: name.into(),
        role,
        watching_does_not_count: against.map(str::to_owned),
    };
    let timer = |item, what: &str, seconds, follows| DrawTimer {
        item,
        what: what.into(),
        seconds,
        by_itself: true,
        follows,
    };
    Some(ObserveForm {
        breakdown,
        replaced: false,
        people: vec![
            person("T-01", "Ansa Wolfendale", Role::Trainer, None),
            person("N-107", "Piet Oduya", Role::Preceptor, None),
            person("N-109", "Ilse Varga", Role::Nurse, Some("they are not released to precept on this job")),
            person(
                "N-112",
                "Maren Adeyemi-Holt",
                Role::Nurse,
                Some("they are not released to precept on this job"),
            ),
            person(
                "N-666",
                super::people::SCRIPT,
                Role::Nurse,
                Some("they are not released to precept on this job"),
            ),
        ],
        timers: vec![
            timer(ItemId::key_point(3, 2), "skin contact", 30, false),
            timer(ItemId::key_point(3, 3), "skin dry", 30, true),
        ],
        attempt_limit: 2,
        fill_ml: Some((8.0, 10.0)),
        specimen_shapes: vec!["AAA-99-999999".into()],
    })
}

fn page(what: &EventKind, when: DateTime, by: &PersonId) -> Option<ObservedPage> {
    let (EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))) = what else { return None };
    let form = form(&draw.job, Some(draw.version))?;
    let known = |id: &PersonId| form.people.iter().find(|person| person.id == *id);
    let name = |id: &PersonId| known(id).map_or_else(|| id.to_string(), |person| person.name.clone());
    let items = form.breakdown.items();
    let n_points = items.iter().filter(|item| item.id.kind() == ItemKind::KeyPoint).count();
    let with = |mark| draw.items.iter().filter(|one| one.mark == mark).count();
    let seen = with(DrawMark::Done) + with(DrawMark::AfterPrompt) + with(DrawMark::NotDone);
    Some(ObservedPage {
        name: name(&draw.drawn_by),
        job_name: form.breakdown.job.clone(),
        when,
        watched_by: name(&draw.watched_by),
        logged_by: name(by),
        draw: draw.clone(),
        counts: known(&draw.watched_by)
            .and_then(|person| person.watching_does_not_count.clone())
            .map_or(Ok(()), Err),
        done: (with(DrawMark::Done), seen),
        not_seen: n_points - draw.items.len(),
        open: draw
            .items
            .iter()
            .filter(|one| matches!(one.mark, DrawMark::AfterPrompt | DrawMark::NotDone))
            .map(|one| desk::PractisePoint {
                item: one.item,
                text: items.iter().find(|item| item.id == one.item).map_or("", |item| item.text).to_owned(),
                safety: true,
                why: if draw.circumstances.wrong.contains(&one.item) { "done wrong" } else { "missed" }
                    .into(),
            })
            .collect(),
        steps: form.breakdown.steps.iter().map(|step| step.name.clone()).collect(),
        missing: vec!["2 of 5 observed draws on real patients".into()],
        rule_met: false,
        result: None,
        corrected: None,
    })
}

impl ObserveDesk for Fake {
    fn observe_form(
        &self,
        job: &JobCode,
        version: Option<Version>,
    ) -> Result<Option<ObserveForm>, DeskError> {
        self.answer(|| form(job, version), || None)
    }

    fn observed_preview(
        &self,
        what: &EventKind,
        when: DateTime,
        by: &PersonId,
    ) -> Result<Option<ObservedPage>, DeskError> {
        self.answer(|| page(what, when, by), || None)
    }

    fn observed(&self, entry: Uuid) -> Result<Option<ObservedPage>, DeskError> {
        let recorded = self.recorded.lock().expect("no test panics while it holds the lock");
        Ok(match recorded.get(&entry) {
            Some(Draft { happened, by, what, .. }) => page(what, *happened, by),
            None => None,
        })
    }
}
