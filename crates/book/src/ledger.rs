//! What every backend does the same way: it is given a connection and keeps the book on it.

use culture::SetId;
use jiff::Timestamp;
use jiff::civil::DateTime;
use practice::PersonId;
use uuid::Uuid;

use crate::chain::{EntryRow, RowsDigest, SetRow, sha256_hex};
use crate::check;
use crate::entry::{Body, Draft, Recorded, RuleNamed, TakenIn};
use crate::error::{BookError, Fault};
use crate::messages::{self, Intake, IntakeOutcome};
use crate::sql::{self, Access, Connection, within};
use crate::store::{Appended, Head, KnownSet, SetVersion, SetsAfter, Stands, TakeIn, TakeInOutcome};
use crate::stored;

pub(crate) fn append<C: Connection>(
    connection: &C,
    drafts: Vec<(Draft, Timestamp)>,
) -> Result<Appended, BookError> {
    for (draft, _) in &drafts {
        check::draft(draft)?;
    }
    within(connection, Access::Write, || {
        let mut head = head(connection)?;
        let mut appended = Appended { recorded: Vec::new(), already_there: Vec::new() };
        for (draft, recorded_at) in drafts {
            if let Some(known) = entry_by_id(connection, draft.id)? {
                if *known.draft() != draft {
                    return Err(BookError::IdTaken { id: draft.id, seq: known.seq() });
                }
                appended.already_there.push(draft.id);
                continue;
            }
            if let Some(earlier) = draft.corrects {
                let corrected = entry_by_id(connection, earlier)?;
                check::correction(&draft, corrected.as_ref())?;
            }
            appended.recorded.push(write_entry(connection, &mut head, draft, recorded_at)?);
        }
        if !appended.recorded.is_empty() {
            write_head(connection, &head)?;
        }
        Ok(appended)
    })
}

pub(crate) fn take_in<C: Connection>(
    connection: &C,
    intake: Intake,
    recorded_at: Timestamp,
) -> Result<IntakeOutcome, BookError> {
    if let Some(file) = &intake.file {
        check::take_in(file)?;
    }
    messages::check(&intake.messages)?;
    within(connection, Access::Write, || {
        let mut head = head(connection)?;
        if intake.seen.is_some_and(|seen| seen != head) {
            return Err(BookError::Moved);
        }
        let file = match intake.file {
            Some(file) => write_file(connection, &mut head, file, intake.entry_when_unchanged, recorded_at)?,
            None => None,
        };
        let seq = match &file {
            Some(TakeInOutcome::TakenIn(entry)) => Some(entry.seq()),
            _ => None,
        };
        messages::write(connection, &intake.messages, seq)?;
        Ok(IntakeOutcome { file, head })
    })
}

/// Writes the entry of a file with the rows it adds; `None` where nothing changed and no entry was wanted for that.
fn write_file<C: Connection>(
    connection: &C,
    head: &mut Head,
    file: TakeIn,
    entry_when_unchanged: bool,
    recorded_at: Timestamp,
) -> Result<Option<TakeInOutcome>, BookError> {
    if let Some(known) = entry_by_id(connection, file.id)? {
        return match same_file(&known, &file) {
            true => Ok(Some(TakeInOutcome::AlreadyTakenIn(known))),
            false => Err(BookError::IdTaken { id: file.id, seq: known.seq() }),
        };
    }
    let changed = write_changed_rows(connection, &file, head.seq + 1)?;
    if changed.n_rows == 0 {
        if !entry_when_unchanged {
            return Ok(None);
        }
        if let Some(known) = file_taken_in(connection, &file)? {
            return Ok(Some(TakeInOutcome::AlreadyTakenIn(known)));
        }
    }
    let n_sets = file.sets.len() as u64;
    let n_changed = changed.n_rows - changed.n_new;
    let taken_in = TakenIn {
        file_name: file.file_name,
        file_sha256: file.file_sha256,
        counts: file.counts,
        rule: file.rule,
        sets_new: changed.n_new,
        sets_changed: n_changed,
        sets_unchanged: n_sets - changed.n_new - n_changed,
        rows_sha256: changed.digest.finish(),
    };
    let draft = Draft::new(file.id, file.happened, file.by, Body::LaboratoryFileTakenIn(taken_in));
    check::no_nul(&draft)?;
    let recorded = write_entry(connection, head, draft, recorded_at)?;
    write_head(connection, head)?;
    Ok(Some(TakeInOutcome::TakenIn(recorded)))
}

