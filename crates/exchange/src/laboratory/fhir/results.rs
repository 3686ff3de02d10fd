//! What the observations of one culture say.

use culture::{Identity, Nomenclature, ReportStatus};

use super::culture_report::Builder;
use super::json::Json;
use super::values::{codes, concept_words, first_identifier, list, text};
use crate::laboratory::codes::{ORGANISM_CODES, STAIN_CODES, is_among, is_blood_culture};
use crate::laboratory::reports::{ReportedResult, ReportedWords, Says, with_turns};

impl Builder<'_> {
    /// What the observations say about growth. `only_named` takes coded values that name an organism and nothing else.
    pub(super) fn results(&self, observations: &[usize], only_named: bool) -> Vec<ReportedResult> {
        let mut found = Vec::new();
        for at in observations {
            let value = &self.store.at(*at).value;
            let status = text(value, &["status"]);
            let is_withdrawn = matches!(status, Some("entered-in-error" | "cancelled"));
            let meaning = status.and_then(|status| self.mapping.statuses.get(status));
            let is_preliminary = meaning == Some(ReportStatus::Preliminary);
            let sub_id = first_identifier(value).unwrap_or_default();
            let own = codes(value.get("code"));
            // Components carry values of their own, under codes of their own.
            for part in std::iter::once(value).chain(list(value, "component")) {
                let of_part = codes(part.get("code"));
                let says = self.says(part, &of_part, only_named && own.is_empty());
                let Some(says) = says.filter(|_| !only_named || own.is_empty()) else { continue };
                let says = if is_withdrawn { Says::Withdrawn } else { says };
                let code = of_part.first().copied().unwrap_or_default().to_owned();
                // Every observation has one status here; what is told twice stands in two observations.
                let rank = 1;
                found.push((code, sub_id.to_owned(), rank, ReportedWords { says, is_preliminary }));
            }
        }
        with_turns(found)
    }

    /// What one value says, where it is about growth.
    fn says(&self, part: &Json, codes: &[&str], only_named: bool) -> Option<Says> {
        let coded = part.get("valueCodeableConcept").and_then(concept_words);
        if only_named {
            return coded.filter(|said| is_organism(said)).map(|said| Says::Words(said.to_owned()));
        }
        let messages = &self.mapping.messages;
        let about_growth = codes.iter().any(|code| {
            is_blood_culture(code, &messages.blood_culture_codes)
                || ORGANISM_CODES.contains(code)
                || is_among(code, &messages.organism_codes)
        });
        let about_stain = codes.iter().any(|code| STAIN_CODES.contains(code));
        let said = coded.or(text(part, &["valueString"])).or_else(|| interpretation(part));
        match (about_growth, about_stain) {
            (true, _) => Some(Says::Words(said.unwrap_or_default().to_owned())),
            (false, true) => said.map(|said| Says::Stain(said.to_owned())),
            (false, false) => None,
        }
    }
}

/// Positive or negative, where a result carries no value but how it is to be read (HL7 table 0078, from memory).
fn interpretation(part: &Json) -> Option<&'static str> {
    let codes: Vec<&str> = list(part, "interpretation").flat_map(|concept| codes(Some(concept))).collect();
    if codes.contains(&"POS") {
        Some("positive")
    } else if codes.contains(&"NEG") {
        Some("negative")
    } else {
        None
    }
}

pub(super) fn is_organism(said: &str) -> bool {
    !matches!(Nomenclature::built_in().identify(said).identity, Identity::Unresolved(_))
}
