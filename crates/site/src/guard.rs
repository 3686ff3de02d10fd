//! What holds for every request and every answer, whichever page it is for.

use std::net::IpAddr;
use std::sync::LazyLock;

use axum::extract::{ConnectInfo, MatchedPath, Request, State};
use axum::http::{HeaderMap, HeaderName, HeaderValue, Method, header};
use axum::middleware::Next;
use axum::response::{IntoResponse, Response};

use crate::address::quote;
use crate::ask::Site;
use crate::at_once::DIGESTS;
use crate::problem::{ForTheLog, Problem};
use crate::tls::Peer;

/// Longest address answered, path and query together.
pub(crate) const LONGEST_ADDRESS: usize = 2_000;
/// The address to which a sign-in provider sends people back, with a code that may be long.
const BACK: &str = "/sign-in/back";
const LONGEST_BACK: usize = 8_000;

/// Only our own script files may run, nothing may come from elsewhere, nobody may frame a page, forms lead only back here.
const CONTENT_SECURITY_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
     form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// The pages at the bed keep themselves for work without network, and send what was written: to this site alone.
const BEDSIDE_POLICY: &str = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self'; \
     connect-src 'self'; worker-src 'self'; manifest-src 'self'; \
     form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

/// Of a draw: its scripts and its style stand in the page and are named by their digests; the camera may be asked for.
static DRAW_POLICY: LazyLock<String> = LazyLock::new(|| {
    let (scripts, style) = &*DIGESTS;
    BEDSIDE_POLICY
        .replace("script-src 'self'", &format!("script-src 'self' {scripts}"))
        .replace("style-src 'self'", &format!("style-src 'self' {style}"))
});

/// Nobody gets at what a device has.
const NOTHING: &str = "camera=(), microphone=(), geolocation=()";
/// A draw may ask for the camera, to read the code on a bottle.
const CAMERA: &str = "camera=(self), microphone=(), geolocation=()";

/// What a page may run and load, and what of the device it may ask for.
fn policies(path: &str) -> (&'static str, &'static str) {
    let starts = |starts: &[&str]| starts.iter().any(|start| path.starts_with(start));
    if starts(&["/observe", "/carry-out"]) {
        (&DRAW_POLICY, CAMERA)
    } else if starts(&["/bedside"]) {
        (BEDSIDE_POLICY, NOTHING)
    } else {
        (CONTENT_SECURITY_POLICY, NOTHING)
    }
}

/// A browser that came once over an encrypted connection comes back over one only, for a year (RFC 6797).
const ENCRYPTED_FROM_NOW_ON: &str = "max-age=31536000";

/// Longest name of a place kept, in bytes.
const LONGEST_PLACE: usize = 100;

/// Where a request came from, for the rate of attempts.
#[derive(Debug, Clone)]
pub(crate) struct CameFrom(pub(crate) String);

/// How a request came in.
struct WayIn {
    /// True where what passes is encrypted, by this program or by its proxy.
    encrypted: bool,
    /// True where it came through the named proxy.
    through_proxy: bool,
    problem: Option<Problem>,
}

/// Refuses what was not meant for this machine, then adds the headers that every answer carries and writes
/// failures to the log. The log names the route, never the address: an address can hold a staff identifier.
pub(crate) async fn guard(State(site): State<Site>, request: Request, next: Next) -> Response {
    guarded(request, site.keeper().behind(), async move |request| next.run(request).await).await
}

/// The same for pages that have no desk yet.
pub(crate) async fn guarded(
    mut request: Request,
    behind: Option<&str>,
    next: impl AsyncFnOnce(Request) -> Response,
) -> Response {
    let route = request.extensions().get::<MatchedPath>().map(|path| path.as_str().to_owned());
    let (policy, device) = policies(request.uri().path());
    let peer = request.extensions().get::<ConnectInfo<Peer>>().map(|ConnectInfo(peer)| peer.clone());
    let way_in = way_in(&request, behind, peer.as_ref());
    let came_from = came_from(request.headers(), way_in.through_proxy, peer.as_ref());
    request.extensions_mut().insert(came_from);
    let mut response = match way_in.problem {
        Some(problem) => problem.into_response(),
        None => next(request).await,
    };
    if let Some(ForTheLog { reference, detail }) = response.extensions().get() {
        let route = route.as_deref().unwrap_or("an address without a page");
        eprintln!(
            "wardwright site: failure {reference}: {} on {route}: {detail}",
            response.status().as_u16()
        );
    }
    let headers = response.headers_mut();
    for (name, value) in [
        (header::CONTENT_SECURITY_POLICY, policy),
        (header::X_CONTENT_TYPE_OPTIONS, "nosniff"),
        (header::X_FRAME_OPTIONS, "DENY"),
        // Nothing is told to other sites. Under `no-referrer` a browser would hide from us, too, which page a form
        // was sent from.
        (header::REFERRER_POLICY, "same-origin"),
        (HeaderName::from_static("cross-origin-opener-policy"), "same-origin"),
        (HeaderName::from_static("cross-origin-resource-policy"), "same-origin"),
        (HeaderName::from_static("permissions-policy"), device),
    ] {
        headers.insert(name, HeaderValue::from_static(value));
    }
    if way_in.encrypted {
        let value = HeaderValue::from_static(ENCRYPTED_FROM_NOW_ON);
        headers.insert(header::STRICT_TRANSPORT_SECURITY, value);
    }
    // Workstations are shared: a page with names on it must not come back from the browser's store. Only the
    // style sheet, which says so itself, may be kept.
    headers.entry(header::CACHE_CONTROL).or_insert(HeaderValue::from_static("no-store"));
    response
}

