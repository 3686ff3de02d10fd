//! Asks the router for a page and reads the answer.

#![allow(dead_code, reason = "each test file uses a part, so no expectation would hold in all of them")]

use std::sync::Arc;

use axum::Router;
use axum::body::Body;
use axum::http::{HeaderMap, Request};
use http_body_util::BodyExt;
use scraper::{ElementRef, Html, Selector};
use tower::ServiceExt;

use crate::fake::Fake;

/// An answer.
pub struct Page {
    pub status: u16,
    pub headers: HeaderMap,
    pub body: String,
    document: Html,
}

pub async fn get(address: &str) -> Page {
    get_from(Fake::full(), address).await
}

pub async fn get_from(desk: Fake, address: &str) -> Page {
    let request =
        Request::get(address).header("host", "127.0.0.1:8099").body(Body::empty()).expect("an address");
    ask(desk, request).await
}

pub async fn ask(desk: Fake, request: Request<Body>) -> Page {
    answer(site::router(Arc::new(desk)), request).await
}

/// One run of the program asked several times: its forms carry one secret.
pub struct Visitor {
    router: Router,
    cookie: String,
}

impl Visitor {
    pub fn of(desk: Fake) -> Visitor {
        Visitor { router: site::router(Arc::new(desk)), cookie: String::new() }
    }

    /// Whoever brings this cookie.
    pub fn bringing(router: &Router, cookie: &str) -> Visitor {
        Visitor { router: router.clone(), cookie: cookie.to_owned() }
    }

    pub async fn get(&self, address: &str) -> Page {
        let request =
            Request::get(address).header("host", "127.0.0.1:8099").body(Body::empty()).expect("an address");
        self.send(request).await
    }

    /// Sends a form as a browser does from a page of this site.
    pub async fn post(&self, address: &str, fields: &[(String, String)]) -> Page {
        let request = Request::post(address)
            .header("host", "127.0.0.1:8099")
            .header("origin", "http://127.0.0.1:8099")
            .header("content-type", "application/x-www-form-urlencoded")
            .body(Body::from(encoded(fields)))
            .expect("a form");
        self.send(request).await
    }

    pub async fn send(&self, mut request: Request<Body>) -> Page {
        if !self.cookie.is_empty() {
            request.headers_mut().insert("cookie", self.cookie.parse().expect("a cookie"));
        }
        answer(self.router.clone(), request).await
    }
}

pub fn encoded(fields: &[(String, String)]) -> String {
    let escape = |text: &str| {
        text.bytes()
            .map(|byte| match byte {
                b'A'..=b'Z' | b'a'..=b'z' | b'0'..=b'9' | b'-' | b'.' => char::from(byte).to_string(),
                _ => format!("%{byte:02X}"),
            })
            .collect::<String>()
    };
    fields
        .iter()
        .map(|(name, value)| format!("{}={}", escape(name), escape(value)))
        .collect::<Vec<_>>()
        .join("&")
}

async fn answer(router: Router, request: Request<Body>) -> Page {
    let response = router.oneshot(request).await.expect("an answer");
    let (parts, body) = response.into_parts();
    let bytes = body.collect().await.expect("a body").to_bytes();
    let body = String::from_utf8(bytes.to_vec()).expect("text");
    let document = Html::parse_document(&body);
    Page { status: parts.status.as_u16(), headers: parts.headers, body, document }
}

impl Page {
    pub fn header(&self, name: &str) -> &str {
        self.headers.get(name).map_or("", |value| value.to_str().expect("text"))
    }

