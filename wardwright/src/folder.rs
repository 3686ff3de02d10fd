//! The data folder: the record book, the patient key beside it, and the unit's settings.

use std::fs;
use std::io::Write as _;
use std::path::{Path, PathBuf};

use jiff::civil::{Date, DateTime};
use practice::ReleaseRule;
use serde::{Deserialize, Serialize};

use crate::book_place::OnServer;
use crate::message::Message;

/// Name of the settings file.
pub const SETTINGS: &str = "wardwright.toml";
/// Name of the record book's file.
pub const BOOK: &str = "book.sqlite";
/// Name of the key for patient hashes.
pub const PATIENT_KEY: &str = "patient.key";
const PATIENT_KEY_BYTES: usize = 32;

/// What a unit decides once and may change by hand.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Settings {
    /// Version of this file's layout.
    pub schema: u32,
    /// Name of the unit, as it stands on papers.
    pub unit: String,
    /// True for the demo: every page and paper says that people and results are invented.
    #[serde(default)]
    pub invented: bool,
    /// A fixed day in place of the clock's, for the demo.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub today: Option<String>,
    /// Name of the rule set for verdicts.
    pub rules: String,
    /// File of the unit's release rule, beside this one; the rule that comes along when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub release_rule: Option<String>,
    /// Day from which training with the breakdowns counts as "after".
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub training_started: Option<String>,
    /// The unit's time zone by its name in the time zone database, such as Europe/Berlin; the machine's when not given.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub timezone: Option<String>,
    /// With accounts: for how many days it is kept who saw whose figures, and who changed which account.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub keep_views_days: Option<u32>,
    /// Where the record book lies, when not in a file of this folder.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub book: Option<OnServer>,
}

/// Days for which views are kept where the settings name none: a year, and a month to look back at it.
const KEEP_VIEWS_DAYS: u32 = 400;
/// Fewest and most days that can be set.
const KEEP_VIEWS_BETWEEN: std::ops::RangeInclusive<u32> = 30..=3_660;

impl Settings {
    /// Settings of a unit with this name and nothing else decided.
    pub fn of_unit(unit: &str) -> Settings {
        Settings {
            schema: 1,
            unit: unit.to_owned(),
            invented: false,
            today: None,
            rules: "adult-24h".to_owned(),
            release_rule: None,
            training_started: None,
            timezone: None,
            keep_views_days: None,
            book: None,
        }
    }
}

/// An opened data folder.
#[derive(Debug, Clone)]
pub struct Folder {
    path: PathBuf,
    settings: Settings,
}

impl Folder {
    /// Opens a folder that `setup` or `demo` made.
    pub fn open(path: &Path) -> Result<Folder, Message> {
        let file = path.join(SETTINGS);
        let text = fs::read_to_string(&file).map_err(|error| {
            Message::new(
                file.display().to_string(),
                format!("cannot be read: {error}"),
                "a data folder made by `wardwright setup` or `wardwright demo`",
                "give the folder with --data, make one with `wardwright setup --data FOLDER --unit NAME`, or make an empty folder and serve it",
            )
        })?;
        let settings: Settings = toml::from_str(&text).map_err(|error| {
            Message::new(
                file.display().to_string(),
                error.to_string().trim().to_owned(),
                "settings as docs/data-folder.md describes them",
                "correct the line named above; nothing in the book was touched",
            )
        })?;
        if settings.schema != 1 {
            return Err(Message::new(
                file.display().to_string(),
                format!("schema = {}", settings.schema),
                "schema = 1",
                "use the version of wardwright that made this folder, or a newer one",
            ));
        }
        let folder = Folder { path: path.to_owned(), settings };
        folder.fixed_day()?;
        folder.training_started()?;
        folder.zone()?;
        folder.keep_views_days()?;
        Ok(folder)
    }

    /// Makes a new folder; refuses one that already holds settings or a book.
    pub fn create(path: &Path, settings: Settings) -> Result<Folder, Message> {
        let place = path.display().to_string();
        for name in [SETTINGS, BOOK, PATIENT_KEY] {
            if path.join(name).exists() {
                return Err(Message::new(
                    place,
                    format!("already holds {name}"),
                    "an empty folder, or one that does not exist yet",
                    "choose another folder, or move this one away yourself; nothing was changed",
                ));
            }
        }
        fs::create_dir_all(path).map_err(|error| cannot_write(path, &error))?;
        let text = toml::to_string(&settings).map_err(|error| {
            Message::new(
                place,
                error.to_string(),
                "settings that can be written as TOML",
                "report this fault",
            )
        })?;
        let file = path.join(SETTINGS);
        write_new(&file, text.as_bytes())?;
        if settings.book.is_some() {
            // The address may hold a password.
            restrict(&file)?;
        }
        Ok(Folder { path: path.to_owned(), settings })
    }

