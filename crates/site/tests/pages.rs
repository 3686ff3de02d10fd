//! Requests through the router, pages read by selector.

mod fake;
mod reading;

use fake::people::{EMOJI, RIGHT_TO_LEFT, SCRIPT};
use fake::{Fake, Mood};
use reading::{get, get_from};

const PAGES: [&str; 15] = [
    "/",
    "/people",
    "/people/N-112",
    "/people/N-109",
    "/breakdowns",
    "/breakdowns/vein",
    "/results",
    "/results/pairs",
    "/reports",
    "/reports/2026-02",
    "/next-draw",
    "/plan",
    "/plan/proposed?job=vein",
    "/timetable",
    "/methods",
];

#[tokio::test]
async fn every_page_has_one_heading_landmarks_and_the_cautions() {
    for address in PAGES {
        let page = get(address).await;
        assert_eq!(page.status, 200, "{address}");
        assert_eq!(page.header("content-type"), "text/html; charset=utf-8", "{address}");
        for (selector, n) in [
            ("h1", 1),
            ("main#content", 1),
            ("header.head nav", 1),
            ("footer", 1),
            ("html[lang=en]", 1),
            ("script", 1),
            ("script[src^='/keys.js?v=']", 1),
        ] {
            assert_eq!(page.count(selector), n, "{selector} on {address}");
        }
        assert_eq!(page.count("a.skip[href='#content']"), 1, "{address}");
        let foot = page.text("footer");
        for words in [
            "Training support, not a medical device",
            "Local policy and the laboratory’s instructions come first",
            "A licensed clinician decides",
            "Invented demo unit: no real people or results",
        ] {
            assert!(foot.contains(words), "{words} on {address}");
        }
    }
}

#[tokio::test]
async fn tables_have_captions_and_scopes_and_ids_occur_once() {
    for address in PAGES {
        let page = get(address).await;
        let tables = page.count("table");
        // The text of the methods is written in Markdown, which has no captions.
        if address != "/methods" {
            assert_eq!(page.count("table > caption"), tables, "{address}");
            assert_eq!(page.count("th:not([scope])"), 0, "{address}");
        }
        let mut ids = page.attributes("[id]", "id");
        let n_ids = ids.len();
        ids.sort();
        ids.dedup();
        assert_eq!(ids.len(), n_ids, "an id occurs twice on {address}");
        assert_eq!(page.count("[style]"), 0, "inline style on {address}");
        assert_eq!(page.count("[onclick], [onload], [onerror]"), 0, "{address}");
    }
}

#[tokio::test]
async fn every_link_within_the_site_leads_somewhere() {
    let mut seen = std::collections::BTreeSet::new();
    for address in PAGES {
        for link in get(address).await.attributes("a[href^='/']", "href") {
            seen.insert(link);
        }
    }
    assert!(seen.len() > 40, "{seen:?}");
    for link in seen {
        let (path, anchor) = link.split_once('#').unwrap_or((link.as_str(), ""));
        let mut page = get(path).await;
        if page.status == 303 {
            page = get(page.header("location")).await;
        }
        assert_eq!(page.status, 200, "{link}");
        if !anchor.is_empty() {
            assert_eq!(page.count(&format!("[id='{anchor}']")), 1, "{link}");
        }
    }
}

#[tokio::test]
async fn today_lists_what_needs_the_trainer_most_urgent_first() {
    let page = get("/").await;
    assert_eq!(page.text("h1"), "Today, 3\u{a0}March\u{a0}2026");
    assert_eq!(page.texts(".urgency h2"), ["Before the next draw", "Today", "This week", "For information"]);
    assert_eq!(page.count(".todo li"), 7);
    assert_eq!(page.count(".todo li a"), 7, "one link each");
    assert_eq!(page.attributes(".todo a", "href")[2], "/people/N-112");
    assert!(page.text(".todo li:first-child p").contains("The pass was stopped"));
    assert!(page.text("main").contains("9\u{a0}of\u{a0}14 people"));
    let shift = page.rows(".shifts tbody tr").remove(0);
    assert!(shift.contains("\u{a0}of\u{a0}") && shift.contains(" on duty"), "{shift}");
}

