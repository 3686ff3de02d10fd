use breakdown::{ItemId, ItemKind};
use practice::{
    DrawMark, Event, EventKind, Evidence, EvidenceKind, Level, ObservedDraw, PersonId, SpotCheck, Standing,
};
use teachback::Mark;

use crate::chance::chance;
use crate::facts::{Desk, valid};
use crate::rate::rate;
use crate::results::unknown_collectors;
use crate::view::{DrawRow, EvidenceRow, JobStanding, PersonPage, PersonResults, PersonRow};

impl Desk {
    /// Everybody on the unit with their standing in each job; those who left are not listed.
    pub fn people(&self) -> Vec<PersonRow> {
        self.people
            .values()
            .filter(|person| !self.is_away(&person.id))
            .map(|person| PersonRow {
                id: person.id.clone(),
                name: person.name.clone(),
                role: person.role,
                started: person.started,
                standings: self
                    .standings_of(&person.id)
                    .map(|standing| self.job_standing(standing))
                    .collect(),
            })
            .collect()
    }

    /// Whether the book knows somebody of this identifier, here or away.
    pub fn knows(&self, id: &PersonId) -> bool {
        self.people.contains_key(id)
    }

    /// One person's record, for that person and their trainer; `None` for an identifier the book does not know.
    pub fn person(&self, id: &PersonId) -> Option<PersonPage> {
        let person = self.people.get(id)?;
        let row = PersonRow {
            id: person.id.clone(),
            name: person.name.clone(),
            role: person.role,
            started: person.started,
            standings: self.standings_of(id).map(|standing| self.job_standing(standing)).collect(),
        };
        Some(PersonPage {
            row,
            draws: self.draw_rows(id),
            evidence: self.evidence_rows(id),
            practise: self.practise(id),
            results: self.person_results(id),
        })
    }

    pub(crate) fn standings_of(&self, id: &PersonId) -> impl Iterator<Item = &Standing> {
        self.standings.iter().filter(move |standing| standing.person == *id)
    }

    pub(crate) fn is_away(&self, id: &PersonId) -> bool {
        let mut standings = self.standings_of(id).peekable();
        standings.peek().is_some() && standings.all(|standing| standing.level == Level::Away)
    }

    pub(crate) fn job_name(&self, standing: &Standing) -> String {
        self.jobs
            .iter()
            .find(|(code, _)| *code == standing.job)
            .map_or_else(|| standing.job.to_string(), |(_, name)| name.clone())
    }

    fn job_standing(&self, standing: &Standing) -> JobStanding {
        JobStanding {
            job: standing.job.clone(),
            job_name: self.job_name(standing),
            standing: sentence_of(standing),
            short: standing.level.words().to_owned(),
            since: standing.since,
            on_word_of: standing.on_word_of.as_ref().map(|id| self.name_of(id)),
            missing: match standing.level {
                // Nobody misses what they are not to learn.
                Level::NotPlanned => Vec::new(),
                _ => standing.missing.clone(),
            },
            rule_met: standing.rule_met,
            next: standing.next_check.as_ref().map(|due| (due.on, due.why.clone())),
            planned_by: standing.needed_by,
        }
    }

    fn draw_rows(&self, id: &PersonId) -> Vec<DrawRow> {
        let mut rows: Vec<DrawRow> = valid(&self.material.history)
            .filter_map(|event| match &event.kind {
                EventKind::DrawObserved(draw) if draw.drawn_by == *id => {
                    Some(self.draw_row(event, draw, false))
                }
                EventKind::SpotChecked(SpotCheck(draw)) if draw.drawn_by == *id => {
                    Some(self.draw_row(event, draw, true))
                }
                _ => None,
            })
            .collect();
        rows.sort_by_key(|row| std::cmp::Reverse(row.when));
        rows
    }

