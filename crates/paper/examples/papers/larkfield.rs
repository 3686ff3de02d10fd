//! An invented unit, made by hand. No person, hospital or result in here is real, and the clinical wording is for
//! looking at papers only.

use breakdown::{
    Breakdown, Change, ChangeKind, ItemId, JobCode, KeyPoint, KeyPointKind, OrderPair, Step, Supply, Version,
};
use desk::{
    Asked, Chance, Charted, DrawRow, EvidenceRow, Fill, JobStanding, MonthReport, MonthRow, PersonPage,
    PersonResults, PersonRow, PointFacts, Rate, Share, TrainingFacts, UnitRow, VerdictCounts,
};
use jiff::civil::{Date, date};
use practice::{PersonId, Role};
use stats::Proportion;
use stats::charts::{ChartOptions, PLimits, PhasePlan, p_chart};

pub const UNIT: &str = "Larkfield Critical Care Unit";

pub fn as_of() -> Date {
    date(2026, 4, 7)
}

fn owned(texts: &[&str]) -> Vec<String> {
    texts.iter().map(|text| (*text).to_owned()).collect()
}

fn point(kind: KeyPointKind, label: &str, text: &str, reasons: &[&str]) -> KeyPoint {
    let label = (!label.is_empty()).then(|| label.to_owned());
    KeyPoint { label, kind, text: text.to_owned(), reasons: owned(reasons), quantities: Vec::new(), line: 1 }
}

fn step(name: &str, key_points: Vec<KeyPoint>) -> Step {
    Step { name: name.to_owned(), key_points, line: 1 }
}

fn supply(count: Option<u32>, name: &str) -> Supply {
    Supply { count, name: name.to_owned() }
}

/// A whole breakdown: seven steps, as long as a real one.
pub fn vein() -> Breakdown {
    use KeyPointKind::{Knack, MakesOrBreaks, Safety};
    let steps = vec![
        step(
            "Check order and patient",
            vec![
                point(
                    Safety,
                    "",
                    "ask for two identifiers aloud and match them to the band and the label",
                    &["a culture under the wrong name treats the wrong patient"],
                ),
                point(
                    MakesOrBreaks,
                    "",
                    "two sets from two sites, unless the order says otherwise",
                    &[
                        "one set misses infections that two sets find",
                        "one set cannot tell a skin germ from an infection",
                    ],
                ),
                point(
                    Safety,
                    "",
                    "ask about bleeding, allergies to the antiseptic, and an arm not to be used",
                    &["a question now spares a haematoma or a burn"],
                ),
            ],
        ),
        step(
            "Prepare hands, bottles and field",
            vec![
                point(
                    MakesOrBreaks,
                    "",
                    "clean hands, then a clean surface",
                    &["germs of the field reach the needle"],
                ),
                point(
                    Knack,
                    "",
                    "mark the target fill on each bottle while it stands upright",
                    &["a bottle held at a tilt misleads"],
                ),
                point(
                    MakesOrBreaks,
                    "tops",
                    "scrub each bottle top with alcohol and let it dry",
                    &["the top is not sterile under its cap"],
                ),
            ],
        ),
        step(
            "Choose the site and clean the skin",
            vec![
                point(
                    MakesOrBreaks,
                    "",
                    "feel for the vein before cleaning",
                    &["afterwards the spot may not be touched"],
                ),
                point(
                    MakesOrBreaks,
                    "scrub",
                    "scrub at least 30 s with the unit's antiseptic",
                    &["killing needs contact time"],
                ),
                point(
                    Safety,
                    "dry",
                    "let it dry fully, at least 30 s",
                    &["only dry antiseptic has finished killing", "wet alcohol burns and stings"],
                ),
            ],
        ),
        step(
            "Puncture without touching",
            vec![
                point(
                    MakesOrBreaks,
                    "puncture",
                    "do not touch the cleaned spot again",
                    &["one touch brings the skin germs back"],
                ),
                point(
                    Safety,
                    "",
                    "shooting pain or tingling: needle out at once",
                    &["the needle may be at a nerve"],
                ),
            ],
        ),
        step(
            "Fill the bottles",
            vec![
                point(
                    MakesOrBreaks,
                    "fill",
                    "8 to 10 mL in each bottle, the aerobic bottle first",
                    &["too little blood misses infections", "air in the tubing spoils the anaerobic bottle"],
                ),
                point(
                    Safety,
                    "",
                    "never push the plunger by force; use the transfer device",
                    &["a needle-stick or a burst connection follows"],
                ),
            ],
        ),
        step(
            "Finish safely",
            vec![point(
                Safety,
                "",
                "tourniquet off, needle out, press, safety on, straight to the bin",
                &["needle-sticks happen after the draw"],
            )],
        ),
        step(
            "Label, record and send",
            vec![
                point(
                    Safety,
                    "label",
                    "label at the bedside, after filling, before leaving",
                    &["labels away from the bed are how patients are mixed up"],
                ),
                point(
                    MakesOrBreaks,
                    "",
                    "write down who drew, the real time, the site and the volume",
                    &["without them the result cannot be judged"],
                ),
                point(
                    MakesOrBreaks,
                    "",
                    "to the laboratory within 2 h at room temperature",
                    &["delay loses germs and time"],
                ),
            ],
        ),
    ];
    Breakdown {
        job: "Blood culture from a vein".to_owned(),
        code: JobCode("vein".to_owned()),
        version: Version(3),
        effective: Some(date(2026, 3, 1)),
        author: Some("I. Marlowe (invented)".to_owned()),
        approved_by: Some("infection prevention, Larkfield (invented)".to_owned()),
        change: Some(Change { kind: ChangeKind::Major, what: "Drying time stated.".to_owned() }),
        cautions: owned(&[
            "Sharps: activate the safety device, never recap.",
            "Small or anaemic patients: ask how much blood may be drawn before you start.",
            "Never draw above a running infusion or from an arm that may not be used.",
        ]),
        supplies: vec![
            supply(Some(2), "culture bottles in date, aerobic and anaerobic"),
            supply(Some(1), "closed winged set"),
            supply(Some(3), "antiseptic applicators"),
            supply(None, "gloves"),
            supply(Some(1), "sharps bin within reach"),
        ],
        steps,
        orders: vec![order("tops", "fill"), order("dry", "puncture"), order("fill", "label")],
        synonyms: vec![owned(&["scrub", "clean", "prep"])],
    }
}

