//! Rules published in the book, and standing after leave. The rules checked here are the trade's: common practice, no
//! source.

#![expect(clippy::unwrap_used, reason = "a failed unwrap in a helper is a failed test")]

#[expect(dead_code, reason = "each test file uses the helpers it needs")]
mod common;

use breakdown::Version;
use common::*;
use practice::*;

fn published(rule: ReleaseRule) -> EventKind {
    EventKind::RulePublished { rule: Box::new(rule), why: "too many were held back".to_owned() }
}

fn second() -> ReleaseRule {
    ReleaseRule {
        name: "seven draws".to_owned(),
        version: 2,
        draws_needed: 7,
        lapse_after_days: Some(30),
        follow_up: FollowUp { after_days: vec![3], then_every_days: 100 },
        ..ReleaseRule::default()
    }
}

#[test]
fn a_published_rule_advises_from_its_day_on() {
    let mut unit = Unit::new();
    unit.ready();
    unit.add("2026-01-12T12:00", "T", published(second()));
    assert!(unit.standing("L", "2026-01-11").rule_met);
    let after = unit.standing("L", "2026-01-12");
    assert!(!after.rule_met);
    assert_eq!(after.missing, ["5 of 7 observed draws on real patients"]);
    let file = ReleaseRule::default();
    let at = |when: &str| rule_in_force(&unit.history, when.parse().unwrap(), &file).version;
    assert_eq!((at("2026-01-12T11:59"), at("2026-01-12T12:00")), (1, 2));
    let known = published_rules(&unit.history);
    assert_eq!(known.len(), 1);
    assert_eq!((known[0].by.clone(), known[0].why.as_str()), (person("T"), "too many were held back"));
}

/// A rule written down for a day without a time stands at its beginning; it still follows the version before it.
#[test]
fn the_highest_version_holds_whatever_the_hour() {
    let mut unit = Unit::new();
    unit.add("2026-01-12T15:00", "T", published(second()));
    unit.add("2026-01-12T00:00", "T", published(ReleaseRule { version: 3, ..second() }));
    let in_force =
        |when: &str| rule_in_force(&unit.history, when.parse().unwrap(), &ReleaseRule::default()).version;
    assert_eq!((in_force("2026-01-11T23:59"), in_force("2026-01-12T16:00")), (1, 3));
    let versions: Vec<u32> = published_rules(&unit.history).iter().map(|one| one.rule.version).collect();
    assert_eq!(versions, [2, 3]);
}

#[test]
fn who_was_released_before_keeps_what_the_rule_of_that_day_said() {
    let mut unit = Unit::new();
    unit.ready();
    unit.release("2026-01-12", "T", "L", Scope::OwnPatients, 1);
    unit.add("2026-01-12T12:00", "T", published(second()));
    let standing = unit.standing("L", "2026-01-13");
    assert_eq!(standing.level, Level::OwnPatients);
    // Checks after 7 days, as the first rule has it; the second would say 3.
    assert_eq!(standing.next_check.unwrap().on, day("2026-01-19"));
    // The same release signed after the second rule goes by the second.
    unit.release("2026-01-14", "T", "L", Scope::OwnPatients, 1);
    assert_eq!(unit.standing("L", "2026-01-14").next_check.unwrap().on, day("2026-01-17"));
    // The laboratory names collectors up to a day 60 days on: the first rule lapses after 90 days, the second after 30.
    unit.history.laboratory_draws =
        Some(vec![LaboratoryDraw { person: person("P"), job: None, on: day("2026-03-15") }]);
    assert_eq!(unit.standing("L", "2026-03-15").level, Level::Lapsed);
}

#[test]
fn only_a_trainer_publishes_a_rule() {
    let mut unit = Unit::new();
    unit.ready();
    unit.add("2026-01-12", "P", published(second()));
    assert!(unit.standing("L", "2026-01-12").rule_met);
    assert!(published_rules(&unit.history).is_empty());
}

#[test]
fn a_decision_not_to_release_and_a_confidence_move_no_standing() {
    let mut unit = Unit::new();
    unit.ready();
    let (who, job) = (person("L"), job());
    unit.add(
        "2026-01-12",
        "L",
        EventKind::ConfidenceSaid { person: who.clone(), job: job.clone(), clean_of_ten: 9 },
    );
    let reason = "one more night shift first".to_owned();
    unit.add("2026-01-12", "T", EventKind::NotYet { person: who, job, reason });
    let standing = unit.standing("L", "2026-01-12");
    assert_eq!((standing.level, standing.rule_met, standing.draws_counted), (Level::Learning, true, 5));
    let sentences: Vec<_> = standing.evidence.iter().rev().take(2).map(|one| one.sentence.clone()).collect();
    assert_eq!(
        sentences,
        [
            "Not released yet: one more night shift first",
            "Own confidence: of the next ten draws, no safety point missed on 9."
        ]
    );
}

#[test]
fn a_long_leave_lapses_a_standing_until_somebody_has_watched() {
    let mut unit = Unit::new();
    unit.ready();
    unit.release("2026-01-12", "T", "L", Scope::AllPatients, 1);
    unit.add("2026-02-01", "T", EventKind::PersonLeft { person: person("L") });
    assert_eq!(unit.standing("L", "2026-05-01").level, Level::Away);
    let mut short = Unit { history: unit.history.clone() };
    short.add("2026-05-02", "T", person_added("L", Role::Nurse));
    // 90 days away, and the rule allows 90 without a draw.
    assert_eq!(short.standing("L", "2026-05-02").level, Level::AllPatients);

    unit.add("2026-05-03", "T", person_added("L", Role::Nurse));
    let back = unit.standing("L", "2026-05-03");
    assert_eq!((back.level, back.since, back.rule_met), (Level::Lapsed, Some(day("2026-05-03")), false));
    assert!(!back.level.may_draw_alone());
    assert_eq!(
        back.missing,
        [
            "a watched draw or a refresher: back on 3 May 2026 after 91 days away, and the rule allows 90 without a draw"
        ]
    );
    assert_eq!(back.next_check.unwrap().on, day("2026-05-03"));
    // What the laboratory says alone does not bring it back; a watched draw does, and so does a refresher.
    unit.history.laboratory_draws =
        Some(vec![LaboratoryDraw { person: person("L"), job: None, on: day("2026-05-04") }]);
    assert_eq!(unit.standing("L", "2026-05-04").level, Level::Lapsed);
    let mut refreshed = Unit { history: unit.history.clone() };
    let (who, version) = (person("L"), Version(1));
    refreshed.add(
        "2026-05-05",
        "T",
        EventKind::RefresherDone { person: who, job: job(), version, reason: None },
    );
    assert_eq!(refreshed.standing("L", "2026-05-05").level, Level::AllPatients);
    unit.watch("2026-05-06", "P", draw());
    assert_eq!(unit.standing("L", "2026-05-06").level, Level::AllPatients);
}
