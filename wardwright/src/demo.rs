use std::path::{Path, PathBuf};
use std::process::ExitCode;

use ::book::{AnyBook, Body, Draft, Store as _};
use ::door::{Door, Moment};
use clap::Args;
use exchange::laboratory::Mapping;
use jiff::Timestamp;
use jiff::civil::DateTime;
use jiff::tz::TimeZone;
use practice::Role;
use sha2::{Digest as _, Sha256};
use uuid::Uuid;

use crate::desk_of_book::{DeskOfBook, month_word};
use crate::folder::{Folder, SETTINGS, Settings, write_new};
use crate::message::{Message, say};
use crate::take_in;

/// Make the invented demo unit, write its papers and serve its pages
///
/// Everything in it is invented: unit, people, patients, results. It is the same every time.
#[derive(Debug, Args)]
pub struct DemoArgs {
    /// Folder to make
    #[arg(long, default_value = "demo", value_name = "DIR")]
    into: PathBuf,
    /// Stop after the papers
    #[arg(long)]
    no_serve: bool,
    /// Port for the pages on the loopback address
    #[arg(long, default_value_t = 8437, value_name = "PORT")]
    port: u16,
}

pub fn run(args: &DemoArgs) -> ExitCode {
    match make_or_find(&args.into).and_then(|desk| show(args, desk)) {
        Ok(()) => ExitCode::SUCCESS,
        Err(message) => message.give_up(),
    }
}

fn make_or_find(into: &Path) -> Result<DeskOfBook, Message> {
    if into.join(SETTINGS).exists() {
        let folder = Folder::open(into)?;
        if !folder.settings().invented {
            return Err(Message::new(
                into.display().to_string(),
                format!("the data folder of {:?}, which is not a demo", folder.settings().unit),
                "an empty folder or an earlier demo",
                "choose another folder with --into; nothing was changed",
            ));
        }
        say!("{} already holds the demo; it is shown as it is and nothing was added.", into.display());
        say!("For a fresh one, remove the folder or choose another with --into.\n");
        return DeskOfBook::open(folder);
    }
    make(into)
}

fn make(into: &Path) -> Result<DeskOfBook, Message> {
    let unit = ::demo::unit(::demo::SEED).map_err(|error| {
        Message::new("demo", error.to_string(), "the demo's own files to be sound", "report this fault")
    })?;
    let folder = Folder::create(
        into,
        Settings {
            schema: 1,
            unit: unit.unit_name.clone(),
            invented: true,
            today: Some(unit.today.to_string()),
            rules: "adult-24h".to_owned(),
            release_rule: None,
            training_started: Some(unit.training_started.to_string()),
            timezone: None,
            keep_views_days: None,
            book: None,
        },
    )?;
    write_files(&folder, &unit)?;
    write_book(&folder, &unit)?;
    DeskOfBook::open(folder)
}

fn write_files(folder: &Folder, unit: &::demo::DemoUnit) -> Result<(), Message> {
    for file in &unit.breakdown_files {
        write_into(folder, "breakdowns", &file.name, file.text.as_bytes())?;
    }
    for file in &unit.laboratory_files {
        write_into(folder, "laboratory", &file.name, file.text.as_bytes())?;
    }
    write_into(folder, "laboratory", "mapping.toml", unit.mapping_toml.as_bytes())?;
    write_into(folder, ".", "policy.toml", invented_policy().as_bytes())?;
    write_into(folder, ".", "roster.csv", unit.roster_csv.as_bytes())
}

/// Entries and laboratory files go into the book in the order in which the unit would have written them.
fn write_book(folder: &Folder, unit: &::demo::DemoUnit) -> Result<(), Message> {
    let mapping = Mapping::from_toml(&unit.mapping_toml).map_err(|error| {
        Message::new(
            "laboratory/mapping.toml",
            error.to_string(),
            "a mapping that can be read",
            "report this fault",
        )
    })?;
    let trainer =
        unit.people.iter().find(|person| person.role == Role::Trainer).map(|person| person.id.0.as_str());
    let mut door = crate::door::with_mapping(folder, mapping, Vec::new(), trainer.unwrap_or("trainer"))?;
    let take_in = |door: &mut Door<AnyBook>, file: &::demo::LaboratoryFile| {
        let at = timestamp(file.taken_in)?;
        let id = file_id(file, at);
        let now = Moment { local: file.taken_in, at, today: folder.today(), id };
        take_in::demo_file(door, folder, file, &now)
    };
    // Everything between two laboratory files goes in at once: each writing waits for the disk.
    let append = |door: &mut Door<AnyBook>, waiting: &mut Vec<_>| {
        let appended = door.store_mut().append_timed(std::mem::take(waiting));
        appended.map(|_| ()).map_err(|error| crate::book::message(&error, folder.path()))
    };
    let mut files = unit.laboratory_files.iter().peekable();
    let mut waiting = Vec::new();
    for event in &unit.events {
        while let Some(file) = files.next_if(|file| file.taken_in <= event.recorded) {
            append(&mut door, &mut waiting)?;
            take_in(&mut door, file)?;
        }
        waiting.push((draft(event), timestamp(event.recorded)?));
    }
    append(&mut door, &mut waiting)?;
    files.try_for_each(|file| take_in(&mut door, file))
}

