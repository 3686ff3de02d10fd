//! What a reader is told when a page cannot be shown: plain words, the right status, a way back.

use std::sync::atomic::{AtomicU64, Ordering};

use axum::http::{HeaderValue, StatusCode, header};
use axum::response::{IntoResponse, Response};
use maud::{Markup, html};

use crate::sheet;

/// Why a page cannot be shown.
#[derive(Debug)]
pub(crate) enum Problem {
    /// The address holds something that cannot be read.
    BadAddress { place: &'static str, found: String, expected: String },
    /// There is no such thing.
    NotFound { what: String, back: Back },
    /// The page can be read but not written to.
    OnlyReading,
    /// The address is longer than any page's.
    AddressTooLong { longest: usize },
    /// The request was meant for another name than this machine's own.
    WrongHost { found: String },
    /// The account is not one that may see or send this.
    NotForYou,
    /// A form came without a session that is under way.
    SessionOver,
    /// A form was sent by a page of another site.
    WrongOrigin { found: String },
    /// What was sent is no form of these pages.
    BadForm { found: String, expected: String },
    /// What was sent is larger than any form of these pages.
    FormTooLarge { longest: usize },
    /// The desk is busy. The detail is for the log.
    Busy(String),
    /// Something is wrong on this side. The detail is for the log.
    Failed(String),
}

/// Where a reader goes from a page that does not exist.
#[derive(Debug, Clone, Copy)]
pub(crate) enum Back {
    Today,
    People,
    Breakdowns,
    Reports,
    Accounts,
}

impl Back {
    fn address_and_words(self) -> (&'static str, &'static str) {
        match self {
            Back::Today => ("/", "Go to today"),
            Back::People => ("/people", "See everybody on the unit"),
            Back::Breakdowns => ("/breakdowns", "See the breakdowns in force"),
            Back::Reports => ("/reports", "See the months that have a report"),
            Back::Accounts => ("/accounts", "See all accounts"),
        }
    }
}

/// One line for the log, carried by the response to where the route is known.
#[derive(Debug, Clone)]
pub(crate) struct ForTheLog {
    pub(crate) reference: u64,
    pub(crate) detail: String,
}

/// Counts failures since the start, so that a reader can say which line of the log is theirs.
static FAILURES: AtomicU64 = AtomicU64::new(0);

impl Problem {
    fn status(&self) -> StatusCode {
        match self {
            Problem::BadAddress { .. } => StatusCode::BAD_REQUEST,
            Problem::NotFound { .. } => StatusCode::NOT_FOUND,
            Problem::OnlyReading => StatusCode::METHOD_NOT_ALLOWED,
            Problem::AddressTooLong { .. } => StatusCode::URI_TOO_LONG,
            Problem::WrongHost { .. } => StatusCode::MISDIRECTED_REQUEST,
            Problem::NotForYou | Problem::WrongOrigin { .. } => StatusCode::FORBIDDEN,
            Problem::SessionOver => StatusCode::UNAUTHORIZED,
            Problem::BadForm { .. } => StatusCode::BAD_REQUEST,
            Problem::FormTooLarge { .. } => StatusCode::PAYLOAD_TOO_LARGE,
            Problem::Busy(_) => StatusCode::SERVICE_UNAVAILABLE,
            Problem::Failed(_) => StatusCode::INTERNAL_SERVER_ERROR,
        }
    }

    fn title(&self) -> &'static str {
        match self {
            Problem::BadAddress { .. } => "The address cannot be read",
            Problem::NotFound { .. } => "There is no such page",
            Problem::OnlyReading => "This page can only be read",
            Problem::AddressTooLong { .. } => "The address is too long",
            Problem::WrongHost { .. } => "This is not that machine",
            Problem::NotForYou => "Not for this account",
            Problem::SessionOver => "Signed out",
            Problem::WrongOrigin { .. } => "Sent from another site",
            Problem::BadForm { .. } => "The form cannot be read",
            Problem::FormTooLarge { .. } => "The form is too large",
            Problem::Busy(_) => "The record book is busy",
            Problem::Failed(_) => "The page could not be made",
        }
    }

