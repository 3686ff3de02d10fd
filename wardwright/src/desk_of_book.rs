//! The desk over a record book: loads the book, works the facts out, and keeps them until the book has grown.

use std::collections::HashSet;
mod observe;
mod release;

use std::sync::atomic::{AtomicBool, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::time::{Duration, Instant};

use ::book::{Head, SetsAfter, Store as _};
use ::breakdown::{Breakdown, JobCode, Version};
use culture::{CultureSet, SetId};
use desk::{
    BreakdownPage, Desk, EditForm, Material, MissedPage, MonthReport, PersonPage, PersonRow, Results,
    TeachBackForm, TeachBackResult, TodayPage,
};
use jiff::civil::{Date, DateTime};
use paper::Printing;
use practice::{EventKind, History, PersonId};
use site::{About, DeskError, Draft, Paper, Recording};
use teachback::TeachBack;
use timetable::Roster;
use uuid::Uuid;

use crate::folder::Folder;
use crate::message::Message;

const METHODS: &str = include_str!("../../docs/methods.md");

/// Pages and papers of one data folder.
pub struct DeskOfBook {
    shared: Arc<Shared>,
    /// Held while an entry is looked over and added, so that two pages never both look before either writes.
    writing: Mutex<()>,
}

/// What the pages and the thread that keeps them up to date have in common.
struct Shared {
    folder: Folder,
    kept: Mutex<Option<Kept>>,
    /// True while a thread works the facts out anew.
    at_work: AtomicBool,
}

/// Facts that were worked out, with the book they were worked out from.
#[derive(Clone)]
struct Kept {
    head: Head,
    day: Date,
    desk: Arc<Desk>,
    /// How long that took.
    took: Duration,
}

/// Facts that take longer than this are worked out beside the pages when only the laboratory has written.
const LONG: Duration = Duration::from_millis(300);

impl DeskOfBook {
    /// Opens a folder and works its facts out once, so that a fault in it shows at once.
    pub fn open(folder: Folder) -> Result<DeskOfBook, Message> {
        let shared = Shared { folder, kept: Mutex::new(None), at_work: AtomicBool::new(false) };
        let desk = DeskOfBook { shared: Arc::new(shared), writing: Mutex::new(()) };
        desk.facts()?.results();
        Ok(desk)
    }

    /// The data folder.
    pub fn folder(&self) -> &Folder {
        &self.shared.folder
    }

    /// Facts of the book as it stands now; worked out again only when an entry was added or the day has changed.
    ///
    /// What a person writes shows at once. Where many sets make that slow, a laboratory that sends all day must not make
    /// every page slow: its results show as soon as they are worked out beside, a few seconds later.
    pub fn facts(&self) -> Result<Arc<Desk>, Message> {
        let shared = &self.shared;
        let book = shared.folder.book()?;
        let say = |error: ::book::BookError| crate::book::message(&error, shared.folder.path());
        let head = book.head().map_err(say)?;
        let day = shared.folder.today();
        let mut kept = shared.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(known) = kept.as_ref() {
            if known.head == head && known.day == day {
                return Ok(Arc::clone(&known.desk));
            }
            let only_the_laboratory = known.day == day
                && book.goes_on_from(&known.head).map_err(say)?
                && !book.has_entries_of_people_after(known.head.seq).map_err(say)?;
            if only_the_laboratory && known.took > LONG {
                let desk = Arc::clone(&known.desk);
                drop(kept);
                Shared::work_beside(shared);
                return Ok(desk);
            }
        }
        let new = shared.work_out(kept.as_ref())?;
        let desk = Arc::clone(&new.desk);
        *kept = Some(new);
        Ok(desk)
    }
}

impl Shared {
    /// Starts a thread that works the facts out, unless one is at it.
    fn work_beside(shared: &Arc<Shared>) {
        if shared.at_work.swap(true, Ordering::AcqRel) {
            return;
        }
        let shared = Arc::clone(shared);
        let started = std::thread::Builder::new().name("facts".to_owned()).spawn({
            let shared = Arc::clone(&shared);
            move || {
                let before = shared.kept.lock().unwrap_or_else(PoisonError::into_inner).clone();
                match shared.work_out(before.as_ref()) {
                    Ok(new) => {
                        new.desk.results();
                        let mut kept = shared.kept.lock().unwrap_or_else(PoisonError::into_inner);
                        if kept.as_ref().is_none_or(|kept| kept.head.seq <= new.head.seq) {
                            *kept = Some(new);
                        }
                    }
                    Err(message) => eprintln!("{message}"),
                }
                shared.at_work.store(false, Ordering::Release);
            }
        });
        if started.is_err() {
            shared.at_work.store(false, Ordering::Release);
        }
    }

    /// Works the facts out. Of sets, only those are read that were not known before.
    fn work_out(&self, before: Option<&Kept>) -> Result<Kept, Message> {
        let started = Instant::now();
        let book = self.folder.book()?;
        let say = |error: ::book::BookError| crate::book::message(&error, self.folder.path());
        let head = book.head().map_err(say)?;
        let day = self.folder.today();
        let sets = match before {
            Some(before) if book.goes_on_from(&before.head).map_err(say)? => {
                updated(before.desk.sets(), book.sets_after(before.head.seq).map_err(say)?)
            }
            _ => book.sets().map_err(say)?,
        };
        let history = ::book::history_with(&book, &sets).map_err(say)?;
        let roster = self.roster(&history)?;
        let desk = Arc::new(Desk::new(Material {
            unit: self.folder.settings().unit.clone(),
            today: day,
            history,
            sets,
            rules: crate::cultures::named_rules(&self.folder.settings().rules)?,
            roster,
            release_rule: self.folder.release_rule()?,
            training_started: self.folder.training_started()?,
        }));
        Ok(Kept { head, day, desk, took: started.elapsed() })
    }

    /// The roster in the folder, where there is one.
    fn roster(&self, history: &History) -> Result<Option<Roster>, Message> {
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

impl DeskOfBook {
    /// Months with sets, as words: "2026-10".
    pub fn month_words(&self) -> Vec<String> {
        self.facts().map(|desk| desk.months().into_iter().map(month_word).collect()).unwrap_or_default()
    }

    /// One month's report as PDF.
    pub fn month_paper(&self, month: Date) -> Result<Option<Vec<u8>>, Message> {
        self.facts()?
            .month_report(month)
            .map(|report| paper::month_report(&report, &self.printing()).map_err(paper_failed))
            .transpose()
    }

    /// Every paper with the name of its file.
    pub fn all_papers(&self) -> Result<Vec<(String, Vec<u8>)>, Message> {
        let desk = self.facts()?;
        let mut papers = Vec::new();
        let mut wanted: Vec<(String, Paper)> = Vec::new();
        for (code, _) in desk.jobs() {
            wanted.push((format!("pocket-card-{code}.pdf"), Paper::PocketCard(code.clone())));
            wanted.push((format!("observation-sheet-{code}.pdf"), Paper::ObservationSheet(code.clone())));
        }
        for month in desk.months() {
            wanted.push((format!("months/month-{}.pdf", month_word(month)), Paper::MonthReport(month)));
        }
        for person in desk.people() {
            wanted.push((format!("people/{}.pdf", file_word(&person.id.0)), Paper::PersonRecord(person.id)));
        }
        for (name, what) in wanted {
            if let Some(bytes) = self.print(&what)? {
                papers.push((name, bytes));
            }
        }
        Ok(papers)
    }

    fn printing(&self) -> Printing<'static> {
        let notice =
            self.folder().settings().invented.then_some("Invented demo unit: no real people or results");
        Printing { notice, ..Printing::default() }
    }

    fn print(&self, what: &Paper) -> Result<Option<Vec<u8>>, Message> {
        let desk = self.facts()?;
        let printing = self.printing();
        let printed = match what {
            Paper::PocketCard(code) => {
                desk.breakdown_page(code).map(|page| paper::pocket_card(&page.breakdown, &printing))
            }
            Paper::ObservationSheet(code) => {
                desk.breakdown_page(code).map(|page| paper::observation_sheet(&page.breakdown, &printing))
            }
            Paper::PersonRecord(id) => desk.person(id).map(|page| {
                paper::person_record(&page, desk.today(), &self.folder().settings().unit, &printing)
            }),
            Paper::MonthReport(month) => {
                desk.month_report(*month).map(|report| paper::month_report(&report, &self.printing()))
            }
        };
        printed.transpose().map_err(paper_failed)
    }
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

/// "2026-10".
pub fn month_word(month: Date) -> String {
    format!("{:04}-{:02}", month.year(), month.month())
}

/// A staff identifier as a file name: anything but letters, digits, dot and dash becomes an underscore.
fn file_word(id: &str) -> String {
    id.chars().map(|c| if c.is_ascii_alphanumeric() || c == '-' { c } else { '_' }).collect()
}

fn paper_failed(error: paper::PaperError) -> Message {
    Message::new(
        "paper",
        error.to_string(),
        "a paper that can be set",
        "the pages show the same facts; report this fault with the message above",
    )
}

fn failed(message: Message) -> DeskError {
    let detail = format!("{}: {}", message.place, message.found);
    if message.passes { DeskError::Busy(detail) } else { DeskError::Failed(detail) }
}

impl site::Desk for DeskOfBook {
    fn today(&self) -> Result<TodayPage, DeskError> {
        Ok(self.facts().map_err(failed)?.today_page())
    }

    fn people(&self) -> Result<Vec<PersonRow>, DeskError> {
        Ok(self.facts().map_err(failed)?.people())
    }

    fn person(&self, id: &PersonId) -> Result<Option<PersonPage>, DeskError> {
        Ok(self.facts().map_err(failed)?.person(id))
    }

    fn breakdowns(&self) -> Result<Vec<Breakdown>, DeskError> {
        Ok(self.facts().map_err(failed)?.breakdowns())
    }

    fn breakdown(&self, job: &JobCode) -> Result<Option<BreakdownPage>, DeskError> {
        Ok(self.facts().map_err(failed)?.breakdown_page(job))
    }

    fn results(&self) -> Result<Results, DeskError> {
        Ok(self.facts().map_err(failed)?.results())
    }

    fn months(&self) -> Result<Vec<Date>, DeskError> {
        Ok(self.facts().map_err(failed)?.months())
    }

    fn report(&self, month: Date) -> Result<Option<MonthReport>, DeskError> {
        Ok(self.facts().map_err(failed)?.month_report(month))
    }

    fn methods(&self) -> &str {
        METHODS
    }

    fn paper(&self, paper: &Paper) -> Result<Option<Vec<u8>>, DeskError> {
        self.print(paper).map_err(failed)
    }

    fn about(&self) -> About {
        About {
            unit: self.folder().settings().unit.clone(),
            invented: self.folder().settings().invented,
            data_folder: self.folder().path().display().to_string(),
            version: env!("CARGO_PKG_VERSION").to_owned(),
        }
    }

    fn now(&self) -> DateTime {
        self.folder().now()
    }

    fn teach_back_form(
        &self,
        person: &PersonId,
        job: &JobCode,
        version: Option<Version>,
    ) -> Result<Option<TeachBackForm>, DeskError> {
        Ok(self.facts().map_err(failed)?.teach_back_form(person, job, version))
    }

    fn teach_back_preview(
        &self,
        person: &PersonId,
        heard: &TeachBack,
        when: DateTime,
        by: &PersonId,
    ) -> Result<Option<TeachBackResult>, DeskError> {
        Ok(self.facts().map_err(failed)?.teach_back_result(person, heard, when, by, None))
    }

    fn teach_back(&self, entry: Uuid) -> Result<Option<TeachBackResult>, DeskError> {
        Ok(self.facts().map_err(failed)?.teach_back(&entry.to_string()))
    }

    fn missed(&self, job: &JobCode) -> Result<Option<MissedPage>, DeskError> {
        Ok(self.facts().map_err(failed)?.missed(job))
    }

    fn edit_form(&self, job: &JobCode) -> Result<EditForm, DeskError> {
        Ok(self.facts().map_err(failed)?.edit_form(job))
    }

    fn record(&self, draft: &Draft) -> Result<Recording, DeskError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        crate::recording::record(self.folder(), draft, self.folder().now()).map_err(failed)
    }
}