/// Notes which patient key the book is written under, and refuses any other from then on.
///
/// Only a check value is kept: the key itself lies beside the book, because patient numbers are short enough to be
/// guessed back from their hashes by anyone who holds both.
pub(crate) fn accept_patient_key<C: Connection>(connection: &C, key: &[u8]) -> Result<(), BookError> {
    let check = sha256_hex(&[b"wardwright-patient-key-1\n", key].concat());
    within(connection, Access::Write, || {
        let mut noted = None;
        connection.query(sql::PATIENT_KEY_CHECK, &[], &mut |row| {
            noted = row.optional_text(0)?;
            Ok(())
        })?;
        match noted {
            None => connection.execute(sql::SET_PATIENT_KEY_CHECK, &[check.as_str().into()]),
            Some(noted) if noted == check => Ok(()),
            Some(_) => Err(BookError::OtherPatientKey),
        }
    })
}

pub(crate) fn entries<C: Connection>(connection: &C) -> Result<Vec<Recorded>, BookError> {
    let mut entries = Vec::new();
    connection.query(sql::ENTRIES, &[], &mut |row| {
        entries.push(recorded(row.entry()?)?);
        Ok(())
    })?;
    Ok(entries)
}

/// Every entry but those about laboratory files, in the order recorded.
pub(crate) fn entries_of_people<C: Connection>(connection: &C) -> Result<Vec<Recorded>, BookError> {
    let mut entries = Vec::new();
    connection.query(sql::ENTRIES_NOT_OF_KIND, &[stored::TAKEN_IN.into()], &mut |row| {
        entries.push(recorded(row.entry()?)?);
        Ok(())
    })?;
    Ok(entries)
}

pub(crate) fn has_entries_of_people_after<C: Connection>(
    connection: &C,
    seq: u64,
) -> Result<bool, BookError> {
    let mut any = false;
    let parameters = [whole(seq).into(), stored::TAKEN_IN.into()];
    connection.query(sql::ENTRY_NOT_OF_KIND_AFTER, &parameters, &mut |_| {
        any = true;
        Ok(())
    })?;
    Ok(any)
}

pub(crate) fn goes_on_from<C: Connection>(connection: &C, head: &Head) -> Result<bool, BookError> {
    let mut holds = head.seq == 0;
    connection.query(sql::HASH_OF_ENTRY, &[whole(head.seq).into()], &mut |row| {
        holds = row.text(0)? == head.hash;
        Ok(())
    })?;
    Ok(holds)
}

/// What entries after `seq` wrote of sets.
pub(crate) fn sets_after<C: Connection>(connection: &C, seq: u64) -> Result<SetsAfter, BookError> {
    let mut after = SetsAfter::default();
    connection.query(sql::LATEST_SETS_AFTER, &[whole(seq).into()], &mut |row| {
        let KnownSet { set, stands } = known_set(&row.set()?)?;
        match stands {
            Stands::PartOf(_) => after.gone.push(set.id),
            Stands::Alone | Stands::Joined(_) => after.sets.push(set),
        }
        Ok(())
    })?;
    Ok(after)
}

pub(crate) fn latest_set_versions<C: Connection>(connection: &C) -> Result<Vec<SetVersion>, BookError> {
    let mut versions = Vec::new();
    connection.query(sql::LATEST_SETS, &[], &mut |row| {
        let version = set_version(row.set()?, &row.text(14)?)?;
        if !matches!(version.stands, Stands::PartOf(_)) {
            versions.push(version);
        }
        Ok(())
    })?;
    // Sorted here, because databases do not agree on the order of text.
    versions.sort_by(|a, b| a.set.id.cmp(&b.set.id));
    Ok(versions)
}

pub(crate) fn set_versions<C: Connection>(connection: &C, id: &SetId) -> Result<Vec<SetVersion>, BookError> {
    let mut versions = Vec::new();
    connection.query(sql::VERSIONS_OF_SET, &[id.0.as_str().into()], &mut |row| {
        versions.push(set_version(row.set()?, &row.text(14)?)?);
        Ok(())
    })?;
    Ok(versions)
}

pub(crate) fn head<C: Connection>(connection: &C) -> Result<Head, BookError> {
    let mut head = None;
    connection.query(sql::HEAD, &[], &mut |row| {
        head = Some(Head { seq: u64::try_from(row.integer(0)?).unwrap_or_default(), hash: row.text(1)? });
        Ok(())
    })?;
    head.ok_or_else(|| {
        BookError::Unreadable(Fault {
            place: "the note of how long the book is".to_owned(),
            found: "nothing".to_owned(),
            expected: "the number and hash of the last entry".to_owned(),
            what_to_do: crate::verify::GO_BACK.to_owned(),
        })
    })
}