fn way_in(request: &Request, behind: Option<&str>, peer: Option<&Peer>) -> WayIn {
    let uri = request.uri();
    let mut hosts = request.headers().get_all(header::HOST).iter();
    let host = match (hosts.next(), hosts.next()) {
        (Some(host), None) => host.to_str().unwrap_or("a name that is not text"),
        (None, _) => "no name",
        (Some(_), Some(_)) => "more than one name",
    };
    let certificate = peer.and_then(|peer| peer.certificate.as_ref());
    let through_proxy = behind.is_some_and(|name| host.eq_ignore_ascii_case(name));
    let encrypted = through_proxy || certificate.is_some();
    let longest = if uri.path() == BACK { LONGEST_BACK } else { LONGEST_ADDRESS };
    let problem = if uri.path_and_query().map_or(0, |path| path.as_str().len()) > longest {
        Some(Problem::AddressTooLong { longest })
    } else if !through_proxy
        && !is_this_machine(host)
        && !certificate.is_some_and(|certificate| certificate.is_for(host))
    {
        Some(Problem::WrongHost { found: format!("“{}”", quote(host)) })
    } else if request.method() == Method::GET || request.method() == Method::HEAD {
        None
    } else {
        not_from_here(request, host, if encrypted { "https://" } else { "http://" })
    };
    WayIn { encrypted, through_proxy, problem }
}

/// Where a request came from: what the named proxy says, otherwise the other end of the connection.
fn came_from(headers: &HeaderMap, through_proxy: bool, peer: Option<&Peer>) -> CameFrom {
    let forwarded = headers.get_all("x-forwarded-for").iter().next_back();
    let said = forwarded.filter(|_| through_proxy).and_then(|value| value.to_str().ok());
    let place = match (said.and_then(|line| line.rsplit(',').next()), peer) {
        (Some(last), _) => last.trim().chars().take(LONGEST_PLACE).collect(),
        (None, Some(peer)) => peer.address.ip().to_string(),
        (None, None) => "this machine".to_owned(),
    };
    CameFrom(place)
}

/// A form sent by a page of another site names that site, and is refused. A program that is no browser names none.
fn not_from_here(request: &Request, host: &str, scheme: &str) -> Option<Problem> {
    let text = |name: HeaderName| {
        let value = request.headers().get(name)?;
        Some(value.to_str().unwrap_or("a name that is not text").to_owned())
    };
    let origin = text(header::ORIGIN);
    if let Some(origin) = &origin
        && origin.strip_prefix(scheme).is_none_or(|from| !from.eq_ignore_ascii_case(host))
    {
        return Some(Problem::WrongOrigin { found: format!("“{}”", quote(origin)) });
    }
    match text(HeaderName::from_static("sec-fetch-site")) {
        Some(site) if site != "same-origin" && !(site == "none" && origin.is_some()) => {
            Some(Problem::WrongOrigin { found: format!("“{}”", quote(&site)) })
        }
        _ => None,
    }
}

/// True for `localhost` and for loopback addresses, with or without a port. A page of another site whose name
/// was made to resolve to this machine still sends its own name here, and is refused.
fn is_this_machine(host: &str) -> bool {
    let is_port =
        |port: &str| !port.is_empty() && port.len() <= 5 && port.bytes().all(|byte| byte.is_ascii_digit());
    if let Some(rest) = host.strip_prefix('[') {
        let Some((address, port)) = rest.split_once(']') else { return false };
        let port_ok = port.is_empty() || port.strip_prefix(':').is_some_and(is_port);
        return port_ok && address.parse::<std::net::Ipv6Addr>().is_ok_and(|address| address.is_loopback());
    }
    let name = match host.split_once(':') {
        Some((name, port)) if is_port(port) => name,
        Some(_) => return false,
        None => host,
    };
    name.eq_ignore_ascii_case("localhost")
        || name.parse::<IpAddr>().is_ok_and(|address| address.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_place_is_what_the_nearest_proxy_says_and_nobody_else() {
        let peer = Peer { address: "192.0.2.9:4000".parse().unwrap(), certificate: None };
        let mut headers = HeaderMap::new();
        assert_eq!(came_from(&headers, true, None).0, "this machine");
        assert_eq!(came_from(&headers, false, Some(&peer)).0, "192.0.2.9");
        headers.append("x-forwarded-for", HeaderValue::from_static("made up, 192.0.2.7"));
        assert_eq!(came_from(&headers, true, Some(&peer)).0, "192.0.2.7");
        assert_eq!(came_from(&headers, false, Some(&peer)).0, "192.0.2.9", "anybody can write the line");
        headers.append("x-forwarded-for", HeaderValue::from_static("192.0.2.8"));
        assert_eq!(
            came_from(&headers, true, Some(&peer)).0,
            "192.0.2.8",
            "the last line is the nearest proxy's"
        );
    }

    #[test]
    fn only_names_of_this_machine_are_answered() {
        for good in ["localhost", "LocalHost:8080", "127.0.0.1", "127.0.0.1:80", "[::1]", "[::1]:8080"] {
            assert!(is_this_machine(good), "{good}");
        }
        for bad in [
            "",
            "example.org",
            "localhost.example.org",
            "127.0.0.1.example.org",
            "localhost:",
            "localhost:80:80",
            "10.0.0.1",
            "0.0.0.0",
            "[::1",
            "[::2]",
            "[::1]x",
            "localhost:http",
            "::1",
            "user@localhost",
        ] {
            assert!(!is_this_machine(bad), "{bad}");
        }
    }
}
