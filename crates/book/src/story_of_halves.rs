//! What any backend does with a set that stands under two numbers.

use std::collections::BTreeSet;

use culture::{BottleKind, SetId};

use crate::store::{JudgedSet, SetsAfter, Stands, Store};
use crate::story::{at, file, judged};

/// A number comes as a set of its own, turns out to be half of another, and is a set again when that was a mistake.
pub(crate) fn halves_become_one_set_and_part_again(store: &mut impl Store) {
    let id = |number: &str| SetId(number.to_owned());
    let one = judged("H-1", &[], "negative");
    let mut other = judged("H-2", &["CNS"], "undetermined");
    other.set.bottles[0].kind = BottleKind::Anaerobic;
    let n_before = store.sets().unwrap().len();
    let number_of_sets = |store: &dyn Store| store.sets().unwrap().len() - n_before;
    let when = at("2026-03-06T09:00:00Z");
    store.take_in(file(90, "halves", vec![one.clone(), other.clone()]), when).unwrap();
    assert_eq!(number_of_sets(store), 2);

    let whole = JudgedSet {
        set: culture::joined(&one.set, &other.set),
        stands: Stands::Joined(Box::new([one.set.clone(), other.set.clone()])),
        ..judged("H-1", &[], "undetermined")
    };
    let part = JudgedSet { stands: Stands::PartOf(id("H-1")), ..other.clone() };
    let before = store.head().unwrap().seq;
    let joined = vec![whole.clone(), part.clone()];
    store.take_in(file(91, "joined", joined.clone()), when).unwrap();
    assert_eq!(number_of_sets(store), 1);
    let after = SetsAfter { sets: vec![whole.set.clone()], gone: vec![id("H-2")] };
    assert_eq!(store.sets_after(before).unwrap(), after);
    let versions = store.set_versions(&id("H-2")).unwrap();
    let stands: Vec<&Stands> = versions.iter().map(|version| &version.stands).collect();
    assert_eq!(stands, [&Stands::Alone, &Stands::PartOf(id("H-1"))], "what stood before is still there");
    assert_eq!(versions[0].set.isolates.len(), 1);
    let known = store.sets_of_patients(&BTreeSet::from([one.set.patient.clone()])).unwrap();
    let halves = known.iter().find(|known| known.set.id == id("H-1")).unwrap();
    assert_eq!(halves.stands, whole.stands, "each half as it was reported");
    assert!(known.iter().any(|known| known.stands == part.stands));
    assert!(store.patients_of_sets(&BTreeSet::from([id("H-2")])).unwrap().contains_key(&id("H-2")));

    // The same again adds nothing, and a mistake is undone by a third version.
    let head = store.head().unwrap();
    store.take_in(file(92, "joined", joined), when).unwrap();
    assert_eq!(store.head().unwrap(), head);
    store.take_in(file(93, "parted", vec![one.clone(), other]), when).unwrap();
    assert_eq!(number_of_sets(store), 2);
    assert_eq!(store.set_versions(&id("H-2")).unwrap().len(), 3);

    // Halves of two patients are no set.
    let mut of_two = whole;
    if let Stands::Joined(halves) = &mut of_two.stands {
        halves[1].patient.0 = crate::sha256_hex(b"another invented patient");
    }
    let error = store.take_in(file(94, "mixed", vec![of_two]), when).unwrap_err();
    assert!(error.to_string().contains("halves of two patients"), "{error}");
    assert!(store.verify().unwrap().is_sound());
}
