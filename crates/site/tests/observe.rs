//! A draw watched at the bed: opened, marked, refused, saved once, sent by a device, read again. Without any script.

mod fake;
mod reading;

use std::collections::BTreeMap;
use std::sync::{Arc, Mutex};

use base64::Engine;
use base64::engine::general_purpose::STANDARD;
use fake::{Fake, people};
use practice::{Bottle, DrawMark, DrawnFrom, EventKind, ObservedDraw, Setting, Stopped, WhyThere};
use reading::{Page, Visitor};
use sha2::{Digest, Sha256};

const NEW: &str = "/observe/new?breakdown=vein&person=N-112";
const ENTRY: &str = "&entry=01890a5d-ac96-774b-bcce-b302099a8057";

type Recorded = Arc<Mutex<BTreeMap<uuid::Uuid, site::Draft>>>;
type Fields = Vec<(String, String)>;

fn visitor() -> (Visitor, Recorded) {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    (Visitor::of(desk), recorded)
}

async fn opened(visitor: &Visitor) -> (Page, Fields) {
    let redirect = visitor.get(NEW).await;
    assert_eq!(redirect.status, 303);
    let page = visitor.get(redirect.header("location")).await;
    assert_eq!(page.status, 200);
    let fields = page.form("#draw");
    (page, fields)
}

fn set(fields: &mut Fields, name: &str, value: &str) {
    match fields.iter_mut().find(|(known, _)| known == name) {
        Some((_, old)) => *old = value.to_owned(),
        None => fields.push((name.to_owned(), value.to_owned())),
    }
}

fn filled(fields: &mut Fields) {
    for (name, value) in [
        ("watched", "N-107"),
        ("m-1.1", "done"),
        ("m-1.2", "prompt"),
        ("m-2.1", "wrong"),
        ("m-3.3", "missed"),
        ("m-6.1", "none"),
        ("fill-aerobic", "8,5"),
        ("fill-anaerobic", "9"),
        ("specimen", "INV-26-000118"),
        ("attempts", "2"),
        ("from", "cannula"),
        ("why", "no-other-way"),
        ("difficulty", "shock"),
        ("lasted", "341"),
        ("began-2", "40"),
    ] {
        set(fields, name, value);
    }
}

fn only(recorded: &Recorded) -> (site::Draft, ObservedDraw) {
    let recorded = recorded.lock().expect("nobody panicked");
    assert_eq!(recorded.len(), 1);
    let draft = recorded.values().next().expect("one entry").clone();
    match draft.what.clone() {
        EventKind::DrawObserved(draw) => (draft, draw),
        other => panic!("{other:?}"),
    }
}

fn n_recorded(recorded: &Recorded) -> usize {
    recorded.lock().expect("nobody panicked").len()
}

#[tokio::test]
async fn the_form_has_every_key_point_and_says_which_are_safety_points() {
    let (visitor, _) = visitor();
    let (page, fields) = opened(&visitor).await;
    let entry = fields.iter().find(|(name, _)| name == "entry").unwrap().1.clone();
    assert_eq!(uuid::Uuid::parse_str(&entry).unwrap().get_version_num(), 7);
    // Thirteen key points in six steps: counted in tests/fake/job.rs. Steps and reasons are not marked on a draw.
    assert_eq!(page.count("#draw .said[data-item]"), 13);
    assert_eq!(page.count("#draw section[data-step]"), 6);
    assert_eq!(page.count(".said[data-item='3.3'] input[type=radio]"), 6, "five marks and not seen");
    assert_eq!(page.count(".said[data-item] input[type=radio][value=''][checked]"), 13);
    assert!(page.text(".said[data-item='1.1'] .what").contains("Safety"));
    assert!(!page.text(".said[data-item='1.2'] .what").contains("Safety"));
    assert_eq!(page.attributes("#drawn option[selected]", "value"), ["N-112"]);
    assert!(page.text("#watched").contains("Maren Adeyemi-Holt (does not count)"));
    assert!(!page.text("#watched").contains("Piet Oduya, preceptor (does"));
    assert_eq!(page.attributes(".timer", "data-seconds"), ["30", "30"]);
    // The page comes in one answer: what runs in it is named by its digest, and nothing else may run.
    assert_eq!(page.count("script[src], link[rel=stylesheet], [onclick], [style]"), 0);
    let policy = page.header("content-security-policy");
    assert!(!policy.contains("unsafe"), "{policy}");
    let words = page.raw("script[type='application/json']");
    assert!(words.len() == 1 && words[0].contains("\"no-network\":\"There is no network.\""), "{words:?}");
    assert!(
        !words[0].contains("\"next\""),
        "what only leading through a draw says comes with that page alone"
    );
    for (element, selector) in [("script", "script:not([type])"), ("style", "style")] {
        let texts = page.raw(selector);
        assert_eq!(texts.len(), 1, "{element}");
        for text in texts {
            let digest = STANDARD.encode(Sha256::digest(text.as_bytes()));
            let rule =
                policy.split(';').find(|rule| rule.trim().starts_with(&format!("{element}-src"))).unwrap();
            assert!(rule.contains(&format!("'sha256-{digest}'")), "{element}: {rule}");
        }
    }
    for part in ["default-src 'none'", "connect-src 'self'", "worker-src 'self'", "manifest-src 'self'"] {
        assert!(policy.contains(part), "{policy}");
    }
    assert!(!visitor.get("/people").await.header("content-security-policy").contains("connect-src"));
    assert_eq!(page.header("cache-control"), "no-store");
}

