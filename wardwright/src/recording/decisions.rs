//! What trainers decide and people say of themselves, looked over before it is written.

use ::breakdown::JobCode;
use practice::{EventKind, History, PersonId, ReleaseRule, Role, standing_events};
use site::Refusal;

/// Why a decision, a confidence or a rule is not taken.
pub(super) fn look_over(sent: &site::Draft, history: &History, of_file: &ReleaseRule) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    match &sent.what {
        EventKind::Released(release) => {
            refusals.extend(signed_by_trainer(sent, &release.person, history));
            refusals.extend(about(&release.person, &release.job, history));
            if !has_version(&release.job, release.version, history) {
                refusals.push(Refusal::new(
                    "the breakdown",
                    format!("version {} of {}, which is not in the book", release.version, release.job),
                    "a published version",
                    "open the page again from the person's record",
                ));
            }
            refusals.extend(reason(release.reason.as_deref().unwrap_or_default()));
        }
        EventKind::Withdrawn { person, job, reason: why }
        | EventKind::NotYet { person, job, reason: why } => {
            refusals.extend(signed_by_trainer(sent, person, history));
            refusals.extend(about(person, job, history));
            refusals.extend(reason(why));
        }
        EventKind::RefresherDone { person, job, reason: why, .. } => {
            refusals.extend(signed_by_trainer(sent, person, history));
            refusals.extend(about(person, job, history));
            refusals.extend(reason(why.as_deref().unwrap_or_default()));
        }
        EventKind::ConfidenceSaid { person, job, clean_of_ten } => {
            refusals.extend(about(person, job, history));
            if sent.by != *person {
                refusals.push(Refusal::new(
                    "the answer",
                    format!("written by {}", sent.by),
                    "the person's own word",
                    "let them answer for themselves",
                ));
            }
            if *clean_of_ten > 10 {
                refusals.push(Refusal::new(
                    "the answer",
                    clean_of_ten.to_string(),
                    "a whole number from 0 to 10",
                    "choose one",
                ));
            }
        }
        EventKind::RulePublished { rule, why } => {
            refusals.extend(trainer(&sent.by, "Published by", history));
            refusals.extend(reason(why));
            refusals.extend(rule_is_next(rule, history, of_file));
        }
        _ => {}
    }
    refusals
}

fn role_of(id: &PersonId, history: &History) -> Option<Role> {
    standing_events(history).into_iter().rev().find_map(|known| match &known.event.kind {
        EventKind::PersonAdded(person) if person.id == *id => Some(person.role),
        _ => None,
    })
}

pub(super) fn trainer(by: &PersonId, place: &str, history: &History) -> Option<Refusal> {
    match role_of(by, history) {
        Some(Role::Trainer) | None => None,
        Some(_) => Some(Refusal::new(
            place,
            format!("{by}, who is not a trainer"),
            "a trainer",
            "have a trainer sign",
        )),
    }
}

fn signed_by_trainer(sent: &site::Draft, person: &PersonId, history: &History) -> Option<Refusal> {
    if sent.by == *person {
        return Some(Refusal::new(
            "Signed by",
            "the person it is about",
            "another trainer",
            "nobody decides about themselves",
        ));
    }
    trainer(&sent.by, "Signed by", history)
}

fn about(person: &PersonId, job: &JobCode, history: &History) -> Vec<Refusal> {
    let mut refusals = Vec::new();
    if role_of(person, history).is_none() {
        refusals.push(super::unknown("the person", person));
    }
    if crate::breakdown::newest_version(history, job).is_none() {
        refusals.push(Refusal::new(
            "the job",
            format!("{job}, which has no breakdown in the book"),
            "a job with a published breakdown",
            "open the page again from the person's record",
        ));
    }
    refusals
}

fn has_version(job: &JobCode, version: ::breakdown::Version, history: &History) -> bool {
    standing_events(history).iter().any(|known| {
        matches!(&known.event.kind, EventKind::BreakdownPublished(breakdown)
            if breakdown.code == *job && breakdown.version == version)
    })
}

fn reason(text: &str) -> Option<Refusal> {
    text.trim().is_empty().then(|| {
        Refusal::new("Why", "nothing", "why it is decided so", "write it in a sentence; the book keeps it")
    })
}

