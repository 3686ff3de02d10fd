//! The desk over a record book: loads the book, works the facts out, and keeps them until the book has grown.

mod after;
mod away;
mod collection;
mod correct;
mod kept;
mod observe;
mod pairs;
mod plans;
mod published;
mod release;
mod start;
mod transcripts;

use std::sync::{Arc, Mutex, PoisonError};

use ::breakdown::{Breakdown, JobCode, Version};
use desk::{
    BreakdownPage, Desk, EditForm, MissedPage, MonthReport, PersonPage, PersonRow, Results, TeachBackForm,
    TeachBackResult, TodayPage,
};
use jiff::civil::{Date, DateTime};
use paper::Printing;
use practice::PersonId;
use site::{About, DeskError, Draft, Paper, Recording};
use teachback::TeachBack;
use uuid::Uuid;

use kept::Shared;

use crate::folder::Folder;
use crate::message::Message;
use crate::progress::Progress;

const METHODS: &str = include_str!("../../docs/methods.md");

/// Pages and papers of one data folder.
pub struct DeskOfBook {
    shared: Arc<Shared>,
    /// Held while an entry is looked over and added, so that two pages never both look before either writes.
    writing: Mutex<()>,
    /// Plans worked out, so that a page never waits for one twice.
    plans: plans::Plans,
}

impl DeskOfBook {
    /// Opens a folder and works its facts out once, so that a fault in it shows at once.
    pub fn open(folder: Folder) -> Result<DeskOfBook, Message> {
        let desk = DeskOfBook::unopened(folder);
        desk.shared.begin()?;
        Ok(desk)
    }

    /// The same without working anything out yet.
    pub fn unopened(folder: Folder) -> DeskOfBook {
        DeskOfBook {
            shared: Arc::new(Shared::new(folder)),
            writing: Mutex::new(()),
            plans: plans::Plans::default(),
        }
    }

    /// The data folder.
    pub fn folder(&self) -> &Folder {
        &self.shared.folder
    }

    /// Facts of the book as it stands now, what people wrote included.
    pub fn facts(&self) -> Result<Arc<Desk>, Message> {
        self.shared.facts()
    }

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
        let (progress, all) = (Progress::new(), wanted.len());
        for (done, (name, what)) in wanted.into_iter().enumerate() {
            progress.count(done, all, "papers set");
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
        Ok(self.shared.at_hand().map_err(failed)?.results())
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
            older: self.shared.older(),
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

    fn people_of(&self, entry: Uuid) -> Result<Option<(PersonId, PersonId)>, DeskError> {
        Ok(self.facts().map_err(failed)?.people_of(&entry.to_string()))
    }

    fn record(&self, draft: &Draft) -> Result<Recording, DeskError> {
        let _writing = self.writing.lock().unwrap_or_else(PoisonError::into_inner);
        crate::recording::record(self.folder(), draft, self.folder().now()).map_err(failed)
    }
}
