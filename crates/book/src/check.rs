//! What a draft must satisfy before the book keeps it, whatever the backend.

use std::collections::BTreeSet;

use practice::{EventKind, Person};
use uuid::Uuid;

use crate::chain::is_sha256_hex;
use crate::entry::{Body, Draft, PublishedReport, Recorded};
use crate::error::{BookError, Fault};
use crate::store::{JudgedSet, Stands, TakeIn};
use crate::stored::{self, StoredBody, StoredError};

/// Checks a draft by itself.
pub(crate) fn draft(draft: &Draft) -> Result<(), BookError> {
    let refuse = |place: &str, found: String, expected: &str, what_to_do: &str| {
        Err(BookError::BadDraft { id: draft.id, fault: fault(place, found, expected, what_to_do) })
    };
    identifier(draft.id)?;
    if draft.by.0.trim().is_empty() {
        return refuse(
            "by",
            "nothing".to_owned(),
            "who writes the entry",
            "name the person by staff identifier",
        );
    }
    match (&draft.corrects, draft.correction_reason.as_deref().map(str::trim)) {
        (None, None) => {}
        (Some(earlier), Some(reason)) if !reason.is_empty() && *earlier != draft.id => {}
        (Some(earlier), _) if *earlier == draft.id => {
            return refuse(
                "corrects",
                "the entry itself".to_owned(),
                "an earlier entry",
                "give the correction an identifier of its own",
            );
        }
        (Some(_), _) => {
            return refuse(
                "correction reason",
                "nothing".to_owned(),
                "why the earlier entry is corrected",
                "say the reason in a sentence; it is shown beside both entries",
            );
        }
        (None, Some(reason)) => {
            return refuse(
                "correction reason",
                format!("{reason:?}, and no entry it corrects"),
                "the entry that is corrected",
                "name the earlier entry, or leave the reason out",
            );
        }
    }
    match &draft.body {
        Body::LaboratoryFileTakenIn(_) => {
            return refuse(
                "what it says",
                "a laboratory file, added as a plain entry".to_owned(),
                "a laboratory file taken in with its sets",
                "take the file in, so that its rows stand under the entry's digest",
            );
        }
        Body::Practice(EventKind::EnteredInError) if draft.corrects.is_none() => {
            return refuse(
                "corrects",
                "nothing".to_owned(),
                "the entry that was made in error",
                "name the entry that did not happen",
            );
        }
        Body::Practice(EventKind::PersonAdded(person)) => self::person(draft, person)?,
        Body::Practice(_) => {}
        Body::ReportPublished(report) => self::report(draft, report)?,
    }
    no_nul(draft)
}

/// Checks a correction against the entry it names.
pub(crate) fn correction(draft: &Draft, corrected: Option<&Recorded>) -> Result<(), BookError> {
    let refuse = |found: String, expected: &str, what_to_do: &str| {
        Err(BookError::BadDraft { id: draft.id, fault: fault("corrects", found, expected, what_to_do) })
    };
    let Some(corrected) = corrected else {
        let id = draft.corrects.unwrap_or_default();
        return refuse(
            format!("{id}, which is not in the book"),
            "an entry that is in the book already",
            "look the entry up in the book and name its identifier",
        );
    };
    match (corrected.body(), &draft.body) {
        (Body::LaboratoryFileTakenIn(_), _) => refuse(
            format!("entry {}, a laboratory file", corrected.seq()),
            "an entry written by a person",
            "take in the laboratory's corrected file: it makes new versions of the sets",
        ),
        (Body::Practice(_), Body::Practice(_)) | (Body::ReportPublished(_), Body::ReportPublished(_)) => {
            Ok(())
        }
        _ => refuse(
            format!("entry {}, which is of another sort", corrected.seq()),
            "an entry of the same sort",
            "correct a training entry by a training entry and a report by a report",
        ),
    }
}

/// Checks a laboratory file before its rows are written.
pub(crate) fn take_in(file: &TakeIn) -> Result<(), BookError> {
    let refuse = |place: String, found: String, expected: &str, what_to_do: &str| {
        Err(BookError::BadDraft { id: file.id, fault: fault(&place, found, expected, what_to_do) })
    };
    identifier(file.id)?;
    if file.by.0.trim().is_empty() {
        return refuse(
            "by".to_owned(),
            "nothing".to_owned(),
            "who takes the file in",
            "name the person by staff identifier",
        );
    }
    if !is_sha256_hex(&file.file_sha256) {
        return refuse(
            "digest of the file".to_owned(),
            format!("{:?}", file.file_sha256),
            "a SHA-256 of 64 hexadecimal digits in lower case",
            "compute it over the file's bytes",
        );
    }
    let mut seen = BTreeSet::new();
    for judged in &file.sets {
        let set = &judged.set;
        if set.id.0.trim().is_empty() {
            return refuse(
                "a set".to_owned(),
                "no identifier".to_owned(),
                "the specimen number, or a key made from what the mapping says makes a set",
                "look at the mapping of the file",
            );
        }
        let place = format!("set {}", set.id);
        if !seen.insert(&set.id) {
            return refuse(
                place,
                "the same identifier twice in one file".to_owned(),
                "each set once",
                "look at the mapping: it says which rows make one set",
            );
        }
        if let Stands::Joined(halves) = &judged.stands
            && halves.iter().any(|half| half.patient != set.patient)
        {
            return refuse(
                place,
                "halves of two patients".to_owned(),
                "two halves of one patient",
                "report this fault; nothing was written",
            );
        }
        if !is_sha256_hex(&set.patient.0) {
            return refuse(
                place,
                "a patient key that is not a keyed hash".to_owned(),
                "64 hexadecimal digits in lower case: HMAC-SHA-256 under the book's patient key",
                "hash the patient's number before it reaches the book; the book keeps no patient identifier",
            );
        }
    }
    Ok(())
}

