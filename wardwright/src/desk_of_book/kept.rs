//! The facts of the pages as they were last worked out, brought up to date beside the pages.

use std::collections::HashSet;
use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, MutexGuard, PoisonError};
use std::time::{Duration, Instant, SystemTime};

use ::book::{Head, SetsAfter, Store as _};
use culture::{CultureSet, SetId};
use desk::{Desk, Material};
use jiff::civil::{Date, DateTime};
use practice::{EventKind, History};
use site::Older;
use timetable::Roster;

use crate::folder::Folder;
use crate::message::Message;

/// Facts that take longer than this are worked out beside the pages when only the laboratory has written.
const LONG: Duration = Duration::from_millis(300);
/// A page of results does not wait longer than this for facts.
const QUICK: Duration = Duration::from_millis(40);
/// How long a page of results waits for a book that another program holds; a page about people waits longer.
const SHORT_WAIT: Duration = Duration::from_millis(20);
/// Facts over more sets than this are not thrown away by the page that used them last: that takes a while too.
const MANY_SETS: usize = 10_000;

/// What the pages and the threads that keep them up to date have in common.
pub(super) struct Shared {
    pub(super) folder: Folder,
    /// The newest facts.
    kept: Mutex<Option<Kept>>,
    /// The newest facts of which the results page is worked out too.
    shown: Mutex<Option<Kept>>,
    /// The book as it was last seen; `None` where another program held it.
    newest: Mutex<Option<State>>,
    /// Held while facts are worked out, so that it is done once for all who wait.
    working: Mutex<()>,
    /// True while a thread works the facts out anew.
    at_work: AtomicBool,
}

/// What facts depend on.
#[derive(Debug, Clone, PartialEq)]
struct State {
    head: Head,
    day: Date,
    /// The roster's files as they lie in the folder.
    roster: Vec<(SystemTime, u64)>,
}

/// Facts that were worked out, with the book they were worked out from.
#[derive(Clone)]
struct Kept {
    state: State,
    read_at: (DateTime, Instant),
    /// What could not be read of the roster.
    roster_problems: Vec<String>,
    desk: Arc<Desk>,
    /// How long that took.
    took: Duration,
}

fn held<T>(mutex: &Mutex<T>) -> MutexGuard<'_, T> {
    mutex.lock().unwrap_or_else(PoisonError::into_inner)
}

impl Shared {
    pub(super) fn new(folder: Folder) -> Self {
        Self {
            folder,
            kept: Mutex::new(None),
            shown: Mutex::new(None),
            newest: Mutex::new(None),
            working: Mutex::new(()),
            at_work: AtomicBool::new(false),
        }
    }

    /// Works the facts out, those of the results page included.
    pub(super) fn begin(self: &Arc<Self>) -> Result<(), Message> {
        self.facts()?;
        self.show_newest();
        Ok(())
    }

    /// Facts of the book as it stands now; worked out again only when an entry was added or the day has changed.
    ///
    /// What a person writes shows at once. Where many sets make that slow, a laboratory that sends all day must not make
    /// every page slow: its results show as soon as they are worked out beside, a few seconds later.
    pub(super) fn facts(self: &Arc<Self>) -> Result<Arc<Desk>, Message> {
        let state = self.look(None)?;
        if let Some(kept) = held(&self.kept).clone() {
            if kept.state == state {
                return Ok(kept.desk);
            }
            let same = kept.state.day == state.day && kept.state.roster == state.roster;
            if kept.took > LONG && same && self.only_the_laboratory_wrote(&kept)? {
                self.work_beside();
                return Ok(kept.desk);
            }
        }
        let _working = held(&self.working);
        // Another page may have worked them out meanwhile.
        let kept = held(&self.kept).clone();
        match kept {
            Some(kept) if kept.state == state => Ok(kept.desk),
            kept => self.work_out(kept.as_ref()).map(|new| self.keep(new)),
        }
    }

    /// Facts of which the results page is worked out, and which are there: nobody waits for newer ones, unless they take
    /// next to no time. [`Shared::older`] says of what time they are where the book has grown.
    pub(super) fn at_hand(self: &Arc<Self>) -> Result<Arc<Desk>, Message> {
        let Some(shown) = held(&self.shown).clone() else { return self.facts() };
        match self.look(Some(SHORT_WAIT)) {
            Ok(state) if shown.state == state => {}
            Ok(_) if shown.took <= QUICK => {
                let desk = self.facts()?;
                self.show_newest();
                return Ok(desk);
            }
            Ok(_) => self.work_beside(),
            Err(message) if message.passes => *held(&self.newest) = None,
            Err(message) => return Err(message),
        }
        Ok(shown.desk)
    }

    /// Of what time the facts of the results page are, where the book is known to have grown since or cannot be asked.
    pub(super) fn older(&self) -> Option<Older> {
        let newest = held(&self.newest).clone();
        let shown = held(&self.shown).clone().filter(|shown| shown.took > QUICK)?;
        let (as_of, since) = shown.read_at;
        (newest.as_ref() != Some(&shown.state)).then(|| Older { as_of, seconds: since.elapsed().as_secs() })
    }

    /// What could not be read of the roster, as the newest facts have it.
    pub(super) fn roster_problems(&self) -> Vec<String> {
        held(&self.kept).as_ref().map_or_else(Vec::new, |kept| kept.roster_problems.clone())
    }

