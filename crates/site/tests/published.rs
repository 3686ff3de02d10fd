//! A month's report published, without any script.

mod fake;
mod reading;

use fake::Fake;
use reading::Visitor;

const REPORT: &str = "/reports/2026-01";
const FORM: &str = "form[action='/reports/2026-01']";

fn set(fields: &mut [(String, String)], name: &str, value: &str) {
    let field = fields.iter_mut().find(|(known, _)| known == name);
    field.unwrap_or_else(|| panic!("no field {name}")).1 = value.to_owned();
}

#[tokio::test]
async fn a_report_is_published_once_and_says_which_figures_have_changed_since() {
    let desk = Fake::full();
    let publications = desk.publications.clone();
    let visitor = Visitor::of(desk);
    let before = visitor.get(REPORT).await;
    assert_eq!(before.texts("[aria-labelledby=published] .empty").len(), 1);
    let mut fields = before.form(FORM);
    set(&mut fields, "by", "T-01");
    for _ in 0..2 {
        let answer = visitor.post(REPORT, &fields).await;
        assert_eq!(answer.status, 303);
    }
    assert_eq!(publications.lock().expect("nobody panicked").len(), 1, "sent twice is once");
    let after = visitor.get(REPORT).await;
    let told = after.texts("[aria-labelledby=published] .sentence");
    assert!(told[0].starts_with("1 of "), "{told:?}");
    let rows = after.rows("table.published tbody tr");
    assert!(rows[0].ends_with("changed"), "{rows:?}");
    assert!(rows[1].ends_with("as published"), "{rows:?}");
}

#[tokio::test]
async fn what_was_not_seen_or_not_signed_is_not_published() {
    let desk = Fake::full();
    let publications = desk.publications.clone();
    let visitor = Visitor::of(desk);
    let fields = visitor.get(REPORT).await.form(FORM);
    let nobody = visitor.post(REPORT, &fields).await;
    assert_eq!(nobody.status, 422);
    assert!(nobody.text("[role=alert]").contains("choose your name"));
    let mut other = fields.clone();
    set(&mut other, "by", "T-01");
    set(&mut other, "seen", "9/9;");
    let unseen = visitor.post(REPORT, &other).await;
    assert_eq!(unseen.status, 422);
    assert!(unseen.text("[role=alert]").contains("results have come in since"));
    assert_eq!(
        unseen.form(FORM).iter().find(|(name, _)| name == "by").map(|(_, by)| by.as_str()),
        Some("T-01")
    );
    let mut stale = fields.clone();
    set(&mut stale, "by", "T-01");
    set(&mut stale, "form-secret", "x");
    assert_eq!(visitor.post(REPORT, &stale).await.status, 422);
    assert!(publications.lock().expect("nobody panicked").is_empty());
    assert_eq!(visitor.post("/reports/1999-01", &fields).await.status, 404);
}
