//! Forms as they are sent: small enough, from these pages, and with every field at hand when they are shown again.

use axum::Form;
use axum::extract::rejection::FormRejection;
use axum::http::StatusCode;
use axum::response::IntoResponse;
use maud::{Markup, html};

use crate::address::quote;
use crate::ask::Site;
use crate::door::Refusal;
use crate::problem::Problem;

/// Most bytes of a form. The largest, a breakdown in the editor, has a few tens of thousands.
pub(crate) const LARGEST_FORM: usize = 400_000;
/// Most fields of a form: far above the largest teach-back.
const MOST_FIELDS: usize = 6_000;
/// Field that carries the secret.
const SECRET_FIELD: &str = "form-secret";
const SECRET_BYTES: usize = 32;

/// What a form carries to show that these pages made it. It is drawn when the program starts and is nowhere else, so
/// a page of another site cannot know it.
#[derive(Clone)]
pub(crate) struct Secret(Option<[u8; SECRET_BYTES]>);

impl Secret {
    /// Draws one. Where the system gives no random bytes there is none, and no form is taken.
    pub(crate) fn drawn() -> Secret {
        let mut bytes = [0u8; SECRET_BYTES];
        let drawn = getrandom::fill(&mut bytes).is_ok();
        Secret(drawn.then_some(bytes))
    }

    /// The hidden field that carries it.
    pub(crate) fn field(&self) -> Markup {
        html! { input type="hidden" name=(SECRET_FIELD) value=(self.text()); }
    }

    /// The secret under a mask drawn for this answer alone, mask first. Pages go out packed, and the length of a packed
    /// page must not tell the secret to somebody who can put words into it (the attack known as BREACH, 2013).
    pub(crate) fn text(&self) -> String {
        let mut mask = [0u8; SECRET_BYTES];
        let Some(secret) = self.0.filter(|_| getrandom::fill(&mut mask).is_ok()) else {
            return String::new();
        };
        let masked = mask.iter().zip(&secret).map(|(mask, byte)| mask ^ byte);
        mask.iter().copied().chain(masked).map(|byte| format!("{byte:02x}")).collect()
    }

    /// Compares without telling by its time how much was right.
    fn is(&self, sent: &str) -> bool {
        let (Some(secret), Some((mask, masked))) = (&self.0, read_hex(sent)) else { return false };
        let sent = mask.iter().zip(&masked).map(|(mask, byte)| mask ^ byte);
        secret.iter().zip(sent).fold(0, |differing, (one, other)| differing | (one ^ other)) == 0
    }
}

/// Mask and masked secret out of their digits.
fn read_hex(sent: &str) -> Option<([u8; SECRET_BYTES], [u8; SECRET_BYTES])> {
    if sent.len() != 4 * SECRET_BYTES || !sent.bytes().all(|byte| byte.is_ascii_hexdigit()) {
        return None;
    }
    let byte = |at: usize| u8::from_str_radix(sent.get(2 * at..2 * at + 2)?, 16).ok();
    let mut read = ([0u8; SECRET_BYTES], [0u8; SECRET_BYTES]);
    for at in 0..SECRET_BYTES {
        read.0[at] = byte(at)?;
        read.1[at] = byte(SECRET_BYTES + at)?;
    }
    Some(read)
}

/// A form as it was sent.
#[derive(Debug, Clone, Default)]
pub(crate) struct Posted {
    fields: Vec<(String, String)>,
    /// Why nothing may be written on its word, where the secret is not the one these pages gave out.
    pub(crate) stale: Option<Refusal>,
}

/// What a handler is given where a form is expected.
pub(crate) type Sent = Result<Form<Vec<(String, String)>>, FormRejection>;

/// Reads a form. A form from before the program was started again is read, but marked as stale: it is shown once more
/// so that nothing typed is lost.
pub(crate) fn read(site: &Site, sent: Sent) -> Result<Posted, Problem> {
    read_up_to(site, sent, LARGEST_FORM)
}