    fn draw_row(&self, event: &Event, draw: &ObservedDraw, spot_check: bool) -> DrawRow {
        let points: Vec<_> =
            draw.items.iter().filter(|item| item.item.kind() == ItemKind::KeyPoint).collect();
        let seen = points
            .iter()
            .filter(|item| !matches!(item.mark, DrawMark::NotApplicable | DrawMark::NotSeen))
            .count() as u64;
        let done = points.iter().filter(|item| item.mark == DrawMark::Done).count() as u64;
        let open = points
            .iter()
            .filter(|item| matches!(item.mark, DrawMark::AfterPrompt | DrawMark::NotDone))
            .map(|item| (item.item, self.words_of(draw, item.item, item.mark)))
            .collect();
        let evidence = self.evidence_of(event);
        DrawRow {
            entry: event.id.to_string(),
            when: event.happened,
            job: draw.job.clone(),
            watched_by: self.name_of(&draw.watched_by),
            spot_check,
            done,
            seen,
            open,
            counts: match evidence.and_then(|evidence| evidence.does_not_count.clone()) {
                Some(why) => Err(why),
                None => Ok(()),
            },
            result: draw
                .specimen
                .as_deref()
                .and_then(|specimen| self.set_of(specimen))
                .map(|(_, judged)| judged.verdict().to_string()),
        }
    }

    pub(crate) fn words_of(&self, draw: &ObservedDraw, item: ItemId, mark: DrawMark) -> String {
        let text = self
            .published(&draw.job)
            .into_iter()
            .find(|(_, breakdown)| breakdown.version == draw.version)
            .and_then(|(_, breakdown)| breakdown.key_point(item))
            .map_or_else(|| format!("key point {item}"), |point| point.text.clone());
        match mark {
            DrawMark::AfterPrompt => format!("{text} (after a prompt)"),
            _ => format!("{text} (not done)"),
        }
    }

    fn evidence_of(&self, event: &Event) -> Option<&Evidence> {
        self.standings
            .iter()
            .flat_map(|standing| &standing.evidence)
            .find(|evidence| evidence.event == event.id)
    }

    fn evidence_rows(&self, id: &PersonId) -> Vec<EvidenceRow> {
        let mut rows: Vec<EvidenceRow> = Vec::new();
        let on_record =
            |standing: &&Standing| !standing.evidence.is_empty() || !standing.corrected.is_empty();
        let one_job = self.standings_of(id).filter(on_record).count() <= 1;
        let of_job = |standing: &Standing, sentence: &str| match one_job {
            true => sentence.to_owned(),
            false => format!("{}: {sentence}", standing.job),
        };
        for standing in self.standings_of(id) {
            for evidence in &standing.evidence {
                if let Some(event) =
                    self.material.history.events.iter().find(|event| event.id == evidence.event)
                {
                    rows.push(EvidenceRow {
                        entry: evidence.event.to_string(),
                        when: event.happened,
                        kind: kind_word(evidence.kind).to_owned(),
                        what: of_job(standing, &evidence.sentence),
                        by: self.name_of(&evidence.by),
                        corrected_by: None,
                        corrects: event.corrects.as_ref().map(ToString::to_string),
                    });
                }
            }
            for corrected in &standing.corrected {
                let original =
                    self.material.history.events.iter().find(|event| event.id == corrected.original);
                let Some(original) = original else { continue };
                rows.push(EvidenceRow {
                    entry: corrected.original.to_string(),
                    when: original.happened,
                    kind: kind_of_event(original).to_owned(),
                    what: of_job(standing, &corrected.original_sentence),
                    by: self.name_of(&original.by),
                    corrected_by: Some((corrected.correction.to_string(), corrected.reason.clone())),
                    corrects: None,
                });
            }
        }
        rows.sort_by(|a, b| b.when.cmp(&a.when).then_with(|| a.entry.cmp(&b.entry)));
        rows.dedup_by(|a, b| a.entry == b.entry && a.what == b.what);
        rows
    }

