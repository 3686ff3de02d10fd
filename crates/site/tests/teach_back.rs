//! A teach-back heard live: opened, marked, refused, saved once, read again. Without any script.

mod fake;
mod reading;

use std::sync::{Arc, Mutex};

use axum::body::Body;
use axum::http::Request;
use fake::{Fake, Mood, people};
use practice::EventKind;
use reading::{Page, Visitor, encoded};
use teachback::{Mark, TeachBack};

const NEW: &str = "/teach-back/new?person=N-112&breakdown=vein";

type Recorded = Arc<Mutex<std::collections::BTreeMap<uuid::Uuid, site::Draft>>>;

fn visitor() -> (Visitor, Recorded) {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    (Visitor::of(desk), recorded)
}

async fn opened(visitor: &Visitor) -> (Page, Vec<(String, String)>) {
    let redirect = visitor.get(NEW).await;
    assert_eq!(redirect.status, 303);
    let page = visitor.get(redirect.header("location")).await;
    assert_eq!(page.status, 200);
    let fields = page.form("#pass");
    (page, fields)
}

fn set(fields: &mut Vec<(String, String)>, name: &str, value: &str) {
    match fields.iter_mut().find(|(known, _)| known == name) {
        Some((_, old)) => *old = value.to_owned(),
        None => fields.push((name.to_owned(), value.to_owned())),
    }
}

fn marked(fields: &mut Vec<(String, String)>) {
    set(fields, "by", "T-01");
    for (item, mark, at) in [
        ("1", "unprompted", "2.0"),
        ("1.1", "wrong", "4.5"),
        ("3.3", "prompted", "90.0"),
        ("4.1", "unprompted", "60.5"),
        ("2.1", "missed", ""),
    ] {
        set(fields, &format!("mark-{item}"), mark);
        set(fields, &format!("at-{item}"), at);
    }
}

fn n_recorded(recorded: &Recorded) -> usize {
    recorded.lock().expect("nobody panicked").len()
}

fn only(recorded: &Recorded) -> TeachBack {
    let recorded = recorded.lock().expect("nobody panicked");
    assert_eq!(recorded.len(), 1);
    match &recorded.values().next().expect("one entry").what {
        EventKind::TeachBackHeard { person, teachback } => {
            assert_eq!(person.0, "N-112");
            teachback.clone()
        }
        other => panic!("{other:?}"),
    }
}

#[tokio::test]
async fn a_new_form_has_an_identifier_in_its_address_and_a_choice_for_every_item() {
    let (visitor, _) = visitor();
    let (page, fields) = opened(&visitor).await;
    let entry = fields.iter().find(|(name, _)| name == "entry").unwrap().1.clone();
    assert_eq!(uuid::Uuid::parse_str(&entry).unwrap().get_version_num(), 7);
    let items = page.attributes("#pass .said[data-item]", "data-item");
    // Six steps, thirteen key points, each with one reason at least: counted in tests/fake/job.rs.
    assert_eq!(items.len(), 6 + 13 + 13);
    // Seven marks and "not judged", which is what stands until somebody marks.
    assert_eq!(page.count(".said[data-item='3.3'] input[type=radio]"), 8);
    assert_eq!(page.count(".said[data-item] input[type=radio][value=''][checked]"), items.len());
    assert!(page.text(".said[data-item='1.1'] .what").contains("Safety"), "a safety point says so in a word");
    assert!(!page.text(".said[data-item='1.2'] .what").contains("Safety"));
    assert_eq!(page.count(".said[data-first]"), 2, "the binding orders");
    // Scripts from files of ours, and what they say; nothing inline that runs.
    let scripts = page.attributes("script", "src");
    assert_eq!(scripts.len(), page.count("script:not([type='application/json'])"));
    assert!(page.raw("script[type='application/json']")[0].contains("\"clock-starts\""));
    assert!(
        scripts[0].starts_with("/drafts.js?v=") && scripts[1].starts_with("/teach-back.js?v="),
        "{scripts:?}"
    );
    assert_eq!(page.count("[onclick], [style], style"), 0);
    let script = visitor.get(&scripts[0]).await;
    assert_eq!((script.status, script.header("content-type")), (200, "text/javascript; charset=utf-8"));
    assert!(script.header("cache-control").contains("immutable"));
}