    /// The book as it stands, and the day.
    fn look(&self, wait: Option<Duration>) -> Result<State, Message> {
        let book = match wait {
            Some(wait) => self.folder.book_waiting(wait)?,
            None => self.folder.book()?,
        };
        let head = book.head().map_err(|error| crate::book::message(&error, self.folder.path()))?;
        let state = State { head, day: self.folder.today(), roster: crate::roster_file::stamp(&self.folder) };
        *held(&self.newest) = Some(state.clone());
        Ok(state)
    }

    fn only_the_laboratory_wrote(&self, since: &Kept) -> Result<bool, Message> {
        let say = |error: ::book::BookError| crate::book::message(&error, self.folder.path());
        let book = self.folder.book()?;
        let head = &since.state.head;
        Ok(book.goes_on_from(head).map_err(say)?
            && !book.has_entries_of_people_after(head.seq).map_err(say)?)
    }

    /// Puts facts in place of older ones.
    fn keep(&self, new: Kept) -> Arc<Desk> {
        let desk = Arc::clone(&new.desk);
        let old = held(&self.kept).replace(new);
        discard(old);
        desk
    }

    /// Works out the results page of the newest facts and shows it from then on.
    fn show_newest(&self) {
        let Some(mut kept) = held(&self.kept).clone() else { return };
        let started = Instant::now();
        kept.desk.results();
        kept.took += started.elapsed();
        let old = held(&self.shown).replace(kept);
        discard(old);
    }

    /// Starts a thread that works the facts out, unless one is at it.
    fn work_beside(self: &Arc<Self>) {
        if self.at_work.swap(true, Ordering::AcqRel) {
            return;
        }
        let shared = Arc::clone(self);
        let started = std::thread::Builder::new().name("facts".to_owned()).spawn(move || {
            {
                let _working = held(&shared.working);
                let kept = held(&shared.kept).clone();
                let newest = held(&shared.newest).clone();
                if kept.as_ref().map(|kept| &kept.state) != newest.as_ref() {
                    match shared.work_out(kept.as_ref()) {
                        Ok(new) => drop(shared.keep(new)),
                        Err(message) => eprintln!("{message}"),
                    }
                }
            }
            shared.show_newest();
            shared.at_work.store(false, Ordering::Release);
        });
        if started.is_err() {
            self.at_work.store(false, Ordering::Release);
        }
    }

    /// Works the facts out. Of sets, only those are read that were not known before.
    fn work_out(&self, before: Option<&Kept>) -> Result<Kept, Message> {
        let started = Instant::now();
        let book = self.folder.book()?;
        let say = |error: ::book::BookError| crate::book::message(&error, self.folder.path());
        let state = State {
            head: book.head().map_err(say)?,
            day: self.folder.today(),
            roster: crate::roster_file::stamp(&self.folder),
        };
        let read_at = (self.folder.now(), Instant::now());
        let sets = match before {
            Some(before) if book.goes_on_from(&before.state.head).map_err(say)? => {
                updated(before.desk.sets(), book.sets_after(before.state.head.seq).map_err(say)?)
            }
            _ => book.sets().map_err(say)?,
        };
        let history = ::book::history_with(&book, &sets).map_err(say)?;
        let (roster, roster_problems) = self.roster(&history)?;
        let desk = Arc::new(Desk::new(Material {
            unit: self.folder.settings().unit.clone(),
            today: state.day,
            history,
            sets,
            rules: crate::cultures::named_rules(&self.folder.settings().rules)?,
            roster,
            release_rule: self.folder.release_rule()?,
            training_started: self.folder.training_started()?,
        }));
        Ok(Kept { state, read_at, roster_problems, desk, took: started.elapsed() })
    }

    /// The roster in the folder, where there is one.
    fn roster(&self, history: &History) -> Result<(Option<Roster>, Vec<String>), Message> {
        let known = practice::standing_events(history)
            .into_iter()
            .filter_map(|standing| match &standing.event.kind {
                EventKind::PersonAdded(person) => Some(person.id.clone()),
                _ => None,
            })
            .collect();
        crate::roster_file::roster(&self.folder, &known)
    }
}

/// Throws old facts away when no page uses them any more. A million sets take a second or two to be given back, which no
/// page should wait for: the thread holds the last of them.
fn discard(old: Option<Kept>) {
    const PAUSE: Duration = Duration::from_millis(50);
    let Some(old) = old.filter(|old| old.desk.sets().len() > MANY_SETS) else { return };
    // Where no thread can be made they are given back here.
    let _ = std::thread::Builder::new().name("old facts".to_owned()).spawn(move || {
        while Arc::strong_count(&old.desk) > 1 {
            std::thread::sleep(PAUSE);
        }
    });
}

/// Sets as they were known, by identifier, with those that are new or have changed since.
fn updated(known: &[CultureSet], after: SetsAfter) -> Vec<CultureSet> {
    let mut sets = known.to_vec();
    let n_known = sets.len();
    for set in after.sets {
        match sets[..n_known].binary_search_by(|known| known.id.cmp(&set.id)) {
            Ok(place) => sets[place] = set,
            Err(_) => sets.push(set),
        }
    }
    if sets.len() > n_known {
        sets.sort_by(|a, b| a.id.cmp(&b.id));
    }
    if !after.gone.is_empty() {
        let gone: HashSet<SetId> = after.gone.into_iter().collect();
        sets.retain(|set| !gone.contains(&set.id));
    }
    sets
}