#[tokio::test]
async fn a_draw_is_looked_over_then_saved_once() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    filled(&mut fields);
    set(&mut fields, "do", "summary");
    let summary = visitor.post("/observe", &fields).await;
    assert_eq!((summary.status, n_recorded(&recorded)), (200, 0), "nothing is in the book yet");
    assert!(summary.text("main").contains("Counts towards release"));
    assert!(summary.text("[aria-labelledby=open]").contains("done wrong"));
    let mut again = summary.form(".decide");
    set(&mut again, "do", "save");
    let entry = again.iter().find(|(name, _)| name == "entry").unwrap().1.clone();
    for _ in 0..2 {
        let saved = visitor.post("/observe", &again).await;
        assert_eq!((saved.status, saved.header("location")), (303, format!("/observe/{entry}").as_str()));
    }
    let (draft, draw) = only(&recorded);
    assert_eq!(
        (draft.by.0.as_str(), draw.watched_by.0.as_str(), draw.drawn_by.0.as_str()),
        ("N-107", "N-107", "N-112")
    );
    let marks: Vec<_> = draw.items.iter().map(|one| (one.item.to_string(), one.mark)).collect();
    assert_eq!(
        marks,
        [
            ("1.1".to_owned(), DrawMark::Done),
            ("1.2".to_owned(), DrawMark::AfterPrompt),
            ("2.1".to_owned(), DrawMark::NotDone),
            ("3.3".to_owned(), DrawMark::NotDone),
            ("6.1".to_owned(), DrawMark::NotApplicable),
        ]
    );
    let more = &draw.circumstances;
    assert_eq!(more.fills, [(Bottle::Aerobic, 85), (Bottle::Anaerobic, 90)]);
    assert_eq!(more.wrong.iter().map(ToString::to_string).collect::<Vec<_>>(), ["2.1"]);
    assert_eq!((more.drawn_from, more.why_there), (Some(DrawnFrom::NewCannula), Some(WhyThere::NoOtherWay)));
    assert_eq!((more.lasted_s, more.stopped, draw.attempts), (Some(341), None, 2));
    assert_eq!(
        more.began_s.iter().map(|(step, at)| (step.to_string(), *at)).collect::<Vec<_>>(),
        [("2".to_owned(), 40)]
    );
    assert!(more.together.is_empty());
    let shown = visitor.get(&format!("/observe/{entry}")).await;
    assert_eq!((shown.status, shown.attributes("[data-saved]", "data-saved")), (200, vec![entry]));
    assert!(
        shown.text("[aria-labelledby=circumstances]").contains("aerobic 8.5\u{a0}mL, anaerobic 9.0\u{a0}mL")
    );
}

#[tokio::test]
async fn what_is_marked_together_is_kept_apart_from_what_was_marked_one_by_one() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    filled(&mut fields);
    set(&mut fields, "rest", "yes");
    set(&mut fields, "do", "summary");
    let summary = visitor.post("/observe", &fields).await;
    assert!(
        summary.text("[aria-labelledby=seen]").contains("8 as done, in one action"),
        "thirteen less five"
    );
    // Looked at, changed, and looked at again: what was marked together stays known as such.
    let mut changed = summary.form(".decide");
    set(&mut changed, "do", "change");
    let page = visitor.post("/observe", &changed).await;
    assert_eq!(page.count(".said.is-together"), 8);
    assert_eq!(page.count("#draw[data-fresh]"), 0, "what was sent goes before a draft of the device");
    let mut fields = page.form("#draw");
    set(&mut fields, "m-3.1", "missed");
    set(&mut fields, "do", "save");
    assert_eq!(visitor.post("/observe", &fields).await.status, 303);
    let (_, draw) = only(&recorded);
    assert_eq!((draw.items.len(), draw.circumstances.together.len()), (13, 7));
}