    fn select(&self, selector: &str) -> Vec<ElementRef<'_>> {
        self.document.select(&Selector::parse(selector).expect("a selector")).collect()
    }

    pub fn count(&self, selector: &str) -> usize {
        self.select(selector).len()
    }

    /// The words of everything selected, spaces and line ends drawn together.
    pub fn text(&self, selector: &str) -> String {
        self.texts(selector).join(" ")
    }

    /// The text of everything selected, sign by sign.
    pub fn raw(&self, selector: &str) -> Vec<String> {
        self.select(selector).into_iter().map(|element| element.text().collect()).collect()
    }

    pub fn texts(&self, selector: &str) -> Vec<String> {
        self.select(selector).into_iter().map(words).collect()
    }

    /// As [`Page::texts`], for rows: cells parted by a space.
    pub fn rows(&self, selector: &str) -> Vec<String> {
        let cells = Selector::parse("th, td").expect("a selector");
        let row = |row: ElementRef<'_>| row.select(&cells).map(words).collect::<Vec<_>>().join(" ");
        self.select(selector).into_iter().map(row).collect()
    }

    /// Everything a form would send as it stands, as a browser collects it, buttons left out.
    pub fn form(&self, selector: &str) -> Vec<(String, String)> {
        let mut fields = Vec::new();
        let all = format!("{selector} input, {selector} select, {selector} textarea");
        for field in self.select(&all) {
            let Some(name) = field.attr("name") else { continue };
            let value = match (field.value().name(), field.attr("type")) {
                ("input", Some("radio" | "checkbox")) if field.attr("checked").is_none() => continue,
                ("input", _) => field.attr("value").unwrap_or_default().to_owned(),
                ("select", _) => {
                    let chosen = Selector::parse("option[selected]").expect("a selector");
                    let any = Selector::parse("option").expect("a selector");
                    let option = field.select(&chosen).next().or_else(|| field.select(&any).next());
                    option.and_then(|option| option.attr("value")).unwrap_or_default().to_owned()
                }
                _ => field.text().collect(),
            };
            fields.push((name.to_owned(), value));
        }
        fields
    }

    /// Every form of the page as a browser would send it.
    pub fn forms(&self) -> Vec<Form> {
        let fields = Selector::parse("input, select, textarea").expect("a selector");
        let buttons = Selector::parse("button[name]").expect("a selector");
        let options = Selector::parse("option").expect("a selector");
        let each = |form: ElementRef<'_>| Form {
            method: form.attr("method").unwrap_or("get").to_lowercase(),
            action: form.attr("action").unwrap_or_default().to_owned(),
            is_multipart: form.attr("enctype") == Some("multipart/form-data"),
            fields: form.select(&fields).filter_map(|field| one_field(field, &options)).collect(),
            buttons: form
                .select(&buttons)
                .map(|button| {
                    let attribute = |name| button.attr(name).unwrap_or_default().to_owned();
                    (attribute("name"), attribute("value"))
                })
                .collect(),
        };
        self.select("form").into_iter().map(each).collect()
    }

    pub fn attributes(&self, selector: &str, name: &str) -> Vec<String> {
        self.select(selector)
            .into_iter()
            .filter_map(|element| element.attr(name))
            .map(str::to_owned)
            .collect()
    }
}

/// A form of a page.
pub struct Form {
    pub method: String,
    pub action: String,
    pub is_multipart: bool,
    pub fields: Vec<Field>,
    /// Buttons that say something of their own.
    pub buttons: Vec<(String, String)>,
}

/// A field of a form, with what it would send.
pub struct Field {
    pub name: String,
    pub value: String,
    /// True where a person writes text.
    pub is_text: bool,
    /// True where what is written is shown to nobody.
    pub is_secret: bool,
}

/// A field that would be sent; of a choice that is left open, the first.
fn one_field(field: ElementRef<'_>, options: &Selector) -> Option<Field> {
    let name = field.attr("name")?.to_owned();
    let (value, is_text) = match (field.value().name(), field.attr("type").unwrap_or("text")) {
        ("input", "radio" | "checkbox") if field.attr("checked").is_none() => return None,
        ("input", "file") => return None,
        ("input", kind) => (
            field.attr("value").unwrap_or_default().to_owned(),
            ["text", "search", "number", "password"].contains(&kind) && field.attr("readonly").is_none(),
        ),
        ("select", _) => {
            let all: Vec<ElementRef<'_>> = field.select(options).collect();
            let chosen = all.iter().find(|option| option.attr("selected").is_some());
            let named =
                || all.iter().find(|option| option.attr("value").is_some_and(|value| !value.is_empty()));
            let option = chosen.or_else(named);
            (option.and_then(|option| option.attr("value")).unwrap_or_default().to_owned(), false)
        }
        _ => (field.text().collect(), true),
    };
    Some(Field { name, value, is_text, is_secret: field.attr("type") == Some("password") })
}

/// Text of an element; spaces that do not break are kept as they are.
fn words(element: ElementRef<'_>) -> String {
    let text: String = element.text().collect();
    text.split([' ', '\n']).filter(|word| !word.is_empty()).collect::<Vec<_>>().join(" ")
}
