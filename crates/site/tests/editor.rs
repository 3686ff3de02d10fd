//! Writing a breakdown on a page: the form is the file, its checks stand beside the fields, a version is published once.

mod fake;
mod reading;

use breakdown::Breakdown;
use fake::{Fake, people};
use practice::EventKind;
use reading::{Page, Visitor};

type Fields = Vec<(String, String)>;

async fn opened(visitor: &Visitor, address: &str) -> (Page, Fields) {
    let redirect = visitor.get(address).await;
    assert_eq!(redirect.status, 303);
    let page = visitor.get(redirect.header("location")).await;
    assert_eq!(page.status, 200);
    let fields = page.form(".editor");
    (page, fields)
}

fn set(fields: &mut Fields, name: &str, value: &str) {
    match fields.iter_mut().find(|(known, _)| known == name) {
        Some((_, old)) => *old = value.to_owned(),
        None => fields.push((name.to_owned(), value.to_owned())),
    }
}

fn value<'a>(fields: &'a Fields, name: &str) -> &'a str {
    fields.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value)
}

fn ready(fields: &mut Fields) {
    for (name, text) in [
        ("by", "T-01"),
        ("change-kind", "minor"),
        ("change", "Plainer words for the scrub."),
        ("do", "publish"),
    ] {
        set(fields, name, text);
    }
}

fn published(desk: &std::sync::Mutex<std::collections::BTreeMap<uuid::Uuid, site::Draft>>) -> Vec<Breakdown> {
    let recorded = desk.lock().expect("nobody panicked");
    let breakdowns = recorded.values().map(|draft| match &draft.what {
        EventKind::BreakdownPublished(breakdown) => (**breakdown).clone(),
        other => panic!("{other:?}"),
    });
    breakdowns.collect()
}

fn without_lines(mut breakdown: Breakdown) -> Breakdown {
    for step in &mut breakdown.steps {
        step.line = 0;
        step.key_points.iter_mut().for_each(|point| point.line = 0);
    }
    breakdown
}

#[tokio::test]
async fn what_is_opened_and_published_unchanged_is_the_same_breakdown() {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    let visitor = Visitor::of(desk);
    let (_, mut fields) = opened(&visitor, "/editor?breakdown=vein").await;
    ready(&mut fields);
    set(&mut fields, "approved-by", "Infection prevention and laboratory (invented)");
    let page = visitor.post("/editor", &fields).await;
    let entry = value(&fields, "entry").to_owned();
    assert_eq!(
        page.header("location"),
        format!("/breakdowns/vein?published={entry}"),
        "{}",
        page.text("main")
    );
    let new = published(&recorded).remove(0);
    let old = visitor.get("/breakdowns/vein").await;
    assert_eq!(old.status, 200);
    let mut expected = without_lines(fake::job::vein());
    (expected.version, expected.effective) = (breakdown::Version(4), None);
    expected.change = Some(breakdown::Change {
        kind: breakdown::ChangeKind::Minor,
        what: "Plainer words for the scrub.".into(),
    });
    assert_eq!(without_lines(new), expected);
    // Sent twice, it is one entry.
    assert_eq!(visitor.post("/editor", &fields).await.status, 303);
    assert_eq!(published(&recorded).len(), 1);
    // The page it leads to lets the draft leave the device.
    let after = visitor.get(page.header("location")).await;
    assert_eq!(after.attributes("[data-kept-done]", "data-kept-done"), [format!("breakdown:{entry}")]);
}

#[tokio::test]
async fn checks_stand_beside_their_fields_and_keep_a_faulty_breakdown_back() {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    let visitor = Visitor::of(desk);
    let (_, sound) = opened(&visitor, "/editor?breakdown=vein").await;
    // Step 3, key point 2: "scrub with friction", at least 30 s; key point 3: at least 30 s to dry.
    let rows: [(&str, &str, &str); 8] = [
        ("step-3-2-reasons", "", "no reason"),
        ("step-3-2-reasons", "scrub with friction", "only repeats its key point"),
        ("step-3-2-quantities", "scrub at least 30", "no unit"),
        (
            "step-5-1-quantities",
            "fill 8 to 10 mL per bottle\n2 bottles per set\nfill 10 mL per set",
            "10 mL per set",
        ),
        ("step-3-1-label", "Feel It", "label"),
        ("orders", "wash before puncture", "wash"),
        ("job", "", "job"),
        ("effective", "3 March", "3 March"),
    ];
    for (field, text, words) in rows {
        let mut fields = sound.clone();
        ready(&mut fields);
        set(&mut fields, field, text);
        let page = visitor.post("/editor", &fields).await;
        assert_eq!(page.status, 422, "{field}={text}");
        assert!(page.text(".refused").contains("put right what is marked as a fault"), "{field}");
        let beside = page.texts(".finding").join(" ");
        assert!(beside.contains("Fault:") && beside.contains(words), "{field}={text}: {beside}");
        for anchor in page.attributes("[aria-labelledby=checks] li a", "href") {
            assert_eq!(page.count(&format!("[id='{}']", anchor.trim_start_matches('#'))), 1, "{anchor}");
        }
        assert_eq!(value(&page.form(".editor"), field), text, "what was typed stays");
    }
    assert_eq!(published(&recorded).len(), 0);
}

