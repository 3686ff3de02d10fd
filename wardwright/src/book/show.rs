use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::ExitCode;

use ::book::{Body, Recorded, Store as _};
use ::breakdown::JobCode;
use clap::Args;
use practice::{EventKind, History, PersonId, Sentences, SpotCheck};
use uuid::Uuid;

use super::{json, message, print};
use crate::book_place::{ToRead, open_to_read};
use crate::message::Message;

/// Show the entries of the book in the order recorded, each correction beside what it corrects
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// Data folder, or the book's file itself
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Only entries about this person
    #[arg(long, value_name = "STAFF-ID")]
    person: Option<String>,
    /// Write JSON, as docs/json.md describes it
    #[arg(long)]
    json: bool,
}

pub fn run(args: &ShowArgs) -> ExitCode {
    match show(args) {
        Ok(text) => {
            print(&text);
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn show(args: &ShowArgs) -> Result<String, Message> {
    let ToRead { book, place: file } = open_to_read(&args.data)?;
    let entries = book.entries().map_err(|error| message(&error, &file))?;
    let history =
        History { events: entries.iter().filter_map(::book::event).collect(), laboratory_draws: None };
    let shown = Shown::of(&entries, &history);
    let wanted: Vec<_> = match &args.person {
        None => entries.iter().collect(),
        Some(person) => {
            let wanted = PersonId(person.clone());
            let about: Vec<_> =
                entries.iter().filter(|entry| person_of(entry.body()) == Some(&wanted)).collect();
            if about.is_empty() {
                return Err(Message::new(
                    file.display().to_string(),
                    format!("no entry about {person:?}"),
                    "the staff identifier of a person in the book",
                    "list the people with `wardwright people`",
                ));
            }
            about
        }
    };
    if args.json {
        return json::entries(&wanted, &shown);
    }
    let mut text = String::new();
    for entry in &wanted {
        text.push_str(&format!(
            "{:>6}  {}  {}\n",
            entry.seq(),
            entry.happened().strftime("%Y-%m-%d %H:%M"),
            shown.says(entry)
        ));
        if let Some(seen) = seen(entry.body()) {
            text.push_str(&format!("        {seen}\n"));
        }
        if let Some(earlier) = entry.corrects() {
            let reason = entry.correction_reason().unwrap_or_default();
            text.push_str(&format!("        corrects entry {}: {reason}\n", shown.number(earlier)));
        }
        if let Some(later) = shown.corrected_by(entry.id()) {
            text.push_str(&format!("        CORRECTED by entry {later}\n"));
        }
    }
    text.push_str(&format!("{} of {} entries.\n", wanted.len(), entries.len()));
    Ok(text)
}

/// What was written down at a draw beside its marks.
fn seen(body: &Body) -> Option<String> {
    let Body::Practice(EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw))) = body else {
        return None;
    };
    let rows = desk::circumstances(draw);
    let words: Vec<String> = rows.iter().map(|(what, words)| format!("{what}: {words}")).collect();
    Some(words.join("; "))
}

/// What is needed to show an entry among the others.
pub(super) struct Shown<'a> {
    numbers: BTreeMap<Uuid, u64>,
    corrected_by: BTreeMap<Uuid, u64>,
    sentences: Sentences<'a>,
}

impl<'a> Shown<'a> {
    fn of(entries: &[Recorded], history: &'a History) -> Shown<'a> {
        Shown {
            numbers: entries.iter().map(|entry| (entry.id(), entry.seq())).collect(),
            corrected_by: entries
                .iter()
                .filter_map(|entry| entry.corrects().map(|earlier| (earlier, entry.seq())))
                .collect(),
            sentences: Sentences::new(history),
        }
    }

    pub(super) fn number(&self, id: Uuid) -> u64 {
        self.numbers.get(&id).copied().unwrap_or_default()
    }

    pub(super) fn corrected_by(&self, id: Uuid) -> Option<u64> {
        self.corrected_by.get(&id).copied()
    }

    pub(super) fn says(&self, entry: &Recorded) -> String {
        match entry.body() {
            Body::Practice(kind) => super::add::line(kind, &self.sentences),
            Body::LaboratoryFileTakenIn(file) => format!(
                "Laboratory file {} taken in: {} of {} rows could not be read; {} sets new, {} changed, {} as before. Rule: \
                 {}, version {}.",
                file.file_name,
                file.counts.rows_unread,
                file.counts.rows,
                file.sets_new,
                file.sets_changed,
                file.sets_unchanged,
                file.rule.name,
                file.rule.version
            ),
            Body::ReportPublished(report) => {
                format!(
                    "Report published: {}, {} to {}, as of {}.",
                    report.title, report.from, report.to, report.as_of
                )
            }
        }
    }
}

/// The person an entry is about.
pub(super) fn person_of(body: &Body) -> Option<&PersonId> {
    match body {
        Body::Practice(EventKind::PersonAdded(person)) => Some(&person.id),
        Body::Practice(EventKind::PersonLeft { person }) => Some(person),
        Body::Practice(kind) => about(kind).map(|(person, _)| person),
        Body::LaboratoryFileTakenIn(_) | Body::ReportPublished(_) => None,
    }
}

/// The person and job an event is about.
pub(super) fn about(kind: &EventKind) -> Option<(&PersonId, Option<&JobCode>)> {
    match kind {
        EventKind::PersonAdded(person) => Some((&person.id, None)),
        EventKind::PersonLeft { person } => Some((person, None)),
        EventKind::Planned { person, job, .. }
        | EventKind::Demonstrated { person, job, .. }
        | EventKind::Withdrawn { person, job, .. }
        | EventKind::NotYet { person, job, .. }
        | EventKind::ConfidenceSaid { person, job, .. }
        | EventKind::RefresherDone { person, job, .. } => Some((person, Some(job))),
        EventKind::TeachBackHeard { person, teachback } => Some((person, Some(&teachback.job))),
        EventKind::DrawObserved(draw) | EventKind::SpotChecked(SpotCheck(draw)) => {
            Some((&draw.drawn_by, Some(&draw.job)))
        }
        EventKind::Released(release) => Some((&release.person, Some(&release.job))),
        EventKind::BreakdownPublished(_) | EventKind::RulePublished { .. } | EventKind::EnteredInError => {
            None
        }
    }
}
