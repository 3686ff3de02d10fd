//! Release: a rule changed, searched and published; a decision signed; a confidence said. Without any script.

mod fake;
mod reading;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use fake::{Fake, Mood};
use practice::{EventKind, Scope};
use reading::{Page, Visitor, get, get_from};

type Recorded = Arc<Mutex<BTreeMap<uuid::Uuid, site::Draft>>>;

fn visitor() -> (Visitor, Recorded) {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    (Visitor::of(desk), recorded)
}

fn set(fields: &mut Vec<(String, String)>, name: &str, value: &str) {
    match fields.iter_mut().find(|(known, _)| known == name) {
        Some((_, old)) => *old = value.to_owned(),
        None => fields.push((name.to_owned(), value.to_owned())),
    }
}

fn query(fields: &[(String, String)]) -> String {
    format!("/rules?{}", reading::encoded(fields))
}

fn n_recorded(recorded: &Recorded) -> usize {
    recorded.lock().expect("nobody panicked").len()
}

fn only(recorded: &Recorded) -> site::Draft {
    let recorded = recorded.lock().expect("nobody panicked");
    assert_eq!(recorded.len(), 1);
    recorded.values().next().expect("there is one").clone()
}

/// The form for a changed rule, filled in with the one in force.
async fn change_form(visitor: &Visitor) -> Vec<(String, String)> {
    let page = visitor.get("/rules").await;
    assert_eq!(page.status, 200);
    page.form("form[action='/rules#does']")
}

#[tokio::test]
async fn the_rule_in_force_is_shown_with_two_sentences_and_a_chart_as_drawing_and_table() {
    let page = get("/rules").await;
    assert_eq!(page.count("h1"), 1);
    let sentences = page.texts("[aria-labelledby=does] .sentence");
    assert_eq!(sentences.len(), 2);
    assert!(sentences[0].starts_with("Of 100 nurses who fail one draw in five, "), "{sentences:?}");
    assert!(sentences[1].starts_with("Of 100 nurses who fail one draw in 50, "), "{sentences:?}");
    let points = page.attributes("figure.chart svg .chart-point[tabindex='0']", "aria-label");
    assert_eq!(
        page.count("figure.chart svg title"),
        page.count("figure.chart svg .chart-row") + points.len() + 2
    );
    // Who never misses a safety point meets every rule that can be met.
    assert!(points[0].starts_with("in force") && points[0].ends_with(": 100.0 % at 0.0 %"), "{points:?}");
    assert!(points.len() > 10, "{points:?}");
    assert_eq!(page.rows(".rule-table tbody tr").len(), 9);
    assert_eq!(page.count("form[method=post]"), 0, "nothing to publish without a change");
    assert_eq!(page.count(".hint[id=rule-prompts-hint]"), 1);
}

#[tokio::test]
async fn a_changed_rule_stands_beside_the_one_in_force_and_is_published_once() {
    let (visitor, recorded) = visitor();
    let mut fields = change_form(&visitor).await;
    set(&mut fields, "name", "eight <b>draws</b>");
    set(&mut fields, "draws", "8");
    set(&mut fields, "prompts", "");
    let looked = visitor.get(&query(&fields)).await;
    assert_eq!(looked.status, 200);
    assert_eq!(looked.texts("[aria-labelledby=does] .sentence").len(), 4);
    assert!(looked.text(".two").contains("8 observed draws on real patients."));
    assert_eq!(looked.rows(".rule-table thead tr").len(), 1);
    assert_eq!(n_recorded(&recorded), 0, "looking writes nothing");

    let mut publication = looked.form("form[method=post]");
    let refused = visitor.post("/rules", &publication).await;
    assert_eq!(refused.status, 422);
    let refusals = refused.text(".refused");
    assert!(refusals.contains("Published by") && refusals.contains("Why"), "{refusals}");
    set(&mut publication, "by", "T-01");
    set(&mut publication, "why", "Too many of those not ready came through.");
    for _ in 0..2 {
        let answer = visitor.post("/rules", &publication).await;
        assert_eq!((answer.status, answer.header("location")), (303, "/rules?published=yes"));
    }
    let draft = only(&recorded);
    let EventKind::RulePublished { rule, why } = draft.what else { panic!("{:?}", draft.what) };
    assert_eq!((rule.version, rule.draws_needed, rule.safety_prompts_allowed), (2, 8, None));
    assert_eq!(why, "Too many of those not ready came through.");
    let after = visitor.get("/rules?published=yes").await;
    assert!(after.text("[role=status]").contains("Published"));
    assert_eq!(after.rows(".rules tbody tr").len(), 2);
    assert_eq!(after.count(".rules b"), 0, "a name is text");
}

