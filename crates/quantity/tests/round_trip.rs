//! What is written in canonical words is read back as the same quantity, and reading never panics.

use proptest::prelude::*;
use quantity::{Agreement, Per, Stated, Unit, Volume};

fn numbers(unit: Unit) -> BoxedStrategy<f64> {
    match unit {
        Unit::Millilitre => (0u32..5_000_000).prop_map(|hundredths| f64::from(hundredths) / 100.0).boxed(),
        Unit::Second => prop_oneof![
            (0u32..400).prop_map(f64::from),
            (1u32..300).prop_map(|minutes| f64::from(minutes) * 60.0),
            (1u32..90).prop_map(|hours| f64::from(hours) * 3600.0),
            (0u32..9_000).prop_map(|tenths| f64::from(tenths) / 10.0),
        ]
        .boxed(),
        Unit::Count => (0u32..500).prop_map(f64::from).boxed(),
    }
}

fn pers() -> impl Strategy<Value = Option<Per>> {
    prop_oneof![
        Just(None),
        Just(Some(Per::Bottle)),
        Just(Some(Per::Set)),
        Just(Some(Per::Patient)),
        Just(Some(Per::Kilogram)),
        Just(Some(Per::Day)),
    ]
}

fn stated() -> impl Strategy<Value = Stated> {
    let unit = prop_oneof![Just(Unit::Millilitre), Just(Unit::Second), Just(Unit::Count)];
    unit.prop_flat_map(|unit| (Just(unit), numbers(unit), numbers(unit), 0u8..4, pers(), 0usize..4)).prop_map(
        |(unit, one, two, shape, per, what)| {
            let (low, high) = match shape {
                0 => (Some(one), Some(one)),
                1 => (Some(one.min(two)), Some(one.max(two))),
                2 => (Some(one), None),
                _ => (None, Some(one)),
            };
            let mut stated = Stated::new(low, high, unit, per).expect("in range");
            stated.what = match unit {
                Unit::Count => Some(["bottles", "sets", "ask identifiers", "people"][what].to_owned()),
                _ => [None, Some("fill"), Some("skin dry"), Some("discard")][what].map(str::to_owned),
            };
            stated.words = stated.to_string();
            stated
        },
    )
}

proptest! {
    #[test]
    fn canonical_words_read_back(stated in stated()) {
        let words = stated.to_string();
        let read = Stated::read(&words);
        prop_assert_eq!(read, Ok(stated), "{}", words);
    }

    #[test]
    fn a_quantity_agrees_with_itself(stated in stated()) {
        prop_assert_eq!(stated.compare(&stated), Agreement::Agrees);
        prop_assert!(stated.same_numbers(&stated));
    }

    #[test]
    fn what_is_accepted_agrees(expected in stated(), value in 0.0..10_000.0f64) {
        let said = Stated::new(Some(value), Some(value), expected.unit, None).unwrap();
        prop_assert_eq!(expected.accepts(value), expected.agrees(&said));
    }

    #[test]
    fn reading_never_panics(text in "\\PC{0,60}") {
        let _ = Stated::read(&text);
        for found in quantity::find(&text) {
            prop_assert!(text.is_char_boundary(found.start) && text.is_char_boundary(found.end));
            prop_assert!(found.start < found.end);
        }
    }

    #[test]
    fn reading_words_of_the_trade_never_panics(
        words in prop::collection::vec(
            prop::sample::select(vec![
                "8", "ten", "to", "-", "mL", "per", "bottle", "at", "least", "half", "a", "and", "1/2", "½", "minute",
                "point", "hundred", "between", "in", "each", "of", "blood", "no", "more", "than", "/", "second", "sets", ",",
            ]),
            0..14,
        )
    ) {
        let text = words.join(" ");
        let _ = Stated::read(&text);
        let _ = quantity::find(&text);
    }

    #[test]
    fn millilitres_come_out_as_they_went_in(value in 0.0..100_000.0f64) {
        prop_assert_eq!(Volume::from_ml(value).unwrap().to_ml(), value);
    }
}
