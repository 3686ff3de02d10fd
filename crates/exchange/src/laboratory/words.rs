//! The laboratory's words for statuses, routes, bottles and no growth.

use std::collections::HashMap;

use culture::{BottleKind, ReportStatus, Route, Specimen};

/// Words looked up without regard to case and to blanks inside.
#[derive(Debug, Clone)]
pub(super) struct WordTable<T>(HashMap<String, T>);

impl<T: Copy> WordTable<T> {
    pub(super) fn new<'w>(entries: impl IntoIterator<Item = (&'w str, T)>) -> Self {
        Self(entries.into_iter().map(|(word, meaning)| (plain(word), meaning)).collect())
    }

    pub(super) fn extend<'w>(&mut self, entries: impl IntoIterator<Item = (&'w str, T)>) {
        self.0.extend(entries.into_iter().map(|(word, meaning)| (plain(word), meaning)));
    }

    pub(super) fn get(&self, word: &str) -> Option<T> {
        self.0.get(&plain(word)).copied()
    }
}

/// Statuses as HL7 v2 tables 0085 and 0123, FHIR and people write them (HL7 codes from memory).
pub(super) fn statuses() -> WordTable<ReportStatus> {
    use ReportStatus::{Cancelled, Corrected, Final, Preliminary};
    WordTable::new([
        ("F", Final),
        ("final", Final),
        ("complete", Final),
        ("completed", Final),
        ("P", Preliminary),
        ("I", Preliminary),
        ("S", Preliminary),
        ("R", Preliminary),
        ("O", Preliminary),
        ("A", Preliminary),
        ("prelim", Preliminary),
        ("preliminary", Preliminary),
        ("partial", Preliminary),
        ("pending", Preliminary),
        ("in process", Preliminary),
        ("in-process", Preliminary),
        ("registered", Preliminary),
        ("C", Corrected),
        ("corrected", Corrected),
        ("amended", Corrected),
        ("appended", Corrected),
        ("X", Cancelled),
        ("cancelled", Cancelled),
        ("canceled", Cancelled),
        ("rejected", Cancelled),
        ("entered-in-error", Cancelled),
        ("not performed", Cancelled),
    ])
}

/// Routes in plain words, and the collection methods of HL7 table 0488 (codes from memory).
pub(super) fn routes() -> WordTable<Route> {
    use Route::{ArterialLine, Cannula, CentralLine, Vein};
    WordTable::new([
        ("venepuncture", Vein),
        ("venipuncture", Vein),
        ("peripheral", Vein),
        ("peripheral venepuncture", Vein),
        ("peripheral venipuncture", Vein),
        ("vein", Vein),
        ("VENIP", Vein),
        ("central line", CentralLine),
        ("central venous line", CentralLine),
        ("line", CentralLine),
        ("CVC", CentralLine),
        ("CVP", CentralLine),
        ("PICC", CentralLine),
        ("LNV", CentralLine),
        ("arterial line", ArterialLine),
        ("art line", ArterialLine),
        ("LNA", ArterialLine),
        ("cannula", Cannula),
        ("peripheral cannula", Cannula),
        ("peripheral IV", Cannula),
    ])
}

/// Bottles in plain words, and the bottle codes of HL7 table 0488 (codes from memory).
pub(super) fn bottles() -> WordTable<BottleKind> {
    use BottleKind::{Aerobic, Anaerobic, Paediatric};
    WordTable::new([
        ("aerobic", Aerobic),
        ("aerobic bottle", Aerobic),
        ("aer", Aerobic),
        ("BCAE", Aerobic),
        ("anaerobic", Anaerobic),
        ("anaerobic bottle", Anaerobic),
        ("ana", Anaerobic),
        ("BCAN", Anaerobic),
        ("paediatric", Paediatric),
        ("pediatric", Paediatric),
        ("paediatric bottle", Paediatric),
        ("pediatric bottle", Paediatric),
        ("BCPD", Paediatric),
    ])
}

/// What was put into the bottles, by the laboratory's word for the type of specimen; what says nothing else is blood.
/// Common practice, no source.
pub(super) fn specimen(text: &str) -> Specimen {
    if text.is_empty() {
        return Specimen::Blood;
    }
    let text = plain(text);
    let has = |words: &[&str]| words.iter().any(|word| text.contains(word));
    if has(&["autopsy", "post mortem", "post-mortem", "postmortem", "necropsy"]) {
        Specimen::PostMortem
    } else if has(&["quality control", "proficiency"]) || text == "qc" {
        Specimen::QualityControl
    } else if has(&["fluid", "ascit", "pleural", "synovial", "joint", "dialysate", "csf", "bone marrow"]) {
        Specimen::OtherFluid
    } else {
        Specimen::Blood
    }
}

/// Words that mean no growth; one that ends in `*` stands for every text that starts so.
#[derive(Debug, Clone)]
pub(super) struct NoGrowth {
    whole: Vec<String>,
    starts: Vec<String>,
}

/// Used when the mapping names no words of its own. Common practice, no source.
pub(super) const NO_GROWTH_WORDS: [&str; 16] = [
    "no growth",
    "no growth after*",
    "no growth at*",
    "no growth in*",
    "no growth for*",
    "no growth to date*",
    "no growth x*",
    "no growth (*",
    "no growth 5*",
    "no organisms isolated",
    "no organism isolated",
    "nil growth",
    "sterile",
    "negative",
    "neg",
    "NG",
];

impl NoGrowth {
    pub(super) fn new<'w>(words: impl IntoIterator<Item = &'w str>) -> Self {
        let mut made = Self { whole: Vec::new(), starts: Vec::new() };
        for word in words {
            match word.trim().strip_suffix('*') {
                Some(start) => made.starts.push(plain(start)),
                None => made.whole.push(plain(word)),
            }
        }
        made
    }

    pub(super) fn is(&self, text: &str) -> bool {
        let text = plain(text);
        self.whole.contains(&text) || self.starts.iter().any(|start| text.starts_with(start.as_str()))
    }
}

/// Lower case, single blanks.
pub(super) fn plain(text: &str) -> String {
    let mut plain = String::with_capacity(text.len());
    for word in text.split_whitespace() {
        if !plain.is_empty() {
            plain.push(' ');
        }
        plain.extend(word.chars().flat_map(char::to_lowercase));
    }
    plain
}