fn order(first: &str, then: &str) -> OrderPair {
    OrderPair { first: first.to_owned(), then: then.to_owned() }
}

/// The least that can be printed.
pub fn short_job() -> Breakdown {
    Breakdown {
        job: "Flush".to_owned(),
        effective: None,
        approved_by: None,
        cautions: Vec::new(),
        supplies: Vec::new(),
        orders: Vec::new(),
        version: Version(1),
        steps: vec![step("Flush", vec![point(KeyPointKind::Safety, "", "no air", &[])])],
        ..vein()
    }
}

/// Nine steps with long texts, markup characters, long words and scripts.
pub fn long_job() -> Breakdown {
    let mut job = vein();
    job.job = "Paired blood cultures from a central venous line and a vein, in adults with a suspected line infection".to_owned();
    job.version = Version(117);
    job.approved_by =
        Some("Dr #strong[A] $x^2$ *B* _C_ <d> @e, head of the committee with a very long name".to_owned());
    let mut line = step(
        "Position the patient, protect the field and prepare the lumen that the order names, after making sure what runs through it",
        vec![
            point(
                KeyPointKind::Safety,
                "",
                "lying flat or head down if tolerated; clamp the lumen before every opening; no air in the syringe, in the connector or in the line, and a second person ready where the patient cannot lie still",
                &[
                    "air that is sucked in can kill, and it takes one breath with an open lumen to do it",
                    "a patient who sits up with an open lumen is the usual story",
                ],
            ),
            point(
                KeyPointKind::Knack,
                "",
                "Donaudampfschifffahrtselektrizitätenhauptbetriebswerkbauunterbeamtengesellschaftsregisternummer",
                &["a word too long for any column has to break somewhere"],
            ),
        ],
    );
    for number in 1..=6 {
        line.key_points.push(point(KeyPointKind::MakesOrBreaks, "", &format!("point {number} of a step with too many key points, each of them rather long, so that the step runs over the end of a page"), &["more than five key points ask for a split"]));
    }
    job.steps.insert(1, line);
    job.steps.push(step(
        "Add a step # $ * _ [ ] that \\ is ` text ~ @only",
        vec![point(
            KeyPointKind::MakesOrBreaks,
            "",
            "#panic(\"no\") *bold* _em_ [x] $y$ 李 🩸",
            &["Ελένη and Жукова are printed"],
        )],
    ));
    job.cautions.push("Sudden breathlessness, chest pain or confusion after opening the line: clamp, left side, head down, oxygen, call for help.".to_owned());
    job
}

