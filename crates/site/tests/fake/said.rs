//! Invented teach-backs: what the form needs and what a pass showed. The marks are echoed, nothing is judged.

use breakdown::{ItemId, ItemKind, JobCode, Version};
use desk::{ListenersAgree, MissedPage, MissedPoint, PractisePoint, TeachBackForm, TeachBackResult};
use jiff::civil::{DateTime, date};
use practice::{PersonId, Role};
use site::{HandedIn, HeardFrom, Refusal};
use teachback::{CountOf, HeardAs, Mark, Proposed, ProposedItem, SpokenLine, TeachBack, Unmatched};

use super::{TODAY, job, rate};

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
        may_be_same: vec![(
            "01900000-0000-7000-8000-000000000001".into(),
            date(2026, 2, 28).at(14, 5, 0, 0),
            "Ansa Wolfendale".into(),
        )],
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
        proposals: None,
        together: None,
        corrected: None,
    }
}

pub fn missed(code: &JobCode) -> MissedPage {
    let point = |step, point, text: &str, safety, open: u64, of: u64| MissedPoint {
        item: ItemId::key_point(step, point),
        text: text.into(),
        safety,
        missed: rate(open, of, "not said", "teach-backs in which it was judged"),
        prompted: rate(1, of, "after a prompt", "teach-backs in which it was judged"),
        in_part: rate(0, of, "led or in part", "teach-backs in which it was judged"),
        wrong: rate(0, of, "wrong or unsafe", "teach-backs in which it was judged"),
        not_done: rate(2, 34, "with help or not done", "draws on which it was seen"),
        cost: open + 3,
        judged: of + 34,
    };
    MissedPage {
        job: code.clone(),
        job_name: "Vein draw, adult, one set".into(),
        ranked: vec![
            point(3, 3, "let it dry fully, do not wipe or blow", false, 9, 21),
            point(6, 1, super::people::SCRIPT, true, 4, 14),
        ],
        too_few: vec![point(2, 2, "mark the fill level", false, 1, 2)],
        listeners: Some(ListenersAgree {
            passes: 4,
            alike: rate(110, 128, "marked alike", "items that two listeners marked"),
            ac1: "0.84, 95 % interval 0.77 to 0.91, from 128 items".into(),
            kappa: "0.41, 95 % interval 0.22 to 0.60, from 128 items".into(),
            differed: vec![(ItemId::key_point(3, 3), 3, 4)],
        }),
        proposals: None,
    }
}

/// Lines of the form "PLACE MARK CONFIDENCE words": a proposal for each item they name, and "not heard" for all others.
/// Nothing is heard in truth: the words say what the desk answers.
pub fn handed_in(breakdown: &breakdown::Breakdown, bytes: &[u8]) -> HandedIn {
    let text = String::from_utf8_lossy(bytes).replace("\r\n", "\n").trim_end().to_owned();
    if !text.starts_with("invented") {
        return HandedIn::Unreadable(vec![Refusal::new(
            "the transcript",
            "no words",
            "a transcript",
            "export it as text",
        )]);
    }
    let said: Vec<(ItemId, Mark, f64, String)> = text
        .lines()
        .filter_map(|line| {
            let mut parts = line.splitn(4, ' ');
            let item = ItemId::parse(parts.next()?)?;
            let mark = Mark::from_name(parts.next()?)?;
            Some((item, mark, parts.next()?.parse().ok()?, parts.next()?.to_owned()))
        })
        .collect();
    let items = breakdown.items().into_iter().enumerate().map(|(place, known)| {
        let said = said.iter().find(|(item, ..)| *item == known.id);
        ProposedItem {
            item: known.id,
            mark: said.map_or(Mark::Missed, |(_, mark, ..)| *mark),
            heard_as: if said.is_some() { HeardAs::Said } else { HeardAs::NotHeard },
            at_s: said.map(|_| place as f64 * 5.0),
            heard: said.map(|(.., words)| words.clone()),
            expected_quantity: None,
            heard_quantity: None,
            confidence: said.map_or(0.95, |(_, _, confidence, _)| *confidence),
            listen: said.is_some_and(|(_, _, confidence, _)| *confidence < 0.75),
        }
    });
    let proposed = Proposed {
        program: "invented 1".into(),
        transcript_sha256: Some("ab".repeat(32)),
        transcript: None,
        listen_below: 0.75,
        items: items.collect(),
        steps_named: Some(5),
        order_errors: Vec::new(),
    };
    let lines = text.lines().enumerate().map(|(place, line)| SpokenLine {
        start_s: Some(place as f64 * 5.0),
        end_s: None,
        speaker: None,
        text: line.to_owned(),
    });
    HandedIn::Heard(Box::new(HeardFrom {
        lines: lines.collect(),
        proposed,
        before: Vec::new(),
        unmatched: vec![Unmatched { at_s: Some(2.0), text: super::people::SCRIPT.into() }],
        pace: Vec::new(),
        same_job: !text.contains("other job"),
        same_job_because: "21 of 32 items were heard".into(),
        faults: Vec::new(),
        text,
    }))
}
