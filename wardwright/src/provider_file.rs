//! The settings of the sign-in provider, in `provider.toml` beside the record book.

use std::path::Path;

use openid::{OverHttp, Provider, Settings};
use serde::Deserialize;

use crate::message::Message;

/// Name of the file.
pub const PROVIDER: &str = "provider.toml";
const PAGE: &str = "docs/accounts.md";
/// Longest name that stands on the page to sign in on, in characters.
const LONGEST_NAME: usize = 60;

#[derive(Debug, Deserialize)]
#[serde(deny_unknown_fields)]
struct Stored {
    schema: u32,
    name: String,
    issuer: String,
    client: String,
    #[serde(default)]
    secret: Option<String>,
    address: String,
    #[serde(default = "yes")]
    ask_again: bool,
    #[serde(default = "yes")]
    sign_out_there: bool,
    #[serde(default)]
    passwords: Passwords,
    #[serde(default)]
    trusted: Option<String>,
}

fn yes() -> bool {
    true
}

/// Who may sign in with a password where there is a provider.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Passwords {
    /// Whoever has one.
    #[default]
    Everybody,
    /// Administrators alone, so that somebody gets in while the provider is down.
    Administrators,
}

/// A provider with the name people know it by.
pub struct Named {
    pub name: String,
    pub provider: Provider,
    /// Whether signing out here ends the session there.
    pub sign_out_there: bool,
    pub passwords: Passwords,
}

/// Reads the provider of a data folder; none where there is no file.
pub fn read(folder: &Path) -> Result<Option<Named>, Message> {
    let path = folder.join(PROVIDER);
    if !path.exists() {
        return Ok(None);
    }
    let place = path.display().to_string();
    let stored: Stored =
        crate::toml_file::read(&path, "a sign-in provider", PAGE).map_err(|mut message| {
            if message.found.contains("secret") {
                message.found =
                    "a line that cannot be read, not repeated here because it is about the secret".to_owned();
            }
            message
        })?;
    if stored.schema != 1 {
        return Err(Message::new(
            place,
            format!("schema = {}", stored.schema),
            "schema = 1",
            "use the version of wardwright that it was written for",
        ));
    }
    if stored.secret.is_some() {
        is_private(&path)?;
    }
    let name = stored.name.trim().to_owned();
    if name.is_empty() || name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
        return Err(Message::new(
            format!("{place}: name"),
            format!("{} characters", name.chars().count()),
            format!("1 to {LONGEST_NAME} characters: what people call it"),
            "correct the line",
        ));
    }
    let settings = Settings::new(
        &stored.issuer,
        &stored.client,
        stored.secret.as_deref(),
        &stored.address,
        stored.ask_again,
    )
    .map_err(|fault| {
        let text = fault.to_string();
        let (key, rest) = text.split_once(": found ").unwrap_or(("", &text));
        let (found, expected) = rest.split_once("; expected ").unwrap_or((rest, "settings that can be used"));
        Message::new(format!("{place}: {key}"), found, expected, format!("correct the line; {PAGE}"))
    })?;
    let trusted = match &stored.trusted {
        Some(file) => {
            let file = folder.join(file);
            let bytes = std::fs::read(&file).map_err(|error| {
                Message::new(
                    file.display().to_string(),
                    format!("cannot be read: {error}"),
                    "certificates in PEM, of whoever issued the provider's",
                    format!(
                        "correct “trusted” in {place}, or leave it out to trust what this machine trusts"
                    ),
                )
            })?;
            Some((file, bytes))
        }
        None => None,
    };
    let over_http = OverHttp::new(trusted.as_ref().map(|(_, bytes)| bytes.as_slice())).map_err(|fault| {
        Message::new(
            trusted.as_ref().map_or(place.clone(), |(file, _)| file.display().to_string()),
            fault,
            "certificates in PEM",
            "give the certificate of whoever issued the provider's",
        )
    })?;
    Ok(Some(Named {
        name,
        provider: Provider::new(settings, Box::new(over_http)),
        sign_out_there: stored.sign_out_there,
        passwords: stored.passwords,
    }))
}

/// A secret that others can read is no secret.
fn is_private(path: &Path) -> Result<(), Message> {
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt as _;
        let mode = std::fs::metadata(path).map(|metadata| metadata.permissions().mode()).unwrap_or_default();
        if mode & 0o077 != 0 {
            return Err(Message::new(
                path.display().to_string(),
                format!("a secret that others on this machine may read (mode {:o})", mode & 0o777),
                "a file that only its owner may read (mode 600)",
                format!(
                    "chmod 600 {}; if others had a look, ask the provider for another secret",
                    path.display()
                ),
            ));
        }
    }
    #[cfg(not(unix))]
    let _ = path;
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    const GOOD: &str = "schema = 1\nname = \"Ward sign-in\"\nissuer = \"https://sign-in.example\"\nclient = \"draws\"\nsecret = \"s3cret\"\naddress = \"https://draws.example\"\n";

    fn written(text: &str, mode: u32) -> (tempfile::TempDir, Result<Option<Named>, Message>) {
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(PROVIDER);
        std::fs::write(&path, text).unwrap();
        #[cfg(unix)]
        {
            use std::os::unix::fs::PermissionsExt as _;
            std::fs::set_permissions(&path, std::fs::Permissions::from_mode(mode)).unwrap();
        }
        let read = read(folder.path());
        (folder, read)
    }

    #[test]
    fn settings_are_read_and_faults_are_named() {
        let (_folder, read) = written(GOOD, 0o600);
        let named = read.unwrap().unwrap();
        assert_eq!(named.name, "Ward sign-in");
        assert!(
            named.provider.settings().ask_again(),
            "devices are shared: asked again unless told otherwise"
        );
        assert!(named.sign_out_there && named.passwords == Passwords::Everybody);
        let (_folder, read) =
            written(&format!("{GOOD}passwords = \"administrators\"\nsign_out_there = false\n"), 0o600);
        let named = read.unwrap().unwrap();
        assert!(!named.sign_out_there && named.passwords == Passwords::Administrators);
        for (change, word) in [
            (("schema = 1", "schema = 2"), "schema = 1"),
            (("https://sign-in.example", "http://sign-in.example"), "provider.toml: issuer"),
            (("https://draws.example", "https://draws.example/pages"), "provider.toml: address"),
            (("client = \"draws\"", "client = \"\""), "provider.toml: client"),
            (("client =", "klient ="), "provider.toml:4"),
            (("schema = 1", "schema = 1\npasswords = \"nobody\""), "provider.toml:2"),
            (("\"s3cret\"", "s3cret"), "provider.toml:5"),
            (("name = \"Ward sign-in\"", "name = \" \""), "provider.toml: name"),
            (("schema = 1", "schema = 1\ntrusted = \"nowhere.pem\""), "nowhere.pem"),
        ] {
            let (_folder, read) = written(&GOOD.replace(change.0, change.1), 0o600);
            let message = read.err().unwrap().to_string();
            assert!(message.contains(word), "{change:?}: {message}");
            assert!(!message.contains("s3cret"), "{message}");
        }
    }

    #[cfg(unix)]
    #[test]
    fn a_secret_that_others_can_read_is_refused() {
        for mode in [0o644, 0o640, 0o604] {
            let message = written(GOOD, mode).1.err().unwrap();
            assert!(message.to_do.contains("chmod 600"), "{message}");
        }
        let public = GOOD.replace("secret = \"s3cret\"\n", "");
        assert!(written(&public, 0o644).1.is_ok(), "without a secret there is nothing to hide");
    }
}
