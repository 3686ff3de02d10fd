//! The pages on the next draw, the plan and the timetable: requests through the router, pages read by selector.

mod fake;
mod reading;

use fake::plan::MARK;
use fake::{Fake, Mood};
use practice::EventKind;
use reading::{Visitor, get, get_from};

type Fields = Vec<(String, String)>;

fn set(fields: &mut Fields, name: &str, value: &str) {
    match fields.iter_mut().find(|(known, _)| known == name) {
        Some((_, old)) => *old = value.to_owned(),
        None => fields.push((name.to_owned(), value.to_owned())),
    }
}

#[tokio::test]
async fn the_next_draw_is_answered_as_the_page_opens() {
    let page = get("/next-draw").await;
    assert_eq!(page.status, 200);
    assert_eq!(page.count(".offer"), 2, "one answer for each job");
    assert!(page.text(".offer").contains("no draw without the watcher"), "{}", page.text(".offer"));
    assert!(page.text("main").contains("Follow local policy"), "what policy asks where nobody may draw");
    assert!(page.text("main").contains("The charge nurse decides"));
    let one = get("/next-draw?job=vein&at=2026-03-03T21:30").await;
    assert_eq!((one.status, one.count(".offer")), (200, 1));
    assert!(one.text(".lead").contains("21:30"));
    assert_eq!(get("/next-draw?at=half+past+nine").await.status, 400);
    assert_eq!(get("/next-draw?job=unknown").await.status, 404);
    let empty = get_from(Fake::in_mood(Mood::Empty), "/next-draw").await;
    assert!(empty.text("main").contains("roster.csv"), "{}", empty.text("main"));
}

#[tokio::test]
async fn the_kept_plan_shows_dates_pairings_and_what_is_in_the_way() {
    let page = get("/plan").await;
    assert_eq!(page.status, 200);
    let learner = page.rows(".plan-learners tbody tr").remove(0);
    for words in ["31 March 2026", "41 %", "2 April 2026", "not in the plan", "4 of 9"] {
        assert!(learner.replace('\u{a0}', " ").contains(words), "{words}: {learner}");
    }
    let main = page.text("main").replace('\u{a0}', " ");
    assert!(main.contains("0.41 to at least 0.93 of 1 learners done"), "{main}");
    assert!(main.contains("from 41 % to 93 %"), "{main}");
    assert!(main.contains("No longer possible"));
    assert!(main.contains("shifts of one person that do not overlap"));
    assert_eq!(page.count(".pairs"), 1, "the week without a pairing has no table");
    let calendars = page.attributes("#calendars ~ *, .months a", "href");
    assert!(calendars.iter().any(|link| link == "/plan/calendars/vein/N-112.ics"), "{calendars:?}");
    let calendar = get("/plan/calendars/vein/N-112.ics").await;
    assert_eq!(calendar.header("content-type"), "text/calendar; charset=utf-8");
    for nothing in ["/plan/calendars/vein/N-999.ics", "/plan/calendars/vein/N-112.txt"] {
        assert_eq!(get(nothing).await.status, 404, "{nothing}");
    }
    assert_eq!(get("/plan?job=unknown").await.status, 404);
}

#[tokio::test]
async fn what_would_change_is_shown_before_anything_is_kept() {
    let visitor = Visitor::of(Fake::full());
    let page = visitor.get("/plan/proposed?job=vein&person=N-112&from=2026-03-05&to=2026-03-05").await;
    assert_eq!(page.status, 200, "{}", page.text("main"));
    let keep = page.text("#keep").to_owned() + &page.text("main");
    for words in ["1 stay", "Another preceptor:", "Added:", "Dropped:", "Keep this plan"] {
        assert!(keep.contains(words), "{words}: {keep}");
    }
    let mut fields = page.form("form[method=post]");
    let kept = visitor.post("/plan", &fields).await;
    assert_eq!((kept.status, kept.header("location")), (303, "/plan?job=vein"));
    set(&mut fields, "mark", "ffffffffffffffff");
    let overtaken = visitor.post("/plan", &fields).await;
    assert_eq!(overtaken.status, 303);
    let again = visitor.get(overtaken.header("location")).await;
    assert!(again.text("main").contains("nothing was kept"), "{}", again.text("main"));
    // A form of another run of the program keeps nothing.
    set(&mut fields, "mark", MARK);
    assert_eq!(Visitor::of(Fake::full()).post("/plan", &fields).await.status, 422);
}

