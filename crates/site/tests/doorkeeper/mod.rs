//! A doorkeeper who knows five accounts of the fake unit, and requests in their names.
#![allow(dead_code, reason = "each test file uses its own part of it")]

use std::collections::BTreeSet;
use std::sync::{Arc, Mutex};

use crate::fake::Fake;
use account::{Account, AccountName, PasswordHash, Role, Token};
use axum::Router;
use axum::body::Body;
use axum::http::{Method, Request};
use http_body_util::BodyExt as _;
use practice::PersonId;
use site::{
    AccountChange, AccountRow, AccountsPage, Administration, AtProvider, Changed, DeskError, Doorkeeper,
    FromProvider, Refusal, SignIn, Stranger, View, ViewsAsked, ViewsPage,
};
use tower::ServiceExt as _;

pub const WORDS: &str = "seven grey herons by a weir";

/// Accounts of people of the fake unit; the token of each is made of its place in the list.
pub struct Keeper {
    pub accounts: Vec<Account>,
    pub views: Arc<Mutex<Vec<View>>>,
    pub changes: Arc<Mutex<Vec<(AccountName, AccountChange)>>>,
    pub cannot_note: bool,
    pub only_administrators: bool,
    /// Sessions that were ended.
    pub ended: Mutex<Vec<Token>>,
}

pub const NAMES: [&str; 5] = ["trainer", "preceptor", "learner", "reader", "admin"];

pub fn token(name: &str) -> Token {
    let place = NAMES.iter().position(|known| *known == name).map_or(99, |place| place + 1);
    Token::new([u8::try_from(place).unwrap_or(99); 32])
}

impl Keeper {
    pub fn new() -> Keeper {
        let account = |name: &str, person: Option<&str>, role: Role| Account {
            name: AccountName::new(name).expect("a name"),
            person: person.map(|id| PersonId(id.to_owned())),
            roles: BTreeSet::from([role]),
            password: Some(PasswordHash::of_new(WORDS, &[], [1; 16]).expect("a hash")),
            subject: None,
            must_change: false,
            epoch: 0,
            unlocked: None,
        };
        Keeper {
            accounts: vec![
                account("trainer", Some("N-101"), Role::Trainer),
                account("preceptor", Some("N-102"), Role::Preceptor),
                account("learner", Some("N-112"), Role::Learner),
                account("reader", None, Role::ResultsReader),
                account("admin", None, Role::Administrator),
            ],
            views: Arc::default(),
            changes: Arc::default(),
            cannot_note: false,
            only_administrators: false,
            ended: Mutex::default(),
        }
    }
}

impl Administration for Keeper {
    fn accounts_page(&self) -> Result<AccountsPage, DeskError> {
        Ok(AccountsPage {
            accounts: self
                .accounts
                .iter()
                .map(|account| AccountRow { account: account.clone(), signed_in: None, locked: None })
                .collect(),
            people: vec![(PersonId("N-104".to_owned()), "Tomas Kerrin".to_owned())],
            provider: Some("Ward sign-in".to_owned()),
            strangers: vec![Stranger {
                subject: "<b>77|x</b>".to_owned(),
                name: Some("\u{202e}R. Fenn".to_owned()),
                when: "2026-03-03T08:00:00".parse().expect("a moment"),
            }],
            ..AccountsPage::default()
        })
    }

    fn change_account(
        &self,
        by: &AccountName,
        change: &AccountChange,
        _: jiff::civil::DateTime,
    ) -> Result<Result<Changed, Refusal>, DeskError> {
        self.changes.lock().expect("nobody panicked").push((by.clone(), change.clone()));
        let first_password = matches!(change, AccountChange::Add { .. }).then(|| "abcde-fghjk".to_owned());
        Ok(Ok(Changed { words: "Done as asked.".to_owned(), first_password }))
    }

    fn views_page(&self, asked: &ViewsAsked) -> Result<ViewsPage, DeskError> {
        let mut views = self.views.lock().expect("nobody panicked").clone();
        views.retain(|view| asked.by.as_ref().is_none_or(|by| view.by == *by));
        Ok(ViewsPage { n_views: views.len(), views, kept_days: 400 })
    }
}

impl Doorkeeper for Keeper {
    fn provider(&self) -> Option<&str> {
        Some("Ward sign-in")
    }

    fn begin_at_provider(&self, to: &str, place: &str) -> Result<AtProvider, DeskError> {
        assert_eq!(place, "this machine");
        let address = format!("https://sign-in.example/go?for={to}");
        Ok(AtProvider::Go { address, cookie: "kept-by-the-browser".to_owned() })
    }