#[tokio::test]
async fn what_cannot_be_read_is_named_and_kept() {
    let (visitor, _) = visitor();
    let mut fields = change_form(&visitor).await;
    set(&mut fields, "draws", "five");
    set(&mut fields, "after", "30, 7");
    let page = visitor.get(&query(&fields)).await;
    assert_eq!(page.status, 422);
    assert!(
        page.text(".refused").contains("Observed draws needed: found “five”"),
        "{}",
        page.text(".refused")
    );
    assert_eq!(page.attributes("#rule-draws", "value"), ["five"]);
    set(&mut fields, "draws", "5");
    let page = visitor.get(&query(&fields)).await;
    assert!(page.text(".refused").contains("days after release that rise"), "{}", page.text(".refused"));
    // A rule that nobody can ever meet is named, and cannot be published.
    set(&mut fields, "after", "7, 30");
    set(&mut fields, "draws", "50");
    let page = visitor.get(&query(&fields)).await;
    assert_eq!(page.status, 200);
    assert!(page.text(".caution").contains("can never be met"), "{}", page.text(".caution"));
    assert_eq!(page.count("form[method=post]"), 0);
}

#[tokio::test]
async fn the_search_shows_the_shortest_rule_or_says_that_there_is_none() {
    let asked = |within: &str| {
        format!("/rules?not-ready=20&most-released=5&ready=2&most-held-back=10&within={within}")
    };
    let found = get(&asked("60")).await;
    assert!(found.text("[aria-labelledby=search] .sentence").starts_with("The shortest takes 60 draws."));
    let link = found.attributes("[aria-labelledby=search] [role=status] a", "href");
    let followed = get(link[0].trim_end_matches("#does")).await;
    assert_eq!(followed.status, 200);
    assert_eq!(followed.attributes("#rule-most", "value"), ["60"]);
    let none = get(&asked("5")).await;
    assert!(none.text("[aria-labelledby=search] .sentence").starts_with("No rule of so many draws"));
    let bad = get(&asked("1000")).await;
    assert_eq!(bad.status, 422);
    assert!(bad.text(".refused").contains("a whole number from 1 to 100"));
}

async fn opened(visitor: &Visitor, address: &str) -> Page {
    let redirect = visitor.get(address).await;
    assert_eq!(redirect.status, 303);
    let page = visitor.get(redirect.header("location")).await;
    assert_eq!(page.status, 200);
    page
}

const SIGNING: &str = "/signing?person=N-112&breakdown=vein";

#[tokio::test]
async fn a_release_is_signed_with_its_reason_in_sight_of_the_evidence() {
    let (visitor, recorded) = visitor();
    let page = opened(&visitor, SIGNING).await;
    assert_eq!(page.texts("[aria-labelledby=evidence] .entries > li").len(), 3);
    assert!(
        page.text("[aria-labelledby=faults]").contains("12.6\u{a0}%"),
        "{}",
        page.text("[aria-labelledby=faults]")
    );
    assert_eq!(page.texts("[aria-labelledby=rule] .sentence").len(), 2);
    let mut fields = page.form("form[action='/signing']");
    let refused = visitor.post("/signing", &fields).await;
    assert_eq!(refused.status, 422);
    for place in ["Decision", "Signed by", "Why"] {
        assert!(refused.text(".refused").contains(place), "{place}");
    }
    set(&mut fields, "decision", "own");
    set(&mut fields, "by", "T-01");
    set(&mut fields, "reason", "Five clean draws, two of them at night.");
    // The record grew while the page was open.
    let mut stale = fields.clone();
    set(&mut stale, "seen", "2");
    let stale = visitor.post("/signing", &stale).await;
    assert_eq!((stale.status, n_recorded(&recorded)), (409, 0));
    assert!(stale.text("textarea").contains("two of them at night"));
    let signed = visitor.post("/signing", &fields).await;
    assert_eq!(signed.status, 303);
    assert!(signed.header("location").starts_with("/people/N-112#entry-"), "{}", signed.header("location"));
    let draft = only(&recorded);
    let EventKind::Released(release) = draft.what else { panic!("{:?}", draft.what) };
    assert_eq!((release.scope, release.version.0), (Scope::OwnPatients, 1));
    assert_eq!(release.reason.as_deref(), Some("Five clean draws, two of them at night."));
}

