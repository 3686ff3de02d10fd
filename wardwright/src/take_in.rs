use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ::book::{JudgedSet, RuleNamed, SqliteBook, Store as _, TakeIn, TakeInOutcome, TakenInCounts};
use clap::Args;
use culture::{CultureSet, PatientKey, RuleSet};
use exchange::laboratory::{Holds, Import, InputFile, Mapping, PatientHashKey};
use jiff::civil::DateTime;
use jiff::{Timestamp, ZonedDateTime};
use practice::PersonId;
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

use crate::folder::{Folder, read};
use crate::message::{Message, say};

/// Take laboratory files into the record book
///
/// Shows first what could not be read. A set that is in the book already with another result becomes a new version; the
/// old one stays with its date. Taking the same file in twice changes nothing.
#[derive(Debug, Args)]
pub struct TakeInArgs {
    /// Laboratory files, in the order they arrived
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Mapping file: which column is what
    #[arg(long, value_name = "FILE.toml")]
    map: PathBuf,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Staff identifier of the person who takes them in
    #[arg(long, value_name = "ID")]
    by: String,
    /// Take a file in although some of its rows could not be read
    #[arg(long)]
    with_unread: bool,
}

pub fn run(args: &TakeInArgs) -> ExitCode {
    match take_in(args) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => message.give_up(),
    }
}

fn take_in(args: &TakeInArgs) -> Result<(), Message> {
    let folder = Folder::open(&args.data)?;
    let mapping = crate::cultures::mapping(&args.map)?;
    let companions = crate::cultures::companions(&mapping, &args.map)?;
    let mut book = folder.book()?;
    for path in &args.files {
        let bytes = read(path)?;
        let name = file_name(path);
        let file = Incoming { name: &name, bytes: &bytes, mapping: &mapping, companions: &companions };
        let import = file.import(&folder)?;
        for unread in &import.unread {
            say!("{unread}");
        }
        if import.holds == Holds::PositivesOnly {
            return Err(Message::new(
                path.display().to_string(),
                "a file of positive cultures only, as the mapping says",
                "a file with every set that was taken",
                "ask the laboratory for negative sets too: without them there is no rate; nothing was stored",
            ));
        }
        if !import.unread.is_empty() && !args.with_unread {
            return Err(Message::new(
                path.display().to_string(),
                format!("{} rows that cannot be read, listed above", import.unread.len()),
                "a file of which every row can be read",
                "correct the file or the mapping, or add --with-unread to take in the rest; nothing was stored",
            ));
        }
        let now = ZonedDateTime::now();
        let outcome = file.store(
            &folder,
            &mut book,
            import,
            Uuid::now_v7(),
            now.datetime(),
            &args.by,
            now.timestamp(),
        )?;
        report(&name, &outcome);
    }
    Ok(())
}

fn report(name: &str, outcome: &TakeInOutcome) {
    let ::book::Body::LaboratoryFileTakenIn(taken) = outcome.entry().body() else { return };
    match outcome {
        TakeInOutcome::AlreadyTakenIn(entry) => {
            say!("{name}: taken in before as entry {}; nothing was added.", entry.seq());
        }
        TakeInOutcome::TakenIn(entry) => say!(
            "{name}: entry {}, {} rows, {} not read; {} sets new, {} with a new version, {} unchanged.",
            entry.seq(),
            taken.counts.rows,
            taken.counts.rows_unread,
            taken.sets_new,
            taken.sets_changed,
            taken.sets_unchanged,
        ),
    }
}

/// A laboratory file on its way into the book.
struct Incoming<'a> {
    name: &'a str,
    bytes: &'a [u8],
    mapping: &'a Mapping,
    companions: &'a [(String, Vec<u8>)],
}

impl Incoming<'_> {
    fn import(&self, folder: &Folder) -> Result<Import, Message> {
        let key = PatientHashKey::new(&folder.patient_key()?).map_err(|error| {
            Message::new(
                "patient.key",
                error.to_string(),
                "the key this folder was made with",
                "restore it from your backup",
            )
        })?;
        let companions: Vec<InputFile<'_>> =
            self.companions.iter().map(|(name, bytes)| InputFile { name, bytes }).collect();
        let files = [InputFile { name: self.name, bytes: self.bytes }];
        Ok(exchange::laboratory::read(&files, self.mapping, &companions, &key, folder.today()))
    }

    #[expect(
        clippy::too_many_arguments,
        reason = "an entry names who, when and when recorded, each from another source"
    )]
    fn store(
        &self,
        folder: &Folder,
        book: &mut SqliteBook,
        import: Import,
        id: Uuid,
        happened: DateTime,
        by: &str,
        recorded_at: Timestamp,
    ) -> Result<TakeInOutcome, Message> {
        let rules = crate::cultures::named_rules(&folder.settings().rules)?;
        let key = folder.patient_key()?;
        let say = |error: ::book::BookError| crate::book::message(&error, folder.path());
        book.accept_patient_key(&key).map_err(say)?;
        let known = book.sets().map_err(say)?;
        let counts = TakenInCounts {
            rows: import.counts.iter().map(|file| file.rows).sum(),
            rows_unread: import.counts.iter().map(|file| file.unread).sum(),
            sets: import.sets.len() as u64,
        };
        let sets = judged_with_known(known, import.sets, &rules, happened);
        let file = TakeIn {
            id,
            happened,
            by: PersonId(by.to_owned()),
            file_name: self.name.to_owned(),
            file_sha256: Sha256::digest(self.bytes).iter().map(|byte| format!("{byte:02x}")).collect(),
            counts,
            rule: RuleNamed { name: rules.name.clone(), version: rules.version.clone() },
            sets,
        };
        book.take_in(file, recorded_at).map_err(say)
    }
}

/// Verdicts on the sets of a file, and anew on every set of the same patients: a set that arrives can settle one that
/// was open. Sets of other patients cannot change.
fn judged_with_known(
    known: Vec<CultureSet>,
    arriving: Vec<CultureSet>,
    rules: &RuleSet,
    happened: DateTime,
) -> Vec<JudgedSet> {
    let patients: BTreeSet<PatientKey> = arriving.iter().map(|set| set.patient.clone()).collect();
    let mut sets: BTreeMap<String, CultureSet> = known
        .into_iter()
        .filter(|set| patients.contains(&set.patient))
        .map(|set| (set.id.0.clone(), set))
        .collect();
    sets.extend(arriving.into_iter().map(|set| (set.id.0.clone(), set)));
    let sets: Vec<CultureSet> = sets.into_values().collect();
    let judged = culture::judge(&sets, rules, Some(happened.date()));
    sets.into_iter()
        .zip(judged)
        .map(|(set, judged)| JudgedSet {
            set,
            verdict: judged.verdict().id().to_owned(),
            clause: judged.clause.id().to_owned(),
        })
        .collect()
}

/// Takes one of the demo's files in, at the moment the story says.
pub fn demo_file(
    book: &mut SqliteBook,
    folder: &Folder,
    file: &demo::LaboratoryFile,
    mapping: &Mapping,
    by: &str,
    id: Uuid,
    recorded_at: Timestamp,
) -> Result<(), Message> {
    let incoming = Incoming { name: &file.name, bytes: file.text.as_bytes(), mapping, companions: &[] };
    let import = incoming.import(folder)?;
    incoming.store(folder, book, import, id, file.taken_in, by, recorded_at)?;
    Ok(())
}

fn file_name(path: &Path) -> String {
    path.file_name().map_or_else(|| path.display().to_string(), |name| name.to_string_lossy().into_owned())
}