#[tokio::test]
async fn a_pass_is_summed_up_then_saved_once() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    marked(&mut fields);
    set(&mut fields, "do", "summary");
    let summary = visitor.post("/teach-back", &fields).await;
    assert_eq!((summary.status, n_recorded(&recorded)), (200, 0), "nothing is in the book yet");
    assert!(summary.text("main").contains("Nothing is in the book yet"));
    let mut again = summary.form(".decide");
    set(&mut again, "do", "save");
    let entry = again.iter().find(|(name, _)| name == "entry").unwrap().1.clone();
    for _ in 0..2 {
        let saved = visitor.post("/teach-back", &again).await;
        assert_eq!((saved.status, saved.header("location")), (303, format!("/teach-back/{entry}").as_str()));
    }
    let heard = only(&recorded);
    // In the order said: 4.1 before 3.3, which the breakdown forbids; what was missed has no time and stands last.
    let said: Vec<_> = heard.items.iter().map(|said| (said.item.to_string(), said.mark, said.at_s)).collect();
    assert_eq!(
        said,
        [
            ("1".to_owned(), Mark::Unprompted, Some(2.0)),
            ("1.1".to_owned(), Mark::Wrong, Some(4.5)),
            ("4.1".to_owned(), Mark::Unprompted, Some(60.5)),
            ("3.3".to_owned(), Mark::Prompted, Some(90.0)),
            ("2.1".to_owned(), Mark::Missed, None),
        ]
    );
    let shown = visitor.get(&format!("/teach-back/{entry}")).await;
    assert_eq!(shown.status, 200);
    assert_eq!(shown.attributes("[data-saved]", "data-saved"), [entry.as_str()]);
    // The same form with another mark is another thing of the same name: refused, and shown as it was typed.
    set(&mut again, "mark-1", "missed");
    let other = visitor.post("/teach-back", &again).await;
    assert_eq!(other.status, 422);
    assert!(other.text(".refused").contains("Nothing typed is lost"));
    assert_eq!(other.count(".said[data-item='1'] input[value=missed][checked]"), 1);
    assert_eq!(n_recorded(&recorded), 1);
}

#[tokio::test]
async fn the_listener_decides_about_a_binding_order() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    marked(&mut fields);
    set(&mut fields, "order-3.3-4.1", "kept");
    set(&mut fields, "do", "save");
    assert_eq!(visitor.post("/teach-back", &fields).await.status, 303);
    let order: Vec<_> = only(&recorded).items.iter().map(|said| said.item.to_string()).collect();
    assert_eq!(order, ["1", "1.1", "3.3", "4.1", "2.1"]);
}

#[tokio::test]
async fn what_cannot_be_saved_is_said_and_stays_on_the_form() {
    let long = "x".repeat(501);
    let rows: [(&str, &str, &str); 9] = [
        ("by", "", "Heard by: found nobody"),
        ("by", "N-112", "somebody on the unit other than the learner"),
        ("by", people::SCRIPT, "Heard by: found “<script>alert('x')"),
        ("started", "yesterday", "a date and a time such as 2026-03-03 14:05"),
        ("started", "2026-03-03 15:00", "which is after now, 2026-03-03 14:30"),
        ("note", &long, "501 characters; expected at most 500"),
        ("note", "a\u{7}b", "a control character"),
        ("mark-1", "splendid", "the mark of 1: found “splendid”"),
        (
            "mark-9.9",
            "missed",
            "item 9.9: found a mark for an item this version of the breakdown does not have",
        ),
    ];
    for (field, value, words) in rows {
        let (visitor, recorded) = visitor();
        let (_, mut fields) = opened(&visitor).await;
        marked(&mut fields);
        if field != "note" {
            set(&mut fields, "note", people::EMOJI);
        }
        set(&mut fields, field, value);
        set(&mut fields, "do", "save");
        let page = visitor.post("/teach-back", &fields).await;
        assert_eq!(page.status, 422, "{field}={value}");
        assert!(page.text(".refused").contains(words), "{field}={value}: {}", page.text(".refused"));
        assert_eq!(page.count(".said[data-item='1.1'] input[value=wrong][checked]"), 1, "{field}");
        assert_eq!(page.attributes("[name='at-4.1']", "value"), ["60.5"]);
        if field != "note" {
            assert_eq!(page.text("#note"), people::EMOJI);
        }
        assert_eq!(page.count("main script"), 0);
        assert_eq!(n_recorded(&recorded), 0);
    }
    let (visitor, _) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    set(&mut fields, "by", "T-01");
    set(&mut fields, "do", "save");
    assert!(visitor.post("/teach-back", &fields).await.text(".refused").contains("no item is marked"));
}

#[tokio::test]
async fn notes_in_any_script_come_back_as_they_were_typed() {
    for note in [people::SCRIPT, people::RIGHT_TO_LEFT, people::EMOJI, "two\nlines"] {
        let (visitor, recorded) = visitor();
        let (_, mut fields) = opened(&visitor).await;
        marked(&mut fields);
        set(&mut fields, "note", note);
        set(&mut fields, "do", "summary");
        let summary = visitor.post("/teach-back", &fields).await;
        let mut again = summary.form(".decide");
        set(&mut again, "do", "change");
        let mut changed = visitor.post("/teach-back", &again).await.form("#pass");
        set(&mut changed, "do", "save");
        assert_eq!(visitor.post("/teach-back", &changed).await.status, 303);
        assert_eq!(only(&recorded).note.as_deref(), Some(note));
    }
}

