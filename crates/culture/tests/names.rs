//! Names of organisms: every name of the commensal list, laboratory spellings, and what must stay unresolved.

#![expect(clippy::unwrap_used, reason = "helpers of tests that cannot go on without the tables they read")]

use culture::{Agreement, CommensalList, Listing, Matching, Nomenclature};

fn listing(name: &str) -> Listing {
    CommensalList::built_in().listing(&Nomenclature::built_in().identify(name).identity)
}

fn identity(name: &str) -> String {
    Nomenclature::built_in().identify(name).identity.to_string()
}

#[track_caller]
fn commensal(name: &str) {
    let found = listing(name);
    assert!(matches!(found, Listing::Commensal { .. }), "{name} ({}) is {found:?}", identity(name));
}

#[track_caller]
fn not_commensal(name: &str) {
    assert_eq!(listing(name), Listing::NotCommensal, "{name} ({})", identity(name));
}

#[track_caller]
fn for_a_person(name: &str) {
    let found = listing(name);
    assert!(matches!(found, Listing::AskAPerson { .. }), "{name} ({}) is {found:?}", identity(name));
}

/// Source of every name: the 445-row copy of the NHSN common-commensal tab, as marked in the list's file.
#[test]
fn every_name_of_the_list_is_found_on_it() {
    let file: toml::Table = include_str!("../data/common-commensals.toml").parse().unwrap();
    let texts = |value: &toml::Value, key: &str| -> Vec<String> {
        let found = value.get(key).and_then(toml::Value::as_array).cloned().unwrap_or_default();
        found.iter().map(|item| item.as_str().unwrap().to_owned()).collect()
    };
    let entries = |key: &str| file[key].as_array().unwrap().clone();
    let mut n_names = 0;
    let mut checked = |name: &str, test: fn(&str)| {
        for spelling in spellings(name) {
            test(&spelling);
        }
        n_names += 1;
    };
    for entry in entries("genus") {
        for genus in texts(&entry, "names") {
            checked(&genus, commensal);
            checked(&format!("{genus} sp."), commensal);
            checked(&format!("{genus} spp"), commensal);
            checked(&format!("{genus} species"), commensal);
        }
    }
    for entry in entries("group") {
        for name in texts(&entry, "names").iter().chain(&texts(&entry, "aliases")) {
            checked(name, commensal);
        }
    }
    for entry in entries("species_only") {
        let genus = entry["genus"].as_str().unwrap();
        for species in texts(&entry, "species") {
            checked(&format!("{genus} {species}"), commensal);
        }
        for species in texts(&entry, "never") {
            checked(&format!("{genus} {species}"), not_commensal);
        }
        for species in texts(&entry, "added_later") {
            checked(&format!("{genus} {species}"), for_a_person);
        }
        checked(genus, for_a_person);
    }
    for entry in entries("exception") {
        let test = if entry.get("disputed").is_some() { for_a_person } else { not_commensal };
        checked(entry["name"].as_str().unwrap(), test);
        for name in texts(&entry, "also") {
            checked(&name, for_a_person);
        }
    }
    for entry in entries("warn") {
        for name in texts(&entry, "names") {
            let found = listing(&name);
            assert!(matches!(found, Listing::Commensal { warning: Some(_), .. }), "{name}: {found:?}");
        }
    }
    for entry in entries("reclassified") {
        for genus in texts(&entry, "new_genera") {
            checked(&genus, for_a_person);
        }
    }
    // Lysinibacillus is named twice: absent under its own name, and heir of listed species. A person decides.
    for genus in texts(&file["absent"], "genera").iter().filter(|genus| *genus != "Lysinibacillus") {
        checked(genus, not_commensal);
    }
    // 34 genera in four forms, 17 groups with 8 aliases, and 60 and more species: the file was really walked.
    assert!(n_names > 300, "{n_names}");
}