#[tokio::test]
async fn a_device_is_told_what_became_of_what_it_kept() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    filled(&mut fields);
    set(&mut fields, "do", "send");
    let entry = fields.iter().find(|(name, _)| name == "entry").unwrap().1.clone();
    for state in ["recorded", "already"] {
        let answer = visitor.post("/observe", &fields).await;
        assert_eq!((answer.status, answer.body), (200, format!("{state} {entry}\n")));
    }
    // The same identifier with other content: refused in plain words, and the first stays as it is.
    let mut other = fields.clone();
    set(&mut other, "m-1.1", "missed");
    let answer = visitor.post("/observe", &other).await;
    assert_eq!(answer.status, 422);
    assert!(answer.body.starts_with(&format!("refused {entry}\n")), "{}", answer.body);
    assert_eq!(only(&recorded).1.items[0].mark, DrawMark::Done);
    // A secret from before the program was started again is asked for anew.
    set(&mut other, "form-secret", "0");
    let answer = visitor.post("/observe", &other).await;
    assert_eq!((answer.status, answer.body), (422, format!("stale {entry}\n")));
    let key = visitor.get("/bedside/key").await;
    let lines: Vec<&str> = key.body.lines().collect();
    assert_eq!((key.header("cache-control"), lines[1]), ("no-store", "2026-03-03T14:30:00"));
    set(&mut other, "form-secret", lines[0]);
    set(&mut other, "m-1.1", "done");
    assert!(visitor.post("/observe", &other).await.body.starts_with("already"));
}

#[tokio::test]
async fn a_watcher_who_may_not_precept_is_kept_and_said_not_to_count() {
    let (visitor, recorded) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    filled(&mut fields);
    set(&mut fields, "drawn", "N-107");
    set(&mut fields, "watched", "N-112");
    set(&mut fields, "by", "T-01");
    set(&mut fields, "stopped", "nerve");
    set(&mut fields, "from", "vein");
    set(&mut fields, "setting", "arm");
    set(&mut fields, "taken-over", "yes");
    set(&mut fields, "do", "summary");
    let summary = visitor.post("/observe", &fields).await;
    let told = summary.text(".where-stands");
    assert!(told.contains("does not count towards release: they are not released to precept"), "{told}");
    set(&mut fields, "do", "save");
    assert_eq!(visitor.post("/observe", &fields).await.status, 303);
    let (draft, draw) = only(&recorded);
    assert_eq!((draft.by.0.as_str(), draw.setting, draw.taken_over), ("T-01", Setting::Simulated, true));
    // A reason for a line is none where there was no line.
    assert_eq!((draw.circumstances.stopped, draw.circumstances.why_there), (Some(Stopped::Nerve), None));
}

#[tokio::test]
async fn what_cannot_be_saved_is_said_and_stays_on_the_form() {
    let long = "x".repeat(501);
    let rows: [(&str, &str, &str); 16] = [
        ("watched", "", "Watched by: found nobody"),
        ("watched", "N-112", "nobody watches their own draw"),
        ("watched", "<script>", "Watched by: found “<script>”"),
        ("drawn", "", "Drawn by: found nobody"),
        ("by", "X-1", "Logged by: found “X-1”"),
        ("spot-check", "yes", "a spot check is the trainer’s own look"),
        ("started", "yesterday", "a date and a time such as 2026-03-03 14:05"),
        ("started", "2026-03-03 15:00", "which is after now, 2026-03-03 14:30"),
        ("note", &long, "501 characters; expected at most 500"),
        ("specimen", "a\u{7}b", "a control character"),
        ("specimen", &long, "501 characters; expected at most 40"),
        ("attempts", "12", "Attempts: found “12”; expected 1 to 9"),
        ("fill-aerobic", "85", "0 to 30 mL"),
        ("fill-anaerobic", "NaN", "Fill of the anaerobic bottle"),
        ("m-1.1", "splendid", "the mark of 1.1: found “splendid”"),
        ("m-9.9", "missed", "item 9.9"),
    ];
    for (field, value, words) in rows {
        let (visitor, recorded) = visitor();
        let (_, mut fields) = opened(&visitor).await;
        filled(&mut fields);
        if field != "note" {
            set(&mut fields, "note", people::EMOJI);
        }
        set(&mut fields, field, value);
        set(&mut fields, "do", "save");
        let page = visitor.post("/observe", &fields).await;
        assert_eq!(page.status, 422, "{field}={value}");
        assert!(page.text(".refused").contains(words), "{field}={value}: {}", page.text(".refused"));
        assert_eq!(page.count(".said[data-item='3.3'] input[value=missed][checked]"), 1, "{field}");
        if field != "note" {
            assert_eq!(page.text("#note"), people::EMOJI);
        }
        assert_eq!((page.count("main script"), n_recorded(&recorded)), (0, 0));
        // The same, told to a device.
        set(&mut fields, "do", "send");
        let told = visitor.post("/observe", &fields).await;
        assert!(told.body.starts_with("refused ") && told.body.contains(words), "{}", told.body);
    }
    let (visitor, _) = visitor();
    let (_, mut fields) = opened(&visitor).await;
    set(&mut fields, "watched", "T-01");
    set(&mut fields, "do", "save");
    assert!(visitor.post("/observe", &fields).await.text(".refused").contains("no key point is marked"));
}

