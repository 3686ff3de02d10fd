//! Addresses of pages, written and read in one place.

use breakdown::JobCode;
use desk::Link;
use jiff::civil::Date;
use percent_encoding::{AsciiSet, NON_ALPHANUMERIC, utf8_percent_encode};
use practice::PersonId;
use uuid::Uuid;

use crate::door::{Paper, PlanAsked};
use crate::problem::Problem;

/// Everything but what may stand unescaped in any part of an address.
const SEGMENT: &AsciiSet = &NON_ALPHANUMERIC.remove(b'-').remove(b'_').remove(b'.').remove(b'~');

/// Longest identifier read from an address. Staff identifiers and job codes are far shorter.
const LONGEST_IDENTIFIER: usize = 64;

/// Longest stretch of an address that a message repeats.
const LONGEST_QUOTE: usize = 40;

pub(crate) fn person(id: &PersonId) -> String {
    format!("/people/{}", segment(&id.0))
}

/// A person's own draws beside their results.
pub(crate) fn after(id: &PersonId) -> String {
    format!("{}/after", person(id))
}

/// Leave and return, opened for somebody.
pub(crate) fn away(id: &PersonId) -> String {
    format!("/away?person={}", segment(&id.0))
}

/// The page to sign in on, with the address asked for.
pub(crate) fn sign_in(asked: &str) -> String {
    format!("/sign-in?to={}", segment(asked))
}

/// The way to the sign-in provider, with the address asked for.
pub(crate) fn sign_in_at_provider(to: &str) -> String {
    if to.is_empty() {
        "/sign-in/provider".to_owned()
    } else {
        format!("/sign-in/provider?to={}", segment(to))
    }
}

/// The form of a new account, for somebody the sign-in provider knows.
pub(crate) fn account_for_subject(subject: &str) -> String {
    format!("/accounts?subject={}#add", segment(subject))
}

/// The page of one account.
pub(crate) fn account(name: &account::AccountName) -> String {
    format!("/accounts/{}", segment(name.as_str()))
}

/// Where to go after signing in: an address of this site, or `None` for what leads elsewhere.
pub(crate) fn of_this_site(asked: &str) -> Option<&str> {
    let plain = asked.bytes().all(|byte| byte.is_ascii_graphic() && byte != b'\\');
    (plain && asked.starts_with('/') && !asked.starts_with("//")).then_some(asked)
}

pub(crate) fn breakdown(job: &JobCode) -> String {
    format!("/breakdowns/{}", segment(&job.0))
}

/// The kept plan of a job.
pub(crate) fn plan(job: &JobCode) -> String {
    format!("/plan?job={}", segment(&job.0))
}

/// A plan that is not kept yet; `overtaken` when the one looked at is out of date.
pub(crate) fn proposed_plan(asked: &PlanAsked, overtaken: bool) -> String {
    let mut address = format!("/plan/proposed?job={}&weeks={}", segment(&asked.job.0), asked.weeks);
    if let Some((person, from, to)) = &asked.absent {
        address.push_str(&format!("&person={}&from={from}&to={to}", segment(&person.0)));
    }
    if asked.anew {
        address.push_str("&anew=yes");
    }
    if overtaken {
        address.push_str("&overtaken=1");
    }
    address
}

/// One person's own part of the kept plan.
pub(crate) fn plan_calendar(job: &JobCode, person: &PersonId) -> String {
    format!("/plan/calendars/{}/{}.ics", segment(&job.0), segment(&person.0))
}

/// The form on which a date is set.
pub(crate) fn timetable_date(person: &PersonId, job: &JobCode) -> String {
    format!("/timetable/date?person={}&job={}", segment(&person.0), segment(&job.0))
}

/// The form on which a teach-back is heard.
pub(crate) fn hear_teach_back(id: &PersonId, job: &JobCode) -> String {
    format!("/teach-back/new?person={}&breakdown={}", segment(&id.0), segment(&job.0))
}

/// The form on which the transcript of a teach-back is handed in.
pub(crate) fn hand_in_transcript(id: &PersonId, job: &JobCode) -> String {
    format!("/teach-back/transcript?person={}&breakdown={}", segment(&id.0), segment(&job.0))
}

