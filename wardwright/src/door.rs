//! The laboratory's door on the command line: what the commands that take results in have in common.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use ::book::{AnyBook, Store as _};
use ::door::{Clock, Door, DoorError, Moment, Terms};
use clap::Args;
use exchange::laboratory::Mapping;
use jiff::ZonedDateTime;
use jiff::civil::Date;
use practice::PersonId;
use uuid::Uuid;

use crate::folder::Folder;
use crate::message::Message;

/// How long the text of messages is kept for putting later ones together with them.
#[derive(Debug, Clone, Copy, Args)]
pub struct Keeping {
    /// Forget the text of messages taken in after so many days
    #[arg(long, default_value_t = 120, value_name = "DAYS")]
    keep_days: u16,
}

impl Keeping {
    /// Forgets what is older than that.
    pub fn forget(self, door: &mut Door<AnyBook>, folder: &Folder, now: &Moment) -> Result<(), Message> {
        let kept_for = jiff::SignedDuration::from_hours(24 * i64::from(self.keep_days));
        let old = now.at.saturating_sub(kept_for).map_err(|error| {
            Message::new("--keep-days", error.to_string(), "a number of days", "give a smaller number")
        })?;
        let say_book = |error: ::book::BookError| crate::book::message(&error, folder.path());
        door.store_mut().forget_messages_before(old).map_err(say_book)
    }
}

/// Opens the door of a folder's book. Without a mapping file, messages are read by the standard's own codes.
pub fn open(folder: &Folder, map: Option<&Path>, by: &str) -> Result<Door<AnyBook>, Message> {
    let (mapping, companions) = match map {
        Some(map) => {
            let mapping = crate::cultures::mapping(map)?;
            let companions = crate::cultures::companions(&mapping, map)?;
            (mapping, companions)
        }
        None => (Mapping::for_messages(), Vec::new()),
    };
    with_mapping(folder, mapping, companions, by)
}

/// Opens the door of a folder's book with a mapping that has been read already.
pub fn with_mapping(
    folder: &Folder,
    mapping: Mapping,
    companions: Vec<(String, Vec<u8>)>,
    by: &str,
) -> Result<Door<AnyBook>, Message> {
    let terms = Terms {
        rules: crate::cultures::named_rules(&folder.settings().rules)?,
        mapping,
        companions,
        patient_key: folder.patient_key()?,
        by: PersonId(by.to_owned()),
    };
    Door::open(folder.book()?, terms).map_err(|error| message(&error, folder.path()))
}

/// The clock of this machine; on a demo's fixed day, sets cannot have been taken after that day.
pub fn clock(folder: &Folder) -> Arc<Clock> {
    let fixed: Option<Date> = folder.settings().today.as_ref().map(|_| folder.today());
    Arc::new(move || {
        let now = ZonedDateTime::now();
        Moment {
            local: now.datetime(),
            at: now.timestamp(),
            today: fixed.unwrap_or_else(|| now.date()),
            id: Uuid::now_v7(),
        }
    })
}

/// What the door says about an error, in the four parts of every message.
pub fn message(error: &DoorError, file: &Path) -> Message {
    match error {
        DoorError::Book(error) => crate::book::message(error, file),
        DoorError::Seal(error) => Message::new(
            place(file, "patient.key"),
            error.to_string(),
            "the key this folder was made with",
            "restore it from your backup; nothing was changed",
        ),
        DoorError::PositivesOnly => Message::new(
            "the mapping",
            "a mapping of positive cultures only",
            "every set that was taken, the negative ones too",
            "ask the laboratory for negative sets: without them there is no rate; nothing was stored",
        ),
    }
}

fn place(file: &Path, name: &str) -> String {
    let path: PathBuf = if file.is_dir() { file.join(name) } else { file.to_owned() };
    path.display().to_string()
}
