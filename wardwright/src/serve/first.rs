//! Pages of an empty data folder: the unit is named on a page, then the rest goes on there.

use std::net::SocketAddr;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use site::{Founder, Opened, Refusal};

use crate::desk_of_book::DeskOfBook;
use crate::doorkeeper::DoorkeeperOfFolder;
use crate::folder::{BOOK, Folder, PATIENT_KEY, SETTINGS, Settings};
use crate::message::{Message, say};

/// True for a folder that is there and holds nothing of a unit yet.
pub fn is_empty(path: &Path) -> bool {
    path.is_dir() && [SETTINGS, BOOK, PATIENT_KEY].iter().all(|name| !path.join(name).exists())
}

/// Serves the page on which the unit is named, then its pages.
pub fn serve(path: &Path, address: SocketAddr) -> Result<(), Message> {
    let runtime = tokio::runtime::Builder::new_multi_thread().enable_all().build().map_err(|error| {
        Message::new(
            "web pages",
            error.to_string(),
            "threads to serve them with",
            "close other programs and try again",
        )
    })?;
    let served = runtime.block_on(async {
        let listening = site::bind(address).await?;
        say!("Pages: http://{}/   (stop with Ctrl-C)", listening.address());
        say!(
            "{} is empty: the pages lead from the unit’s name to the first planned learner.",
            path.display()
        );
        listening.run_empty(Arc::new(FounderOfFolder::new(path)), super::stopped()).await
    });
    served.map_err(|error| {
        Message::new(
            format!("http://{address}"),
            error.to_string(),
            "a free port on this machine’s loopback address",
            "stop the other program, or give another port with --port; --port 0 takes any free one",
        )
    })
}

/// Makes the data folder of a unit from what is said on a page.
pub struct FounderOfFolder {
    path: PathBuf,
}

impl FounderOfFolder {
    /// For an empty folder.
    pub fn new(path: &Path) -> FounderOfFolder {
        FounderOfFolder { path: path.to_owned() }
    }
}

impl Founder for FounderOfFolder {
    fn place(&self) -> String {
        self.path.display().to_string()
    }

    fn machine_zone(&self) -> Option<String> {
        jiff::tz::TimeZone::system().iana_name().map(str::to_owned)
    }

    fn zones(&self) -> Vec<String> {
        let mut zones: Vec<String> = jiff::tz::db()
            .available()
            .map(|name| name.to_string())
            .filter(|name| name.contains('/') && !name.starts_with("Etc/") && !name.starts_with("posix"))
            .collect();
        zones.sort();
        zones
    }

    fn found(&self, unit: &str, zone: &str) -> Result<Opened, Vec<Refusal>> {
        let found = || -> Result<Opened, Message> {
            let folder = Folder::create(
                &self.path,
                Settings { timezone: (!zone.is_empty()).then(|| zone.to_owned()), ..Settings::of_unit(unit) },
            )?;
            folder.patient_key()?;
            folder.book()?;
            let keeper = DoorkeeperOfFolder::open(Folder::open(&self.path)?, None)?;
            Ok((Arc::new(DeskOfBook::open(folder)?), Arc::new(keeper)))
        };
        found().map_err(|message| {
            vec![Refusal::new(message.place, message.found, message.expected, message.to_do)]
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_unit_is_made_once_and_only_where_nothing_is() {
        let temporary = tempfile::tempdir().unwrap();
        let founder = FounderOfFolder::new(temporary.path());
        assert!(is_empty(temporary.path()) && !is_empty(&temporary.path().join("nowhere")));
        assert!(founder.zones().iter().any(|zone| zone == "Europe/Berlin"));
        let (desk, keeper) = founder.found("Invented “Nord” \\ unit 👩🏽‍⚕️", "Europe/Berlin").unwrap();
        assert_eq!(desk.about().unit, "Invented “Nord” \\ unit 👩🏽‍⚕️");
        assert!(!keeper.has_accounts());
        assert_eq!(desk.beginning().unwrap().people, 0);
        assert!(!is_empty(temporary.path()));
        let again = founder.found("Another", "").err().unwrap();
        assert!(again[0].found.contains("already holds"), "{}", again[0].found);
        assert_eq!(
            Folder::open(temporary.path()).unwrap().settings().timezone.as_deref(),
            Some("Europe/Berlin")
        );
    }
}
