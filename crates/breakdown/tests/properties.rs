//! What is written is read back; reading never panics and always gives a place that exists.

use breakdown::{
    Breakdown, Change, ChangeKind, JobCode, KeyPoint, KeyPointKind, OrderPair, Step, Supply, Version,
    compare, parse, parse_bytes, write,
};
use proptest::prelude::*;
use quantity::Stated;

fn words() -> impl Strategy<Value = String> {
    // Letters, signs and even keywords inside a text must survive; a text is one line with single spaces.
    prop::collection::vec("[a-zA-Zäé0-9#:\\[\\]=,.;/-]{1,9}|step:|reason:|x", 1..7)
        .prop_map(|words| words.join(" "))
}

fn key_point() -> impl Strategy<Value = KeyPoint> {
    let kind =
        prop_oneof![Just(KeyPointKind::Safety), Just(KeyPointKind::MakesOrBreaks), Just(KeyPointKind::Knack)];
    let quantities = prop::collection::vec(
        prop::sample::select(vec![
            "fill 8 to 10 mL per bottle",
            "skin dry at least 30 s",
            "2 sets per patient",
        ]),
        0..3,
    );
    (kind, words(), prop::collection::vec(words(), 0..3), quantities).prop_map(
        |(kind, text, reasons, quantities)| {
            let quantities = quantities.into_iter().filter_map(|text| Stated::read(text).ok()).collect();
            KeyPoint { label: None, kind, text, reasons, quantities, line: 0 }
        },
    )
}

fn breakdown() -> impl Strategy<Value = Breakdown> {
    let step = (words(), prop::collection::vec(key_point(), 0..4)).prop_map(|(name, key_points)| Step {
        name,
        key_points,
        line: 0,
    });
    let change = prop::option::of((any::<bool>(), words())).prop_map(|change| {
        change.map(|(major, what)| Change {
            kind: if major { ChangeKind::Major } else { ChangeKind::Minor },
            what,
        })
    });
    let supply = (prop::option::of(1u32..1000), "[a-z]{2,8}( [a-z]{1,8}){0,2}")
        .prop_map(|(count, name)| Supply { count, name });
    let synonyms = prop::collection::vec(prop::collection::vec("[a-z]{1,8}", 2..4), 0..3);
    (
        (words(), "[a-z][a-z0-9-]{0,10}", 1u32..500, prop::option::of(words()), change),
        (prop::collection::vec(words(), 0..3), prop::collection::vec(supply, 0..3), synonyms),
        prop::collection::vec(step, 1..5),
    )
        .prop_map(|((job, code, version, author, change), (cautions, supplies, synonyms), mut steps)| {
            let mut labels = Vec::new();
            for (at, point) in steps.iter_mut().flat_map(|step| &mut step.key_points).enumerate() {
                point.label = (at % 2 == 0).then(|| format!("label-{at}"));
                labels.extend(point.label.clone());
            }
            let orders = labels
                .windows(2)
                .map(|pair| OrderPair { first: pair[0].clone(), then: pair[1].clone() })
                .collect();
            Breakdown {
                job,
                code: JobCode(code),
                version: Version(version),
                effective: Some(jiff::civil::date(2026, 3, 2)),
                author,
                approved_by: None,
                change,
                cautions,
                supplies,
                steps,
                orders,
                synonyms,
            }
        })
}

/// Line numbers are of the file and not of the job.
fn without_lines(mut breakdown: Breakdown) -> Breakdown {
    for step in &mut breakdown.steps {
        step.line = 0;
        step.key_points.iter_mut().for_each(|point| point.line = 0);
    }
    breakdown
}

proptest! {
    #[test]
    fn written_and_read_it_is_the_same(breakdown in breakdown()) {
        let text = write(&breakdown);
        let read = parse(&text).breakdown.map(without_lines);
        prop_assert_eq!(read, Some(breakdown), "{}", text);
    }

    #[test]
    fn nothing_changed_is_no_difference(breakdown in breakdown()) {
        prop_assert_eq!(compare(&breakdown, &breakdown), vec![]);
    }

    #[test]
    fn any_bytes_are_read_without_panic(bytes in prop::collection::vec(any::<u8>(), 0..300)) {
        let parsed = parse_bytes(&bytes);
        prop_assert!(parsed.breakdown.is_some() || !parsed.faults.is_empty());
    }

    #[test]
    fn any_lines_are_read_without_panic_and_places_exist(
        lines in prop::collection::vec(
            "( {0,4})(job|step|key point|safety point|reason|quantity|order|words|supply|resaon|)(\\[[a-z ]{0,3}\\])?(:| )\\PC{0,20}",
            0..20,
        )
    ) {
        let text = lines.join("\n");
        for fault in parse(&text).faults {
            prop_assert!(fault.place.line <= text.lines().count().max(1), "{:?}", fault);
            prop_assert!(!fault.found().is_empty());
        }
    }
}
