//! Leave and return: each is one entry, whoever is here goes, and whoever is away comes back.

mod fake;
mod reading;

use fake::Fake;
use practice::EventKind;
use reading::Visitor;

fn set(fields: &mut [(String, String)], name: &str, value: &str) {
    for (known, held) in fields.iter_mut() {
        if known == name {
            value.clone_into(held);
        }
    }
}

#[tokio::test]
async fn somebody_goes_on_leave_once_and_somebody_comes_back() {
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    let visitor = Visitor::of(desk);
    let redirect = visitor.get("/away?person=N-112").await;
    assert_eq!(redirect.status, 303);
    let page = visitor.get(redirect.header("location")).await;
    assert!(
        page.text("section[aria-labelledby=away]").contains("Tove Birkeland-Rao"),
        "{}",
        page.text("main")
    );
    let mut goes = page.form("section[aria-labelledby=going] form");
    assert!(goes.iter().any(|(name, value)| name == "person" && value == "N-112"), "{goes:?}");
    set(&mut goes, "on", "2027-01-01");
    set(&mut goes, "who", "T-01");
    let refused = visitor.post("/away", &goes).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text(".refused").contains("still to come"), "{}", refused.text(".refused"));
    set(&mut goes, "on", "2026-02-20");
    for _ in 0..2 {
        let taken = visitor.post("/away", &goes).await;
        assert_eq!(taken.status, 303, "{}", taken.text("main"));
        assert!(taken.header("location").starts_with("/people/N-112"));
    }
    // A return before the leave began is refused.
    let redirect = visitor.get("/away?person=N-88").await;
    let mut back =
        visitor.get(redirect.header("location")).await.form("section[aria-labelledby=coming] form");
    set(&mut back, "who", "T-01");
    set(&mut back, "on", "2025-12-31");
    let refused = visitor.post("/away", &back).await;
    assert!(refused.text(".refused").contains("before the leave began"), "{}", refused.text(".refused"));
    set(&mut back, "on", "2026-03-01");
    assert_eq!(visitor.post("/away", &back).await.status, 303);
    let recorded = recorded.lock().unwrap();
    assert_eq!(recorded.len(), 2);
    let gone = recorded.values().any(|one| {
        matches!(&one.what, EventKind::PersonLeft { person } if person.0 == "N-112")
            && one.happened.date().to_string() == "2026-02-20"
    });
    let returned = recorded
        .values()
        .any(|one| matches!(&one.what, EventKind::PersonAdded(person) if *person == fake::away::on_leave()));
    assert!(gone && returned);
}
