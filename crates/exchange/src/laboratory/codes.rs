//! Codes by which a blood culture, its organisms and its bottles are known in messages.

use culture::BottleKind;

/// LOINC codes of results of blood cultures: 600-7 Bacteria identified in Blood by Culture (HL7 Europe value set);
/// 17928-3 by aerobe culture, 17934-1 by anaerobe culture (from memory).
pub(super) const LOINC_BLOOD_CULTURE: [&str; 3] = ["600-7", "17928-3", "17934-1"];

/// SNOMED CT codes of the procedure: 104177005 blood culture for bacteria, including anaerobic screen (FHIR R4
/// specification example f202); 30088009 blood culture (from memory).
pub(super) const SNOMED_BLOOD_CULTURE: [&str; 2] = ["104177005", "30088009"];

/// Words a result carries that say growth was found, or give no organism at all. Common practice, no source.
pub(super) const RESULT_WORDS: [&str; 6] =
    ["positive", "growth", "growth detected", "see comment", "see below", "pos"];

/// Words of a stain that saw nothing. Common practice, no source.
const NOTHING_SEEN: [&str; 5] =
    ["no organisms seen", "no organism seen", "no bacteria seen", "none seen", "no microorganisms seen"];

/// Whether a code is among those of blood cultures or those the mapping adds.
pub(super) fn is_blood_culture(code: &str, added: &[String]) -> bool {
    let code = code.trim();
    !code.is_empty()
        && (LOINC_BLOOD_CULTURE.contains(&code)
            || SNOMED_BLOOD_CULTURE.contains(&code)
            || is_among(code, added))
}

/// Whether a code is among those a mapping adds, whatever its case.
pub(super) fn is_among(code: &str, added: &[String]) -> bool {
    let code = code.trim();
    !code.is_empty() && added.iter().any(|own| own.trim().eq_ignore_ascii_case(code))
}

/// LOINC codes under which an order of a blood culture reports the organism: 634-6, 11475-1 and 6463-4 (from memory).
/// On blood they are cultures by themselves.
pub(super) const ORGANISM_CODES: [&str; 3] = ["634-6", "11475-1", "6463-4"];

/// LOINC codes of the Gram stain: 664-3 (from memory). It says that something grew and names no organism.
pub(super) const STAIN_CODES: [&str; 1] = ["664-3"];

/// Whether the words of a stain say that nothing was seen.
pub(super) fn saw_nothing(plain_words: &str) -> bool {
    NOTHING_SEEN.iter().any(|nothing| plain_words.starts_with(nothing))
}

/// The bottle a code of LOINC speaks of (from memory).
pub(super) fn bottle_of(code: &str) -> Option<BottleKind> {
    match code.trim() {
        "17928-3" => Some(BottleKind::Aerobic),
        "17934-1" => Some(BottleKind::Anaerobic),
        _ => None,
    }
}

/// What a coded result says where it carries a code of SNOMED CT and no words: 264868006 no growth, 260385009 negative,
/// 10828004 positive (from memory).
pub(super) fn words_of(code: &str) -> Option<&'static str> {
    match code.trim() {
        "264868006" => Some("no growth"),
        "260385009" => Some("negative"),
        "10828004" => Some("positive"),
        _ => None,
    }
}

/// SNOMED CT codes of blood as a specimen: 119297000 blood specimen (the HL7 and FHIR test messages), 122555007 venous
/// blood specimen (FHIR R4 specification example), 122556008 arterial blood specimen (from memory); HL7 table 0487 BLD,
/// and BLDV, BLDA and BLDC for venous, arterial and capillary blood (from memory).
pub(super) const BLOOD_SPECIMEN: [&str; 7] =
    ["119297000", "122555007", "122556008", "BLD", "BLDV", "BLDA", "BLDC"];

/// The word for a bottle that tells bottles of a set apart where nothing else does.
pub(super) fn bottle_label(kind: BottleKind) -> &'static str {
    match kind {
        BottleKind::Aerobic => "aerobic",
        BottleKind::Anaerobic => "anaerobic",
        BottleKind::Paediatric => "paediatric",
        BottleKind::Other => "other",
    }
}