#[tokio::test]
async fn a_form_from_elsewhere_or_from_before_is_not_taken() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    marked(&mut fields);
    set(&mut fields, "do", "save");
    let with = |header: &str, value: &str| {
        Request::post("/teach-back")
            .header("host", "127.0.0.1:8099")
            .header(header, value)
            .header("content-type", "application/x-www-form-urlencoded")
            .body(Body::from(encoded(&fields)))
            .unwrap()
    };
    for (header, value) in [
        ("origin", "http://example.org"),
        ("origin", "null"),
        ("origin", "http://127.0.0.1:9999"),
        ("origin", "https://127.0.0.1:8099"),
        ("sec-fetch-site", "cross-site"),
        ("sec-fetch-site", "same-site"),
    ] {
        let page = visitor.send(with(header, value)).await;
        assert_eq!(page.status, 403, "{header}: {value}");
        assert!(page.text("main").contains("Nothing was written"));
    }
    let mut stale = fields.clone();
    for secret in ["", "0", &"0".repeat(64)] {
        set(&mut stale, "form-secret", secret);
        let page = visitor.post("/teach-back", &stale).await;
        assert_eq!(page.status, 422);
        assert!(page.text(".refused").contains("before the program was started again"));
        assert_eq!(
            page.count(".said[data-item='1.1'] input[value=wrong][checked]"),
            1,
            "nothing typed is lost"
        );
    }
    assert_eq!(n_recorded(&recorded), 0);
    // The page that came back carries the right secret, and can be sent.
    let mut fresh = visitor.post("/teach-back", &stale).await.form("#pass");
    set(&mut fresh, "do", "save");
    assert_eq!(visitor.post("/teach-back", &fresh).await.status, 303);
    // A program that is no browser names no origin.
    assert_eq!(visitor.send(with("accept", "text/html")).await.status, 303);
    assert_eq!(n_recorded(&recorded), 1);
}

#[tokio::test]
async fn what_is_no_form_of_these_pages_is_told_in_plain_words() {
    let (visitor, _) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    let json = Request::post("/teach-back")
        .header("host", "127.0.0.1:8099")
        .header("content-type", "application/json")
        .body(Body::from("{}"))
        .unwrap();
    assert_eq!(visitor.send(json).await.status, 400);
    set(&mut fields, "entry", "12345");
    let page = visitor.post("/teach-back", &fields).await;
    assert_eq!(page.status, 400);
    assert!(page.text("main").contains("a UUID of version 7"));
    set(&mut fields, "note", &"x".repeat(500_000));
    let page = visitor.post("/teach-back", &fields).await;
    assert_eq!((page.status, page.text("h1").as_str()), (413, "The form is too large"));
    for (address, status) in [
        ("/teach-back/new?person=nobody&breakdown=vein", 303),
        ("/teach-back/new?person=N-112&breakdown=vein&entry=12", 400),
        ("/teach-back/new?person=N-112&breakdown=vein&version=0", 303),
        ("/teach-back/new?person=N-112&person=N-113", 400),
        ("/teach-back/12", 400),
        ("/teach-back/01890a5d-ac96-774b-bcce-b302099a8057", 404),
        ("/practice/none", 404),
        ("/practice/vein?person=nobody", 404),
    ] {
        assert_eq!(visitor.get(address).await.status, status, "{address}");
    }
    let entry = "&entry=01890a5d-ac96-774b-bcce-b302099a8057";
    for (address, words) in [
        (format!("/teach-back/new?person=nobody&breakdown=vein{entry}"), "Nobody on the unit"),
        (format!("/teach-back/new?person=N-112&breakdown=none{entry}"), "No job in force"),
        (format!("/teach-back/new?person=N-112&breakdown=vein&version=7{entry}"), "no version 7"),
        (format!("/teach-back/new?person=N-112&breakdown=vein&version=x{entry}"), "a whole number from 1"),
    ] {
        assert!(visitor.get(&address).await.text("main").contains(words), "{address}");
    }
    let busy = Visitor::of(Fake { mood: Mood::Busy, ..Fake::full() });
    assert_eq!(busy.post("/teach-back", &fields[..fields.len() - 1]).await.status, 400);
}

#[tokio::test]
async fn practice_hides_every_answer_and_begins_with_what_was_open() {
    let (visitor, _) = visitor();
    let page = visitor.get("/practice/vein?person=N-112").await;
    assert_eq!(page.status, 200);
    assert_eq!(page.count("details[open]"), 0);
    let asked = page.texts("[aria-labelledby=open] .content > details > summary");
    assert_eq!(
        asked,
        [
            "Safety Label, record, send: key point 1 of 2",
            "Clean the skin: key point 3 of 3",
            "Why: let it dry fully, do not wipe or blow",
            "Which step is number 2?",
        ]
    );
    // Every answer stands behind something to open.
    assert_eq!(page.count(".answer"), page.count("details .answer"));
    assert_eq!(page.count("[aria-labelledby=steps] .content > details"), 6);
    let alone = visitor.get("/practice/vein").await;
    assert_eq!((alone.status, alone.count("[aria-labelledby=open]")), (200, 0));
    assert!(!alone.body.contains("Adeyemi"));
}