/// The stored form of a set of a file, checked as it is made: a million sets are put into words once, not twice.
pub(crate) fn set(file: &TakeIn, judged: &JudgedSet) -> Result<StoredBody, BookError> {
    let place = format!("set {}", judged.set.id);
    let body =
        stored::encode_set(&judged.set, &judged.stands).map_err(|error| refused(file.id, &place, &error))?;
    if holds_nul(&body.text) || judged.verdict.contains('\0') || judged.clause.contains('\0') {
        let fault =
            fault(&place, "a NUL character".to_owned(), "plain text", "remove the character from the file");
        return Err(BookError::BadDraft { id: file.id, fault });
    }
    Ok(body)
}

/// A body that cannot be stored, as the error a caller sees.
pub(crate) fn refused(id: Uuid, place: &str, error: &StoredError) -> BookError {
    let fault = fault(
        place,
        error.to_string(),
        "a value the book can keep",
        "correct the value and write the entry again",
    );
    BookError::BadDraft { id, fault }
}

/// Databases do not agree on text that holds a NUL, so the book holds none.
pub(crate) fn no_nul(draft: &Draft) -> Result<(), BookError> {
    let body = stored::encode(&draft.body).map_err(|error| refused(draft.id, "what it says", &error))?;
    let reason = draft.correction_reason.as_deref().unwrap_or_default();
    if holds_nul(&body.text) || draft.by.0.contains('\0') || reason.contains('\0') {
        let fault = fault("text", "a NUL character".to_owned(), "plain text", "remove the character");
        return Err(BookError::BadDraft { id: draft.id, fault });
    }
    Ok(())
}

/// In JSON a NUL is written `\u0000`; a backslash before it would itself be doubled.
fn holds_nul(json: &str) -> bool {
    json.match_indices("\\u0000").any(|(at, _)| {
        let backslashes = json[..at].bytes().rev().take_while(|byte| *byte == b'\\').count();
        backslashes % 2 == 0
    })
}

fn identifier(id: Uuid) -> Result<(), BookError> {
    if id.get_version_num() == 7 {
        return Ok(());
    }
    let fault = fault(
        "identifier",
        format!("a UUID of version {}", id.get_version_num()),
        "a UUID of version 7, made where the entry was written",
        "make one identifier per entry and keep it when sending again",
    );
    Err(BookError::BadDraft { id, fault })
}

fn person(draft: &Draft, person: &Person) -> Result<(), BookError> {
    if person.id.0.trim().is_empty() || person.name.trim().is_empty() {
        let fault = fault(
            "person",
            "no staff identifier or no name".to_owned(),
            "both",
            "give the identifier the unit uses and the name colleagues say",
        );
        return Err(BookError::BadDraft { id: draft.id, fault });
    }
    Ok(())
}

fn report(draft: &Draft, report: &PublishedReport) -> Result<(), BookError> {
    let refuse = |place: String, found: String, expected: &str| {
        let fault = fault(&place, found, expected, "compute the report again and publish it then");
        Err(BookError::BadDraft { id: draft.id, fault })
    };
    if report.to < report.from {
        return refuse(
            "period".to_owned(),
            format!("{} to {}", report.from, report.to),
            "first day before last day",
        );
    }
    for figure in &report.figures {
        let place = format!("figure {:?}", figure.name);
        if figure.events > figure.trials {
            return refuse(
                place,
                format!("{} of {}", figure.events, figure.trials),
                "at most as many events as trials",
            );
        }
        if let Some((lower, upper)) = figure.interval
            && lower > upper
        {
            return refuse(
                place,
                format!("an interval from {lower} to {upper}"),
                "lower bound before upper bound",
            );
        }
    }
    Ok(())
}

fn fault(place: &str, found: String, expected: &str, what_to_do: &str) -> Fault {
    Fault { place: place.to_owned(), found, expected: expected.to_owned(), what_to_do: what_to_do.to_owned() }
}

#[cfg(test)]
mod tests {
    use super::holds_nul;

    #[test]
    fn a_nul_is_told_from_the_words_that_look_like_one() {
        assert!(holds_nul(&serde_json::to_string("a\0b").unwrap()));
        assert!(!holds_nul(&serde_json::to_string("a\\u0000b").unwrap()));
        assert!(!holds_nul(&serde_json::to_string("plain").unwrap()));
    }
}