#[tokio::test]
async fn a_rate_shows_counts_share_interval_and_method() {
    let page = get("/").await;
    assert_eq!(page.text(".rate .share"), "3.3\u{a0}%");
    assert_eq!(
        page.text(".rate .counts"),
        "Contaminated sets: 41\u{a0}of\u{a0}1234 sets with a closed result"
    );
    // 0.02459 to 0.04476: the score test of Wilson 1927 inverted by bisection, apart from the formula of the fake.
    assert_eq!(page.text(".rate .interval"), "between 2.5\u{a0}% and 4.5\u{a0}% (Wilson, 95 %)");
    assert_eq!(page.attributes(".rate .method", "href"), ["/methods#wilson"]);
}

#[tokio::test]
async fn a_share_that_is_not_shown_says_why() {
    let page = get("/people/N-112").await;
    assert_eq!(page.text(".rate .share"), "2\u{a0}of\u{a0}14");
    assert_eq!(page.text(".rate .interval"), "No share shown: 14 closed sets are too few for a percentage");
    let page = get("/results").await;
    assert!(page.text(".strata").contains("fewer than 20 to count from"));
}

#[tokio::test]
async fn what_changed_is_told_with_the_way_to_its_methods() {
    let page = get("/results").await;
    assert_eq!(page.count("main .sentence"), 2);
    assert_eq!(
        page.attributes("main .sentence .method", "href"),
        ["/methods#difference_newcombe", "/methods#segmented_regression"]
    );
}

#[tokio::test]
async fn people_can_be_found_by_name_and_standing() {
    let found = async |query: &str| get(&format!("/people?{query}")).await.texts(".people tbody th");
    assert_eq!(found("").await.len(), 12);
    assert_eq!(found("name=&standing=").await.len(), 12);
    assert_eq!(found("name=MAREN").await, ["Maren Adeyemi-Holt"]);
    assert_eq!(found("name=holt+maren").await, ["Maren Adeyemi-Holt"]);
    assert_eq!(found("name=n-113").await, ["Juno Castellane"]);
    assert_eq!(found("name=%D7%A9%D7%93%D7%94").await.len(), 1, "right to left");
    assert_eq!(found("standing=learning").await, ["Ilse Varga", "Maren Adeyemi-Holt", "Juno Castellane"]);
    assert_eq!(found("standing=decision+due").await, ["Maren Adeyemi-Holt"]);
    assert_eq!(found("name=a&standing=may+precept").await.len(), 3);
    assert_eq!(found("unknown=1").await.len(), 12, "what is not asked for is passed over");
    let nobody = get("/people?name=zzz").await;
    assert_eq!(nobody.status, 200);
    assert_eq!(nobody.text("[role=status]"), "0 of 12 people match.");
    assert!(nobody.text(".empty").starts_with("Nobody matches"));
    let kept = get("/people?name=%22%3E%3Cb%3E&standing=learning").await;
    assert_eq!(kept.attributes("#name", "value"), ["\"><b>"]);
    assert_eq!(kept.attributes("option[selected]", "value"), ["learning"]);
}

#[tokio::test]
async fn a_record_shows_corrections_beside_what_they_correct() {
    let page = get("/people/N-112").await;
    let corrected = page.text("#entry-0195-0006");
    assert!(
        corrected.contains("Corrected: 3.3 was marked not done; it was done after a prompt."),
        "{corrected}"
    );
    assert!(
        corrected.contains("Now reads: Observed draw: 13 of 14 key points without help; 3.3 after a prompt.")
    );
    assert_eq!(page.attributes("#entry-0195-0006 .correction a", "href"), ["#entry-0195-0007"]);
    let correction = page.text("#entry-0195-0007");
    assert!(
        correction.contains("Replaces Observed draw: 13 of 14 key points without help; 3.3 not done."),
        "{correction}"
    );
    assert_eq!(page.attributes("#entry-0195-0007 .correction a", "href"), ["#entry-0195-0006"]);
    let lanes = page.attributes(".timeline > li", "data-lane");
    assert_eq!(lanes.iter().filter(|lane| *lane == "said").count(), 2);
    assert_eq!(lanes.iter().filter(|lane| *lane == "decided").count(), 2);
}

