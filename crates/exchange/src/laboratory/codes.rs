//! Codes by which a blood culture is known in messages.

/// LOINC codes of results of blood cultures: 600-7 Bacteria identified in Blood by Culture (HL7 Europe value set);
/// 17928-3 by aerobe culture, 17934-1 by anaerobe culture (from memory).
pub(super) const LOINC_BLOOD_CULTURE: [&str; 3] = ["600-7", "17928-3", "17934-1"];

/// SNOMED CT codes of the procedure: 104177005 blood culture for bacteria, including anaerobic screen (FHIR R4
/// specification example f202); 30088009 blood culture (from memory).
pub(super) const SNOMED_BLOOD_CULTURE: [&str; 2] = ["104177005", "30088009"];

/// Words a result carries that say growth was found, or give no organism at all. Common practice, no source.
pub(super) const RESULT_WORDS: [&str; 6] =
    ["positive", "growth", "growth detected", "see comment", "see below", "pos"];

/// Whether a code is among those of blood cultures or those the mapping adds.
pub(super) fn is_blood_culture(code: &str, added: &[String]) -> bool {
    let code = code.trim();
    !code.is_empty()
        && (LOINC_BLOOD_CULTURE.contains(&code)
            || SNOMED_BLOOD_CULTURE.contains(&code)
            || added.iter().any(|own| own.eq_ignore_ascii_case(code)))
}

/// LOINC codes under which an order of a blood culture reports the organism: 634-6, 11475-1 and 6463-4 (from memory).
pub(super) const ORGANISM_CODES: [&str; 3] = ["634-6", "11475-1", "6463-4"];

/// SNOMED CT codes of blood as a specimen: 119297000 blood specimen (the HL7 and FHIR test messages), 122555007 venous
/// blood specimen (FHIR R4 specification example), 122556008 arterial blood specimen (from memory); HL7 table 0487 BLD.
pub(super) const BLOOD_SPECIMEN: [&str; 4] = ["119297000", "122555007", "122556008", "BLD"];
