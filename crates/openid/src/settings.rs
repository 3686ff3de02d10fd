use std::fmt;

/// Longest text in the settings, in bytes.
pub const LONGEST_TEXT: usize = 500;

/// What shows who somebody is, and is not shown to anybody else: what the provider gave the program, and ID tokens.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    pub(crate) fn of(text: String) -> Secret {
        Secret(text)
    }

    /// The secret as text.
    pub fn text(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(not shown)")
    }
}

/// What the unit and the provider agreed on.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Settings {
    issuer: String,
    client: String,
    secret: Option<Secret>,
    address: String,
    ask_again: bool,
}

/// Why settings cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
pub enum SettingsFault {
    /// A text is empty, too long or holds signs that cannot stand there.
    #[error("{0}: found {1:?}; expected 1 to {LONGEST_TEXT} printable signs without a space")]
    Text(&'static str, String),
    /// An address that would carry a secret in the clear.
    #[error(
        "{0}: found {1:?}; expected an address that begins with https:// and has no ?, # or user name \
         (http:// only for this machine, such as http://127.0.0.1:8437)"
    )]
    Address(&'static str, String),
}

impl Settings {
    /// Settings, once they can be used. `address` is where these pages are reached, `ask_again` whether the provider is to
    /// ask for the password even of somebody it knows from before.
    pub fn new(
        issuer: &str,
        client: &str,
        secret: Option<&str>,
        address: &str,
        ask_again: bool,
    ) -> Result<Settings, SettingsFault> {
        let text = |place: &'static str, text: &str| {
            let fits = (1..=LONGEST_TEXT).contains(&text.len()) && text.bytes().all(|b| b.is_ascii_graphic());
            if fits { Ok(text.to_owned()) } else { Err(SettingsFault::Text(place, start(text))) }
        };
        if !is_safe_address(issuer) || issuer.contains(['?', '#']) {
            return Err(SettingsFault::Address("issuer", start(issuer)));
        }
        let bare = address.strip_suffix('/').unwrap_or(address);
        if !is_safe_address(bare) || after_scheme(bare).is_none_or(|rest| rest.contains(['/', '?', '#'])) {
            return Err(SettingsFault::Address("address", start(address)));
        }
        // A secret that is not shown in a message: its place is enough.
        let secret = secret
            .map(|secret| {
                let fits = (1..=LONGEST_TEXT).contains(&secret.len())
                    && secret.bytes().all(|byte| byte.is_ascii_graphic() || byte == b' ');
                if fits {
                    Ok(Secret(secret.to_owned()))
                } else {
                    Err(SettingsFault::Text("secret", "a text that cannot be a secret".to_owned()))
                }
            })
            .transpose()?;
        Ok(Settings {
            issuer: text("issuer", issuer)?,
            client: text("client", client)?,
            secret,
            address: bare.to_owned(),
            ask_again,
        })
    }

    /// Who the provider is, letter for letter.
    pub fn issuer(&self) -> &str {
        &self.issuer
    }

    /// Who these pages are to the provider.
    pub fn client(&self) -> &str {
        &self.client
    }

    /// What shows it, where the provider gave something.
    pub fn secret(&self) -> Option<&Secret> {
        self.secret.as_ref()
    }

    /// Where these pages are reached.
    pub fn address(&self) -> &str {
        &self.address
    }

    /// Where the provider sends people back to: this is what is registered with it.
    pub fn back(&self) -> String {
        format!("{}/sign-in/back", self.address)
    }

    /// Where the provider sends people to once it has ended their session: this too is registered with it.
    pub fn after_sign_out(&self) -> String {
        format!("{}/sign-in", self.address)
    }

    /// True where the provider asks for the password each time, because devices are shared.
    pub fn ask_again(&self) -> bool {
        self.ask_again
    }

    /// Where the provider's description lies (Discovery 1.0, section 4).
    pub fn description(&self) -> String {
        format!("{}/.well-known/openid-configuration", self.issuer.strip_suffix('/').unwrap_or(&self.issuer))
    }
}

fn start(text: &str) -> String {
    text.chars().take(80).collect()
}

fn after_scheme(address: &str) -> Option<&str> {
    address.strip_prefix("https://").or_else(|| address.strip_prefix("http://"))
}

/// True for `https`, and for `http` to this machine itself.
pub(crate) fn is_safe_address(address: &str) -> bool {
    let Some(rest) = after_scheme(address) else { return false };
    let host_and_port = rest.split(['/', '?', '#']).next().unwrap_or_default();
    if host_and_port.is_empty()
        || host_and_port.contains('@')
        || !address.bytes().all(|byte| byte.is_ascii_graphic())
        || address.contains('\\')
    {
        return false;
    }
    address.starts_with("https://") || is_this_machine(host_and_port)
}

/// True for loopback addresses and `localhost`, with or without a port.
pub(crate) fn is_this_machine(host_and_port: &str) -> bool {
    let host = match host_and_port.strip_prefix('[') {
        Some(rest) => rest.split(']').next().unwrap_or_default(),
        None => host_and_port.split(':').next().unwrap_or_default(),
    };
    host.eq_ignore_ascii_case("localhost")
        || host.parse::<std::net::IpAddr>().is_ok_and(|address| address.is_loopback())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn settings_are_looked_over() {
        let new = |issuer, client, secret, address| Settings::new(issuer, client, secret, address, true);
        let good =
            new("https://sign-in.example/ward/", "draws", Some("s3 cret"), "https://draws.example/").unwrap();
        assert_eq!(good.description(), "https://sign-in.example/ward/.well-known/openid-configuration");
        assert_eq!(good.back(), "https://draws.example/sign-in/back");
        assert!(!format!("{good:?}").contains("s3 cret"), "a secret does not get into a log");
        assert!(new("http://127.0.0.1:9000", "draws", None, "http://localhost:8437").is_ok());
        assert!(new("http://[::1]:9000", "draws", None, "http://[::1]:8437").is_ok());
        for bad in [
            "",
            "sign-in.example",
            "http://sign-in.example",
            "http://127.0.0.1.example",
            "https://",
            "https://user@sign-in.example",
            "https://sign-in.example?x=1",
            "https://sign-in.example#x",
            "https://sign-in.example/a b",
            "https:\\\\sign-in.example",
            "ftp://sign-in.example",
        ] {
            assert!(new(bad, "draws", None, "https://draws.example").is_err(), "{bad}");
        }
        for bad in ["https://draws.example/pages", "http://draws.example", "draws.example", ""] {
            let fault = new("https://sign-in.example", "draws", None, bad).unwrap_err();
            assert!(fault.to_string().starts_with("address: "), "{fault}");
        }
        for bad in ["", "two words", "caf\u{e9}", "\u{202e}draws"] {
            assert!(new("https://sign-in.example", bad, None, "https://draws.example").is_err(), "{bad}");
        }
        let fault = new("https://sign-in.example", "draws", Some("line\nbreak"), "https://draws.example")
            .unwrap_err();
        assert!(!fault.to_string().contains("break"), "{fault}");
    }
}