fn rate(events: u64, of: u64, what: &str, of_what: &str, share: Option<(f64, f64, f64)>) -> Rate {
    let share = match share {
        Some((estimate, lower, upper)) => Share::Shown {
            estimate,
            lower,
            upper,
            method: "Wilson, 95 %".to_owned(),
            anchor: "wilson".to_owned(),
        },
        None if of == 0 => Share::Withheld("no share: no set with a closed result".to_owned()),
        None => Share::Withheld("no share below 20 sets: it would be mostly chance".to_owned()),
    };
    Rate { events, of, what: what.to_owned(), of_what: of_what.to_owned(), share }
}

fn contamination(events: u64, of: u64, share: Option<(f64, f64, f64)>) -> Rate {
    rate(events, of, "contaminated sets", "sets with a closed result", share)
}

fn standing(job: &str, name: &str, standing: &str) -> JobStanding {
    JobStanding {
        job: JobCode(job.to_owned()),
        job_name: name.to_owned(),
        standing: standing.to_owned(),
        short: "learning".to_owned(),
        since: Some(date(2026, 2, 3)),
        on_word_of: Some("I. Marlowe".to_owned()),
        missing: Vec::new(),
        rule_met: false,
        next: None,
        planned_by: None,
    }
}

fn draw(day: i8, watched_by: &str, done: u64, seen: u64, open: &[(&str, &str)]) -> DrawRow {
    let open = open.iter().filter_map(|(id, text)| Some((ItemId::parse(id)?, (*text).to_owned()))).collect();
    DrawRow {
        entry: String::new(),
        when: date(2026, 3, day).at(3, 40, 0, 0),
        job: JobCode("vein".to_owned()),
        watched_by: watched_by.to_owned(),
        spot_check: false,
        done,
        seen,
        open,
        counts: Ok(()),
        result: None,
    }
}

fn entry(id: &str, day: i8, kind: &str, what: &str, by: &str) -> EvidenceRow {
    EvidenceRow {
        entry: format!("0195d1a0-0000-7000-8000-0000{id}"),
        when: date(2026, 3, day).at(16, 5, 0, 0),
        kind: kind.to_owned(),
        what: what.to_owned(),
        by: by.to_owned(),
        corrected_by: None,
        corrects: None,
    }
}