    /// Writes into the settings where the record book lies; every other line stays as somebody wrote it.
    pub fn note_book(&self, place: Option<OnServer>) -> Result<(), Message> {
        let file = self.path.join(SETTINGS);
        let text = String::from_utf8_lossy(&read(&file)?).into_owned();
        let mut lines: Vec<&str> = Vec::new();
        let mut in_book = false;
        for line in text.lines() {
            if line.trim_start().starts_with('[') {
                in_book = line.trim() == "[book]";
            }
            if !in_book {
                lines.push(line);
            }
        }
        let mut changed = lines.join("\n").trim_end().to_owned() + "\n";
        let secret = place.is_some();
        if let Some(place) = &place {
            let quoted = |text: &str| toml::Value::from(text).to_string();
            changed += &format!(
                "\n[book]\npostgresql = {}\nschema = {}\n",
                quoted(&place.postgresql),
                quoted(&place.schema)
            );
        }
        let is_as_meant = toml::from_str::<Settings>(&changed).is_ok_and(|read| {
            read.book == place
                && Settings { book: None, ..read } == Settings { book: None, ..self.settings.clone() }
        });
        if !is_as_meant {
            return Err(Message::new(
                file.display().to_string(),
                "settings whose part [book] cannot be changed by itself",
                "a part [book] with a line of its own, or none",
                "write the part yourself as docs/data-folder.md shows; the book was copied, and the old one is still the one in use",
            ));
        }
        let next = self.path.join(format!("{SETTINGS}.next"));
        write_over(&next, changed.as_bytes())?;
        if secret {
            // The address may hold a password.
            restrict(&next)?;
        }
        fs::rename(&next, &file).map_err(|error| cannot_write(&file, &error))
    }

    /// The folder itself.
    pub fn path(&self) -> &Path {
        &self.path
    }

    /// Settings.
    pub fn settings(&self) -> &Settings {
        &self.settings
    }

    /// The day every question is asked on: the demo's fixed day, otherwise the clock's.
    pub fn today(&self) -> Date {
        self.fixed_day().ok().flatten().unwrap_or_else(|| self.clock().date())
    }

    /// The unit's local time: on the demo's fixed day, the clock's time of that day.
    pub fn now(&self) -> DateTime {
        self.today().to_datetime(self.clock().time())
    }

    /// The clock on the unit's wall.
    fn clock(&self) -> DateTime {
        let now = jiff::ZonedDateTime::now();
        match self.zone() {
            Ok(Some(zone)) => now.with_time_zone(zone).datetime(),
            _ => now.datetime(),
        }
    }

    /// The unit's time zone: the one of the settings, or this machine's.
    pub fn zone_of_unit(&self) -> jiff::tz::TimeZone {
        self.zone().ok().flatten().unwrap_or_else(jiff::tz::TimeZone::system)
    }

    fn zone(&self) -> Result<Option<jiff::tz::TimeZone>, Message> {
        let named = self.settings.timezone.as_deref();
        named
            .map(|name| {
                jiff::tz::TimeZone::get(name).map_err(|_| {
                    Message::new(
                        format!("{}: timezone", self.path.join(SETTINGS).display()),
                        format!("{name:?}"),
                        "a name of the time zone database, such as Europe/Berlin",
                        "correct the line, or leave it out to use this machine's time zone",
                    )
                })
            })
            .transpose()
    }

    /// Day from which training counts as "after", where the settings name one.
    pub fn training_started(&self) -> Result<Option<Date>, Message> {
        self.day("training_started", self.settings.training_started.as_deref())
    }

    /// The rule by which the program advises on release: the unit's own file, or the one that comes along.
    pub fn release_rule(&self) -> Result<ReleaseRule, Message> {
        match &self.settings.release_rule {
            Some(name) => crate::release_rule::read(&self.path.join(name)),
            None => Ok(ReleaseRule::default()),
        }
    }

