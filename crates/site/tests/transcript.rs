//! A transcript handed in, its proposals decided on, saved once. Without any script.

mod fake;
mod reading;

use std::sync::{Arc, Mutex};

use axum::body::Body;
use axum::http::Request;
use fake::Fake;
use practice::EventKind;
use reading::{Page, Visitor};
use teachback::{Mark, TeachBack};

const OPEN: &str = "/teach-back/transcript?person=N-112&breakdown=vein";
/// A proposal for each line that names an item; the fake desk says "missed, 95 %" of all others.
const WORDS: &str = "invented\n1 unprompted 0.9 get the things ready\n1.1 wrong 0.9 any name will do\n3.3 prompted 0.6 let it dry";

type Fields = Vec<(String, String)>;
type Recorded = Arc<Mutex<std::collections::BTreeMap<uuid::Uuid, site::Draft>>>;

fn visitor() -> (Visitor, Recorded) {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    (Visitor::of(desk), recorded)
}

fn set(fields: &mut Fields, name: &str, value: &str) {
    match fields.iter_mut().find(|(known, _)| known == name) {
        Some((_, old)) => *old = value.to_owned(),
        None => fields.push((name.to_owned(), value.to_owned())),
    }
}

/// Sends a form with a file, as a browser does.
async fn send(visitor: &Visitor, fields: &Fields, file: Option<&[u8]>) -> Page {
    let mark = "----invented";
    let mut body = Vec::new();
    for (name, value) in fields.iter().filter(|(name, _)| name != "file") {
        body.extend(
            format!("--{mark}\r\nContent-Disposition: form-data; name=\"{name}\"\r\n\r\n{value}\r\n").bytes(),
        );
    }
    let disposition = "Content-Disposition: form-data; name=\"file\"; filename=\"said.vtt\"";
    body.extend(format!("--{mark}\r\n{disposition}\r\nContent-Type: text/vtt\r\n\r\n").bytes());
    body.extend(file.unwrap_or_default());
    body.extend(format!("\r\n--{mark}--\r\n").bytes());
    let request = Request::post("/teach-back/transcript")
        .header("host", "127.0.0.1:8099")
        .header("origin", "http://127.0.0.1:8099")
        .header("content-type", format!("multipart/form-data; boundary={mark}"))
        .body(Body::from(body))
        .expect("a form");
    visitor.send(request).await
}

async fn opened(visitor: &Visitor) -> Fields {
    let redirect = visitor.get(OPEN).await;
    assert_eq!(redirect.status, 303);
    let page = visitor.get(redirect.header("location")).await;
    assert_eq!(page.status, 200);
    let mut fields = page.form(".hand-in");
    set(&mut fields, "by", "T-01");
    fields
}

async fn proposed(visitor: &Visitor) -> (Page, Fields) {
    let fields = opened(visitor).await;
    let page = send(visitor, &fields, Some(WORDS.as_bytes())).await;
    assert_eq!(page.status, 200, "{}", page.text("main"));
    let fields = page.form("#pass");
    (page, fields)
}

fn only(recorded: &Recorded) -> Option<TeachBack> {
    let recorded = recorded.lock().expect("nobody panicked");
    assert!(recorded.len() < 2);
    recorded.values().next().map(|draft| match &draft.what {
        EventKind::TeachBackHeard { teachback, .. } => teachback.clone(),
        other => panic!("{other:?}"),
    })
}

#[tokio::test]
async fn nothing_is_decided_until_somebody_decides() {
    let (visitor, _) = visitor();
    let (page, _) = proposed(&visitor).await;
    // Six steps, thirteen key points, each with one reason at least: counted in tests/fake/job.rs.
    let n_items = 6 + 13 + 13;
    assert_eq!(page.count("#pass .said[data-item]"), n_items);
    assert_eq!(page.count("#pass .said[data-item] input[checked]"), 0, "no mark is given beforehand");
    assert_eq!(page.text("#judged"), format!("0 of {n_items} decided"));
    // One is unsure, one says that something false was said; the others may be confirmed together.
    assert_eq!(page.attributes(".needs-a-look", "data-item"), ["1.1", "3.3"]);
    assert_eq!(page.text("#n-sure"), (n_items - 2).to_string());
    assert!(page.text("[data-item='3.3']").contains("Listen here"), "{}", page.text("[data-item='3.3']"));
    assert!(page.text("[data-item='3.3'] .words").contains("“let it dry”"));
    assert_eq!(page.text("[data-item='3.3'] .is-proposed .tag"), "proposed");
    assert!(
        page.text("[aria-labelledby=others] .lines").contains("<script"),
        "talk is text, whatever it holds"
    );
    assert_eq!(page.count("[onclick], [style], style"), 0);
}