/// One name as laboratories write it: as it is, in capitals, in lower case, turned round, with a genus cut short or
/// with its initial, with the remarks that come with it.
fn spellings(name: &str) -> Vec<String> {
    let mut all = vec![
        name.to_owned(),
        name.to_uppercase(),
        name.to_lowercase(),
        format!("  {name} "),
        format!("{name}, presumptive identification"),
        format!("Growth of {name}"),
        format!("{name}, 1 of 2 bottles"),
        format!("{name} isolated in aerobic bottle"),
        format!("?{name}"),
        name.replace(' ', "  "),
        name.replace("haem", "hem").replace("coag", "Coag"),
    ];
    if let Some((genus, epithet)) = name.split_once(' ')
        && epithet.split(' ').count() == 1
        && !matches!(epithet, "sp." | "spp" | "species")
        && genus.chars().all(char::is_alphabetic)
        && epithet.chars().all(|letter| letter.is_ascii_lowercase())
    {
        all.push(format!("{epithet}, {genus}"));
        all.push(format!("{genus}. {}", epithet.to_uppercase()));
        if genus == "Staphylococcus" {
            all.extend([format!("STAPH. {epithet}"), format!("staph {epithet}"), format!("Staph.{epithet}")]);
        }
        if genus == "Streptococcus" {
            all.extend([format!("STREP. {epithet}"), format!("strep {epithet}")]);
        }
    }
    all
}

/// An initial may stand for several genera. It is read as the full name is, or left to a person; never as the other kind.
#[test]
fn an_initial_never_turns_a_commensal_into_a_pathogen_or_back() {
    let mut n_read = 0;
    for (full, kind) in every_species() {
        let (genus, epithet) = full.split_once(' ').unwrap();
        for written in [format!("{}. {epithet}", &genus[..1]), format!("{}.{epithet}", &genus[..2])] {
            let found = kind_of(&written);
            assert!(found == kind || found == Kind::Ask, "{written}: {found:?}, {full} is {kind:?}");
            n_read += u32::from(found == kind);
        }
    }
    assert!(n_read > 300, "{n_read}: most initials are read");
}

/// Every single slip in every known species name: a letter left out, doubled, exchanged with the next, or another letter
/// in its place. A slip may leave a name to a person, but never moves it between commensal and recognised organism.
#[test]
fn a_slip_never_turns_a_pathogen_into_a_commensal() {
    let (mut n_slips, mut n_read) = (0_u32, 0_u32);
    for (number, (full, kind)) in every_species().into_iter().enumerate() {
        // Every seventh slip of a name, beginning elsewhere in each: all letters and kinds of slip are met.
        for written in slips(&full).into_iter().skip(number % 7).step_by(7) {
            let found = kind_of(&written);
            assert!(
                found == kind || found == Kind::Ask,
                "{written:?} for {full:?}: {found:?} ({}) instead of {kind:?}",
                identity(&written)
            );
            n_slips += 1;
            n_read += u32::from(found == kind);
        }
    }
    // Most slips are read as what was meant; the rest is left to a person.
    assert!(n_slips > 4_000 && f64::from(n_read) > 0.8 * f64::from(n_slips), "{n_read} of {n_slips}");
}

/// Slips seen in laboratories. Common practice, no source.
#[test]
fn common_slips_are_read_and_said() {
    for (written, expected) in [
        ("Staphlococcus epidermidis", "Staphylococcus epidermidis"),
        ("Staphylococcus epidermis", "Staphylococcus epidermidis"),
        ("Staph epidermidus", "Staphylococcus epidermidis"),
        ("S. epidermidus", "Staphylococcus epidermidis"),
        ("Stapylococcus aureus", "Staphylococcus aureus"),
        ("Staphylococus hominis", "Staphylococcus hominis"),
        ("Micrococus luteus", "Micrococcus luteus"),
        ("Corynebacterium diptheriae", "Corynebacterium diphtheriae"),
        ("Bacillus anthrasis", "Bacillus anthracis"),
        ("Coagulase negtive staphylococcus", "Staphylococcus, coagulase negative"),
        ("Coagulase-negative Staphylococus", "Staphylococcus, coagulase negative"),
        ("Propionbacterium acnes", "Propionibacterium acnes"),
        ("Eschericia coli", "Escherichia coli"),
        ("Enterococcus feacalis", "Enterococcus faecalis"),
        ("Klebsiella pnuemoniae", "Klebsiella pneumoniae"),
        ("Streptococcus pnuemoniae", "Streptococcus pneumoniae"),
    ] {
        let found = Nomenclature::built_in().identify(written);
        assert_eq!(found.identity.to_string(), expected, "{written:?}");
        assert!(found.misspelt, "{written:?} is read as a slip");
    }
    assert!(!Nomenclature::built_in().identify("Staphylococcus epidermidis").misspelt);
    // What may be a slip for the one species that is not listed is left to a person.
    for_a_person("Bacillus antrakus");
    not_commensal("Bacillus anthracis");
}

