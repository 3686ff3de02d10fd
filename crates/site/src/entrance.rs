//! The one place where it is decided who may ask for what.
//!
//! Every address with a page stands in [`ROUTES`] with its audience. An address that does not stand there is for
//! nobody, so a page that was forgotten here is shut, not open.

use std::sync::Arc;

use account::{Account, Audience, Role, Token, Whose, may};
use axum::body::{Body, to_bytes};
use axum::extract::{MatchedPath, Request, State};
use axum::http::{HeaderMap, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Redirect, Response};
use practice::PersonId;
use uuid::Uuid;

use crate::address;
use crate::ask::Site;
use crate::form::LARGEST_FORM;
use crate::keeper::View;
use crate::problem::Problem;

/// Where an address says whom it is about.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum Subject {
    /// It is about nobody alone.
    Nobody,
    /// It shows figures of many people.
    Everybody,
    /// The second part of the address is a staff identifier.
    Path,
    /// `person=` in the query, or in the form that is sent; without it, nobody.
    Named,
    /// The last part of the address is an entry of the record book, which is about a person.
    Entry,
    /// The address names a paper, which may be a person's record.
    Paper,
    /// The address names a calendar, which is a person's own.
    Calendar,
}

pub(crate) struct Route {
    pub(crate) path: &'static str,
    pub(crate) reading: Audience,
    /// Audience of forms sent there; `None` where no form is taken.
    pub(crate) writing: Option<Audience>,
    pub(crate) subject: Subject,
}

const fn read(path: &'static str, reading: Audience, subject: Subject) -> Route {
    Route { path, reading, writing: None, subject }
}

const fn write(path: &'static str, reading: Audience, writing: Audience, subject: Subject) -> Route {
    Route { path, reading, writing: Some(writing), subject }
}

use Audience::{Administrators, Anyone, Beginning, Own, SignedIn, Trainers, UnitFigures, Watchers};