/// The form on which a draw is marked; without a person it asks whose hands draw.
pub(crate) fn observe(id: Option<&PersonId>, job: &JobCode) -> String {
    at_the_bed("/observe/new", id, job)
}

/// The form of an observed draw with the names filled in.
pub(crate) fn observe_by(draws: &PersonId, watches: &PersonId, job: &JobCode) -> String {
    with_watcher(observe(Some(draws), job), Some(watches))
}

pub(crate) fn with_watcher(address: String, watches: Option<&PersonId>) -> String {
    match watches {
        Some(watches) => format!("{address}&watched={}", segment(&watches.0)),
        None => address,
    }
}

/// The same form, led through one step at a time.
pub(crate) fn carry_out(id: Option<&PersonId>, job: &JobCode) -> String {
    at_the_bed("/carry-out", id, job)
}

fn at_the_bed(page: &str, id: Option<&PersonId>, job: &JobCode) -> String {
    let person = id.map_or(String::new(), |id| format!("&person={}", segment(&id.0)));
    format!("{page}?breakdown={}{person}", segment(&job.0))
}

/// A draw that is in the book.
pub(crate) fn observed(entry: Uuid) -> String {
    format!("/observe/{entry}")
}

/// The page on which a trainer decides about a person and a job.
pub(crate) fn signing(id: &PersonId, job: &JobCode) -> String {
    format!("/signing?person={}&breakdown={}", segment(&id.0), segment(&job.0))
}

/// The form on which a person says how sure they are.
pub(crate) fn confidence(id: &PersonId, job: &JobCode) -> String {
    format!("/confidence?person={}&breakdown={}", segment(&id.0), segment(&job.0))
}

/// An entry on a person's record.
pub(crate) fn entry(id: &PersonId, entry: &str) -> String {
    let plain: String = entry.chars().map(|c| if c.is_ascii_alphanumeric() { c } else { '-' }).collect();
    format!("{}#entry-{plain}", person(id))
}

/// The page on which an entry is corrected.
pub(crate) fn correct(entry: Uuid) -> String {
    format!("/correct/{entry}")
}

/// An entry just written, on the record of the person it is about.
pub(crate) fn recorded(id: &PersonId, written: Uuid) -> String {
    entry(id, &written.to_string())
}

/// What many learners miss in a job.
pub(crate) fn missed(job: &JobCode) -> String {
    format!("{}/missed", breakdown(job))
}

/// The form on which a breakdown is written; without a job, of a new one.
pub(crate) fn editor(job: Option<&JobCode>, entry: Option<Uuid>) -> String {
    let job = job.map(|job| format!("breakdown={}", segment(&job.0)));
    let entry = entry.map(|entry| format!("entry={entry}"));
    let asked: Vec<String> = job.into_iter().chain(entry).collect();
    if asked.is_empty() { "/editor".to_owned() } else { format!("/editor?{}", asked.join("&")) }
}

/// A breakdown just after its publication.
pub(crate) fn published(job: &JobCode, entry: Uuid) -> String {
    format!("{}?published={entry}", breakdown(job))
}

pub(crate) fn teach_back(entry: Uuid) -> String {
    format!("/teach-back/{entry}")
}

/// The card with its points hidden; a person's open points come first.
pub(crate) fn practice(job: &JobCode, person: Option<&PersonId>) -> String {
    match person {
        Some(id) => format!("/practice/{}?person={}", segment(&job.0), segment(&id.0)),
        None => format!("/practice/{}", segment(&job.0)),
    }
}

pub(crate) fn report(month: Date) -> String {
    format!("/reports/{}", month_code(month))
}

pub(crate) fn method(anchor: &str) -> String {
    format!("/methods#{}", segment(anchor))
}

pub(crate) fn link(link: &Link) -> String {
    match link {
        Link::Person(id) => person(id),
        Link::Breakdown(job) => breakdown(job),
        Link::Results => "/results".to_owned(),
        Link::Report(month) => report(*month),
        Link::People => "/people".to_owned(),
    }
}

pub(crate) fn paper(paper: &Paper) -> String {
    match paper {
        Paper::PocketCard(job) => format!("/papers/pocket-card/{}.pdf", segment(&job.0)),
        Paper::ObservationSheet(job) => format!("/papers/observation-sheet/{}.pdf", segment(&job.0)),
        Paper::PersonRecord(id) => format!("/papers/person/{}.pdf", segment(&id.0)),
        Paper::MonthReport(month) => format!("/papers/report/{}.pdf", month_code(*month)),
    }
}

