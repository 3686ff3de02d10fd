//! What a mapping adds for messages: local codes, where the specimen number stands, and the unit's clock.

use culture::BottleKind;
use jiff::tz::TimeZone;

use super::codes::is_among;
use super::mapping::MappingError;
use super::mapping_file::MessagesFile;
use super::words::{WordTable, plain};

/// The `[messages]` part of a mapping, checked.
#[derive(Debug, Clone, Default)]
pub(super) struct MessageRules {
    /// Local codes of orders and results of blood cultures.
    pub blood_culture_codes: Vec<String>,
    /// Local codes of results that name an organism.
    pub organism_codes: Vec<String>,
    /// Codes of results that give the volume in a bottle, in lower case.
    pub volume_codes: Vec<(String, BottleKind)>,
    /// Codes of results that give the time to positivity.
    pub positive_after_codes: Vec<String>,
    /// Where the specimen number stands, where it is not SPM-2.
    pub specimen_number: Option<FieldAddress>,
    /// Endings taken off a specimen number, so that two numbers become one set.
    pub number_endings: Vec<(String, BottleKind)>,
    /// The unit's clock; without it, offsets are passed over.
    pub clock: Option<TimeZone>,
    /// A report without a collection time counts by the day of the report.
    pub day_from_report: bool,
}

impl MessageRules {
    pub(super) fn checked(file: MessagesFile, bottles: &WordTable<BottleKind>) -> Result<Self, MappingError> {
        let kinds =
            |key: &str, entries: Vec<(String, String)>| -> Result<Vec<(String, BottleKind)>, MappingError> {
                let kind = |(word, bottle): (String, String)| {
                    let kind = bottles.get(&bottle).ok_or_else(|| {
                        MappingError::new(
                            format!("messages.{key}"),
                            format!("{bottle:?}"),
                            "a word for a bottle, such as aerobic, anaerobic or paediatric",
                            "write one of these words, or one that [bottle_words] names",
                        )
                    })?;
                    Ok((word, kind))
                };
                entries.into_iter().map(kind).collect()
            };
        Ok(Self {
            blood_culture_codes: file.blood_culture_codes,
            organism_codes: file.organism_codes,
            volume_codes: kinds("volume_codes", file.volume_codes.into_iter().collect())?
                .into_iter()
                .map(|(code, kind)| (plain(&code), kind))
                .collect(),
            positive_after_codes: file.positive_after_codes,
            specimen_number: file.specimen_number.as_deref().map(FieldAddress::read).transpose()?,
            number_endings: kinds("number_endings", file.number_endings.into_iter().collect())?,
            clock: file.clock.as_deref().map(clock).transpose()?,
            day_from_report: file.day_from_report,
        })
    }

    /// A specimen number without the ending that tells its bottles apart, and what the ending says of the bottle.
    pub(super) fn without_ending<'n>(&self, number: &'n str) -> (&'n str, Option<BottleKind>) {
        let found = self.number_endings.iter().find_map(|(ending, kind)| {
            let rest = number.strip_suffix(ending.as_str())?;
            (!rest.is_empty() && !ending.is_empty()).then_some((rest, Some(*kind)))
        });
        found.unwrap_or((number, None))
    }

    /// Whether a result with this code gives the time to positivity.
    pub(super) fn is_positive_after(&self, code: &str) -> bool {
        is_among(code, &self.positive_after_codes)
    }

    /// The bottle whose volume a result with this code gives.
    pub(super) fn volume_of(&self, code: &str) -> Option<BottleKind> {
        let code = plain(code);
        self.volume_codes.iter().find(|(known, _)| !code.is_empty() && *known == code).map(|(_, kind)| *kind)
    }
}

/// A field of a message by its number in the standard: `OBR-3`, or a component of it: `ORC-4.2`.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct FieldAddress {
    pub segment: String,
    pub field: usize,
    pub component: usize,
}

impl FieldAddress {
    fn read(text: &str) -> Result<Self, MappingError> {
        let parts = || {
            let (segment, rest) = text.trim().split_once('-')?;
            let (field, component) = match rest.split_once('.') {
                Some((field, component)) => (field, component.parse().ok()?),
                None => (rest, 1),
            };
            let field: usize = field.parse().ok()?;
            let known = ["ORC", "OBR", "SPM"].contains(&segment);
            (known && (1..=99).contains(&field) && (1..=99).contains(&component)).then(|| Self {
                segment: segment.to_owned(),
                field,
                component,
            })
        };
        parts().ok_or_else(|| {
            MappingError::new(
                "messages.specimen_number",
                format!("{text:?}"),
                "a field of ORC, OBR or SPM, such as OBR-3 or ORC-4.2",
                "write segment, hyphen and number; after a point the number of a component",
            )
        })
    }
}

/// Reads a clock in the form of POSIX (IEEE Std 1003.1, TZ): `CET-1CEST,M3.5.0,M10.5.0/3`.
fn clock(text: &str) -> Result<TimeZone, MappingError> {
    TimeZone::posix(text.trim()).map_err(|_| {
        MappingError::new(
            "messages.clock",
            format!("{text:?}"),
            "a clock as POSIX writes it, such as CET-1CEST,M3.5.0,M10.5.0/3 or UTC0",
            "ask the interface team for the TZ rule of the unit; hours west of Greenwich are positive",
        )
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn addresses_of_fields() {
        let found = FieldAddress::read("ORC-4.2").unwrap();
        assert_eq!((found.segment.as_str(), found.field, found.component), ("ORC", 4, 2));
        assert_eq!(FieldAddress::read("OBR-3").unwrap().component, 1);
        for wrong in ["", "PID-3", "OBR", "OBR-", "OBR-0", "OBR-3.0", "OBR-3.x", "OBR-100"] {
            assert!(FieldAddress::read(wrong).is_err(), "{wrong:?}");
        }
    }

    #[test]
    fn endings_are_taken_off() {
        let rules = MessageRules {
            number_endings: vec![
                ("-A".to_owned(), BottleKind::Aerobic),
                ("-N".to_owned(), BottleKind::Anaerobic),
            ],
            ..MessageRules::default()
        };
        assert_eq!(rules.without_ending("77-N"), ("77", Some(BottleKind::Anaerobic)));
        assert_eq!(rules.without_ending("77"), ("77", None));
        assert_eq!(rules.without_ending("-A"), ("-A", None));
    }
}