/// A rule is sound, can be met, and its version is the next one: a published rule is never changed.
fn rule_is_next(rule: &ReleaseRule, history: &History, of_file: &ReleaseRule) -> Vec<Refusal> {
    let mut refusals: Vec<Refusal> = practice::rule_faults(rule)
        .into_iter()
        .map(|fault| Refusal::new(fault.part, fault.found, fault.expected, "correct it"))
        .collect();
    refusals.extend(practice::never_met(rule).into_iter().map(|because| {
        Refusal::new(
            "The rule",
            format!("one that nobody can ever meet: {because}"),
            "a rule that somebody without a fault meets",
            "ask for fewer, or take stock later",
        )
    }));
    let published = practice::published_rules(history).into_iter().map(|one| one.rule.version);
    let newest = published.fold(of_file.version, u32::max);
    let next = newest.saturating_add(1);
    if rule.version != next {
        refusals.push(Refusal::new(
            "Version",
            format!("version {}, and version {newest} in force", rule.version),
            format!("version {next} next"),
            "look at the rule that was published meanwhile, then publish yours in sight of it",
        ));
    }
    refusals
}

#[cfg(test)]
mod tests {
    use ::breakdown::Version;
    use practice::{Release, Scope};

    use super::super::tests::{draft, now, refused, unit};
    use super::*;
    use crate::recording::record;
    use site::Recording;

    fn job() -> JobCode {
        JobCode("vein".to_owned())
    }

    fn learner() -> PersonId {
        PersonId("L".to_owned())
    }

    fn release(reason: Option<&str>, version: u32) -> EventKind {
        EventKind::Released(Release {
            person: learner(),
            job: job(),
            version: Version(version),
            scope: Scope::OwnPatients,
            reason: reason.map(str::to_owned),
        })
    }

    fn published(version: u32) -> EventKind {
        let rule = ReleaseRule { version, ..ReleaseRule::default() };
        EventKind::RulePublished { rule: Box::new(rule), why: "tried for a month".to_owned() }
    }

    #[test]
    fn decisions_are_a_trainers_with_a_reason() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        for (sent, words) in [
            (draft("L", release(Some("ready"), 1)), "Signed by: the person it is about"),
            (draft("T", release(None, 1)), "Why: nothing"),
            (draft("T", release(Some("  "), 1)), "Why: nothing"),
            (draft("T", release(Some("ready"), 7)), "version 7 of vein"),
            (
                draft(
                    "T",
                    EventKind::Withdrawn { person: learner(), job: JobCode("x".into()), reason: "r".into() },
                ),
                "x, which has no breakdown",
            ),
            (
                draft("T", EventKind::ConfidenceSaid { person: learner(), job: job(), clean_of_ten: 8 }),
                "the answer: written by T",
            ),
            (
                draft("L", EventKind::ConfidenceSaid { person: learner(), job: job(), clean_of_ten: 11 }),
                "the answer: 11",
            ),
        ] {
            let found = refused(&folder, &sent);
            assert!(found.contains(words), "{words}: {found}");
        }
        let own = draft("L", EventKind::ConfidenceSaid { person: learner(), job: job(), clean_of_ten: 8 });
        let not_yet = draft(
            "T",
            EventKind::NotYet { person: learner(), job: job(), reason: "one more night".to_owned() },
        );
        for sent in [own, not_yet, draft("T", release(Some("drew well"), 1))] {
            assert_eq!(record(&folder, &sent, now()).unwrap(), Recording::Recorded);
            assert_eq!(record(&folder, &sent, now()).unwrap(), Recording::AlreadyThere);
        }
    }

    #[test]
    fn a_rule_is_published_as_the_next_version_and_can_be_met() {
        let temporary = tempfile::tempdir().unwrap();
        let folder = unit(&temporary);
        // The rule that comes along is version 1.
        assert!(refused(&folder, &draft("T", published(1))).contains("version 1 in force"));
        assert!(refused(&folder, &draft("L", published(2))).contains("L, who is not a trainer"));
        let never = ReleaseRule { version: 2, draws_needed: 20, most_draws: 10, ..ReleaseRule::default() };
        let never = EventKind::RulePublished { rule: Box::new(never), why: "w".to_owned() };
        assert!(refused(&folder, &draft("T", never)).contains("nobody can ever meet"));
        let wild = ReleaseRule { version: 2, clean_in_a_row: 500, ..ReleaseRule::default() };
        let wild = EventKind::RulePublished { rule: Box::new(wild), why: "w".to_owned() };
        assert!(refused(&folder, &draft("T", wild)).contains("clean_in_a_row: 500"));
        assert_eq!(record(&folder, &draft("T", published(2)), now()).unwrap(), Recording::Recorded);
        assert!(refused(&folder, &draft("T", published(2))).contains("version 2 in force"));
    }
}