fn draft(event: &::demo::DemoEvent) -> Draft {
    Draft {
        id: Uuid::from_bytes(event.id),
        happened: event.happened,
        by: event.by.clone(),
        body: Body::Practice(event.kind.clone()),
        corrects: event.corrects.map(Uuid::from_bytes),
        correction_reason: event.correction_reason.clone(),
    }
}

/// The same file gives the same identifier every time: a UUIDv7 of the moment it was taken in and of its bytes.
fn file_id(file: &::demo::LaboratoryFile, taken_in: Timestamp) -> Uuid {
    let digest = Sha256::digest(file.text.as_bytes());
    let mut tail = [0; 10];
    tail.iter_mut().zip(digest).for_each(|(to, from)| *to = from);
    let millis = u64::try_from(taken_in.as_millisecond()).unwrap_or_default();
    uuid::Builder::from_unix_timestamp_millis(millis, &tail).into_uuid()
}

fn timestamp(when: DateTime) -> Result<Timestamp, Message> {
    TimeZone::UTC
        .to_timestamp(when)
        .map_err(|error| Message::new("demo", error.to_string(), "a time that exists", "report this fault"))
}

fn write_into(folder: &Folder, below: &str, name: &str, bytes: &[u8]) -> Result<(), Message> {
    let path = folder.path().join(below);
    std::fs::create_dir_all(&path).map_err(|error| {
        Message::new(
            path.display().to_string(),
            error.to_string(),
            "a folder you may write to",
            "choose another folder with --into",
        )
    })?;
    write_new(&path.join(name), bytes)
}

fn show(args: &DemoArgs, desk: DeskOfBook) -> Result<(), Message> {
    let facts = desk.facts()?;
    let papers = crate::papers::write_all(&desk, &args.into.join("papers"))?;
    let today = facts.today_page();
    let results = facts.results();

    say!(
        "{} (invented: no real people, patients or results), {}",
        desk.folder().settings().unit,
        today.today
    );
    say!("");
    say!("What needs the trainer today");
    for item in today.items.iter().take(8) {
        say!("  - {}", item.what);
        say!("      {}", item.why);
    }
    if today.items.len() > 8 {
        say!("  and {} more, on the first page.", today.items.len() - 8);
    }
    say!("");
    say!("Who may draw alone");
    for (job, released, people) in &today.released {
        say!("  {released} of {people} people: {job}");
    }
    say!("");
    say!("What the laboratory found, {} to {}", results.from, results.to);
    say!("  {}", rate_words(&results.contamination));
    say!(
        "  {} true positive, {} negative, {} undetermined, {} provisional, {} outside the rule",
        results.counts.true_positive,
        results.counts.negative,
        results.counts.undetermined,
        results.counts.provisional,
        results.counts.excluded,
    );
    say!("  rule: {}", results.rule);
    for finding in &results.change {
        say!("  {}", finding.sentence);
    }
    if let Ok(charted) = &results.chart {
        say!("  {}", charted.chart.why);
        for signal in &charted.chart.signals {
            say!("  Signal: {}", signal.sentence);
        }
    }
    say!("");
    say!("{} papers in {}", papers.len(), args.into.join("papers").display());
    if let Some(month) = facts.months().last() {
        say!(
            "  for example {}",
            args.into.join(format!("papers/months/month-{}.pdf", month_word(*month))).display()
        );
    }
    say!("");
    say!(
        "Training support, not a medical device. Local policy and the laboratory's instructions come first;"
    );
    say!("a licensed clinician decides.");
    drop(facts);
    if args.no_serve {
        return Ok(());
    }
    say!("");
    crate::serve::serve_here(desk, args.port)
}

/// The example policy as the invented unit confirmed it.
fn invented_policy() -> String {
    include_str!("../../policies/example.toml")
        .lines()
        .map(|line| match line.starts_with("# confirmed_by") {
            true => "confirmed_by = \"the medical lead of the invented unit\"\n".to_owned(),
            false => format!("{line}\n"),
        })
        .collect()
}

/// A rate as one line of text: counts, share, interval, method.
pub fn rate_words(rate: &desk::Rate) -> String {
    let counts = format!("{} of {} {}", rate.events, rate.of, rate.of_what);
    match &rate.share {
        desk::Share::Shown { estimate, lower, upper, method, .. } => format!(
            "{}: {counts} = {:.1} % (95 % interval {:.1} to {:.1} %, {})",
            rate.what,
            estimate * 100.0,
            lower * 100.0,
            upper * 100.0,
            method.split(',').next().unwrap_or(method),
        ),
        desk::Share::Withheld(why) => format!("{}: {counts}; {why}", rate.what),
    }
}