/// Names of the commensal group in other spellings and languages. From memory.
#[test]
fn coagulase_negative_staphylococci_are_found_however_they_are_written() {
    for written in [
        "Coag neg staph",
        "COAG NEG STAPH",
        "coag. neg. staph.",
        "Coag-neg Staph",
        "coag-ve staph",
        "Staph coag -ve",
        "coagulase -ve staphylococcus",
        "Staphylococcus (coagulase negative)",
        "Staphylococcus, coagulase negative",
        "STAPHYLOCOCCUS COAGULASE NEGATIVE",
        "Staph, coag neg",
        "CoNS",
        "CONS",
        "CNS",
        "SCN",
        "CNST",
        "Coagulase negative Staphylococcus species",
        "Staphylococcus sp., coagulase negative",
        "Staphylococci, coagulase-negative",
        "Koagulase-negative Staphylokokken",
        "Staphylocoque à coagulase négative",
        "Estafilococo coagulasa negativo",
        "Staphylococcus coag. neg. (1/2 bottles)",
    ] {
        assert_eq!(identity(written), "Staphylococcus, coagulase negative", "{written:?}");
        commensal(written);
    }
    for written in ["coag+ve staph", "Staph coag +ve", "coag pos staph", "Staphylococcus, coagulase positive"]
    {
        assert_eq!(identity(written), "Staphylococcus, coagulase positive", "{written:?}");
        not_commensal(written);
    }
}

#[derive(Debug, Clone, Copy, PartialEq)]
enum Kind {
    Commensal,
    Recognised,
    Ask,
}

fn kind_of(name: &str) -> Kind {
    match listing(name) {
        Listing::Commensal { .. } => Kind::Commensal,
        Listing::NotCommensal => Kind::Recognised,
        Listing::AskAPerson { .. } => Kind::Ask,
    }
}

/// Every species the tables name, with what the list says of it, those left to a person aside.
fn every_species() -> Vec<(String, Kind)> {
    let tables = [
        include_str!("../data/common-commensals.toml"),
        include_str!("../data/organism-names.toml"),
        include_str!("../data/recognised-organisms.toml"),
    ]
    .map(|text| text.parse::<toml::Table>().unwrap());
    let mut names = Vec::new();
    for entry in tables[0]["species_only"].as_array().unwrap() {
        for key in ["species", "never"] {
            for epithet in entry[key].as_array().unwrap() {
                names.push(format!("{} {}", entry["genus"].as_str().unwrap(), epithet.as_str().unwrap()));
            }
        }
    }
    for genera in [&tables[1]["epithets"], &tables[2]["genera"]] {
        for (genus, epithets) in genera.as_table().unwrap() {
            for epithet in epithets.as_array().unwrap() {
                names.push(format!("{genus} {}", epithet.as_str().unwrap()));
            }
        }
    }
    names.retain(|name| name.split(' ').count() == 2 && !name.contains('-'));
    names.sort();
    names.dedup();
    let all: Vec<(String, Kind)> = names
        .into_iter()
        .map(|name| {
            let kind = kind_of(&name);
            (name, kind)
        })
        .filter(|(_, kind)| *kind != Kind::Ask)
        .collect();
    assert!(all.len() > 250, "{}", all.len());
    all
}

/// Every way to go wrong by one letter.
fn slips(name: &str) -> Vec<String> {
    let letters: Vec<char> = name.chars().collect();
    let mut made = Vec::new();
    for place in 0..letters.len() {
        if letters[place] == ' ' {
            continue;
        }
        let with = |replacement: &[char]| -> String {
            letters[..place].iter().chain(replacement).chain(&letters[place + 1..]).collect()
        };
        made.push(with(&[]));
        made.push(with(&[letters[place], letters[place]]));
        if letters.get(place + 1).is_some_and(|next| *next != ' ') {
            let mut turned = letters.clone();
            turned.swap(place, place + 1);
            made.push(turned.into_iter().collect());
        }
        for other in ['a', 'i', 's'] {
            made.push(with(&[other]));
        }
    }
    made
}

