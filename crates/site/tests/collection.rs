//! The page of one collection: a form that loses nothing, a plan whose numbers name where they are from, plain refusals.

mod fake;
mod reading;

use fake::{Fake, Mood};
use reading::{get, get_from};

const PLAN: &str =
    "/draw/plan?who=adult&weight=70&access=vein&access=central-line&lumens=3&suspected=yes&haemoglobin=85";

#[tokio::test]
async fn a_form_before_anything_was_asked() {
    let page = get("/draw/plan").await;
    assert_eq!(page.status, 200);
    assert_eq!(page.header("cache-control"), "no-store");
    assert_eq!((page.count("h1"), page.count("main form"), page.count("main script")), (1, 1, 0));
    assert_eq!(page.count("input[name=access][value=vein][checked]"), 1);
    assert_eq!(page.count("#sets"), 0, "no plan without a question");
    // Every field has its label, and nothing asks who the patient is.
    assert_eq!(page.count("p.field > label"), page.count("p.field > :is(input, select)"));
    assert_eq!(page.count("input[name*=name], input[name*=number], input[name*=birth]"), 0);
}

/// 70 kg at 70 mL/kg: 4900 mL; a pair of 20 mL each and 5 mL of discard are 45 mL (by hand).
#[tokio::test]
async fn a_plan_in_blocks_with_where_its_numbers_are_from() {
    let page = get(PLAN).await;
    assert_eq!(page.status, 200);
    let text = page.text("main");
    for words in [
        "from the central line, lumen 1",
        "from a fresh vein, at its own site",
        "45 mL, 0.9 % of the patient's blood",
        "policy blood.day_limit_percent",
        "Nerve",
        "needle out at once",
        "120 minutes",
    ] {
        assert!(text.to_lowercase().contains(&words.to_lowercase()), "no {words:?} in {text}");
    }
    for block in ["sets", "blood", "order", "cleaning", "line", "time", "supplies", "conduct", "chance"] {
        assert_eq!(page.count(&format!("#{block}")), 1, "{block}");
    }
    let mut ids = page.attributes("[id]", "id");
    let n_ids = ids.len();
    ids.sort();
    ids.dedup();
    assert_eq!(ids.len(), n_ids, "an id occurs twice");
    assert_eq!(page.attributes("#weight", "value"), ["70"], "the form keeps what was typed");
}

#[tokio::test]
async fn what_cannot_be_is_said_in_plain_words_and_loses_nothing() {
    for (query, words) in [
        ("who=adult&weight=0&access=vein", "0.3 to 400 kg"),
        ("who=adult&weight=700&access=vein", "0.3 to 400 kg"),
        ("who=adult&weight=7,0&access=vein", "a number with a point"),
        ("who=adult&access=vein", "no weight"),
        ("weight=70&access=vein", "neither adult nor child"),
        ("who=adult&weight=70", "no vein, no cannula and no line"),
        ("who=adult&weight=70&access=vein&suspected=yes", "no line"),
        ("who=child&weight=10&weight-read=twice&access=vein&bottles=adult", "no paediatric bottles"),
        ("who=adult&weight=70&access=vein&antibiotic=given", "no time beside"),
        ("who=adult&weight=70&access=vein&antibiotic=given&antibiotic-time=2pm", "HH:MM"),
        (
            "who=adult&weight=70&access=vein&antibiotic=given&antibiotic-time=23:59",
            "has passed before the draw",
        ),
        ("who=adult&weight=70&access=central-line&lumens=9", "1 to 5"),
        ("who=adult&weight=70&access=vein&haemoglobin=8.5", "85 g/L"),
        ("who=adult&weight=70&access=vein&sets=%3Cb%3E", "1 to 4"),
    ] {
        let page = get(&format!("/draw/plan?{query}")).await;
        assert_eq!(page.status, 200, "{query}");
        let said = page.text("section.refused");
        assert!(said.contains(words), "{query}: {said}");
        assert_eq!(page.count("#sets"), 0, "no plan: {query}");
        let target = page.attributes("section.refused a", "href").remove(0);
        assert_eq!(page.count(&target), 1, "{query}: {target}");
    }
}

/// A child of 70 kg gives 40 mL, of 7.0 kg 6 mL: the box to confirm comes with the question, and only then.
#[tokio::test]
async fn a_weight_that_may_be_a_slip_is_asked_for_once_more() {
    assert_eq!(get("/draw/plan").await.count("input[name=weight-read]"), 0);
    let once = get("/draw/plan?who=child&weight=70&access=vein").await;
    assert!(once.text("section.refused").contains("at 7 kg it would be 6 mL"));
    assert_eq!(once.count("input[name=weight-read]"), 1);
    let twice = get("/draw/plan?who=child&weight=70&access=vein&weight-read=twice").await;
    assert_eq!((twice.count("section.refused"), twice.count("#sets")), (0, 1));
}

#[tokio::test]
async fn without_a_policy_the_page_says_what_to_do() {
    let page = get_from(Fake::in_mood(Mood::Empty), PLAN).await;
    assert!(page.text("section.refused").contains("no policy in the data folder"));
    assert_eq!((page.count("main form"), page.count("#sets")), (0, 0));
    assert_eq!(get_from(Fake::in_mood(Mood::Failing), PLAN).await.status, 500);
}

#[tokio::test]
async fn own_draws_stand_beside_their_results_and_make_no_percentage() {
    let page = get("/people/N-112/after").await;
    assert_eq!(page.status, 200);
    let text = page.text("main");
    for words in [
        "For this person and their trainer only",
        "not final yet",
        "no specimen number was written down",
        "aerobic 9.5 mL",
        "after 40 min",
    ] {
        assert!(text.contains(words), "no {words:?} in {text}");
    }
    assert!(!text.contains('%'), "{text}");
    assert_eq!(page.count("main b"), 0, "a note is text");
    assert_eq!(get("/people/nobody/after").await.status, 404);
}