/// Every address with its audience.
pub(crate) const ROUTES: &[Route] = &[
    read("/", Trainers, Subject::Everybody),
    read("/people", Trainers, Subject::Everybody),
    read("/people/{id}", Own, Subject::Path),
    read("/people/{id}/after", Own, Subject::Path),
    read("/breakdowns", SignedIn, Subject::Nobody),
    read("/breakdowns/{code}", SignedIn, Subject::Nobody),
    read("/breakdowns/{code}/missed", Trainers, Subject::Nobody),
    write("/editor", Trainers, Trainers, Subject::Nobody),
    read("/practice/{code}", Own, Subject::Named),
    write("/teach-back", Watchers, Watchers, Subject::Named),
    read("/teach-back/new", Watchers, Subject::Named),
    write("/teach-back/transcript", Watchers, Watchers, Subject::Named),
    write("/teach-back/confirm", Watchers, Watchers, Subject::Named),
    read("/teach-back/{entry}", Own, Subject::Entry),
    read("/bedside", SignedIn, Subject::Nobody),
    read("/bedside/key", SignedIn, Subject::Nobody),
    read("/carry-out", SignedIn, Subject::Nobody),
    write("/observe", Watchers, Watchers, Subject::Named),
    read("/observe/new", Watchers, Subject::Named),
    read("/observe/{entry}", Own, Subject::Entry),
    read("/next-draw", Watchers, Subject::Nobody),
    write("/plan", Trainers, Trainers, Subject::Everybody),
    read("/plan/proposed", Trainers, Subject::Everybody),
    read("/plan/calendars/{job}/{file}", Own, Subject::Calendar),
    read("/timetable", Trainers, Subject::Everybody),
    write("/timetable/date", Trainers, Trainers, Subject::Named),
    read("/draw/plan", SignedIn, Subject::Nobody),
    write("/rules", Trainers, Trainers, Subject::Nobody),
    write("/signing", Trainers, Trainers, Subject::Named),
    write("/confidence", Own, Own, Subject::Named),
    write("/away", Trainers, Trainers, Subject::Named),
    read("/follow-up", Trainers, Subject::Everybody),
    read("/watching", Trainers, Subject::Everybody),
    read("/results", UnitFigures, Subject::Nobody),
    read("/results/pairs", UnitFigures, Subject::Nobody),
    read("/reports", UnitFigures, Subject::Nobody),
    write("/reports/{month}", UnitFigures, Trainers, Subject::Nobody),
    read("/methods", SignedIn, Subject::Nobody),
    read("/papers/{kind}/{file}", Own, Subject::Paper),
    write("/sign-in", Anyone, Anyone, Subject::Nobody),
    read("/sign-in/provider", Anyone, Subject::Nobody),
    read("/sign-in/back", Anyone, Subject::Nobody),
    write("/sign-out", Anyone, Anyone, Subject::Nobody),
    write("/account", SignedIn, SignedIn, Subject::Nobody),
    write("/accounts", Administrators, Administrators, Subject::Nobody),
    read("/accounts/{name}", Administrators, Subject::Nobody),
    read("/views", Administrators, Subject::Nobody),
    read("/health", Anyone, Subject::Nobody),
    read("/site.css", Anyone, Subject::Nobody),
    read("/teach-back.js", Anyone, Subject::Nobody),
    read("/keep.js", Anyone, Subject::Nobody),
    read("/start", Beginning, Subject::Nobody),
    write("/start/people", Beginning, Beginning, Subject::Nobody),
    write("/start/breakdown", Trainers, Trainers, Subject::Nobody),
    write("/correct/{entry}", Own, Own, Subject::Entry),
    read("/find", SignedIn, Subject::Nobody),
    read("/keys", SignedIn, Subject::Nobody),
    read("/keys.js", Anyone, Subject::Nobody),
    read("/drafts", SignedIn, Subject::Nobody),
    read("/drafts.js", Anyone, Subject::Nobody),
    read("/mark.svg", Anyone, Subject::Nobody),
    read("/bedside-worker.js", Anyone, Subject::Nobody),
    read("/bedside.webmanifest", Anyone, Subject::Nobody),
    read("/bedside.js", Anyone, Subject::Nobody),
    read("/observe.js", Anyone, Subject::Nobody),
    read("/camera.js", Anyone, Subject::Nobody),
    read("/ticker.js", Anyone, Subject::Nobody),
    read("/carry-out.js", Anyone, Subject::Nobody),
    read("/bedside.css", Anyone, Subject::Nobody),
    read("/icon-192.png", Anyone, Subject::Nobody),
    read("/icon-512.png", Anyone, Subject::Nobody),
];

/// Name of the cookie. The prefix makes a browser insist that it is secure, of this host alone, and for every path.
const COOKIE: &str = "__Host-wardwright";

/// Who asks, while an answer to them is made.
#[derive(Debug, Clone, Default)]
pub(crate) struct Viewer {
    /// The account signed in.
    pub(crate) account: Option<Account>,
    /// True where the unit has accounts.
    pub(crate) accounts: bool,
}

tokio::task_local! {
    static VIEWER: Viewer;
}

impl Viewer {
    /// Who asks for the answer that is being made now.
    pub(crate) fn now() -> Viewer {
        VIEWER.try_with(Clone::clone).unwrap_or_default()
    }

    /// True where an entry on this person's own word may be written: by themselves, or where nobody signs in.
    pub(crate) fn may_speak_for(&self, person: &PersonId) -> bool {
        !self.accounts || self.account.as_ref().is_some_and(|account| account.person.as_ref() == Some(person))
    }

    /// True where the place of the record book may be told: to those who look after it.
    pub(crate) fn may_know_the_place(&self) -> bool {
        let looks_after = |account: &Account| account.is(Role::Trainer) || account.is(Role::Administrator);
        !self.accounts || self.account.as_ref().is_some_and(looks_after)
    }

    /// True when this address may be shown as a way through.
    pub(crate) fn may_read(&self, path: &str) -> bool {
        let Some(account) = &self.account else { return !self.accounts };
        route(path).is_some_and(|route| may(account, route.reading, &Whose::Unknown))
    }
}