/// `2026-03`.
pub(crate) fn month_code(month: Date) -> String {
    format!("{:04}-{:02}", month.year(), month.month())
}

/// Reads a staff identifier or job code. `what` names it in the message: "staff identifier".
pub(crate) fn read_identifier(text: &str, what: &'static str) -> Result<String, Problem> {
    let n_characters = text.chars().count();
    let expected = format!("a {what} of 1 to {LONGEST_IDENTIFIER} characters, without control characters");
    if n_characters > LONGEST_IDENTIFIER {
        let found = format!("{n_characters} characters, starting with “{}”", quote(text));
        return Err(Problem::BadAddress { place: what, found, expected });
    }
    if text.trim().is_empty() || text.chars().any(char::is_control) {
        return Err(Problem::BadAddress { place: what, found: format!("“{}”", quote(text)), expected });
    }
    Ok(text.to_owned())
}

/// Refuses text in an address that is longer than so many characters.
pub(crate) fn at_most(longest: usize, place: &'static str, text: &str) -> Result<(), Problem> {
    let n_characters = text.chars().count();
    if n_characters <= longest {
        return Ok(());
    }
    Err(Problem::BadAddress {
        place,
        found: format!("{n_characters} characters, starting with “{}”", quote(text)),
        expected: format!("at most {longest} characters"),
    })
}

/// Reads `2026-03` as the first day of that month.
pub(crate) fn read_month(text: &str) -> Result<Date, Problem> {
    let month = text.split_once('-').and_then(|(year, month)| {
        let digits = |text: &str, n: usize| text.len() == n && text.bytes().all(|byte| byte.is_ascii_digit());
        if !digits(year, 4) || !digits(month, 2) {
            return None;
        }
        Date::new(year.parse().ok()?, month.parse().ok()?, 1).ok()
    });
    month.ok_or_else(|| Problem::BadAddress {
        place: "month",
        found: format!("“{}”", quote(text)),
        expected: "a year and a month from 01 to 12, such as 2026-03".to_owned(),
    })
}

/// The start of a text from outside, fit to be repeated in a message: short, and without characters that hide
/// or reorder what stands around them. Escaping is the template's work.
pub(crate) fn quote(text: &str) -> String {
    let hides = |c: char| {
        c.is_control()
            || matches!(c, '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2066}'..='\u{2069}')
    };
    let mut quoted: String =
        text.chars().take(LONGEST_QUOTE).map(|c| if hides(c) { '\u{fffd}' } else { c }).collect();
    if text.chars().count() > LONGEST_QUOTE {
        quoted.push('…');
    }
    quoted
}

fn segment(text: &str) -> String {
    utf8_percent_encode(text, SEGMENT).to_string()
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_segment_holds_nothing_that_ends_it() {
        assert_eq!(person(&PersonId("a/b?c#d é".into())), "/people/a%2Fb%3Fc%23d%20%C3%A9");
        assert_eq!(breakdown(&JobCode("central-line".into())), "/breakdowns/central-line");
    }

    #[test]
    fn months_are_read_strictly() {
        assert_eq!(read_month("2026-03").unwrap(), Date::constant(2026, 3, 1));
        for bad in
            ["2026-13", "2026-00", "2026-3", "26-03", "2026-03-01", "+026-03", "", "march", "２０２６-03"]
        {
            assert!(read_month(bad).is_err(), "{bad}");
        }
    }

    #[test]
    fn identifiers_have_a_length() {
        assert!(read_identifier("N-104", "staff identifier").is_ok());
        assert!(read_identifier(&"é".repeat(64), "staff identifier").is_ok());
        for bad in ["", "  ", "a\nb", &"x".repeat(65)] {
            assert!(read_identifier(bad, "staff identifier").is_err(), "{bad:?}");
        }
    }

    #[test]
    fn quotes_are_short_and_show_what_would_hide() {
        assert_eq!(quote("a\u{202e}b"), "a\u{fffd}b");
        assert_eq!(quote(&"x".repeat(41)), format!("{}…", "x".repeat(40)));
    }
}