#[tokio::test]
async fn sure_ones_are_confirmed_together_and_the_others_one_by_one() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = proposed(&visitor).await;
    set(&mut fields, "do", "summary");
    let refused = visitor.post("/teach-back/confirm", &fields).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text(".refused").contains("32 without one"), "{}", refused.text(".refused"));

    set(&mut fields, "do", "take-sure");
    let taken = visitor.post("/teach-back/confirm", &fields).await;
    assert_eq!((taken.status, taken.text("#judged").as_str()), (200, "30 of 32 decided"));
    let mut fields = taken.form("#pass");
    set(&mut fields, "do", "summary");
    let refused = visitor.post("/teach-back/confirm", &fields).await;
    let found = refused.text(".refused");
    assert!(found.contains("2 without one: 1.1 at 00:05, 3.3 at"), "{found}");

    // Something false is changed by the trainer's ear, the unsure one could not be heard.
    set(&mut fields, "mark-1.1", "prompted");
    set(&mut fields, "mark-3.3", "not-judged");
    let summary = visitor.post("/teach-back/confirm", &fields).await;
    assert_eq!(summary.status, 200, "{}", summary.text("main"));
    assert!(only(&recorded).is_none(), "nothing is in the book yet");
    let mut again = summary.form(".decide");
    set(&mut again, "do", "save");
    for _ in 0..2 {
        let saved = visitor.post("/teach-back/confirm", &again).await;
        assert_eq!(saved.status, 303);
    }
    let heard = only(&recorded).expect("it is saved");
    assert_eq!(heard.items.len(), 31);
    let proposed = heard.proposed.as_deref().expect("the proposals are kept");
    assert_eq!((proposed.items.len(), proposed.program.as_str()), (32, "invented 1"));
    assert_eq!(proposed.transcript, None, "the words beside each item are kept, and no others");
    let changed: Vec<_> = heard.compared().into_iter().filter(|each| each.differs()).collect();
    let [one] = changed.as_slice() else { panic!("{changed:?}") };
    assert_eq!((one.proposed.mark, one.decided), (Mark::Wrong, Some(Mark::Prompted)));
    let first = heard.items.iter().find(|said| said.item == breakdown::ItemId::step(1)).expect("step 1");
    assert_eq!((first.mark, first.at_s), (Mark::Unprompted, Some(0.0)), "the time of the words");
}

#[tokio::test]
async fn the_transcript_is_kept_only_when_asked() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = proposed(&visitor).await;
    for (item, mark) in [("1.1", "wrong"), ("3.3", "led")] {
        set(&mut fields, &format!("mark-{item}"), mark);
    }
    set(&mut fields, "keep", "yes");
    set(&mut fields, "do", "take-sure");
    let taken = visitor.post("/teach-back/confirm", &fields).await;
    let mut fields = taken.form("#pass");
    set(&mut fields, "do", "summary");
    let mut again = visitor.post("/teach-back/confirm", &fields).await.form(".decide");
    set(&mut again, "do", "save");
    assert_eq!(visitor.post("/teach-back/confirm", &again).await.status, 303);
    let heard = only(&recorded).expect("it is saved");
    assert_eq!(heard.proposed.expect("kept").transcript.as_deref(), Some(WORDS));
}

#[tokio::test]
async fn what_cannot_be_used_is_said_and_what_was_pasted_stays() {
    let (visitor, _) = visitor();
    let mut fields = opened(&visitor).await;
    let nothing = send(&visitor, &fields, None).await;
    assert_eq!(nothing.status, 422);
    assert!(nothing.text(".refused").contains("no file and no words"), "{}", nothing.text(".refused"));
    set(&mut fields, "pasted", "other words");
    let unread = send(&visitor, &fields, None).await;
    assert_eq!((unread.status, unread.text("#pasted").as_str()), (422, "other words"));
    let both = send(&visitor, &fields, Some(b"invented")).await;
    assert!(both.text(".refused").contains("a file and pasted words"));
    set(&mut fields, "pasted", "");
    let large = send(&visitor, &fields, Some(&vec![b'a'; 10_000_000])).await;
    assert_eq!(large.status, 413);
    assert!(large.text("main").contains("Nothing was written"), "{}", large.text("main"));
    let other = send(&visitor, &fields, Some(b"invented other job")).await;
    assert!(other.text(".other-job").contains("does not seem to be this job"));
    assert_eq!(other.count("#take-sure") + other.count("[data-sure]"), 0, "nothing is confirmed together");
    // A form from before the program was started again writes nothing and loses nothing.
    set(&mut fields, "form-secret", "old");
    set(&mut fields, "pasted", WORDS);
    let stale = send(&visitor, &fields, None).await;
    assert_eq!(stale.status, 422);
    assert!(stale.text("#pasted").contains("get the things ready"));
}

#[tokio::test]
async fn drafts_are_a_page_of_this_device() {
    let (visitor, _) = visitor();
    let page = visitor.get("/drafts").await;
    assert_eq!(page.status, 200);
    assert!(page.text("main").contains("14 days"));
    let scripts = page.attributes("script:not([src^='/keys.js'])", "src");
    assert!(scripts.len() == 1 && scripts[0].starts_with("/drafts.js?v="), "{scripts:?}");
    assert_eq!(visitor.get(&scripts[0]).await.status, 200);
}