/// A learner in the middle of the path.
pub fn learner() -> PersonPage {
    let mut vein = standing("vein", "Blood culture from a vein", "learning: draws only watched");
    vein.missing =
        owned(&["two more observed draws without a missed safety point", "the trainer's spot check"]);
    vein.next = Some((date(2026, 4, 14), "teach-back of the open key points".to_owned()));
    vein.planned_by = Some(date(2026, 5, 31));
    let mut line = standing("line", "Blood culture from a central line", "not planned");
    (line.since, line.on_word_of) = (None, None);
    let mut wrong =
        entry("00000003", 12, "done", "Observed draw, 11 of 12 key points without help.", "T. Okafor");
    wrong.corrected_by = Some((
        format!("0195d1a0-0000-7000-8000-0000{}", "00000009"),
        "key point 4.1 was ticked in the wrong line".to_owned(),
    ));
    let mut correction = entry(
        "00000009",
        13,
        "done",
        "Observed draw of 12 March, 10 of 12 key points without help.",
        "T. Okafor",
    );
    correction.corrects = Some(wrong.entry.clone());
    let mut first = draw(21, "T. Okafor", 12, 12, &[]);
    first.result = Some("no growth, final".to_owned());
    let mut third = draw(
        4,
        "T. Okafor",
        9,
        12,
        &[
            ("3.3", "let it dry fully, at least 30 s"),
            ("5.1", "8 to 10 mL in each bottle, the aerobic bottle first"),
            ("7.2", "write down who drew, the real time, the site and the volume"),
        ],
    );
    third.counts = Err("taken over by the watcher".to_owned());
    third.result = Some("contaminated (commensal in one of two sets)".to_owned());
    let chance = Chance {
        unit_rate: 0.034,
        at_least_this_many: 0.384,
        shrunk: 0.038,
        shrunk_interval: (0.011, 0.092),
        target: 0.03,
        above_target: 0.54,
        sets_to_know: Some(131),
        sentence: "1 contaminated set of 14 is what chance alone would give about two in five nurses at the unit's rate; it cannot tell yet.".to_owned(),
        anchors: owned(&["beta_binomial_moments", "probability_as_high"]),
    };
    PersonPage {
        row: PersonRow {
            id: PersonId("LF-0417".to_owned()),
            name: "Zoë Ångström-Adeyemi".to_owned(),
            role: Role::Nurse,
            started: date(2026, 1, 5),
            standings: vec![vein, line],
        },
        draws: vec![
            first,
            draw(
                12,
                "M. Castellanos",
                10,
                12,
                &[
                    ("4.1", "do not touch the cleaned spot again"),
                    ("2.3", "scrub each bottle top with alcohol and let it dry"),
                ],
            ),
            third,
        ],
        evidence: vec![
            entry(
                "00000012",
                21,
                "done",
                "Observed draw, 12 of 12 key points without help; specimen number recorded.",
                "T. Okafor",
            ),
            correction,
            wrong,
            entry("00000002", 4, "done", "Observed draw, taken over by the watcher at step 5.", "T. Okafor"),
            entry(
                "00000001",
                2,
                "said",
                "Teach-back: all steps, 14 of 16 key points and 12 of 16 reasons without a prompt.",
                "I. Marlowe",
            ),
        ],
        practise: vec![
            (ItemId::key_point(3, 3), "let it dry fully, at least 30 s".to_owned()),
            (ItemId::key_point(4, 1), "do not touch the cleaned spot again".to_owned()),
        ],
        results: PersonResults {
            contamination: contamination(1, 14, None),
            chance: Some(chance),
            unknown_collectors: rate(
                61,
                412,
                "sets without a collector",
                "sets of the last twelve months",
                Some((0.148, 0.117, 0.186)),
            ),
        },
    }
}

/// Someone who came today.
pub fn newcomer() -> PersonPage {
    let mut person = learner();
    person.row.name = "B. Ng".to_owned();
    person.row.standings.clear();
    person.draws.clear();
    person.evidence.clear();
    person.practise.clear();
    person.results.contamination = contamination(0, 0, None);
    person.results.chance = None;
    person
}

/// Years of entries and long names.
pub fn long_record() -> PersonPage {
    let mut person = learner();
    person.row.name =
        "Maximiliana-Theodora von Hohenberg-Wittelsbach y Fernández de la Cueva #strong[*x*]".to_owned();
    let draws = person.draws.clone();
    let evidence = person.evidence.clone();
    for round in 0..9_i8 {
        person.draws.extend(draws.iter().cloned().map(|mut draw| {
            draw.watched_by = format!("Preceptor {round} with-a-double-barrelled-surname");
            draw.spot_check = round % 3 == 0;
            draw
        }));
        person.evidence.extend(evidence.iter().cloned().map(|mut row| {
            let moved = |id: &String| format!("{id}-{round}");
            row.entry = moved(&row.entry);
            row.corrects = row.corrects.as_ref().map(moved);
            row.corrected_by = row.corrected_by.as_ref().map(|(id, reason)| (moved(id), reason.clone()));
            row
        }));
    }
    person.row.standings[0].rule_met = true;
    person.row.standings[0].missing.clear();
    person.results.contamination = contamination(5, 212, Some((0.0236, 0.0101, 0.0541)));
    person
}