#[tokio::test]
async fn addresses_that_lead_nowhere_say_so() {
    let (visitor, _) = visitor();
    for (address, status, words) in [
        (format!("/observe/new?breakdown=none{ENTRY}"), 404, "No job in force"),
        (format!("/observe/new?breakdown=vein&person=nobody{ENTRY}"), 404, "Nobody on the unit"),
        (format!("/carry-out?breakdown=vein&version=7{ENTRY}"), 404, "no version 7"),
        ("/observe/new?breakdown=vein&entry=12".to_owned(), 400, "a UUID of version 7"),
        ("/observe/new?breakdown=vein&breakdown=vein".to_owned(), 400, "each at most once"),
        ("/observe/12".to_owned(), 400, "a UUID of version 7"),
        ("/observe/01890a5d-ac96-774b-bcce-b302099a8057".to_owned(), 404, "may not have been sent yet"),
    ] {
        let page = visitor.get(&address).await;
        assert_eq!(page.status, status, "{address}");
        assert!(page.text("main").contains(words), "{address}: {}", page.text("main"));
    }
    let nowhere = visitor.get("/carry-out").await;
    assert_eq!((nowhere.status, nowhere.header("location")), (303, "/bedside"));
}

#[tokio::test]
async fn carrying_out_is_the_same_form_with_times_and_when_to_stop() {
    let (visitor, _) = visitor();
    let page = visitor.get(&format!("/carry-out?breakdown=vein{ENTRY}")).await;
    assert_eq!((page.status, page.count("#draw .said[data-item]")), (200, 13));
    let stops = page.attributes("article.stop", "data-stop");
    assert_eq!(stops, ["nerve", "artery", "attempts", "breathless"]);
    let words = page.text("article.stop");
    for part in [
        "needle out at once",
        "Press for 5 minutes or longer",
        "The limit here is 2",
        "On the left side, head down",
    ] {
        assert!(words.contains(part), "{part}: {words}");
    }
}

#[tokio::test]
async fn the_pages_at_the_bed_can_be_installed_and_kept() {
    let (visitor, _) = visitor();
    let page = visitor.get("/bedside").await;
    assert_eq!((page.status, page.count(".bed-job")), (200, 2));
    let manifest = visitor.get(&page.attributes("link[rel=manifest]", "href")[0]).await;
    assert_eq!(manifest.header("content-type"), "application/manifest+json");
    for part in
        ["\"start_url\": \"/bedside\"", "\"display\": \"standalone\"", "/icon-192.png", "/icon-512.png"]
    {
        assert!(manifest.body.contains(part), "{part}");
    }
    let worker = visitor.get("/bedside-worker.js").await;
    assert_eq!((worker.status, worker.header("cache-control")), (200, "no-cache"));
    assert!(worker.header("content-security-policy").contains("connect-src 'self'"));
    // The worker keeps what the page is made of, under the very addresses the page names.
    let carry = visitor.get(&format!("/carry-out?breakdown=vein{ENTRY}")).await;
    assert_eq!(carry.count("script[src], link[rel=stylesheet]"), 0, "the page of a draw brings everything");
    assert_eq!(carry.raw("script:not([type])").len(), 2);
    assert!(carry.raw("script[type='application/json']")[0].contains("\"next\":\"Next step\""));
    let mut made_of = page.attributes("script", "src");
    made_of.extend(page.attributes("link[rel=stylesheet]", "href"));
    made_of.extend(carry.attributes("#draw", "data-camera"));
    made_of.extend(carry.attributes("#draw", "data-ticker"));
    assert_eq!(made_of.len(), 5);
    for address in made_of {
        assert!(worker.body.contains(&format!("\"{address}\"")), "{address}");
        let file = visitor.get(&address).await;
        assert!(file.status == 200 && file.header("cache-control").contains("immutable"), "{address}");
    }
}