/// An entry as its row says it.
pub(crate) fn recorded(row: EntryRow) -> Result<Recorded, BookError> {
    let unreadable = |found: String, expected: &str| {
        BookError::Unreadable(Fault {
            place: place_of(&row),
            found,
            expected: expected.to_owned(),
            what_to_do: crate::verify::VERIFY_OR_NEWER.to_owned(),
        })
    };
    let seq = u64::try_from(row.seq).map_err(|_| unreadable(row.seq.to_string(), "a number from 1"))?;
    let id = Uuid::parse_str(&row.id).map_err(|_| unreadable(format!("{:?}", row.id), "an identifier"))?;
    let happened: DateTime =
        row.happened.parse().map_err(|_| unreadable(format!("{:?}", row.happened), "a date and time"))?;
    let recorded_at: Timestamp =
        row.recorded_at.parse().map_err(|_| unreadable(format!("{:?}", row.recorded_at), "a time in UTC"))?;
    let corrects = row
        .corrects
        .as_deref()
        .map(|text| Uuid::parse_str(text).map_err(|_| unreadable(format!("{text:?}"), "an identifier")))
        .transpose()?;
    let body = stored::decode(&row.kind, row.kind_version, &row.body)
        .map_err(|error| unreadable(error.to_string(), "an entry this program can read"))?;
    let draft = Draft {
        id,
        happened,
        by: PersonId(row.by),
        body,
        corrects,
        correction_reason: row.correction_reason,
    };
    Ok(Recorded::of(seq, recorded_at, draft, row.previous_hash, row.hash))
}

pub(crate) fn place_of(row: &EntryRow) -> String {
    format!("entry {} ({} of {}, id {})", row.seq, row.kind, row.happened, row.id)
}

fn entry_by_id<C: Connection>(connection: &C, id: Uuid) -> Result<Option<Recorded>, BookError> {
    let mut entry = None;
    connection.query(sql::ENTRY_BY_ID, &[id.to_string().as_str().into()], &mut |row| {
        entry = Some(recorded(row.entry()?)?);
        Ok(())
    })?;
    Ok(entry)
}

/// The entry of this very file under this very rule, if it has been taken in before.
fn file_taken_in<C: Connection>(connection: &C, file: &TakeIn) -> Result<Option<Recorded>, BookError> {
    let mut known = None;
    let naming = format!("%{}%", file.file_sha256);
    let parameters = [stored::TAKEN_IN.into(), naming.as_str().into()];
    connection.query(sql::ENTRIES_THAT_NAME, &parameters, &mut |row| {
        let entry = recorded(row.entry()?)?;
        if let Body::LaboratoryFileTakenIn(before) = entry.body()
            && before.file_sha256 == file.file_sha256
            && before.rule == file.rule
        {
            known = Some(entry);
        }
        Ok(())
    })?;
    Ok(known)
}

/// Whether an entry with the same identifier is this file sent again. What the sets changed at the time is the
/// book's to say, so only what the sender says is compared.
fn same_file(known: &Recorded, file: &TakeIn) -> bool {
    let Body::LaboratoryFileTakenIn(before) = known.body() else { return false };
    known.happened() == file.happened
        && *known.by() == file.by
        && before.file_name == file.file_name
        && before.file_sha256 == file.file_sha256
        && before.counts == file.counts
        && before.rule == file.rule
        && before.sets_new + before.sets_changed + before.sets_unchanged == file.sets.len() as u64
}

struct Changed {
    n_rows: u64,
    n_new: u64,
    digest: RowsDigest,
}

