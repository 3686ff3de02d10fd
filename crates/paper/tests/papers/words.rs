use std::io::Write as _;
use std::process::{Command, Stdio};

use jiff::civil::date;
use paper::{PaperError, PaperName, month_report, observation_sheet, person_record, pocket_card};

use crate::{NOTICE, larkfield, printing, shipped};

/// The text page by page, with one space for any white space and plain apostrophes; `None`, and a note, without pdftotext.
fn pages(pdf: &[u8]) -> Option<Vec<String>> {
    let piped = |command: &mut Command| {
        command.stdin(Stdio::piped()).stdout(Stdio::piped()).stderr(Stdio::null()).spawn()
    };
    let Ok(mut child) = piped(Command::new("pdftotext").args(["-enc", "UTF-8", "-", "-"])) else {
        println!("not run: checks of the printed text; they need pdftotext (package poppler-utils)");
        return None;
    };
    child.stdin.take().unwrap().write_all(pdf).unwrap();
    let output = child.wait_with_output().unwrap();
    assert!(output.status.success(), "pdftotext could not read the paper");
    let text = String::from_utf8(output.stdout).unwrap().replace('’', "'");
    let pages = text.trim_end_matches('\u{c}').split('\u{c}');
    Some(pages.map(|page| page.split_whitespace().collect::<Vec<_>>().join(" ")).collect())
}

#[track_caller]
fn assert_says(pdf: &[u8], words: &[&str]) {
    let Some(pages) = pages(pdf) else { return };
    let text = pages.join(" ");
    for words in words {
        assert!(text.contains(words), "'{words}' is not in: {text}");
    }
}

#[test]
fn text_from_outside_is_printed_as_it_is() {
    let hostile = "#panic(\"no\") $x^2$ *bold* _em_ [x] <y> @z \\ ` ~ // /* -- --- end";
    let mut job = larkfield::vein();
    job.steps[0].name = hostile.to_owned();
    job.steps[0].key_points[0].text = format!("point {hostile}");
    job.steps[0].key_points[0].reasons = vec![format!("reason {hostile}")];
    job.cautions = vec![format!("caution {hostile}")];
    let mut person = larkfield::newcomer();
    person.row.name = hostile.to_owned();
    let mut report = larkfield::report();
    report.unit = hostile.to_owned();
    report.staff_room = format!("room {hostile}");
    let reason = format!("reason {hostile}");
    report.chart = Err(reason.clone());
    let point = format!("point {hostile}");
    assert_says(&pocket_card(&job, &printing()).unwrap(), &[&point, &reason, &format!("caution {hostile}")]);
    assert_says(
        &observation_sheet(&job, &printing()).unwrap(),
        &["#panic(\"no\") $x^2$ *bold* _em_ [x] <y>"],
    );
    assert_says(
        &person_record(&person, larkfield::as_of(), hostile, &printing()).unwrap(),
        &["$x^2$ *bold* _em_"],
    );
    assert_says(&month_report(&report, &printing()).unwrap(), &[&reason, &format!("room {hostile}")]);
}

#[test]
fn hostile_labels_do_not_spoil_the_chart() {
    let mut report = larkfield::report();
    let charted = report.chart.as_mut().unwrap();
    charted.labels = vec!["</text><script>&\u{0}李\u{202E}".to_owned(); 3];
    charted.value_axis = "\" <svg> 🩸".to_owned();
    charted.chart.phases[0].name = "]]>".to_owned();
    assert_says(&month_report(&report, &printing()).unwrap(), &["March 2026", "‹U+1FA78›"]);
}

#[test]
fn the_card_says_what_the_breakdown_says() {
    let card = pocket_card(&larkfield::vein(), &printing()).unwrap();
    let job = larkfield::vein();
    let mut words = vec![
        "Local policy first.",
        "Training support, not a medical device.",
        "Version 3, in force from 1 March 2026.",
    ];
    for step in &job.steps {
        words.push(&step.name);
        for point in &step.key_points {
            words.push(&point.text);
            words.extend(point.reasons.iter().map(String::as_str));
        }
    }
    words.extend(job.cautions.iter().map(String::as_str));
    words.extend([
        "2.3 tops before 5.1 fill",
        "3.3 dry before 4.1 puncture",
        "SAFETY ask for two identifiers",
        "2 × culture bottles in date",
    ]);
    assert_says(&card, &words);
    if let Some(pages) = pages(&card) {
        assert_eq!(pages.join(" ").matches("SAFETY ").count(), job.safety_points().len());
        assert!(
            pages
                .iter()
                .all(|page| page.contains("Version 3 · Blood culture from a vein") && page.contains(NOTICE))
        );
    }
}