    fn body(&self, reference: Option<u64>) -> Markup {
        html! {
            @match self {
                Problem::BadAddress { place, found, expected } => {
                    p { "In the place of the " (place) " stands " bdi { (found) } "." }
                    p { "Expected: " (expected) ". Correct the address, or start from a page below." }
                }
                Problem::NotFound { what, .. } => p { bdi { (what) } },
                Problem::OnlyReading => p {
                    "Nothing was changed. This address takes no form; entries are written from the pages that have one, "
                    "or with the command line: " code { "wardwright help" } " lists the commands."
                },
                Problem::AddressTooLong { longest } => p {
                    "No page here has an address of more than " (longest) " characters. Shorten it, or start from a page below."
                },
                Problem::WrongHost { found } => p {
                    "The request asks for " bdi { (found) } ". These pages answer only to localhost, to loopback "
                    "addresses such as 127.0.0.1, and to the name of their own proxy, so that no other site can read them through this browser. "
                    "Open the address that the program printed when it started."
                },
                Problem::NotForYou => p {
                    "This is for other roles, or about another person. One person’s figures are for that person and their trainer. "
                    "Nothing was shown and nothing was written. If you need it for your work, ask the trainer."
                },
                Problem::SessionOver => p {
                    "Nobody is signed in here any more: a session ends after half an hour without use, after twelve hours, and when the "
                    "password or the program changes. Nothing was written and nothing typed is lost: " a href="/sign-in" target="_blank" { "sign in on another page" }
                    ", come back to this one, go back in the browser, and send the form again."
                },
                Problem::WrongOrigin { found } => p {
                    "The form names " bdi { (found) } " as the place it was sent from. Forms are taken only from these pages "
                    "themselves. Nothing was written. Open the page here and send its form."
                },
                Problem::BadForm { found, expected } => {
                    p { "Found: " bdi { (found) } "." }
                    p { "Expected: " (expected) ". Nothing was written. Go back in the browser, load the page again and send it once more." }
                }
                Problem::FormTooLarge { longest } => p {
                    "No form here needs more than " (longest / 1000) " kB. Nothing was written. Go back in the browser: what was typed "
                    "is still there; shorten it and send it again."
                },
                Problem::Busy(_) => p { "Another program is writing to it. Nothing is lost. Wait a moment and load the page again." },
                Problem::Failed(_) => p {
                    "Something is wrong on our side. Nothing that was stored is lost. "
                    "Load the page again; if it stays, tell whoever looks after the program."
                },
            }
            @if let Some(reference) = reference {
                p { "Line in the log: failure " (reference) "." }
            }
            ul.ways-back {
                @if let Problem::NotFound { back, .. } = self {
                    @if !matches!(back, Back::Today) {
                        @let (address, words) = back.address_and_words();
                        li { a href=(address) { (words) } }
                    }
                }
                @let (address, words) = Back::Today.address_and_words();
                li { a href=(address) { (words) } }
            }
        }
    }
}

impl IntoResponse for Problem {
    fn into_response(self) -> Response {
        let log = match &self {
            Problem::Busy(detail) | Problem::Failed(detail) => {
                let reference = FAILURES.fetch_add(1, Ordering::Relaxed) + 1;
                Some(ForTheLog { reference, detail: detail.clone() })
            }
            _ => None,
        };
        let page = sheet::problem(self.title(), self.body(log.as_ref().map(|log| log.reference)));
        let mut response = (self.status(), page).into_response();
        match &self {
            Problem::Busy(_) => {
                response.headers_mut().insert(header::RETRY_AFTER, HeaderValue::from_static("2"));
            }
            Problem::OnlyReading => {
                response.headers_mut().insert(header::ALLOW, HeaderValue::from_static("GET, HEAD"));
            }
            _ => {}
        }
        if let Some(log) = log {
            response.extensions_mut().insert(log);
        }
        response
    }
}
