//! One seed, one story, byte for byte.

use demo::{DemoUnit, SEED, unit};
use sha2::{Digest, Sha256};

/// SHA-256 over everything the unit holds.
fn digest(unit: &DemoUnit) -> String {
    let mut hash = Sha256::new();
    for file in &unit.laboratory_files {
        hash.update(format!("{} {}\n{}", file.name, file.taken_in, file.text));
    }
    hash.update(&unit.roster_csv);
    hash.update(&unit.mapping_toml);
    for file in &unit.breakdown_files {
        hash.update(format!("{}\n{}", file.name, file.text));
    }
    for person in &unit.people {
        hash.update(format!(
            "{} {} {:?} {} {}\n",
            person.id, person.name, person.role, person.unit, person.started
        ));
    }
    for event in &unit.events {
        hash.update(event.id);
        hash.update(format!("{event:?}\n"));
    }
    hash.update(format!("{:?} {:?} {:?}", unit.cast, unit.unreadable, unit.drawn_alone));
    hash.finalize().iter().map(|byte| format!("{byte:02x}")).collect()
}

#[test]
fn the_same_seed_gives_the_same_bytes() {
    assert_eq!(digest(&unit(SEED).unwrap()), digest(&unit(SEED).unwrap()));
}

#[test]
fn another_seed_gives_another_story_of_the_same_people() {
    let (one, other) = (unit(SEED).unwrap(), unit(SEED + 1).unwrap());
    assert_ne!(digest(&one), digest(&other));
    assert_eq!(one.people, other.people);
    for (one, other) in one.laboratory_files.iter().zip(&other.laboratory_files) {
        assert_ne!(one.text, other.text, "{}", one.name);
    }
}

/// The project's pages, papers and text name no real person, hospital, brand or machine.
#[test]
fn everything_is_said_to_be_invented() {
    let unit = unit(SEED).unwrap();
    for file in &unit.breakdown_files {
        assert!(file.text.contains("invented"), "{} does not say that it is invented", file.name);
    }
    for file in &unit.laboratory_files {
        for person in &unit.people {
            assert!(!file.text.contains(&person.name), "{} names {}", file.name, person.id);
        }
    }
}