/// Reads a form that may be larger than others.
pub(crate) fn read_up_to(site: &Site, sent: Sent, longest: usize) -> Result<Posted, Problem> {
    let Form(fields) = sent.map_err(|rejection| {
        let words = rejection.body_text();
        match rejection.into_response().status() {
            StatusCode::PAYLOAD_TOO_LARGE => Problem::FormTooLarge { longest },
            _ => Problem::BadForm {
                found: quote(&words),
                expected: "a form as these pages send it, in UTF-8".to_owned(),
            },
        }
    })?;
    known(site, fields)
}

/// Fields that were read in another way, such as those beside a file.
pub(crate) fn known(site: &Site, fields: Vec<(String, String)>) -> Result<Posted, Problem> {
    known_to(site.secret(), fields)
}

/// Fields with the secret they should carry.
pub(crate) fn known_to(secret: &Secret, fields: Vec<(String, String)>) -> Result<Posted, Problem> {
    if fields.len() > MOST_FIELDS {
        return Err(Problem::BadForm {
            found: format!("{} fields", fields.len()),
            expected: format!("at most {MOST_FIELDS} fields"),
        });
    }
    let sent = fields.iter().find(|(name, _)| name == SECRET_FIELD).map_or("", |(_, value)| value);
    let stale = (!secret.is(sent)).then(|| {
        Refusal::new(
            "this form",
            "a form that was opened before the program was started again, or in another place",
            "a form opened here since then",
            "everything typed is below: look it over and send it again; nothing was written",
        )
    });
    Ok(Posted { fields, stale })
}

impl Posted {
    /// A field, trimmed; empty when it was not sent.
    pub(crate) fn text(&self, name: &str) -> &str {
        self.raw(name).trim()
    }

    /// A field as it was sent, line ends as one sign.
    pub(crate) fn lines(&self, name: &str) -> String {
        self.raw(name).replace("\r\n", "\n").replace('\r', "\n")
    }

    fn raw(&self, name: &str) -> &str {
        self.fields.iter().find(|(known, _)| known == name).map_or("", |(_, value)| value)
    }

    /// Every field with its value, in the order sent.
    pub(crate) fn all(&self) -> impl Iterator<Item = (&str, &str)> {
        self.fields.iter().map(|(name, value)| (name.as_str(), value.as_str()))
    }
}

/// What is refused, at the top of the form it is about.
pub(crate) fn refusals(refusals: &[Refusal]) -> Markup {
    html! {
        @if !refusals.is_empty() {
            section.refused role="alert" aria-labelledby="refused" {
                h2 id="refused" { "Not saved. Nothing typed is lost." }
                ul {
                    @for each in refusals {
                        li {
                            strong { (each.place) } ": found " bdi { (each.found) } "; expected " (each.expected) "; "
                            (each.to_do) "."
                        }
                    }
                }
            }
        }
    }
}

/// Fields that several forms have.
pub(crate) mod fields {
    use maud::{Markup, html};

    /// A number written by hand, with a point or a comma.
    pub(crate) fn number(name: &str, label: &str, value: &str) -> Markup {
        html! {
            p.field {
                label for=(name) { (label) }
                input id=(name) name=(name) value=(value) inputmode="decimal" maxlength="20" autocomplete="off";
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_the_secret_given_out_is_taken() {
        let secret = Secret::drawn();
        let known = secret.text();
        assert_eq!(known.len(), 4 * SECRET_BYTES);
        assert!(secret.is(&known));
        assert!(!secret.is("") && !secret.is(&known[1..]) && !secret.is(&format!("{known}0")));
        assert!(!secret.is(&format!("é{}", &known[2..])));
        assert!(!secret.is(&Secret::drawn().text()));
        assert!(!Secret(None).is("") && !Secret(None).is(&known));
        // Another mask each time, and no answer shows the secret itself.
        let again = secret.text();
        assert!(again != known && secret.is(&again));
        let plain: String = secret.0.unwrap().iter().map(|byte| format!("{byte:02x}")).collect();
        assert!(!known.contains(&plain) && !secret.is(&plain));
    }
}