/// Invented months, charted before and after the training began.
fn charted(months: &[(u64, u64)], n_before: usize) -> Charted {
    let shares: Vec<Proportion> =
        months.iter().filter_map(|(events, sets)| Proportion::new(*events, *sets).ok()).collect();
    let options = ChartOptions { plan: PhasePlan::before_and_after(n_before), ..ChartOptions::default() };
    let chart = match p_chart(&shares, PLimits::ExactBinomial, &options) {
        Ok(chart) => chart,
        Err(error) => panic!("the invented months do not make a chart: {error}"),
    };
    Charted {
        chart,
        labels: (0..months.len())
            .map(|k| format!("{}-{:02}", 2024 + (k + 9) / 12, (k + 9) % 12 + 1))
            .collect(),
        title: "Contaminated sets by month".to_owned(),
        value_axis: "contaminated sets, share of sets with a closed result".to_owned(),
        of_what: "sets".to_owned(),
        percent: true,
        anchor: "p_chart".to_owned(),
    }
}

const MONTHS: [(u64, u64); 18] = [
    (7, 101),
    (6, 96),
    (5, 110),
    (8, 102),
    (21, 118),
    (6, 97),
    (7, 99),
    (5, 104),
    (6, 92),
    (3, 105),
    (2, 99),
    (4, 112),
    (1, 101),
    (2, 120),
    (1, 95),
    (1, 104),
    (2, 98),
    (4, 118),
];

fn stratum(name: &str, events: u64, of: u64, share: Option<(f64, f64, f64)>) -> UnitRow {
    let counts = VerdictCounts {
        sets: of + 2,
        contaminated: events,
        negative: of - events,
        provisional: 2,
        ..VerdictCounts::default()
    };
    UnitRow { name: name.to_owned(), counts, contamination: contamination(events, of, share) }
}

fn missed(item: ItemId, text: &str, safety: bool, said: (u64, u64), done: (u64, u64)) -> PointFacts {
    let asked = |(open, of)| Asked { open, of };
    PointFacts {
        job: JobCode("vein".to_owned()),
        item,
        text: text.to_owned(),
        safety,
        said: asked(said),
        done: asked(done),
    }
}

/// March 2026 of the invented unit.
pub fn report() -> MonthReport {
    // Wilson 95 % intervals: 4 of 118 is 1.3 to 8.4 %; 38 of 1247 is 2.2 to 4.2 %.
    let counts = VerdictCounts {
        sets: 126,
        contaminated: 4,
        true_positive: 11,
        negative: 101,
        undetermined: 2,
        provisional: 7,
        excluded: 1,
    };
    MonthReport {
        unit: UNIT.to_owned(),
        month: date(2026, 3, 1),
        as_of: as_of(),
        rule: "common commensal in one of two or more sets within 24 h, version 1".to_owned(),
        this_month: MonthRow { month: date(2026, 3, 1), counts, contamination: contamination(4, 118, Some((0.0339, 0.0133, 0.0839))) },
        last_twelve: contamination(38, 1247, Some((0.0305, 0.0223, 0.0415))),
        last_twelve_named: "The twelve months up to this one".to_owned(),
        chart: Ok(charted(&MONTHS, 9)),
        findings: owned(&[
            "Since the training began the share has been lower: 20 of 952 sets against 71 of 919 before.",
            "Month 5, February 2025, lies above its upper limit; no cause was recorded.",
            "A rise from 2 to 4 contaminated sets in one month is within what chance gives.",
        ]),
        units: vec![stratum("Larkfield East", 1, 61, Some((0.0164, 0.0029, 0.0872))), stratum("Larkfield West", 3, 45, Some((0.0667, 0.0229, 0.1786))), stratum("Step-down", 0, 12, None)],
        routes: vec![stratum("Vein", 2, 93, Some((0.0215, 0.0059, 0.0750))), stratum("Central line", 2, 25, Some((0.08, 0.0222, 0.2497)))],
        single_sets: rate(13, 71, "series with one set only", "series", Some((0.1831, 0.1104, 0.2881))),
        fill: Ok(Fill {
            bottles: 164,
            unknown: 88,
            mean_ml: 8.4,
            under: rate(41, 164, "bottles", "bottles with a known volume", Some((0.25, 0.1899, 0.3215))),
            within: rate(112, 164, "bottles", "bottles with a known volume", Some((0.6829, 0.6083, 0.7493))),
            over: rate(11, 164, "bottles", "bottles with a known volume", Some((0.0671, 0.0379, 0.1161))),
            range: "8 to 10 mL per adult bottle (common practice, no source)".to_owned(),
        }),
        unknown_collectors: rate(19, 126, "sets without a collector", "sets collected", Some((0.1508, 0.0987, 0.2236))),
        training: TrainingFacts {
            people: 34,
            released: vec![("Blood culture from a vein".to_owned(), 26), ("Blood culture from a central line".to_owned(), 17)],
            teachbacks: 6,
            draws: 14,
            spot_checks: 3,
            releases: 2,
            overdue: 1,
        },
        most_missed: vec![
            missed(ItemId::key_point(3, 3), "let it dry fully, at least 30 s", true, (5, 12), (7, 31)),
            missed(ItemId::key_point(2, 2), "mark the target fill on each bottle while it stands upright", false, (6, 12), (9, 31)),
            missed(ItemId::key_point(7, 2), "write down who drew, the real time, the site and the volume", false, (2, 12), (5, 31)),
        ],
        staff_room: "In March 4 of 118 sets were contaminated. One thing to do: let the skin dry fully, at least 30 seconds, before the needle goes in.".to_owned(),
    }
}