#[tokio::test]
async fn a_record_is_private_and_says_on_whose_word() {
    let page = get("/people/N-112").await;
    assert_eq!(page.text(".private"), "For this person and their trainer only.");
    assert_eq!(page.header("cache-control"), "no-store");
    assert!(page.text("main").contains("The release rule is met: a decision is due."));
    assert_eq!(page.attributes(".lead a", "href"), ["/papers/person/N-112.pdf", "/away?person=N-112"]);
    assert!(page.text(".sentence").contains("not a verdict"));
    assert!(page.text("main").contains("7.9\u{a0}%"));
    assert!(page.text("main").contains(
        "About 410 more closed sets at this rate would show with 95 % certainty on which side of 3 % they are."
    ));
    let page = get("/people/N-109").await;
    assert!(page.text(".facts").contains("Ansa Wolfendale"));
    assert!(page.text("main").contains("the trainer’s spot check"));
    assert!(page.text("main").contains("With no closed set nothing can be said about chance."));
}

#[tokio::test]
async fn names_that_try_to_break_a_page_are_only_text() {
    for (id, name) in [("N-120", SCRIPT), ("N-121", RIGHT_TO_LEFT), ("N-122", EMOJI)] {
        let page = get(&format!("/people/{id}")).await;
        assert_eq!(page.text("h1 > bdi"), name);
        assert!(page.text("title").starts_with(name));
        assert_eq!(page.count("script:not([src^='/keys.js'])"), 0);
        assert!(!page.body.contains("<script>"), "{id}");
    }
    let list = get("/people").await.texts(".people tbody th bdi");
    for name in [SCRIPT, RIGHT_TO_LEFT, EMOJI] {
        assert!(list.iter().any(|shown| shown == name), "{name}");
    }
}

#[tokio::test]
async fn a_breakdown_shows_points_reasons_counts_and_papers() {
    let page = get("/breakdowns/vein").await;
    assert_eq!(page.texts("h3.step").len(), 6);
    assert_eq!(page.count(".steps .safety"), 4);
    let drying =
        page.rows(".steps tbody tr").into_iter().find(|row| row.contains("let it dry fully")).unwrap();
    assert!(drying.contains("3.3") && drying.contains("at least 30 s"), "{drying}");
    assert!(drying.contains("9\u{a0}of\u{a0}21") && drying.contains("0\u{a0}of\u{a0}34"), "{drying}");
    assert!(page.text(".steps:last-of-type").contains("not judged yet"));
    assert_eq!(page.count(".caution li"), 3);
    let papers = page.attributes(".papers a", "href");
    assert_eq!(
        papers,
        [
            "/practice/vein",
            "/papers/pocket-card/vein.pdf",
            "/papers/observation-sheet/vein.pdf",
            "/breakdowns/vein/missed",
            "/editor?breakdown=vein"
        ]
    );
    assert!(page.text("main").contains("3.3dry before 4.1puncture"));
    let page = get("/breakdowns/central-line").await;
    assert!(page.text("main").contains("This step has no key points."));
    assert_eq!(page.count("#supplies"), 0);
}

/// Figures that are older than the book say so, with their time.
#[tokio::test]
async fn results_say_of_what_time_they_are() {
    let older = |seconds| {
        let as_of = jiff::civil::date(2026, 11, 2).at(14, 3, 20, 0);
        Fake { older: Some(site::Older { as_of, seconds }), ..Fake::full() }
    };
    let page = get_from(older(12), "/results").await;
    let text = page.text(".older");
    assert!(text.contains("these figures are of 2\u{a0}November\u{a0}2026, 14:03, 12 seconds ago"), "{text}");
    let page = get_from(older(600), "/results").await;
    assert!(page.text(".older").contains("10 minutes ago"));
    assert!(get("/results").await.texts(".older").is_empty());
}