#[test]
fn the_shipped_breakdowns_say_each_order_and_the_usual_caution_once() {
    let vein = shipped::vein();
    let usual = "Local policy and the laboratory's instructions come first; a licensed clinician decides.";
    assert!(vein.cautions[0].ends_with(usual), "the file opens with the words that every paper carries");
    let card = pocket_card(&vein, &printing()).unwrap();
    // The order lines of breakdowns/vein.txt; "tops before fill" and "fill before label" meet in one line.
    assert_says(
        &card,
        &[
            "3.2 palpate before 3.4 clean before 3.5 dry before 4.3 puncture",
            "4.1 no touch before 4.3 puncture",
            "2.3 tops before 5.1 fill before 7.1 label",
            "6.1 needle out before 6.2 sharps",
        ],
    );
    let sheet = observation_sheet(&vein, &printing()).unwrap();
    for paper in [&card, &sheet] {
        let Some(pages) = pages(paper) else { return };
        let text = pages.join(" ");
        assert_eq!(text.matches(usual).count(), 1, "{text}");
        assert!(vein.cautions[1..].iter().all(|caution| text.contains(caution.as_str())), "{text}");
        let (_, after) = text.split_once("Orders that bind").unwrap();
        assert_eq!(after.replace("First before then", "").matches(" before ").count(), vein.orders.len());
    }
}

#[test]
fn the_sheet_asks_everything_and_no_name_of_a_patient() {
    let sheet = observation_sheet(&larkfield::vein(), &printing()).unwrap();
    assert_says(
        &sheet,
        &[
            "Drawn by",
            "Watched by",
            "Logged by",
            "Date",
            "Time of the draw",
            "Specimen number",
            "Attempts",
            "Taken over",
            "Setting",
            "done after prompt",
            "not done",
            "not applicable",
            "not seen",
            "Stop when a safety point goes wrong",
            "2.3 tops before 5.1 fill",
            "5.1 fill before 7.1 label",
            "Note",
            "Nothing about the patient.",
            "Local policy and the laboratory's instructions come first",
        ],
    );
    let Some(pages) = pages(&sheet) else { return };
    for (number, page) in pages.iter().enumerate() {
        assert!(page.contains(&format!("page {} of {}", number + 1, pages.len())), "{page}");
        assert!(page.contains("version 3"), "{page}");
    }
    let text = pages.join(" ");
    assert_eq!(text.matches("name").count(), 2, "both say that there must be none: {text}");
    assert!(text.contains("without the patient's name"));
}

#[test]
fn the_record_is_for_two_people_and_hides_no_correction() {
    let record =
        person_record(&larkfield::learner(), larkfield::as_of(), larkfield::UNIT, &printing()).unwrap();
    assert_says(
        &record,
        &[
            "Zoë Ångström-Adeyemi",
            "as of 7 April 2026",
            "learning: draws only watched",
            "on the word of I. Marlowe",
            "the trainer's spot check",
            "teach-back of the open key points on 14 April 2026",
            "9 of 12",
            "Does not count: taken over by the watcher.",
            "Result: contaminated (commensal in one of two sets).",
            "Contaminated sets: 1 of 14 sets with a closed result; no share below 20 sets: it would be mostly chance",
            "it cannot tell yet",
            "38.4 %",
            "docs/methods.md#probability_as_high",
            "61 of 412",
            "11.7 to 18.6 %",
        ],
    );
    let Some(pages) = pages(&record) else { return };
    assert!(pages.iter().all(|page| page.contains("For this person and their trainer only")));
    let text = pages.join(" ");
    let corrected =
        text.find("Corrected by entry 00000009: key point 4.1 was ticked in the wrong line").unwrap();
    let correction = text.find("Corrects entry 00000003.").unwrap();
    assert!(
        corrected < correction && correction - corrected < 300,
        "the correction stands beside what it corrects"
    );
}

#[test]
fn a_record_without_entries_says_so() {
    let record =
        person_record(&larkfield::newcomer(), larkfield::as_of(), larkfield::UNIT, &printing()).unwrap();
    assert_says(
        &record,
        &[
            "No job is planned or recorded for this person.",
            "No observed draw is recorded.",
            "No entry is recorded.",
            "0 of 0 sets with a closed result; no share: no set with a closed result",
            "With no closed set nothing can be said about chance.",
        ],
    );
}

