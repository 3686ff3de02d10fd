//! Results (OBX) of one order: what they say about growth.

use culture::ReportStatus;

use super::order::first_of;
use super::segments::{Field, Segment};
use crate::laboratory::codes::{ORGANISM_CODES, STAIN_CODES, is_among, is_blood_culture, words_of};
use crate::laboratory::mapping::Mapping;
use crate::laboratory::reports::{ReportedResult, ReportedWords, Says, with_turns};

/// How far one result has come (OBX-11; HL7 table 0085, from memory). It has letters of its own: A and B are
/// corrections here, while A of an order means that some results are there.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum ResultStatus {
    /// Deleted, wrong, cannot be obtained, or not asked for.
    Withdrawn,
    Preliminary,
    Final,
    /// Final now, its value sent before and not repeated.
    FinalAsBefore,
    Corrected,
    NotStated,
}

impl ResultStatus {
    fn read(written: &str, mapping: &Mapping) -> Self {
        match written {
            "D" | "W" | "X" | "N" => Self::Withdrawn,
            "U" => Self::FinalAsBefore,
            "V" => Self::Final,
            "A" | "B" => Self::Corrected,
            written => match mapping.statuses.get(written) {
                Some(ReportStatus::Preliminary) => Self::Preliminary,
                Some(ReportStatus::Final) => Self::Final,
                Some(ReportStatus::Corrected) => Self::Corrected,
                Some(ReportStatus::Cancelled) => Self::Withdrawn,
                Some(ReportStatus::NotStated) | None => Self::NotStated,
            },
        }
    }

    /// What it says about the order; a withdrawn result says nothing.
    pub(super) fn of_report(self) -> Option<ReportStatus> {
        match self {
            Self::Withdrawn | Self::NotStated => None,
            Self::Preliminary => Some(ReportStatus::Preliminary),
            Self::Final | Self::FinalAsBefore => Some(ReportStatus::Final),
            Self::Corrected => Some(ReportStatus::Corrected),
        }
    }

    /// Of one result told several times, the highest counts.
    fn rank(self) -> u8 {
        match self {
            Self::NotStated => 0,
            Self::Preliminary => 1,
            Self::Final | Self::FinalAsBefore => 2,
            Self::Corrected | Self::Withdrawn => 3,
        }
    }
}

/// What the results of an order say.
pub(super) struct Results {
    /// Results about growth, in order.
    pub found: Vec<ReportedResult>,
    /// The status of every result.
    pub statuses: Vec<ResultStatus>,
    /// How many results about growth carry no status.
    pub without_status: usize,
    /// The line of the last of these.
    pub last_line: u64,
}

#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum About {
    Growth,
    Stain,
}

pub(super) fn results(segments: &[&Segment<'_>], mapping: &Mapping) -> Results {
    let mut found = Vec::new();
    let mut statuses = Vec::with_capacity(segments.len());
    let (mut without_status, mut last_line) = (0, 0);
    for segment in segments {
        let status = ResultStatus::read(&segment.field(11).component(1), mapping);
        statuses.push(status);
        let code = segment.field(3);
        let Some(about) = about(code, mapping) else { continue };
        if status == ResultStatus::NotStated {
            without_status += 1;
            last_line = segment.line;
        }
        let key = first_of([code.component(1), code.component(4)]).unwrap_or_default();
        let sub_id = segment.field(4).component(1).into_owned();
        let words = match status {
            ResultStatus::Withdrawn => vec![Says::Withdrawn],
            _ => said(segment)
                .into_iter()
                .map(|said| match (about, status) {
                    (_, ResultStatus::FinalAsBefore) if said.is_empty() => Says::AsBefore,
                    (About::Growth, _) => Says::Words(said),
                    (About::Stain, _) => Says::Stain(said),
                })
                .collect(),
        };
        let is_preliminary = status == ResultStatus::Preliminary;
        found.extend(words.into_iter().map(|says| {
            (key.clone(), sub_id.clone(), status.rank(), ReportedWords { says, is_preliminary })
        }));
    }
    Results { found: with_turns(found), statuses, without_status, last_line }
}

fn about(code: Field<'_>, mapping: &Mapping) -> Option<About> {
    [1, 4].iter().find_map(|&number| {
        let code = code.component(number);
        let of_growth = is_blood_culture(&code, &mapping.messages.blood_culture_codes)
            || ORGANISM_CODES.contains(&code.as_ref())
            || is_among(&code, &mapping.messages.organism_codes);
        let of_stain = STAIN_CODES.contains(&code.as_ref());
        of_growth.then_some(About::Growth).or(of_stain.then_some(About::Stain))
    })
}

/// The words of a result: of a coded value its text, the local text, the original text or the code; of text the whole.
/// A coded value or a string that repeats says several things; lines of text that repeat are one text.
fn said(segment: &Segment<'_>) -> Vec<String> {
    let value = segment.field(5);
    match segment.field(2).component(1).as_ref() {
        "CE" | "CWE" | "CNE" | "CF" | "IS" | "ID" => value.repetitions().map(coded).collect(),
        "ST" | "" => value.repetitions().map(|part| part.whole().into_owned()).collect(),
        "TX" | "FT" => vec![value.whole().into_owned()],
        // Numbers, times and files name no organism.
        _ => vec![String::new()],
    }
}

fn coded(value: Field<'_>) -> String {
    let words = first_of([2, 5, 9].map(|number| value.component(number)));
    words.unwrap_or_else(|| {
        let code = first_of([value.component(1), value.component(4)]).unwrap_or_default();
        words_of(&code).map_or(code, str::to_owned)
    })
}