#[tokio::test]
async fn results_show_chart_table_rule_and_provisional_sets() {
    let page = get("/results").await;
    assert_eq!(page.count("figure svg"), 2, "one drawing for each width");
    assert_eq!(page.count("figure svg[role=group] > title"), 2);
    assert_eq!(page.count("figure svg[role=group] > desc"), 2);
    assert_eq!(
        page.count("figure svg .chart-point[tabindex='0'][aria-label]"),
        36,
        "each of 18 points, in each drawing"
    );
    assert_eq!(page.count(".chart-table tbody tr"), 18, "the chart as a table");
    assert!(page.text(".signals").contains("Point 6 is above the upper limit."));
    let lead = page.text(".lead");
    assert!(lead.contains("one set of two or more within 24 h, version 1"), "{lead}");
    assert!(
        lead.contains("as of 3\u{a0}March\u{a0}2026") && lead.contains("Provisional, not counted yet: 2."),
        "{lead}"
    );
    let vein = page.rows(".strata tbody tr").into_iter().find(|row| row.starts_with("vein")).unwrap();
    assert!(vein.contains("33") && vein.contains("1011") && vein.contains("3.3\u{a0}%"), "{vein}");
    let months = page.attributes(".strata tbody th a", "href");
    assert_eq!((months.len(), months[0].as_str()), (18, "/reports/2024-09"));
}

#[tokio::test]
async fn a_report_leads_to_its_neighbours_and_its_paper() {
    let page = get("/reports/2025-01").await;
    assert_eq!(page.text("h1"), "Report of January 2025");
    assert_eq!(page.attributes(".neighbours a", "href"), ["/reports/2024-12", "/reports/2025-02"]);
    assert_eq!(page.attributes(".lead a", "href"), ["/papers/report/2025-01.pdf"]);
    assert!(page.text("blockquote").contains("let the skin dry"));
    for name in ["Maren", "Kerrin", "Oduya", "N-1"] {
        assert!(!page.body.contains(name), "a report names nobody");
    }
    assert_eq!(get("/reports/2026-02").await.attributes(".neighbours a", "href"), ["/reports/2026-01"]);
    assert_eq!(get("/reports").await.count(".months a"), 18);
    assert_eq!(get("/reports").await.texts("section h2"), ["2026", "2025", "2024"]);
}

#[tokio::test]
async fn methods_have_anchors() {
    let page = get("/methods").await;
    assert_eq!(page.text("h1"), "How every figure is worked out");
    assert_eq!(page.count("h2#wilson"), 1);
    assert!(page.attributes(".contents a", "href").contains(&"#p_chart_exact".to_owned()));
    assert!(site::method_anchors(include_str!("fake/methods.md")).contains(&"beta_binomial".to_owned()));
}

#[tokio::test]
async fn pages_with_nothing_stored_say_what_to_do_first() {
    for (address, words) in [
        ("/people", "Nobody is on the unit yet."),
        ("/breakdowns", "No breakdown is in force yet."),
        ("/results", "No laboratory result has been taken in yet."),
        ("/reports", "No month has a report yet"),
    ] {
        let page = get_from(Fake::in_mood(Mood::Empty), address).await;
        assert_eq!(page.status, 200, "{address}");
        assert!(page.text("main").contains(words), "{address}: {}", page.text("main"));
    }
    // While nobody is there, the first page is where the unit begins.
    let first = get_from(Fake::in_mood(Mood::Empty), "/").await;
    assert_eq!((first.status, first.header("location")), (303, "/start"));
    let begin = get_from(Fake::in_mood(Mood::Empty), "/start").await;
    assert!(begin.text(".beginning[aria-current=step]").contains("Take in the people"));
}

#[tokio::test]
async fn a_few_ways_lead_everywhere_and_the_way_taken_is_marked() {
    let page = get("/timetable").await;
    assert_eq!(page.texts(".ways a"), ["Today", "Bedside", "People", "Jobs", "Results"]);
    assert_eq!(page.texts(".ways a[aria-current]"), ["People"]);
    assert_eq!(page.texts(".within a[aria-current]"), ["Timetable"]);
    assert_eq!(get("/").await.count(".within"), 0, "a way with one page has none below it");
}

