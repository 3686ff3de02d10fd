//! Invented teach-backs: what the form needs and what a pass showed. The marks are echoed, nothing is judged.

use breakdown::{ItemId, ItemKind, JobCode, Version};
use desk::{PractisePoint, TeachBackForm, TeachBackResult};
use jiff::civil::{DateTime, date};
use practice::{PersonId, Role};
use teachback::{CountOf, Mark, TeachBack};

use super::{TODAY, job};

pub fn form(
    person: &PersonId,
    name: &str,
    code: &JobCode,
    version: Option<Version>,
) -> Option<TeachBackForm> {
    let breakdown = [job::vein(), job::central_line()].into_iter().find(|each| each.code == *code)?;
    if version.is_some_and(|version| version != breakdown.version) {
        return None;
    }
    Some(TeachBackForm {
        person: person.clone(),
        name: name.to_owned(),
        breakdown,
        replaced: false,
        listeners: vec![
            (PersonId("T-01".into()), "Ansa Wolfendale".into(), Role::Trainer),
            (PersonId("N-107".into()), "Piet Oduya".into(), Role::Preceptor),
        ],
        last: Some((
            date(2026, 2, 28).at(14, 5, 0, 0),
            vec![ItemId::key_point(6, 1), ItemId::key_point(3, 3), ItemId::reason_of(3, 3), ItemId::step(2)],
        )),
    })
}

pub fn result(
    person: &PersonId,
    name: &str,
    heard: &TeachBack,
    when: DateTime,
    by: &PersonId,
) -> TeachBackResult {
    let breakdown = if heard.job.0 == "vein" { job::vein() } else { job::central_line() };
    let items = breakdown.items();
    let point = |item: ItemId, why: &str| PractisePoint {
        item,
        text: items.iter().find(|each| each.id == item).map_or(String::new(), |each| each.text.to_owned()),
        safety: false,
        why: why.to_owned(),
    };
    let known = heard
        .items
        .iter()
        .filter(|said| said.item.kind() == ItemKind::KeyPoint && said.mark <= Mark::Prompted)
        .count();
    let of = items.iter().filter(|item| item.id.kind() == ItemKind::KeyPoint).count();
    let open: Vec<_> = heard.items.iter().filter(|said| said.mark != Mark::Unprompted).collect();
    TeachBackResult {
        person: person.clone(),
        name: name.to_owned(),
        job: heard.job.clone(),
        job_name: breakdown.job.clone(),
        version: heard.version,
        when,
        heard_by: by.to_string(),
        lasted_s: heard.items.iter().filter_map(|said| said.at_s).reduce(f64::max),
        clean: open.is_empty(),
        shortfalls: open.iter().map(|said| format!("{} {}", said.item, said.mark.words())).collect(),
        counts: vec![("key points known", CountOf { n: known, of })],
        marked: Mark::ALL
            .into_iter()
            .rev()
            .filter(|mark| *mark != Mark::Unprompted)
            .map(|mark| {
                let with = heard.items.iter().filter(|said| said.mark == mark);
                (mark, with.map(|said| point(said.item, mark.words())).collect::<Vec<_>>())
            })
            .filter(|(_, points)| !points.is_empty())
            .collect(),
        turned_round: Vec::new(),
        practise: open.iter().map(|said| point(said.item, said.mark.words())).collect(),
        next: Some(TODAY),
        next_sentence: "Hear it again on another day.".into(),
        note: heard.note.clone(),
        corrected: None,
    }
}
