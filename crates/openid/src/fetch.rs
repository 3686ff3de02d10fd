use std::sync::Arc;
use std::time::Duration;

use ureq::http;
use ureq::tls::{Certificate, RootCerts, TlsConfig};

use crate::fault::Fault;
use crate::settings::is_this_machine;

/// Longest wait for an answer.
const LONGEST: Duration = Duration::from_secs(10);
/// Largest answer, in bytes.
const LARGEST: u64 = 512_000;

/// What came back.
#[derive(Debug, Clone)]
pub struct Answer {
    /// The status of HTTP.
    pub status: u16,
    /// What was sent.
    pub bytes: Vec<u8>,
}

/// Asks a provider over the network.
pub trait Fetch: Send + Sync {
    /// Reads an address. `place` names it in messages.
    fn get(&self, place: &'static str, address: &str) -> Result<Answer, Fault>;

    /// Sends a form, with a head that shows who sends it where there is one.
    fn send(
        &self,
        place: &'static str,
        address: &str,
        form: &[(&str, &str)],
        authorization: Option<&str>,
    ) -> Result<Answer, Fault>;
}

/// Asks over HTTP: `https` with the certificates that this machine trusts, or with those given; redirects are not followed.
pub struct OverHttp {
    agent: ureq::Agent,
    /// For this machine itself, past any proxy.
    near: ureq::Agent,
}

impl OverHttp {
    /// `trusted` are certificates in PEM; without, those of this machine. Gives back why none can be used.
    pub fn new(trusted: Option<&[u8]>) -> Result<OverHttp, String> {
        let certificates: Vec<Certificate<'static>> = match trusted {
            Some(pem) => {
                let mut certificates = Vec::new();
                for item in ureq::tls::parse_pem(pem) {
                    match item {
                        Ok(ureq::tls::PemItem::Certificate(certificate)) => certificates.push(certificate),
                        Ok(_) => {}
                        Err(error) => return Err(error.to_string()),
                    }
                }
                if certificates.is_empty() {
                    return Err("a file without a certificate".to_owned());
                }
                certificates
            }
            None => rustls_native_certs::load_native_certs()
                .certs
                .iter()
                .map(|certificate| Certificate::from_der(certificate.as_ref()).to_owned())
                .collect(),
        };
        let tls = TlsConfig::builder()
            .unversioned_rustls_crypto_provider(Arc::new(rustls::crypto::ring::default_provider()))
            .root_certs(RootCerts::Specific(Arc::new(certificates)))
            .build();
        let config = || {
            ureq::Agent::config_builder()
                .tls_config(tls.clone())
                .timeout_global(Some(LONGEST))
                .max_redirects(0)
                .max_redirects_will_error(false)
                .http_status_as_error(false)
                .user_agent(concat!("wardwright/", env!("CARGO_PKG_VERSION")))
                .accept("application/json")
        };
        Ok(OverHttp { agent: config().build().new_agent(), near: config().proxy(None).build().new_agent() })
    }

    fn agent(&self, address: &str) -> &ureq::Agent {
        let host = address.split("://").nth(1).and_then(|rest| rest.split('/').next()).unwrap_or_default();
        if is_this_machine(host) { &self.near } else { &self.agent }
    }
}

impl Fetch for OverHttp {
    fn get(&self, place: &'static str, address: &str) -> Result<Answer, Fault> {
        answer(place, self.agent(address).get(address).call())
    }

    fn send(
        &self,
        place: &'static str,
        address: &str,
        form: &[(&str, &str)],
        authorization: Option<&str>,
    ) -> Result<Answer, Fault> {
        let mut request = self.agent(address).post(address);
        if let Some(authorization) = authorization {
            request = request.header("Authorization", authorization);
        }
        answer(place, request.send_form(form.iter().copied()))
    }
}

fn answer(
    place: &'static str,
    answer: Result<http::Response<ureq::Body>, ureq::Error>,
) -> Result<Answer, Fault> {
    let silent = |error: ureq::Error| Fault::Silent { place, detail: in_words(&error) };
    let mut answer = answer.map_err(silent)?;
    let bytes = answer.body_mut().with_config().limit(LARGEST).read_to_vec().map_err(silent)?;
    Ok(Answer { status: answer.status().as_u16(), bytes })
}

fn in_words(error: &ureq::Error) -> String {
    match error {
        ureq::Error::Timeout(_) => format!("nothing within {} seconds", LONGEST.as_secs()),
        ureq::Error::HostNotFound => "its name is not known on the network".to_owned(),
        ureq::Error::BodyExceedsLimit(_) => format!("more than {} kB", LARGEST / 1_000),
        ureq::Error::Io(error) if error.kind() == std::io::ErrorKind::ConnectionRefused => {
            "nobody listens there".to_owned()
        }
        ureq::Error::Io(error) => of_its_certificate(&error.to_string()),
        other => of_its_certificate(&other.to_string()),
    }
}

/// What is wrong with a certificate, in plain words; anything else as it is.
fn of_its_certificate(text: &str) -> String {
    const UNTRUSTED: &str =
        "its certificate is from an issuer that is not trusted here (docs/accounts.md, trusted)";
    const FAULTS: [(&str, &str); 5] = [
        ("UnknownIssuer", UNTRUSTED),
        ("BadSignature", UNTRUSTED),
        ("NotValidForName", "its certificate is for another name"),
        ("not valid for name", "its certificate is for another name"),
        ("xpired", "its certificate has ended, or the clock of this machine is wrong"),
    ];
    let known = FAULTS.iter().find(|(word, _)| text.contains(word));
    known.map_or(text, |(_, plain)| plain).to_owned()
}