#[tokio::test]
async fn people_and_key_points_are_found_by_any_words_of_their_name() {
    let page = get("/find?q=adeyemi+MAREN").await;
    assert_eq!(page.attributes("[aria-labelledby=people] a", "href"), ["/people/N-112"]);
    let page = get("/find?q=dry").await;
    let point = page.attributes("[aria-labelledby=points] a", "href");
    let (address, anchor) = point.first().and_then(|link| link.split_once('#')).expect("a key point");
    assert_eq!(get(address).await.count(&format!("#{anchor}")), 1, "{point:?}");
    let page = get(&format!("/find?q={}", "%3Cnobody%3E")).await;
    assert!(page.text("[role=status]").contains("“<nobody>”"), "{}", page.text("main"));
    assert_eq!(get(&format!("/find?q={}", "x".repeat(101))).await.status, 400);
}

#[tokio::test]
async fn ledgers_say_what_is_stated_and_what_is_not() {
    let page = get("/breakdowns/vein?draws=3").await;
    // Stated in tests/fake/job.rs: 8 to 10 mL per bottle, nothing of bottles or sets; two times of at least 30 s.
    let blood = page.text("[aria-labelledby=blood]");
    assert!(blood.contains("Stated: 8 to 10 mL. Guides: 8 to 10 mL"), "{blood}");
    assert!(blood.contains("bottles per set") && blood.contains("sets per patient"), "{blood}");
    assert!(page.text("[aria-labelledby=patient-blood]").contains("Not known"));
    // Supplies of one draw times three, by hand.
    let supplies = page.text("[aria-labelledby=for-draws]");
    assert!(
        supplies.contains("For 3 draws") && supplies.contains("6\u{a0}×") || supplies.contains("6 ×"),
        "{supplies}"
    );
    assert!(supplies.contains("sharps bin within reach (no count given)"), "{supplies}");
    for (query, words) in [
        ("draws=0", "draws “0”; expected a whole number from 1 to 10000"),
        ("draws=%3Cb%3E", "draws “<b>”"),
        ("draws=99999999999999999999", "expected a whole number"),
    ] {
        let page = get(&format!("/breakdowns/vein?{query}")).await;
        assert_eq!(page.status, 200);
        assert!(page.text("[aria-labelledby=for-draws]").contains(words), "{query}");
    }
    assert_eq!(get("/breakdowns/vein?draws=1&draws=2").await.status, 400);
}

#[tokio::test]
async fn what_many_miss_is_ranked_with_intervals_and_agreement() {
    let page = get("/breakdowns/vein/missed").await;
    assert_eq!(page.status, 200);
    let rows = page.rows(".costs tbody tr");
    // 9 of 21 by Wilson: 24.5 to 63.5 % (tests/fake computes it from the printed formula); 4 of 14 is a handful.
    assert!(
        rows[0].contains("12\u{a0}of\u{a0}55") && rows[0].contains("9\u{a0}of\u{a0}21: 42.9\u{a0}%"),
        "{}",
        rows[0]
    );
    assert!(rows[0].contains("24.5\u{a0}% to 63.5\u{a0}%"), "{}", rows[0]);
    assert!(rows[1].contains("Safety") && rows[1].contains("fewer than 20 to count from"), "{}", rows[1]);
    assert!(page.text("[aria-labelledby=listeners]").contains("0.84, 95 % interval 0.77 to 0.91"));
    let methods = page.attributes("[aria-labelledby=listeners] a.method", "href");
    assert!(
        methods.contains(&"/methods#gwet_ac1".to_owned())
            && methods.contains(&"/methods#cohen_kappa".to_owned())
    );
    assert!(page.text("[aria-labelledby=too-few]").contains("mark the fill level"));
    assert_eq!(page.count("main script"), 0);
    assert_eq!(get("/breakdowns/none/missed").await.status, 404);
}