#[test]
fn a_correction_of_an_entry_that_is_not_listed_is_kept() {
    let mut person = larkfield::learner();
    person.evidence.retain(|row| row.corrected_by.is_none());
    let record = person_record(&person, larkfield::as_of(), larkfield::UNIT, &printing()).unwrap();
    assert_says(&record, &["Observed draw of 12 March, 10 of 12 key points", "Corrects entry 00000003."]);
}

#[test]
fn the_report_gives_every_figure_its_denominator() {
    let facts = larkfield::report();
    let chart = &facts.chart.as_ref().unwrap().chart;
    let report = month_report(&facts, &printing()).unwrap();
    let upper = chart.points.last().unwrap().upper.unwrap();
    assert_says(&report, &[&chart.why, &format!("upper limit {:.1} %", upper * 100.0)]);
    assert!(!chart.signals.is_empty(), "21 of 118 among months of about 7 % must show");
    for (number, signal) in (1..).zip(&chart.signals) {
        let labels = &facts.chart.as_ref().unwrap().labels;
        assert_says(&report, &[&format!("{number} {}", labels[signal.from]), &signal.sentence]);
    }
    assert_says(
        &report,
        &[
            "4 of 118 = 3.4 %",
            "interval 1.3 to 8.4 % (Wilson, 95 %)",
            "38 of 1247 sets with a closed result; 3.0 %",
            "not closed yet 7",
            "The figures of this month are provisional",
            "common commensal in one of two or more sets within 24 h, version 1",
            "as of 7 April 2026",
            "Larkfield West 3 of 45 6.7 % 2.3 to 17.9 %",
            "Step-down 0 of 12 no share below 20 sets",
            "Central line 2 of 25",
            "13 of 71 series; 18.3 %",
            "164 bottles with a known volume, 88 without; mean 8.4 mL",
            "19 of 126",
            "26 of 34 released",
            "SAFETY let it dry fully, at least 30 s 5 of 12 7 of 31",
            "One thing to do: let the skin dry fully",
            "Wilson, 95 %: docs/methods.md#wilson",
            "p chart (exact binomial limits): docs/methods.md#p_chart",
            "No figure here is about one person.",
            "a licensed clinician decides",
        ],
    );
}

#[test]
fn a_month_without_sets_says_so() {
    let report = month_report(&larkfield::empty_report(), &printing()).unwrap();
    assert_says(
        &report,
        &[
            "No set was collected in this month.",
            "No control chart: fewer than 8 months with sets",
            "no bottle was weighed or had its volume reported",
            "No key point was asked or watched",
        ],
    );
}

#[test]
fn what_cannot_be_printed_is_refused_with_what_to_do() {
    let mut job = larkfield::vein();
    job.steps.clear();
    let error = pocket_card(&job, &printing()).unwrap_err();
    assert_eq!(
        error,
        PaperError::NoSteps { paper: PaperName::PocketCard, job: "Blood culture from a vein".into() }
    );
    assert_eq!(
        observation_sheet(&job, &printing()).unwrap_err().to_string(),
        "the observation sheet for 'Blood culture from a vein' was not made: its breakdown has no important step; \
         write at least one step, check the breakdown and print again"
    );
    let error =
        person_record(&larkfield::newcomer(), date(-44, 3, 15), larkfield::UNIT, &printing()).unwrap_err();
    assert_eq!(error, PaperError::Date { paper: PaperName::PersonRecord, year: -44 });
}

#[test]
fn long_facts_go_over_pages_and_lose_nothing() {
    let job = larkfield::long_job();
    assert_says(
        &pocket_card(&job, &printing()).unwrap(),
        &["point 6 of a step", "‹U+674E› ‹U+1FA78›", "Ελένη and Жукова"],
    );
    assert_says(&observation_sheet(&job, &printing()).unwrap(), &["point 6 of a step", "page 2 of 2"]);
    let record =
        person_record(&larkfield::long_record(), larkfield::as_of(), larkfield::UNIT, &printing()).unwrap();
    assert_says(&record, &["Preceptor 8", "a decision by the trainer is due"]);
    assert_says(
        &month_report(&larkfield::long_report(), &printing()).unwrap(),
        &["Unit 14 with a rather long name", "never asked"],
    );
}