    fn back_from_provider(&self, query: &str, cookie: &str) -> Result<FromProvider, DeskError> {
        let learner = self.accounts[2].clone();
        Ok(match (query, cookie) {
            ("code=good", "kept-by-the-browser") => {
                FromProvider::In(token("learner"), learner, "/methods".to_owned())
            }
            ("code=elsewhere", "kept-by-the-browser") => {
                FromProvider::In(token("learner"), learner, "//elsewhere.example".to_owned())
            }
            ("code=stranger", _) => FromProvider::NoAccount { subject: "<i>9</i>".to_owned() },
            _ => FromProvider::Refused(Refusal::new(
                "Ward sign-in",
                "an old answer",
                "a new one",
                "begin again",
            )),
        })
    }

    fn has_accounts(&self) -> bool {
        true
    }

    fn behind(&self) -> Option<&str> {
        Some("draws.ward.example")
    }

    fn who(&self, sent: &Token) -> Option<Account> {
        if self.ended.lock().expect("nobody panicked").contains(sent) {
            return None;
        }
        self.accounts.iter().find(|account| token(account.name.as_str()) == *sent).cloned()
    }

    fn sign_in(&self, name: &str, password: &str, _: &str) -> Result<SignIn, DeskError> {
        let account = self.accounts.iter().find(|account| account.name.as_str() == name);
        Ok(
            match account.filter(|account| account.password.as_ref().is_some_and(|hash| hash.is_of(password)))
            {
                Some(account) => {
                    self.ended.lock().expect("nobody panicked").retain(|ended| *ended != token(name));
                    SignIn::In(token(name), account.clone())
                }
                None => SignIn::Wrong,
            },
        )
    }

    fn only_administrators_by_password(&self) -> bool {
        self.only_administrators
    }

    fn sign_out(&self, sent: &Token) -> Option<String> {
        self.ended.lock().expect("nobody panicked").push(sent.clone());
        (*sent == token("learner"))
            .then(|| "https://sign-in.example/out?id_token_hint=a.b.c&x=<1>".to_owned())
    }

    fn change_password(
        &self,
        name: &AccountName,
        old: &str,
        _: &str,
    ) -> Result<Result<Token, Refusal>, DeskError> {
        Ok(if old == WORDS {
            Ok(token(name.as_str()))
        } else {
            Err(Refusal::new("password now", "another password", "the one of now", "type it again"))
        })
    }

    fn note_view(&self, view: &View) -> Result<(), DeskError> {
        if self.cannot_note {
            return Err(DeskError::Failed("the disk is full".to_owned()));
        }
        self.views.lock().expect("nobody panicked").push(view.clone());
        Ok(())
    }

    fn views_of(&self, person: &PersonId) -> Result<Vec<View>, DeskError> {
        let views = self.views.lock().expect("nobody panicked");
        Ok(views.iter().filter(|view| view.of.as_ref() == Some(person)).cloned().collect())
    }
}

pub struct Answer {
    pub status: u16,
    pub location: String,
    pub cookie: String,
    pub policy: String,
    pub body: String,
}

pub async fn ask(router: &Router, name: &str, method: Method, address: &str, body: &str) -> Answer {
    let request = Request::builder()
        .method(method)
        .uri(address)
        .header("host", "127.0.0.1:8099")
        .header("origin", "http://127.0.0.1:8099")
        .header("content-type", "application/x-www-form-urlencoded")
        .header("cookie", format!("other=1; __Host-wardwright={}", token(name).text()))
        .body(Body::from(body.to_owned()))
        .expect("a request");
    let response = router.clone().oneshot(request).await.expect("an answer");
    let header = |name: &str| {
        response.headers().get(name).map_or("", |value| value.to_str().expect("text")).to_owned()
    };
    let (status, location, cookie) = (response.status().as_u16(), header("location"), header("set-cookie"));
    let policy = header("content-security-policy");
    let bytes = response.into_body().collect().await.expect("a body").to_bytes();
    Answer { status, location, cookie, policy, body: String::from_utf8_lossy(&bytes).into_owned() }
}

pub fn router() -> (Router, Arc<Mutex<Vec<View>>>) {
    let keeper = Keeper::new();
    let views = keeper.views.clone();
    (site::router_for(Arc::new(Fake::full()), Arc::new(keeper)), views)
}