#[tokio::test]
async fn whoever_publishes_second_is_told_and_loses_nothing() {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    let visitor = Visitor::of(desk);
    let (_, mut first) = opened(&visitor, "/editor?breakdown=vein").await;
    let (_, mut second) = opened(&visitor, "/editor?breakdown=vein").await;
    ready(&mut first);
    set(&mut first, "step-3-2-text", "scrub up and down, side to side, with friction");
    assert_eq!(visitor.post("/editor", &first).await.status, 303);
    ready(&mut second);
    set(&mut second, "step-6-2-text", "write down whose hands drew, the real time, site and side");
    let told = visitor.post("/editor", &second).await;
    assert_eq!(told.status, 409);
    let words = told.text("section.refused");
    assert!(words.contains("Version 4 came first. Your text is below, unchanged."), "{words}");
    assert!(
        words.contains("now: scrub up and down, side to side, with friction"),
        "what the other changed: {words}"
    );
    let again = told.form(".editor");
    assert_eq!(value(&again, "step-6-2-text"), "write down whose hands drew, the real time, site and side");
    assert_eq!((value(&again, "base"), published(&recorded).len()), ("4", 1));
    // What their own text would take back of it is shown before they decide.
    assert!(told.text(".differences").contains("now: scrub with friction"));
    let mut again = again;
    set(&mut again, "do", "publish");
    assert_eq!(visitor.post("/editor", &again).await.status, 303);
    let versions: Vec<u32> = published(&recorded).iter().map(|breakdown| breakdown.version.0).collect();
    assert_eq!(versions.len(), 2);
    assert!(versions.contains(&4) && versions.contains(&5));
}

#[tokio::test]
async fn parts_are_added_moved_and_removed_without_scripts() {
    let visitor = Visitor::of(Fake::full());
    let (page, mut fields) = opened(&visitor, "/editor").await;
    assert_eq!(page.text("h1"), "Write a new breakdown");
    set(&mut fields, "step-1-name", "Clean the skin");
    set(&mut fields, "do", "add-step-1");
    let mut fields = visitor.post("/editor", &fields).await.form(".editor");
    assert_eq!((value(&fields, "steps"), value(&fields, "step-1-name")), ("2", "Clean the skin"));
    set(&mut fields, "step-2-name", people::RIGHT_TO_LEFT);
    set(&mut fields, "step-2-1-text", people::EMOJI);
    set(&mut fields, "do", "add-point-2");
    let mut fields = visitor.post("/editor", &fields).await.form(".editor");
    assert_eq!(value(&fields, "step-2-points"), "2");
    set(&mut fields, "do", "up-step-2");
    let mut fields = visitor.post("/editor", &fields).await.form(".editor");
    assert_eq!(value(&fields, "step-1-name"), people::RIGHT_TO_LEFT);
    assert_eq!(value(&fields, "step-1-1-text"), people::EMOJI);
    set(&mut fields, "do", "remove-step-2");
    let page = visitor.post("/editor", &fields).await;
    assert_eq!(value(&page.form(".editor"), "steps"), "1");
    // The Enter key presses the first button, which only checks.
    assert_eq!(page.attributes(".editor button", "value")[0], "check");
}

#[tokio::test]
async fn hostile_text_is_text() {
    let visitor = Visitor::of(Fake::full());
    let (_, mut fields) = opened(&visitor, "/editor?breakdown=vein").await;
    for name in
        ["job", "step-1-name", "step-1-1-text", "step-1-1-reasons", "cautions", "supplies", "change", "by"]
    {
        set(&mut fields, name, people::SCRIPT);
    }
    set(&mut fields, "job", &"x".repeat(5_000));
    set(&mut fields, "do", "publish");
    let page = visitor.post("/editor", &fields).await;
    assert_eq!((page.status, page.count("main script")), (422, 0));
    assert_eq!(value(&page.form(".editor"), "step-1-1-text"), people::SCRIPT);
    set(&mut fields, "cautions", "a\u{1}b");
    set(&mut fields, "do", "check");
    assert_eq!(visitor.post("/editor", &fields).await.status, 200);
    for (name, bad) in [("base", "-1"), ("at", "soon"), ("entry", "x")] {
        let mut fields = fields.clone();
        set(&mut fields, name, bad);
        assert_eq!(visitor.post("/editor", &fields).await.status, 400, "{name}");
    }
    assert_eq!(
        visitor.get("/editor?breakdown=none&entry=01890a5d-ac96-774b-bcce-b302099a8057").await.status,
        404
    );
}
