//! Words of the frame around every page, and the language they are in.
//!
//! A translation begins here: the frame takes its words from this file alone, dates and numbers are written by `parts`
//! alone, and every page says its language from [`LANGUAGE`]. The
//! pages whose words are not here yet still hold their own; `words/moved.rs` lists them.

pub(crate) mod bed;
#[cfg(test)]
mod moved;
pub(crate) mod scripts;
pub(crate) mod spoken;
pub(crate) mod today;

/// Language of the pages, as BCP 47 writes it.
pub(crate) const LANGUAGE: &str = "en";

pub(crate) const SKIP: &str = "Skip to the content";
pub(crate) const PAGES: &str = "Pages";
pub(crate) const FIND: &str = "Find";
pub(crate) const FIND_WHAT: &str = "Find a person, a breakdown or a key point";
pub(crate) const YOUR_RECORD: &str = "Your record";
pub(crate) const ACCOUNT: &str = "Account";
pub(crate) const ACCOUNTS: &str = "Accounts";
pub(crate) const SIGN_OUT: &str = "Sign out";
pub(crate) const DRAFTS: &str = "Drafts on this device";
pub(crate) const KEYS: &str = "Keys";
pub(crate) const INVENTED_UNIT: &str = "invented demo unit";
pub(crate) const ALL_INVENTED: &str = "Invented demo unit: no real people or results.";
pub(crate) const CAUTION: &str = "Training support, not a medical device. Local policy and the laboratory’s instructions \
     come first. A licensed clinician decides.";

/// The ways through: what a person does, and the pages within each.
pub(crate) mod way {
    pub(crate) const TODAY: &str = "Today";
    pub(crate) const BEDSIDE: &str = "Bedside";
    pub(crate) const MARK: &str = "Mark a draw";
    pub(crate) const NEXT_DRAW: &str = "Next draw";
    pub(crate) const COLLECTION: &str = "Plan a draw";
    pub(crate) const PEOPLE: &str = "People";
    pub(crate) const EVERYBODY: &str = "Everybody";
    pub(crate) const PLAN: &str = "Plan";
    pub(crate) const TIMETABLE: &str = "Timetable";
    pub(crate) const FOLLOW_UP: &str = "Follow-up";
    pub(crate) const WATCHING: &str = "Watching";
    pub(crate) const JOBS: &str = "Jobs";
    pub(crate) const BREAKDOWNS: &str = "Breakdowns";
    pub(crate) const RULE: &str = "Release rule";
    pub(crate) const RESULTS: &str = "Results";
    pub(crate) const FIGURES: &str = "Figures";
    pub(crate) const REPORTS: &str = "Reports";
    pub(crate) const METHODS: &str = "Methods";
}