/// Laboratory spellings. Common practice, no source, except those marked as read in open data.
#[test]
fn laboratory_spellings_are_read() {
    for (written, expected) in [
        // Open data: MIMIC-III demo, microbiology events.
        ("STAPHYLOCOCCUS, COAGULASE NEGATIVE", "Staphylococcus, coagulase negative"),
        ("STAPH AUREUS COAG +", "Staphylococcus aureus"),
        ("CORYNEBACTERIUM SPECIES (DIPHTHEROIDS)", "Corynebacterium species"),
        ("CORYNEBACTERIUM STRIATUM", "Corynebacterium striatum"),
        ("ENTEROCOCCUS SP.", "Enterococcus species"),
        ("BETA STREPTOCOCCUS GROUP B", "Streptococcus, group B"),
        ("BACTEROIDES FRAGILIS GROUP", "Bacteroides fragilis group"),
        ("STENOTROPHOMONAS (XANTHOMONAS) MALTOPHILIA", "Stenotrophomonas maltophilia"),
        ("CANDIDA ALBICANS, PRESUMPTIVE IDENTIFICATION", "Candida albicans"),
        ("PRESUMPTIVE STREPTOCOCCUS BOVIS", "Streptococcus bovis"),
        ("POSITIVE FOR METHICILLIN RESISTANT STAPH AUREUS", "Staphylococcus aureus"),
        ("ACINETOBACTER BAUMANNII COMPLEX", "Acinetobacter baumannii group"),
        ("PROBABLE ENTEROCOCCUS", "Enterococcus species"),
        ("ALPHA STREPTOCOCCI", "Viridans group streptococci"),
        ("ASPERGILLUS SP. NOT FUMIGATUS, FLAVUS OR NIGER", "Aspergillus species"),
        ("ENTEROBACTERIACEAE", "Enterobacterales"),
        // Open data: AMR example isolates and its organism names.
        ("Coagulase-negative Staphylococcus (CoNS)", "Staphylococcus, coagulase negative"),
        ("Streptococcus Group A", "Streptococcus, group A"),
        ("E. coli", "Escherichia coli"),
        ("K. pneumoniae", "Klebsiella pneumoniae"),
        ("S. pneumoniae", "Streptococcus pneumoniae"),
        ("S. aureus", "Staphylococcus aureus"),
        ("Lactobacillus delbrueckii lactis", "Lactobacillus delbrueckii subsp. lactis"),
        // Open data: the HL7 v2 and FHIR blood culture.
        ("Vancomycin resistant Enterococcus raffinosus", "Enterococcus raffinosus"),
        // Common practice.
        ("Coag neg staph", "Staphylococcus, coagulase negative"),
        ("Staph coag neg, 1 of 2 bottles", "Staphylococcus, coagulase negative"),
        ("Coagulase-negative staphylococci", "Staphylococcus, coagulase negative"),
        ("CoNS", "Staphylococcus, coagulase negative"),
        ("cns", "Staphylococcus, coagulase negative"),
        ("Staph. coag -", "Staphylococcus, coagulase negative"),
        ("Staphylococcus coagulase-positive", "Staphylococcus, coagulase positive"),
        ("Staphylococcus species, not S. aureus", "Staphylococcus, coagulase negative"),
        ("STAPH. EPIDERMIDIS", "Staphylococcus epidermidis"),
        ("Staph epi", "Staphylococcus epidermidis"),
        ("S.epidermidis", "Staphylococcus epidermidis"),
        ("?Staph epidermidis", "Staphylococcus epidermidis"),
        ("Epidermidis, Staphylococcus", "Staphylococcus epidermidis"),
        ("Staphylococcus hemolyticus", "Staphylococcus haemolyticus"),
        ("Staph hominis ssp hominis", "Staphylococcus hominis subsp. hominis"),
        ("Staphylococcus hominis subsp. novobiosepticus", "Staphylococcus hominis subsp. novobiosepticus"),
        ("MRSA", "Staphylococcus aureus"),
        ("Strep viridans", "Viridans group streptococci"),
        ("Viridans streptococci", "Viridans group streptococci"),
        ("Alpha-haemolytic streptococcus", "Viridans group streptococci"),
        ("Strep mitis/oralis", "Streptococcus mitis subsp. oralis"),
        ("P. acnes", "Propionibacterium acnes"),
        ("C. striatum", "Corynebacterium striatum"),
        ("C. difficile", "Clostridioides difficile"),
        ("Ps. aeruginosa", "Pseudomonas aeruginosa"),
        ("diphtheroids", "Diphtheroids"),
        ("Gram positive cocci (Staphylococcus aureus)", "Staphylococcus aureus"),
        ("GBS", "Streptococcus, group B"),
    ] {
        assert_eq!(identity(written), expected, "{written:?}");
    }
    assert!(Nomenclature::built_in().identify("CANDIDA ALBICANS, PRESUMPTIVE IDENTIFICATION").doubtful);
    assert!(Nomenclature::built_in().identify("?Staph epidermidis").doubtful);
    assert!(!Nomenclature::built_in().identify("Staph epidermidis").doubtful);
}