#[tokio::test]
async fn a_decision_that_is_not_open_is_refused() {
    let (visitor, recorded) = visitor();
    let mut fields = opened(&visitor, SIGNING).await.form("form[action='/signing']");
    for (name, value) in [("decision", "precept"), ("by", "T-01"), ("reason", "r")] {
        set(&mut fields, name, value);
    }
    assert_eq!(visitor.post("/signing", &fields).await.status, 422);
    set(&mut fields, "decision", "not-yet");
    assert_eq!(visitor.post("/signing", &fields).await.status, 303);
    assert!(matches!(only(&recorded).what, EventKind::NotYet { .. }));
}

#[tokio::test]
async fn a_confidence_is_the_persons_own_word_and_stands_beside_what_was_seen() {
    let (visitor, recorded) = visitor();
    let page = opened(&visitor, "/confidence?person=N-112&breakdown=vein").await;
    assert_eq!(page.count("input[name=clean]"), 11);
    let mut fields = page.form("form[action='/confidence']");
    assert_eq!(visitor.post("/confidence", &fields).await.status, 422);
    set(&mut fields, "clean", "11");
    assert_eq!(visitor.post("/confidence", &fields).await.status, 422);
    set(&mut fields, "clean", "9");
    assert_eq!(visitor.post("/confidence", &fields).await.status, 303);
    let draft = only(&recorded);
    assert_eq!(draft.by.0, "N-112");
    assert!(matches!(draft.what, EventKind::ConfidenceSaid { clean_of_ten: 9, .. }));
    let beside = opened(&visitor, SIGNING).await.text("[aria-labelledby=own]");
    assert!(beside.contains("−10 points, between −10 points and +34 points"), "{beside}");
}

#[tokio::test]
async fn follow_up_and_watching_name_what_is_due_and_ask_questions() {
    let page = get("/follow-up").await;
    let due = page.rows(".due-list tbody tr");
    assert_eq!(due.len(), 3, "what is due in three months is counted, not listed: {due:?}");
    assert!(due[0].contains("2 days late") && due[1].contains("today") && due[2].contains("in 3 days"));
    assert!(page.text("body").contains("1 more is due later."));
    assert!(page.text(".watched").contains("signal at draw 9"));
    assert_eq!(page.count(".due-list b, .due-list nurse"), 0, "a name is text");
    let watching = get("/watching").await;
    assert_eq!(watching.texts(".question").len(), 1);
    assert!(watching.text(".agreed").contains("0.78, between 0.40 and 1.00"));
    for address in ["/rules", "/follow-up", "/watching"] {
        assert_eq!(get_from(Fake::in_mood(Mood::Empty), address).await.status, 200, "{address}");
        let failing = get_from(Fake::in_mood(Mood::Failing), address).await;
        assert_eq!(failing.status, 500);
        assert!(!failing.body.contains("secret detail"));
    }
}

#[tokio::test]
async fn bad_addresses_are_named() {
    for (address, status) in [
        ("/signing", 400),
        ("/signing?person=N-112", 400),
        ("/signing?person=N-112&breakdown=vein&entry=1", 400),
        ("/signing?person=nobody&breakdown=vein&entry=0190a000-0000-7000-8000-000000000001", 404),
        ("/signing?person=N-112&breakdown=nothing&entry=0190a000-0000-7000-8000-000000000001", 404),
        ("/confidence?person=N-112&breakdown=", 400),
    ] {
        assert_eq!(get(address).await.status, status, "{address}");
    }
}
