use std::collections::BTreeMap;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, Subcommand};
use jiff::civil::Date;
use practice::{
    Due, EventKind, Evidence, EvidenceKind, History, Level, Person, PersonId, ReleaseRule, Role, Standing,
    standing_events, standings,
};

use super::{json, message, print};
use crate::book_place::{ToRead, open_to_read};
use crate::folder::Folder;
use crate::message::Message;

#[derive(Debug, Subcommand)]
pub enum PeopleCommand {
    Show(ShowArgs),
}

#[derive(Debug, Args)]
pub struct ListArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Write JSON, as docs/json.md describes it
    #[arg(long)]
    json: bool,
}

/// Show one person's standing with all it rests on, for that person and their trainer
#[derive(Debug, Args)]
pub struct ShowArgs {
    /// Staff identifier
    id: String,
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Write JSON, as docs/json.md describes it
    #[arg(long)]
    json: bool,
}

/// People with their standings on a day.
pub(super) struct People {
    pub(super) today: Date,
    pub(super) rule: ReleaseRule,
    pub(super) people: BTreeMap<PersonId, Person>,
    pub(super) standings: Vec<Standing>,
}

pub fn list(args: &ListArgs) -> ExitCode {
    let listed = load(&args.data)
        .and_then(|people| if args.json { json::people(&people) } else { Ok(table(&people)) });
    finish(listed)
}

pub fn show(args: &ShowArgs) -> ExitCode {
    let shown = load(&args.data).and_then(|people| {
        let id = PersonId(args.id.clone());
        let Some(person) = people.people.get(&id) else {
            return Err(Message::new(
                args.data.display().to_string(),
                format!("nobody with the identifier {:?}", args.id),
                "the staff identifier of a person in the book",
                "list the people with `wardwright people`",
            ));
        };
        if args.json { json::person(&people, person) } else { Ok(record(&people, person)) }
    });
    finish(shown)
}