#[test]
fn what_names_no_organism_stays_unresolved() {
    for (written, why) in [
        ("", "no name given"),
        (" . ", "no name given"),
        ("GRAM POSITIVE COCCUS(COCCI)", "only the appearance under the microscope is named"),
        ("ANAEROBIC GRAM POSITIVE ROD(S)", "only the appearance under the microscope is named"),
        ("Gram negative bacillus", "only the appearance under the microscope is named"),
        ("gram positive bacilli", "only the appearance under the microscope is named"),
        ("Yeast", "only the appearance under the microscope is named"),
        ("S. intermedius", "the abbreviation fits more than one organism"),
        ("S. epidermidis and E. coli", "more than one organism is named"),
        ("Staphylococcus epidermidis; E. coli", "more than one organism is named"),
        ("CoNS, E. coli", "more than one organism is named"),
        ("E. coli / K. pneumoniae", "more than one organism is named"),
        ("Staphylococcus epidermidis, Escherichia coli", "more than one organism is named"),
        ("No Staphylococcus aureus isolated", "the words say what it is not"),
        ("(unknown name)", "the name is not known"),
        ("Quux quuxii", "the name is not known"),
    ] {
        assert_eq!(identity(written), why, "{written:?}");
        for_a_person(written);
    }
    for_a_person("Staphylococcus schleiferi");
    commensal("Staphylococcus schleiferi subsp. schleiferi");
    not_commensal("Staphylococcus schleiferi subsp. coagulans");
}

/// NHSN: a genus-only name matches a species of that genus; two species do not match; biotypes are not compared.
#[test]
fn names_match_as_nhsn_matches_them() {
    let names = Nomenclature::built_in();
    let agreement = |one: &str, other: &str, level| {
        let (one, other) = (names.identify(one).identity, names.identify(other).identity);
        let there = names.agreement(&one, &other, level);
        assert_eq!(there, names.agreement(&other, &one, level), "agreement has no direction");
        there
    };
    for (one, other, at_genus, at_species) in [
        (
            "S. epidermidis",
            "Staphylococcus epidermidis",
            Some(Agreement::SameName),
            Some(Agreement::SameName),
        ),
        ("S. epidermidis", "CoNS", Some(Agreement::Covered), None),
        ("CoNS", "coag neg staph", Some(Agreement::SameName), Some(Agreement::SameName)),
        ("S. epidermidis", "S. hominis", None, None),
        ("S. aureus", "CoNS", None, None),
        ("Streptococcus salivarius", "Strep viridans", Some(Agreement::Covered), None),
        ("Streptococcus pneumoniae", "Strep viridans", None, None),
        ("Bacillus cereus", "Bacillus sp.", Some(Agreement::Covered), None),
        ("Corynebacterium striatum", "diphtheroids", Some(Agreement::Covered), None),
        (
            "Staphylococcus hominis subsp. hominis",
            "S. hominis",
            Some(Agreement::SameName),
            Some(Agreement::SameName),
        ),
        ("P. acnes", "Cutibacterium acnes", Some(Agreement::SameName), Some(Agreement::SameName)),
        ("Propionibacterium sp.", "Cutibacterium acnes", Some(Agreement::Covered), None),
        ("Kocuria kristinae", "Rothia kristinae", Some(Agreement::SameName), Some(Agreement::SameName)),
        ("Micrococcus luteus", "Kocuria rosea", None, None),
        ("gram positive cocci", "gram positive cocci", None, None),
    ] {
        assert_eq!(agreement(one, other, Matching::Genus), at_genus, "{one} and {other} at genus");
        assert_eq!(agreement(one, other, Matching::Species), at_species, "{one} and {other} at species");
    }
}

#[test]
fn reading_never_panics_and_does_not_depend_on_case() {
    use proptest::prelude::*;
    proptest!(|(text in "\\PC{0,60}")| {
        let names = Nomenclature::built_in();
        let _ = CommensalList::built_in().listing(&names.identify(&text).identity);
    });
    proptest!(|(text in "[A-Za-z .,()+-]{0,40}")| {
        prop_assert_eq!(identity(&text.to_uppercase()), identity(&text.to_lowercase()));
    });
}