/// True for the person whom a field about who signs, watches or writes begins with: whoever was chosen, otherwise whoever is
/// signed in. An entry stands on their word alone, so nothing else would be taken.
pub(crate) fn is_chosen(typed: &str, person: &PersonId) -> bool {
    if typed.is_empty() {
        Viewer::now().account.is_some_and(|account| account.person.as_ref() == Some(person))
    } else {
        person.0 == typed
    }
}

/// Where somebody begins after signing in.
pub(crate) fn home(account: &Account) -> String {
    match &account.person {
        _ if account.is(Role::Trainer) => "/".to_owned(),
        Some(person) if account.is(Role::Preceptor) || account.is(Role::Learner) => address::person(person),
        _ if account.is(Role::ResultsReader) => "/results".to_owned(),
        _ if account.is(Role::Administrator) => "/accounts".to_owned(),
        _ => "/account".to_owned(),
    }
}

/// The token a browser sent.
pub(crate) fn token(headers: &HeaderMap) -> Option<Token> {
    named_cookie(headers, COOKIE).and_then(Token::read)
}

/// The first cookie of this name that a browser sent.
pub(crate) fn named_cookie<'a>(headers: &'a HeaderMap, wanted: &str) -> Option<&'a str> {
    let sent = headers.get_all(header::COOKIE).iter().filter_map(|value| value.to_str().ok());
    sent.flat_map(|line| line.split(';'))
        .filter_map(|pair| pair.trim().split_once('='))
        .find_map(|(name, value)| (name == wanted).then_some(value))
}

/// The cookie that carries a token, or that takes it away.
pub(crate) fn cookie(token: Option<&Token>) -> String {
    match token {
        Some(token) => cookie_of(COOKIE, token.text(), None),
        None => cookie_of(COOKIE, "", Some(0)),
    }
}

/// A cookie that only this site gets, only encrypted, and no script; until the browser closes, or for some seconds.
pub(crate) fn cookie_of(name: &str, value: &str, seconds: Option<u32>) -> String {
    let age = seconds.map_or_else(String::new, |seconds| format!("; Max-Age={seconds}"));
    format!("{name}={value}; Path=/; Secure; HttpOnly; SameSite=Lax{age}")
}

/// Every address that has a page, as routes are written.
pub fn addresses() -> Vec<&'static str> {
    ROUTES.iter().map(|route| route.path).collect()
}

fn route(path: &str) -> Option<&'static Route> {
    ROUTES.iter().find(|route| route.path == path)
}

/// Lets a request through, sends it to the page to sign in on, or refuses it.
pub(crate) async fn entrance(State(site): State<Site>, request: Request, next: Next) -> Response {
    let keeper = Arc::clone(site.keeper());
    if !keeper.has_accounts() {
        return next.run(request).await;
    }
    let account = token(request.headers()).and_then(|token| keeper.who(&token));
    let viewer = Viewer { account, accounts: true };
    VIEWER
        .scope(viewer.clone(), async move {
            match let_in(&site, &viewer, request).await {
                Ok(request) => next.run(request).await,
                Err(answer) => *answer,
            }
        })
        .await
}

type Refused = Box<Response>;

fn refused(answer: impl IntoResponse) -> Refused {
    Box::new(answer.into_response())
}