/// A month in which nothing happened, too early for a chart.
pub fn empty_report() -> MonthReport {
    let none = || contamination(0, 0, None);
    MonthReport {
        this_month: MonthRow {
            month: date(2026, 3, 1),
            counts: VerdictCounts::default(),
            contamination: none(),
        },
        last_twelve: none(),
        last_twelve_named: "The twelve months up to this one".to_owned(),
        chart: Err("fewer than 8 months with sets; a chart needs more to tell chance from change".to_owned()),
        findings: Vec::new(),
        units: Vec::new(),
        routes: Vec::new(),
        single_sets: rate(0, 0, "series with one set only", "series", None),
        fill: Err("no bottle was weighed or had its volume reported".to_owned()),
        unknown_collectors: rate(0, 0, "sets without a collector", "sets collected", None),
        training: TrainingFacts {
            people: 1,
            released: Vec::new(),
            teachbacks: 0,
            draws: 0,
            spot_checks: 0,
            releases: 0,
            overdue: 0,
        },
        most_missed: Vec::new(),
        staff_room: "No set was collected in March.".to_owned(),
        ..report()
    }
}

/// Many units with long names, sixty months, ten key points.
pub fn long_report() -> MonthReport {
    let mut report = report();
    let months: Vec<(u64, u64)> = MONTHS.iter().cycle().take(60).copied().collect();
    report.chart = Ok(charted(&months, 30));
    report.unit =
        "Larkfield General and Neurosurgical Critical Care, High Dependency and Step-down Service #x *y*"
            .to_owned();
    for number in 1..=14 {
        report.units.push(stratum(
            &format!("Unit {number} with a rather long name that has to go over two lines"),
            number,
            60 + number,
            Some((0.05, 0.01, 0.15)),
        ));
    }
    let mut arterial = stratum("Arterial line", 1, 8, None);
    arterial.contamination.share = Share::Withheld(
        "no percentage under 20; true rates from 2.2 % to 47.1 % would fit (Wilson, 95 %)".to_owned(),
    );
    report.routes.push(arterial);
    for number in 1..=7 {
        report.most_missed.push(missed(ItemId::key_point(number, 1), "a key point with a long text that goes on and on, so that it needs more than one line in its column", number % 2 == 0, (1, 9), (0, 0)));
    }
    for number in 1..=6 {
        report.findings.push(format!("Finding {number}: a longer sentence about what the chart says and about what it cannot say, so that the list runs over several lines."));
    }
    report
}
