//! One way to read a small TOML file that a unit owns, with the line named when it cannot be read.

use std::path::Path;

use serde::de::DeserializeOwned;

use crate::message::Message;

/// Larger than any file a person writes by hand; a laboratory file given by mistake is not read into memory.
const LARGEST_BYTES: u64 = 1 << 20;

/// Reads a file of the form that a page of the docs describes. `what` names it with its article: "a policy".
pub fn read<T: DeserializeOwned>(path: &Path, what: &str, page: &str) -> Result<T, Message> {
    let place = path.display().to_string();
    let expected = format!("{what} as {page} describes it");
    let cannot_read = |error: std::io::Error| {
        Message::new(
            place.clone(),
            format!("the file could not be read: {error}"),
            expected.clone(),
            "check the name and the folder, and that you may read the file",
        )
    };
    if std::fs::metadata(path).map_err(cannot_read)?.len() > LARGEST_BYTES {
        let found = format!("a file of more than {} MB", LARGEST_BYTES >> 20);
        return Err(Message::new(place, found, expected, "give the file that was meant"));
    }
    let bytes = std::fs::read(path).map_err(cannot_read)?;
    let text = String::from_utf8(bytes).map_err(|_| {
        Message::new(place.clone(), "text that is not UTF-8", expected.clone(), "save the file as UTF-8")
    })?;
    parse(text.trim_start_matches('\u{feff}'), &place, expected)
}

fn parse<T: DeserializeOwned>(text: &str, place: &str, expected: String) -> Result<T, Message> {
    toml::from_str(text).map_err(|error: toml::de::Error| {
        let found = in_plain_words(error.message());
        let line =
            error.span().and_then(|span| text.get(..span.start)).map(|before| before.matches('\n').count());
        match line {
            // A missing key has no line of its own: the table it belongs to is named by its first line.
            Some(line) if found.starts_with("missing field") => Message::new(
                place,
                format!("{found}, in the table that begins at line {}", line + 1),
                expected,
                "add the key: nothing is filled in silently",
            ),
            Some(line) => {
                let written = text.lines().nth(line).unwrap_or_default().trim();
                let found = format!("{written:?}: {found}");
                Message::new(format!("{place}:{}", line + 1), found, expected, "correct the line named above")
            }
            None => Message::new(place, found, expected, "correct the file"),
        }
    })
}

/// The reader's message without the names that only programmers know.
fn in_plain_words(message: &str) -> String {
    let mut words = message.replace('\n', "; ");
    for (type_name, plain) in [
        ("expected u16", "expected a whole number from 0 to 65535"),
        ("expected u32", "expected a whole number, 0 or more"),
        ("expected f64", "expected a number"),
        ("expected a boolean", "expected true or false"),
    ] {
        words = words.replace(type_name, plain);
    }
    words
}

#[cfg(test)]
mod tests {
    use super::*;

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct File {
        #[serde(rename = "table")]
        _table: Table,
    }

    #[derive(Debug, serde::Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Table {
        #[serde(rename = "count")]
        _count: u16,
    }

    #[test]
    fn a_fault_is_named_with_its_line() {
        let fault = |text| parse::<File>(text, "f.toml", "a file".to_owned()).unwrap_err();
        let word = fault("[table]\ncount = \"two\"  # why\n");
        assert_eq!(word.place, "f.toml:2");
        assert!(word.found.contains("count =") && word.found.contains("a whole number"), "{word}");
        assert_eq!(fault("[table]\ncount = 1\ncuont = 1\n").place, "f.toml:3");
        assert_eq!(fault("[table]\ncount = 70000\n").place, "f.toml:2");
        assert_eq!(fault("[table\n").place, "f.toml:1");
        let missing = fault("\n[table]\n");
        assert_eq!(missing.place, "f.toml");
        assert_eq!(missing.found, "missing field `count`, in the table that begins at line 2");
        assert!(parse::<File>("[table]\ncount = 1\n", "f.toml", String::new()).is_ok());
    }
}