async fn let_in(site: &Site, viewer: &Viewer, request: Request) -> Result<Request, Refused> {
    // What has no page is told so by the fallback, which knows nothing.
    let Some(path) = request.extensions().get::<MatchedPath>().map(|path| path.as_str().to_owned()) else {
        return Ok(request);
    };
    let reads = request.method() == Method::GET || request.method() == Method::HEAD;
    let Some(route) = route(&path) else { return Err(refused(Problem::NotForYou)) };
    let Some(audience) = (if reads { Some(route.reading) } else { route.writing }) else {
        return Ok(request);
    };
    if audience == Anyone {
        return Ok(request);
    }
    let Some(account) = &viewer.account else {
        return Err(if reads {
            let asked = request.uri().path_and_query().map_or("/", |path| path.as_str());
            refused(Redirect::to(&address::sign_in(asked)))
        } else {
            refused(Problem::SessionOver)
        });
    };
    if account.must_change && path != "/account" {
        return Err(if reads { refused(Redirect::to("/account")) } else { refused(Problem::NotForYou) });
    }
    let (request, audience, whose) = subject(site, route, audience, request).await?;
    if !may(account, audience, &whose) {
        return Err(if path == "/" {
            refused(Redirect::to(&home(account)))
        } else {
            refused(Problem::NotForYou)
        });
    }
    let of = match &whose {
        Whose::Person(person) | Whose::Entry { of: person, .. } => Some(person.clone()),
        Whose::Nobodys | Whose::Unknown => None,
    };
    if route.subject == Subject::Everybody
        || of.as_ref().is_some_and(|of| account.person.as_ref() != Some(of))
    {
        let by = account.name.clone();
        site.ask_keeper(move |keeper, now| keeper.note_view(&View { when: now, by, of, page: path }))
            .await
            .map_err(refused)?;
    }
    Ok(request)
}

/// Whom a request is about. An address that is about a person only with `person=` is, without it, for whoever is
/// signed in; papers have audiences of their own.
async fn subject(
    site: &Site,
    route: &Route,
    audience: Audience,
    mut request: Request,
) -> Result<(Request, Audience, Whose), Refused> {
    let person = |text: &str| match address::read_identifier(text, "staff identifier") {
        Ok(id) => Whose::Person(PersonId(id)),
        Err(_) => Whose::Unknown,
    };
    let last = |request: &Request| decoded(request.uri().path().rsplit('/').next().unwrap_or_default());
    let whose = match route.subject {
        Subject::Nobody | Subject::Everybody => Whose::Nobodys,
        Subject::Path => person(&decoded(request.uri().path().split('/').nth(2).unwrap_or_default())),
        Subject::Named if request.method() == Method::GET || request.method() == Method::HEAD => {
            match field(request.uri().query().unwrap_or_default().as_bytes(), "person") {
                Some(text) if !text.is_empty() => person(&text),
                _ if audience == Own => return Ok((request, SignedIn, Whose::Nobodys)),
                _ => Whose::Nobodys,
            }
        }
        // Where the role alone decides, the form is left to its page: it may be as large as a transcript.
        Subject::Named if audience != Own => Whose::Nobodys,
        Subject::Named => {
            let (parts, body) = request.into_parts();
            let bytes = to_bytes(body, LARGEST_FORM)
                .await
                .map_err(|_| refused(Problem::FormTooLarge { longest: LARGEST_FORM }))?;
            let whose = field(&bytes, "person").map_or(Whose::Unknown, |text| person(&text));
            request = Request::from_parts(parts, Body::from(bytes));
            whose
        }
        Subject::Entry => match Uuid::parse_str(&last(&request)) {
            Ok(entry) => site
                .ask(move |desk| desk.people_of(entry))
                .await
                .map_err(refused)?
                .1
                .map_or(Whose::Unknown, |(of, by)| Whose::Entry { of, by }),
            Err(_) => Whose::Unknown,
        },
        Subject::Calendar => person(last(&request).strip_suffix(".ics").unwrap_or_default()),
        Subject::Paper => {
            let kind = request.uri().path().split('/').nth(2).unwrap_or_default().to_owned();
            match kind.as_str() {
                "person" => person(last(&request).strip_suffix(".pdf").unwrap_or_default()),
                "report" => return Ok((request, UnitFigures, Whose::Nobodys)),
                _ => return Ok((request, SignedIn, Whose::Nobodys)),
            }
        }
    };
    Ok((request, audience, whose))
}

/// A part of an address as its page reads it; empty for what is not text.
fn decoded(part: &str) -> String {
    percent_encoding::percent_decode_str(part).decode_utf8().map(|text| text.into_owned()).unwrap_or_default()
}

/// The first value of a field in a query or a form.
fn field(bytes: &[u8], wanted: &str) -> Option<String> {
    form_urlencoded::parse(bytes).find(|(name, _)| name == wanted).map(|(_, value)| value.into_owned())
}
