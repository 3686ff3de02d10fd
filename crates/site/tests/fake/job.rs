//! Two invented breakdowns, shorter than a real one.

use breakdown::{
    Breakdown, Change, ChangeKind, ItemId, ItemKind, JobCode, KeyPoint, KeyPointKind, OrderPair, Step,
    Supply, Version,
};
use desk::{Asked, BreakdownPage, PointFacts};
use jiff::civil::date;
use quantity::{Per, Stated, Unit};

fn point(label: &str, kind: KeyPointKind, text: &str, reasons: &[&str]) -> KeyPoint {
    KeyPoint {
        label: (!label.is_empty()).then(|| label.to_owned()),
        kind,
        text: text.into(),
        reasons: reasons.iter().map(|reason| (*reason).to_owned()).collect(),
        quantities: Vec::new(),
        line: 1,
    }
}

fn with(mut point: KeyPoint, quantity: Stated) -> KeyPoint {
    point.quantities.push(quantity);
    point
}

fn step(name: &str, key_points: Vec<KeyPoint>) -> Step {
    Step { name: name.into(), key_points, line: 1 }
}

pub fn vein() -> Breakdown {
    use KeyPointKind::{Knack, MakesOrBreaks, Safety};
    let at_least_30_s = Stated {
        what: None,
        low: Some(30.0),
        high: None,
        unit: Unit::Second,
        per: None,
        words: "at least 30 s".into(),
    };
    let fill = Stated {
        what: None,
        low: Some(8.0),
        high: Some(10.0),
        unit: Unit::Millilitre,
        per: Some(Per::Bottle),
        words: "8 to 10 mL per bottle".into(),
    };
    Breakdown {
        job: "Vein draw, adult, one set".into(),
        code: JobCode("vein".into()),
        version: Version(3),
        effective: Some(date(2026, 2, 16)),
        author: Some("Unit trainer (invented)".into()),
        approved_by: Some("Infection prevention and laboratory (invented)".into()),
        change: Some(Change { kind: ChangeKind::Major, what: "Drying of the skin is a key point of its own.".into() }),
        cautions: vec![
            "Local policy and the laboratory’s instructions come before this sheet.".into(),
            "Shooting pain or tingling: needle out at once. Bright pulsing blood: needle out, press for five minutes or more.".into(),
            "Children, new-born babies and patients with little blood to spare: not this sheet.".into(),
        ],
        supplies: vec![
            Supply { count: Some(2), name: "bottles in date, broth clear: one aerobic, one anaerobic".into() },
            Supply { count: Some(1), name: "skin antiseptic of the unit".into() },
            Supply { count: Some(2), name: "alcohol wipes for the bottle tops".into() },
            Supply { count: None, name: "sharps bin within reach".into() },
        ],
        steps: vec![
            step("Check order and patient", vec![
                point("identify", Safety, "ask name and date of birth aloud, match to band and label", &["a mislabelled culture treats the wrong patient"]),
                point("", MakesOrBreaks, "two sets from two sites unless the order says otherwise", &["one set misses about a quarter of bloodstream infections", "one set cannot tell a contaminant from an infection"]),
            ]),
            step("Prepare hands and bottles", vec![
                point("tops", MakesOrBreaks, "scrub each bottle top with alcohol and let it dry", &["tops are not sterile under the cap"]),
                point("", Knack, "mark the fill level while the bottle stands upright", &["a tilted scale misleads"]),
            ]),
            step("Clean the skin", vec![
                point("feel", MakesOrBreaks, "feel for the vein before cleaning", &["a touch after cleaning seeds it again"]),
                with(point("scrub", MakesOrBreaks, "scrub with friction", &["killing needs contact"]), at_least_30_s.clone()),
                with(point("dry", MakesOrBreaks, "let it dry fully, do not wipe or blow", &["killing goes on while it dries; wet alcohol stings and spoils the sample"]), at_least_30_s),
            ]),
            step("Puncture without touching", vec![
                point("puncture", MakesOrBreaks, "do not touch the cleaned spot again", &["one touch brings skin germs back"]),
                point("", Safety, "stop at shooting pain or tingling", &["the needle may lie on a nerve"]),
            ]),
            step("Fill the bottles", vec![
                with(point("", MakesOrBreaks, "fill each bottle to its mark, aerobic first", &["volume drives what is found; air in the tubing spoils the anaerobic bottle"]), fill),
                point("", Safety, "never change the needle by hand, never push the plunger by force", &["needlestick"]),
            ]),
            step("Label, record, send", vec![
                point("label", Safety, "label at the bedside after filling, before leaving", &["an unlabelled bottle is nobody’s, a wrongly labelled one is somebody else’s"]),
                point("", MakesOrBreaks, "record whose hands drew, the real time, site and side", &["results can be brought back only to the draw that is named"]),
            ]),
        ],
        orders: vec![
            OrderPair { first: "dry".into(), then: "puncture".into() },
            OrderPair { first: "feel".into(), then: "scrub".into() },
        ],
        synonyms: vec![vec!["scrub".into(), "clean".into(), "prep".into()], vec!["top".into(), "cap".into()]],
    }
}

pub fn central_line() -> Breakdown {
    use KeyPointKind::{MakesOrBreaks, Safety};
    Breakdown {
        job: "Central line draw, adult".into(),
        code: JobCode("central-line".into()),
        version: Version(1),
        effective: Some(date(2025, 5, 1)),
        author: None,
        approved_by: None,
        change: None,
        cautions: vec!["Never interrupt an infusion that keeps the patient alive.".into()],
        supplies: Vec::new(),
        steps: vec![
            step(
                "Choose the lumen",
                vec![point("", Safety, "see what runs through it", &["an interrupted infusion can kill"])],
            ),
            step(
                "Open the line",
                vec![point("", Safety, "lumen clamped before every opening", &["air sucked in can kill"])],
            ),
            step(
                "Draw and fill",
                vec![point(
                    "",
                    MakesOrBreaks,
                    "same volume as the paired vein set",
                    &["times to growth compare only at equal volumes"],
                )],
            ),
            step("Tell the charge nurse", vec![]),
        ],
        orders: Vec::new(),
        synonyms: Vec::new(),
    }
}

pub fn page(breakdown: Breakdown) -> BreakdownPage {
    let points = breakdown
        .items()
        .into_iter()
        .filter(|item| item.id.kind() == ItemKind::KeyPoint)
        .map(|item| PointFacts {
            job: breakdown.code.clone(),
            item: item.id,
            text: item.text.to_owned(),
            safety: item.key_point.is_some_and(|point| point.kind == KeyPointKind::Safety),
            said: if item.id == ItemId::key_point(3, 3) {
                Asked { open: 9, of: 21 }
            } else {
                Asked { open: u64::from(item.id.point), of: 21 }
            },
            done: if item.id.step == 6 {
                Asked { open: 0, of: 0 }
            } else {
                Asked { open: u64::from(item.id.step) % 3, of: 34 }
            },
        })
        .collect();
    let versions = (1..=breakdown.version.0)
        .map(|version| {
            let published = date(2024, 3, 4) + jiff::Span::new().months(8 * version);
            (
                Version(version),
                published,
                (version > 1).then(|| "Wording after three months of teach-backs.".to_owned()),
            )
        })
        .collect();
    BreakdownPage { breakdown, versions, points }
}