    /// What to practise next: open points of the latest teach-back and the latest watched draw, safety first.
    pub(crate) fn practise(&self, id: &PersonId) -> Vec<(ItemId, String)> {
        let mut open: Vec<(bool, ItemId, String)> = Vec::new();
        let passes = practice::heard_passes(&self.material.history);
        for (code, _) in &self.jobs {
            let Some(breakdown) = self.in_force(code) else { continue };
            let latest_said = passes
                .iter()
                .rfind(|pass| {
                    pass.person == id
                        && pass.counted.job == *code
                        && pass.counted.version == breakdown.version
                })
                .map(|pass| {
                    let open = pass.counted.items.iter().filter(|item| item.mark > Mark::Prompted);
                    open.map(|item| item.item).collect::<Vec<_>>()
                });
            let latest_done = self.latest(|event| match &event.kind {
                EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))
                    if draw.drawn_by == *id && draw.job == *code && draw.version == breakdown.version =>
                {
                    Some(
                        draw.items
                            .iter()
                            .filter(|item| matches!(item.mark, DrawMark::AfterPrompt | DrawMark::NotDone))
                            .map(|item| item.item)
                            .collect::<Vec<_>>(),
                    )
                }
                _ => None,
            });
            for item in latest_said.into_iter().chain(latest_done).flatten() {
                let point = ItemId { reason: false, ..item };
                let Some(key_point) = breakdown.key_point(point) else { continue };
                let safety = key_point.kind == breakdown::KeyPointKind::Safety;
                let text =
                    if item.reason { format!("Why: {}", key_point.text) } else { key_point.text.clone() };
                if !open.iter().any(|(_, known, words)| *known == item && *words == text) {
                    open.push((safety, item, text));
                }
            }
        }
        open.sort_by_key(|(safety, item, _)| (!safety, *item));
        open.into_iter().map(|(_, item, text)| (item, text)).collect()
    }

    fn latest<T>(&self, pick: impl Fn(&Event) -> Option<T>) -> Option<T> {
        valid(&self.material.history)
            .filter_map(|event| pick(event).map(|found| (event.happened, found)))
            .max_by_key(|(when, _)| *when)
            .map(|(_, found)| found)
    }

    fn person_results(&self, id: &PersonId) -> PersonResults {
        let seen = self.collected.get(id).copied();
        let (events, of) = seen.map_or((0, 0), |seen| (seen.events(), seen.trials()));
        let all: Vec<_> = self.judged_sets().collect();
        PersonResults {
            contamination: rate(
                events,
                of,
                "contaminated sets",
                "closed sets that name this person as collector",
            ),
            chance: chance(self, id, seen),
            unknown_collectors: unknown_collectors(&all),
        }
    }
}

fn sentence_of(standing: &Standing) -> String {
    match standing.level {
        Level::NotPlanned => "not on the timetable for this job",
        Level::Planned => "on the timetable; instruction has not begun",
        Level::Learning => "learning: draws only with someone watching",
        Level::OwnPatients => "may draw alone from the patients assigned to them",
        Level::AllPatients => "may draw alone from every patient of the unit",
        Level::MayPrecept => "may draw alone and watch learners",
        Level::ToBeUpdated => {
            "released on an older version: a refresher on the new one is due before drawing alone"
        }
        Level::Lapsed => {
            "no draw known for longer than the rule allows: a watched draw or a refresher comes first"
        }
        Level::Withdrawn => "standing taken back: draws only with someone watching",
        Level::Away => "left the unit or on leave",
    }
    .to_owned()
}

fn kind_word(kind: EvidenceKind) -> &'static str {
    match kind {
        EvidenceKind::Said => "said",
        EvidenceKind::Done => "done",
        EvidenceKind::Decided => "decided",
    }
}

fn kind_of_event(event: &Event) -> &'static str {
    match event.kind {
        EventKind::TeachBackHeard { .. } => kind_word(EvidenceKind::Said),
        EventKind::DrawObserved(_) | EventKind::SpotChecked(_) => kind_word(EvidenceKind::Done),
        _ => kind_word(EvidenceKind::Decided),
    }
}