/// Writes the rows a file adds: sets the book does not know, and sets whose report, verdict or rule is no longer the
/// same. They come before their entry, which holds the digest over them, so that a million rows need not be kept.
fn write_changed_rows<C: Connection>(
    connection: &C,
    file: &TakeIn,
    entry_seq: u64,
) -> Result<Changed, BookError> {
    connection.defer_references()?;
    let mut changed = Changed { n_rows: 0, n_new: 0, digest: RowsDigest::new() };
    let entry_seq = whole(entry_seq);
    let any_known = messages::has_sets(connection)?;
    for judged in &file.sets {
        let set = &judged.set;
        let mut before: Option<SetRow> = None;
        if any_known {
            connection.query(sql::LATEST_VERSION_OF_SET, &[set.id.0.as_str().into()], &mut |row| {
                before = Some(row.set()?);
                Ok(())
            })?;
        }
        let body = check::set(file, judged)?;
        let same = match &before {
            None => false,
            Some(row) => {
                row.verdict == judged.verdict
                    && row.clause == judged.clause
                    && row.rule_name == file.rule.name
                    && row.rule_version == file.rule.version
                    // Text stored in an older form may say the same.
                    && (row.body == body.text
                        || known_set(row)? == (KnownSet { set: set.clone(), stands: judged.stands.clone() }))
            }
        };
        if same {
            continue;
        }
        let mut row = SetRow {
            set_id: set.id.0.clone(),
            version: before.as_ref().map_or(1, |row| row.version + 1),
            entry_seq,
            position: whole(changed.n_rows) + 1,
            patient_key: set.patient.0.clone(),
            collected_on: set.collected.date().to_string(),
            unit: set.unit.clone(),
            verdict: judged.verdict.clone(),
            rule_name: file.rule.name.clone(),
            rule_version: file.rule.version.clone(),
            clause: judged.clause.clone(),
            body_version: body.version,
            body: body.text,
            row_sha256: String::new(),
        };
        let canonical = row.canonical();
        row.row_sha256 = sha256_hex(canonical.as_bytes());
        changed.digest.add(&canonical);
        // A number that is part of another set is no new set.
        let is_part = matches!(judged.stands, Stands::PartOf(_));
        changed.n_new += u64::from(before.is_none() && !is_part);
        changed.n_rows += 1;
        connection.execute(sql::INSERT_SET, &sql::set_parameters(&row))?;
    }
    Ok(changed)
}

fn write_entry<C: Connection>(
    connection: &C,
    head: &mut Head,
    draft: Draft,
    recorded_at: Timestamp,
) -> Result<Recorded, BookError> {
    let body =
        stored::encode(&draft.body).map_err(|error| check::refused(draft.id, "what it says", &error))?;
    let seq = head.seq + 1;
    let mut row = EntryRow {
        seq: whole(seq),
        id: draft.id.to_string(),
        happened: draft.happened.to_string(),
        recorded_at: recorded_at.to_string(),
        by: draft.by.0.clone(),
        kind: body.kind,
        kind_version: body.version,
        body: body.text,
        corrects: draft.corrects.map(|id| id.to_string()),
        correction_reason: draft.correction_reason.clone(),
        previous_hash: head.hash.clone(),
        hash: String::new(),
    };
    row.hash = row.computed_hash();
    connection.execute(sql::INSERT_ENTRY, &sql::entry_parameters(&row))?;
    *head = Head { seq, hash: row.hash.clone() };
    Ok(Recorded::of(seq, recorded_at, draft, row.previous_hash, row.hash))
}

pub(crate) fn write_head<C: Connection>(connection: &C, head: &Head) -> Result<(), BookError> {
    connection.execute(sql::SET_HEAD, &[whole(head.seq).into(), head.hash.as_str().into()])
}

fn set_version(row: SetRow, recorded_at: &str) -> Result<SetVersion, BookError> {
    let KnownSet { set, stands } = known_set(&row)?;
    let fault = |found: String, expected: &str| {
        BookError::Unreadable(Fault {
            place: place_of_set(&row),
            found,
            expected: expected.to_owned(),
            what_to_do: crate::verify::VERIFY_OR_NEWER.to_owned(),
        })
    };
    let recorded_at = recorded_at
        .parse()
        .map_err(|_| fault(format!("its entry recorded at {recorded_at:?}"), "a time in UTC"))?;
    let version =
        u32::try_from(row.version).map_err(|_| fault(row.version.to_string(), "a version from 1"))?;
    let entry_seq =
        u64::try_from(row.entry_seq).map_err(|_| fault(row.entry_seq.to_string(), "an entry from 1"))?;
    Ok(SetVersion {
        version,
        set,
        verdict: row.verdict,
        rule: RuleNamed { name: row.rule_name, version: row.rule_version },
        clause: row.clause,
        stands,
        entry_seq,
        recorded_at,
    })
}

pub(crate) fn known_set(row: &SetRow) -> Result<KnownSet, BookError> {
    stored::decode_set(row.body_version, &row.body).map_err(|error| {
        BookError::Unreadable(Fault {
            place: place_of_set(row),
            found: error.to_string(),
            expected: "a set this program can read".to_owned(),
            what_to_do: crate::verify::VERIFY_OR_NEWER.to_owned(),
        })
    })
}

pub(crate) fn place_of_set(row: &SetRow) -> String {
    format!("set {} version {} (taken in by entry {})", row.set_id, row.version, row.entry_seq)
}

/// A place in the book as the database counts it. Nobody writes 2^63 entries.
pub(crate) fn whole(number: u64) -> i64 {
    i64::try_from(number).unwrap_or(i64::MAX)
}