fn finish(text: Result<String, Message>) -> ExitCode {
    match text {
        Ok(text) => {
            print(&text);
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

/// True for somebody whom the book knows.
pub fn is_known(data: &std::path::Path, person: &PersonId) -> Result<bool, Message> {
    load(data).map(|loaded| loaded.people.contains_key(person))
}

/// Everybody whom the book knows, by name.
pub fn people_by_name(data: &std::path::Path) -> Result<Vec<(PersonId, String)>, Message> {
    let ToRead { book, place } = open_to_read(data)?;
    let history: History = ::book::history(&book).map_err(|error| message(&error, &place))?;
    let people: std::collections::BTreeMap<PersonId, String> = standing_events(&history)
        .into_iter()
        .filter_map(|known| match &known.event.kind {
            EventKind::PersonAdded(person) => Some((person.id.clone(), person.name.clone())),
            _ => None,
        })
        .collect();
    let mut people: Vec<(PersonId, String)> = people.into_iter().collect();
    people.sort_by(|(_, one), (_, other)| one.cmp(other));
    Ok(people)
}

fn load(data: &std::path::Path) -> Result<People, Message> {
    let folder = Folder::open(data)?;
    let ToRead { book, place } = open_to_read(data)?;
    let history: History = ::book::history(&book).map_err(|error| message(&error, &place))?;
    let (today, rule) = (folder.today(), folder.release_rule()?);
    let people = standing_events(&history)
        .into_iter()
        .filter_map(|known| match &known.event.kind {
            EventKind::PersonAdded(person) => Some((person.id.clone(), person.clone())),
            _ => None,
        })
        .collect();
    let standings = standings(&history, today, &rule);
    let rule = practice::rule_in_force(&history, practice::end_of(today), &rule);
    Ok(People { today, rule, people, standings })
}

impl People {
    pub(super) fn of<'a>(&'a self, id: &'a PersonId) -> impl Iterator<Item = &'a Standing> {
        self.standings.iter().filter(move |standing| standing.person == *id)
    }
}

pub(super) fn role_word(role: Role) -> &'static str {
    match role {
        Role::Nurse => "nurse",
        Role::Preceptor => "preceptor",
        Role::Trainer => "trainer",
    }
}

fn table(people: &People) -> String {
    let mut rows =
        vec![["person", "name", "job", "standing", "since", "on the word of", "next"].map(str::to_owned)];
    for person in people.people.values() {
        let mut name = Some((person.id.0.clone(), person.name.clone()));
        let mut standings = people.of(&person.id).peekable();
        if standings.peek().is_none() {
            rows.push([
                person.id.0.clone(),
                person.name.clone(),
                String::new(),
                "no job published yet".to_owned(),
                String::new(),
                String::new(),
                String::new(),
            ]);
        }
        for standing in standings {
            let (id, name) = name.take().unwrap_or_default();
            let next = match (&standing.next_check, standing.rule_met, standing.missing.len()) {
                (Some(due), ..) => due_words(due, people.today),
                (None, true, _) => "the rule is met: the trainer decides".to_owned(),
                (None, false, n) if n > 0 && standing.level.is_learning() => format!("{n} still missing"),
                _ => String::new(),
            };
            rows.push([
                id,
                name,
                standing.job.to_string(),
                standing.level.words().to_owned(),
                standing.since.map(|since| since.to_string()).unwrap_or_default(),
                standing.on_word_of.as_ref().map(ToString::to_string).unwrap_or_default(),
                next,
            ]);
        }
    }
    let mut text = in_columns(&rows);
    text.push_str(&format!(
        "\n{} people, as of {}. {}\n",
        people.people.len(),
        people.today,
        advice(&people.rule)
    ));
    text
}

fn due_words(due: &Due, today: Date) -> String {
    match due.on < today {
        true => format!("{}: overdue since {}", due.why, due.on),
        false => format!("{}: due {}", due.why, due.on),
    }
}

fn advice(rule: &ReleaseRule) -> String {
    format!(
        "Release rule: {}, version {}. The rule advises; a trainer decides and signs.",
        rule.name, rule.version
    )
}

fn in_columns<const N: usize>(rows: &[[String; N]]) -> String {
    let width = |column: usize| rows.iter().map(|row| row[column].chars().count()).max().unwrap_or(0);
    let widths: Vec<_> = (0..N).map(width).collect();
    let mut text = String::new();
    for row in rows {
        let line: Vec<_> =
            row.iter().zip(&widths).map(|(cell, width)| format!("{cell:<width$}", width = *width)).collect();
        text.push_str(line.join("  ").trim_end());
        text.push('\n');
    }
    text
}

fn record(people: &People, person: &Person) -> String {
    let mut text = format!(
        "{} {}, {} on {} since {}. As of {}.\nFor this person and their trainer only.\n",
        person.id,
        person.name,
        role_word(person.role),
        person.unit,
        person.started,
        people.today
    );
    for standing in people.of(&person.id) {
        text.push_str(&format!("\n{}: {}", standing.job, standing.level.words()));
        if let Some(since) = standing.since {
            text.push_str(&format!(" since {since}"));
        }
        if let Some(by) = &standing.on_word_of {
            text.push_str(&format!(", on the word of {by}"));
        }
        text.push('\n');
        if let Some(by) = standing.needed_by {
            text.push_str(&format!("  on the timetable for {by}\n"));
        }
        let wanted = standing.level != Level::NotPlanned;
        for missing in standing.missing.iter().filter(|_| wanted) {
            text.push_str(&format!("  missing: {missing}\n"));
        }
        if standing.rule_met {
            text.push_str("  the release rule is met: the trainer decides and signs\n");
        }
        if let Some(due) = &standing.next_check {
            text.push_str(&format!("  next: {}\n", due_words(due, people.today)));
        }
        for kind in [EvidenceKind::Said, EvidenceKind::Done, EvidenceKind::Decided] {
            let of_kind: Vec<_> = standing.evidence.iter().filter(|evidence| evidence.kind == kind).collect();
            if !of_kind.is_empty() {
                text.push_str(&format!("  {}\n", kind_word(kind)));
                of_kind.iter().for_each(|evidence| text.push_str(&evidence_line(evidence)));
            }
        }
        for corrected in &standing.corrected {
            text.push_str(&format!(
                "  corrected: {}\n    now: {}\n    by {}: {}\n",
                corrected.original_sentence, corrected.correction_sentence, corrected.by, corrected.reason
            ));
        }
    }
    text.push_str(&format!("\n{}\n", advice(&people.rule)));
    text
}

pub(super) fn kind_word(kind: EvidenceKind) -> &'static str {
    match kind {
        EvidenceKind::Said => "said",
        EvidenceKind::Done => "done",
        EvidenceKind::Decided => "decided",
    }
}

fn evidence_line(evidence: &Evidence) -> String {
    let against =
        evidence.does_not_count.as_ref().map(|why| format!(" Does not count: {why}.")).unwrap_or_default();
    format!("    {}  {}{against}\n", evidence.date, evidence.sentence)
}