#[tokio::test]
async fn a_plan_that_is_worked_out_or_cannot_be_says_so() {
    let working = get("/plan/proposed?job=vein&weeks=26").await;
    // Twelve seconds by now: the page asks less often than in the first five.
    assert_eq!((working.status, working.header("refresh")), (200, "5"));
    assert!(working.text(".lead").contains("At work for 12\u{a0}s so far."), "{}", working.text(".lead"));
    assert_eq!(working.count("a[href='']"), 1, "and by hand at any time");
    assert!(working.text("main").contains("stays as it is"));
    let none = get("/plan/proposed?job=vein&person=N-112&from=2026-03-05&to=2026-03-25").await;
    assert!(none.text("h1").contains("No plan keeps every limit"), "{}", none.text("main"));
    assert!(none.text("main").contains("The plan kept so far stays as it is"));
    for (query, words) in [
        ("person=N-112&from=2026-03-09&to=2026-03-05", "2026-03-09 or a later day"),
        ("person=N-112&from=2026-02-01&to=2026-02-05", "which is past"),
        ("person=N-112&from=&to=2026-03-05", "First day away"),
        ("person=N-000&from=2026-03-05&to=2026-03-05", "choose a name from the list"),
        ("person=&from=2026-03-05&to=", "nobody chosen"),
        ("weeks=200", "1 to 26"),
    ] {
        let page = get(&format!("/plan/proposed?job=vein&{query}")).await;
        assert_eq!(page.status, 422, "{query}");
        assert!(page.text(".refused").contains(words), "{query}: {}", page.text(".refused"));
    }
    let empty = get_from(Fake::in_mood(Mood::Empty), "/plan").await;
    assert_eq!(empty.status, 200);
}

#[tokio::test]
async fn the_timetable_names_gaps_and_coverage_and_takes_a_date_once() {
    let page = get("/timetable").await;
    assert_eq!(page.status, 200);
    let main = page.text("main").replace('\u{a0}', " ");
    for words in
        ["the date is past", "1 of 2 shifts have nobody", "1.1 of 2 shifts", "0 of 2 on duty", "(past)"]
    {
        assert!(main.contains(words), "{words}: {main}");
    }
    let desk = Fake::full();
    let recorded = desk.recorded.clone();
    let visitor = Visitor::of(desk);
    let redirect = visitor.get("/timetable/date?person=N-112&job=vein").await;
    assert_eq!(redirect.status, 303);
    let form = visitor.get(redirect.header("location")).await;
    let mut fields = form.form("form[method=post]");
    set(&mut fields, "who", "N-101");
    set(&mut fields, "by", "2026-02-28");
    let refused = visitor.post("/timetable/date", &fields).await;
    assert_eq!(refused.status, 422);
    assert!(refused.text(".refused").contains("which is past"), "{}", refused.text(".refused"));
    set(&mut fields, "by", "2026-04-30");
    for _ in 0..2 {
        let taken = visitor.post("/timetable/date", &fields).await;
        assert_eq!(taken.status, 303, "{}", taken.text("main"));
    }
    let recorded = recorded.lock().unwrap();
    assert_eq!(recorded.len(), 1);
    let what = &recorded.values().next().unwrap().what;
    assert!(
        matches!(what, EventKind::Planned { person, job, by }
            if person.0 == "N-112" && job.0 == "vein" && by.to_string() == "2026-04-30"),
        "{what:?}"
    );
}

#[tokio::test]
async fn one_tap_leads_from_the_next_draw_to_marking_it() {
    let page = get("/next-draw").await;
    let fields = page.form("form[action='/observe/new']");
    let field = |name: &str| fields.iter().find(|(known, _)| known == name).map(|(_, value)| value.clone());
    let (job, draws, watches) = (field("breakdown"), field("person"), field("watched"));
    let address = format!(
        "/observe/new?breakdown={}&person={}&watched={}",
        job.unwrap(),
        draws.clone().unwrap(),
        watches.clone().unwrap()
    );
    let visitor = Visitor::of(Fake::full());
    let redirect = visitor.get(&address).await;
    assert_eq!(redirect.status, 303);
    let form = visitor.get(redirect.header("location")).await.form("form[method=post]");
    let chosen = |name: &str| form.iter().find(|(known, _)| known == name).map(|(_, value)| value.clone());
    assert_eq!((chosen("drawn"), chosen("watched")), (draws, watches));
    assert_eq!(
        get("/observe/new?breakdown=vein&watched=nobody&entry=01936000-0000-7000-8000-000000000000")
            .await
            .status,
        404
    );
}