    /// For how many days it is kept who saw whose figures.
    pub fn keep_views_days(&self) -> Result<u32, Message> {
        match self.settings.keep_views_days {
            None => Ok(KEEP_VIEWS_DAYS),
            Some(days) if KEEP_VIEWS_BETWEEN.contains(&days) => Ok(days),
            Some(days) => Err(Message::new(
                format!("{}: keep_views_days", self.path.join(SETTINGS).display()),
                days.to_string(),
                format!("{} to {} days", KEEP_VIEWS_BETWEEN.start(), KEEP_VIEWS_BETWEEN.end()),
                format!("correct the line, or leave it out for {KEEP_VIEWS_DAYS} days"),
            )),
        }
    }

    /// A moment as the clock on the unit's wall shows it.
    pub fn on_the_wall(&self, moment: jiff::Timestamp) -> DateTime {
        let zone = self.zone().ok().flatten().unwrap_or_else(jiff::tz::TimeZone::system);
        moment.to_zoned_datetime(zone).datetime()
    }

    fn fixed_day(&self) -> Result<Option<Date>, Message> {
        self.day("today", self.settings.today.as_deref())
    }

    fn day(&self, key: &str, text: Option<&str>) -> Result<Option<Date>, Message> {
        text.map(|text| {
            text.parse::<Date>().map_err(|_| {
                Message::new(
                    format!("{}: {key}", self.path.join(SETTINGS).display()),
                    format!("{text:?}"),
                    "a date such as 2026-11-02",
                    "correct the line; nothing in the book was touched",
                )
            })
        })
        .transpose()
    }

    /// The key that turns patient identifiers into hashes; made on first use from the system's random source.
    ///
    /// It lies beside the book, not in it: a copy of the book alone cannot be searched for a known patient.
    pub fn patient_key(&self) -> Result<Vec<u8>, Message> {
        let file = self.path.join(PATIENT_KEY);
        if file.exists() {
            let key = fs::read(&file).map_err(|error| cannot_write(&file, &error))?;
            if key.len() == PATIENT_KEY_BYTES {
                return Ok(key);
            }
            return Err(Message::new(
                file.display().to_string(),
                format!("{} bytes", key.len()),
                format!("{PATIENT_KEY_BYTES} bytes"),
                "restore the key from your backup: with another key, sets of one patient no longer meet",
            ));
        }
        let mut key = vec![0; PATIENT_KEY_BYTES];
        getrandom::fill(&mut key).map_err(|error| {
            Message::new(
                file.display().to_string(),
                format!("the system gives no random bytes: {error}"),
                "a random source to make the patient key from",
                "try again; if it goes on, ask whoever looks after this machine",
            )
        })?;
        write_new(&file, &key)?;
        restrict(&file)?;
        Ok(key)
    }
}

/// Writes a file that must not exist yet.
pub fn write_new(path: &Path, bytes: &[u8]) -> Result<(), Message> {
    fs::OpenOptions::new()
        .write(true)
        .create_new(true)
        .open(path)
        .and_then(|mut file| file.write_all(bytes).and_then(|()| file.sync_all()))
        .map_err(|error| cannot_write(path, &error))
}

/// Writes a file, replacing an older one of the same name.
pub fn write_over(path: &Path, bytes: &[u8]) -> Result<(), Message> {
    fs::write(path, bytes).map_err(|error| cannot_write(path, &error))
}

/// Reads a whole file.
pub fn read(path: &Path) -> Result<Vec<u8>, Message> {
    fs::read(path).map_err(|error| {
        Message::new(
            path.display().to_string(),
            format!("cannot be read: {error}"),
            "a file you may read",
            "check the name and the permissions",
        )
    })
}

#[cfg(unix)]
fn restrict(path: &Path) -> Result<(), Message> {
    use std::os::unix::fs::PermissionsExt as _;
    fs::set_permissions(path, fs::Permissions::from_mode(0o600)).map_err(|error| cannot_write(path, &error))
}

#[cfg(not(unix))]
fn restrict(_: &Path) -> Result<(), Message> {
    Ok(())
}

fn cannot_write(path: &Path, error: &std::io::Error) -> Message {
    Message::new(
        path.display().to_string(),
        error.to_string(),
        "a folder you may write to, with room on the disk",
        "choose another folder or change its permissions",
    )
}
