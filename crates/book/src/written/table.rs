//! One `[[entry]]` table: its values, and every fault in it with its line.

use std::cell::RefCell;
use std::collections::BTreeSet;

use breakdown::{JobCode, Version};
use jiff::civil::{Date, DateTime};
use practice::PersonId;
use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::error::Fault;

/// Where lines begin, to tell the line of a byte.
pub(super) struct Lines(Vec<usize>);

impl Lines {
    pub(super) fn of(text: &str) -> Lines {
        Lines(std::iter::once(0).chain(text.match_indices('\n').map(|(at, _)| at + 1)).collect())
    }

    /// Number of the line that holds the byte, counted from 1.
    pub(super) fn number(&self, byte: usize) -> usize {
        self.0.partition_point(|start| *start <= byte)
    }
}

/// A value with its line.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct At<T> {
    pub(super) value: T,
    pub(super) line: usize,
}

pub(super) struct EntryTable<'a> {
    number: usize,
    line: usize,
    what: Option<At<String>>,
    table: Option<&'a DeTable<'a>>,
    lines: &'a Lines,
    default_by: Option<&'a str>,
    asked: RefCell<BTreeSet<&'static str>>,
    faults: RefCell<Vec<(usize, Fault)>>,
    /// Set once the kind is known, so that a wrong kind is one fault and not one per key.
    kind_known: bool,
}

impl<'a> EntryTable<'a> {
    pub(super) fn new(
        number: usize,
        entry: &'a Spanned<DeValue<'a>>,
        lines: &'a Lines,
        default_by: Option<&'a str>,
    ) -> EntryTable<'a> {
        let line = lines.number(entry.span().start);
        let table = entry.get_ref().as_table();
        let made = EntryTable {
            number,
            line,
            what: None,
            table,
            lines,
            default_by,
            asked: RefCell::default(),
            faults: RefCell::default(),
            kind_known: false,
        };
        if table.is_none() {
            made.fault(
                line,
                "",
                entry.get_ref().type_str(),
                "a table that begins with [[entry]]",
                "look at docs/entries.md",
            );
        }
        EntryTable { what: made.optional_text("what"), ..made }
    }

    pub(super) fn place_of(number: usize, entry: &Spanned<DeValue<'_>>, lines: &Lines) -> String {
        format!("line {}: entry {number}", lines.number(entry.span().start))
    }

    /// What the entry says it is; a fault when it does not say.
    pub(super) fn what(&self) -> Option<At<String>> {
        if self.what.is_none()
            && self.table.is_some()
            && self.table.is_some_and(|table| table.get("what").is_none())
        {
            self.fault(
                self.line,
                "what",
                "nothing",
                "what happened, such as \"observed draw\"",
                "add a line what = \"...\"",
            );
        }
        self.what.clone()
    }

    pub(super) fn kind_is_known(&mut self) {
        self.kind_known = true;
    }

    /// Every fault, in the order of the lines; keys nobody asked for are faults too.
    pub(super) fn finish(self) -> Vec<Fault> {
        if let Some(table) = self.table.filter(|_| self.kind_known) {
            let asked = self.asked.borrow().clone();
            for (key, _) in table.iter().filter(|(key, _)| !asked.contains(key.get_ref().as_ref())) {
                let line = self.lines.number(key.span().start);
                let known = asked.iter().copied().collect::<Vec<_>>().join(", ");
                self.fault(
                    line,
                    "",
                    &format!("{:?}", key.get_ref()),
                    &format!("one of: {known}"),
                    "correct the word, or remove the line",
                );
            }
        }
        let mut faults = self.faults.into_inner();
        faults.sort_by_key(|(line, _)| *line);
        faults.into_iter().map(|(_, fault)| fault).collect()
    }

    pub(super) fn has_faults(&self) -> bool {
        !self.faults.borrow().is_empty()
    }

    /// Line on which the entry begins.
    pub(super) fn line(&self) -> usize {
        self.line
    }

    pub(super) fn fault(&self, line: usize, key: &str, found: &str, expected: &str, what_to_do: &str) {
        let what = self.what.as_ref().map(|what| format!(" ({})", what.value)).unwrap_or_default();
        let key = if key.is_empty() { String::new() } else { format!(", {key}") };
        let place = format!("line {line}: entry {}{what}{key}", self.number);
        let fault = Fault {
            place,
            found: found.to_owned(),
            expected: expected.to_owned(),
            what_to_do: what_to_do.to_owned(),
        };
        self.faults.borrow_mut().push((line, fault));
    }

    fn value(&self, key: &'static str) -> Option<(&'a DeValue<'a>, usize)> {
        self.asked.borrow_mut().insert(key);
        let value = self.table?.get(key)?;
        Some((value.get_ref(), self.lines.number(value.span().start)))
    }

    fn required<T>(&self, key: &'static str, value: Option<At<T>>, expected: &str) -> Option<At<T>> {
        // A value of the wrong type has been named already.
        if value.is_none() && self.table.is_some_and(|table| table.get(key).is_none()) {
            self.fault(self.line, key, "nothing", expected, &format!("add a line {key} = ..."));
        }
        value
    }

    fn wrong_type(&self, key: &str, line: usize, value: &DeValue<'_>, expected: &str) {
        let found = match value {
            DeValue::String(text) => format!("the text {text:?}"),
            DeValue::Integer(number) => format!("the number {number}"),
            DeValue::Boolean(flag) => flag.to_string(),
            DeValue::Datetime(when) => when.to_string(),
            other => other.type_str().to_owned(),
        };
        self.fault(line, key, &found, expected, "correct the value");
    }

    pub(super) fn optional_text(&self, key: &'static str) -> Option<At<String>> {
        let (value, line) = self.value(key)?;
        match value.as_str().map(str::trim) {
            Some(text) if !text.is_empty() => Some(At { value: text.to_owned(), line }),
            _ => {
                self.wrong_type(key, line, value, "a text in quotes");
                None
            }
        }
    }

    pub(super) fn text(&self, key: &'static str, expected: &str) -> Option<At<String>> {
        self.required(key, self.optional_text(key), expected)
    }

    pub(super) fn person(&self, key: &'static str) -> Option<At<PersonId>> {
        let text = self.text(key, "a staff identifier in quotes")?;
        Some(At { value: PersonId(text.value), line: text.line })
    }

    /// Who writes the entry: its own `by`, or the file's.
    pub(super) fn by(&self) -> Option<At<PersonId>> {
        if let Some(by) = self.optional_text("by") {
            return Some(At { value: PersonId(by.value), line: by.line });
        }
        match self.default_by {
            Some(by) => Some(At { value: PersonId(by.to_owned()), line: self.line }),
            None => {
                let expected = "who writes it, by staff identifier";
                self.required::<()>("by", None, expected);
                None
            }
        }
    }

    pub(super) fn job(&self) -> Option<At<JobCode>> {
        let text = self.text("job", "the job's short name, as its breakdown has it")?;
        Some(At { value: JobCode(text.value), line: text.line })
    }

    pub(super) fn whole(&self, key: &'static str, least: u32, most: u32) -> Option<At<u32>> {
        let (value, line) = self.value(key)?;
        let number = value
            .as_integer()
            .and_then(|number| u32::from_str_radix(number.as_str(), number.radix()).ok())
            .filter(|number| (least..=most).contains(number));
        if number.is_none() {
            self.wrong_type(key, line, value, &format!("a whole number from {least} to {most}"));
        }
        number.map(|value| At { value, line })
    }

    pub(super) fn decimal(&self, key: &'static str, least: f64, most: f64) -> Option<At<f64>> {
        let (value, line) = self.value(key)?;
        let number = match value {
            DeValue::Float(number) => number.as_str().parse::<f64>().ok(),
            DeValue::Integer(number) => number.as_str().parse::<f64>().ok().filter(|_| number.radix() == 10),
            _ => None,
        };
        let number = number.filter(|number| (least..=most).contains(number));
        if number.is_none() {
            self.wrong_type(key, line, value, &format!("a number from {least} to {most}"));
        }
        number.map(|value| At { value, line })
    }

    pub(super) fn version(&self) -> Option<At<Version>> {
        self.whole("version", 1, u32::MAX)
            .map(|number| At { value: Version(number.value), line: number.line })
    }

    pub(super) fn flag(&self, key: &'static str) -> bool {
        match self.value(key) {
            None => false,
            Some((DeValue::Boolean(flag), _)) => *flag,
            Some((other, line)) => {
                self.wrong_type(key, line, other, "true or false");
                false
            }
        }
    }

    pub(super) fn date(&self, key: &'static str) -> Option<At<Date>> {
        self.required(key, self.optional_date(key), "a date such as 2026-01-31")
    }

    fn optional_date(&self, key: &'static str) -> Option<At<Date>> {
        let (value, line) = self.value(key)?;
        let date = written(value).and_then(|text| text.parse::<Date>().ok().filter(|_| !text.contains('T')));
        if date.is_none() {
            self.wrong_type(key, line, value, "a date such as 2026-01-31");
        }
        date.map(|value| At { value, line })
    }

    /// When it happened: `at` with the time, or `on` with the day only, which counts as its first minute.
    pub(super) fn happened(&self) -> Option<At<DateTime>> {
        let on = self.optional_date("on").map(|on| At { value: on.value.at(0, 0, 0, 0), line: on.line });
        let at = self.value("at").and_then(|(value, line)| {
            let local = written(value).map(|text| text.replace(' ', "T"));
            let time = local.and_then(|text| text.parse::<DateTime>().ok().filter(|_| text.contains('T')));
            if time.is_none() {
                self.wrong_type("at", line, value, "the unit's local time, such as 2026-01-31T03:15");
            }
            time.map(|value| At { value, line })
        });
        let has = |key| self.table.is_some_and(|table| table.get(key).is_some());
        match (has("at"), has("on")) {
            (true, true) => {
                self.fault(
                    self.line,
                    "at",
                    "both `at` and `on`",
                    "one of them",
                    "keep `at` where the time is known, else `on`",
                );
                None
            }
            (true, false) => at,
            (false, true) => on,
            (false, false) => {
                self.fault(
                    self.line,
                    "at",
                    "nothing",
                    "when it happened",
                    "add a line at = 2026-01-31T03:15, or on = 2026-01-31 where the time is not known",
                );
                None
            }
        }
    }

    /// What the entry corrects: a number of the book, or a label of this file.
    pub(super) fn corrects(&self) -> Option<At<Reference>> {
        self.entry("corrects")
    }

    /// An entry by its number in the book, or by the label of one above.
    pub(super) fn entry(&self, key: &'static str) -> Option<At<Reference>> {
        let (value, line) = self.value(key)?;
        let value = match value {
            DeValue::Integer(number) => {
                number.as_str().parse().ok().filter(|seq| *seq > 0).map(Reference::Number)
            }
            DeValue::String(label) => Some(Reference::Label(label.trim().to_owned())),
            _ => None,
        };
        match value {
            Some(value) => Some(At { value, line }),
            None => {
                let expected = "the number of an entry of the book, or the label of an entry above";
                self.fault(
                    line,
                    key,
                    "something else",
                    expected,
                    "look the number up with `wardwright book show`",
                );
                None
            }
        }
    }

    /// A list of texts, each with its line; one text alone is a list of one.
    pub(super) fn list(&self, key: &'static str) -> Vec<At<String>> {
        let Some((value, line)) = self.value(key) else { return Vec::new() };
        let items: Vec<_> = match value {
            DeValue::Array(items) => {
                items.iter().map(|item| (item.get_ref(), self.lines.number(item.span().start))).collect()
            }
            one => vec![(one, line)],
        };
        let mut texts = Vec::new();
        for (item, line) in items {
            match item {
                DeValue::String(text) => texts.push(At { value: text.trim().to_owned(), line }),
                other => self.wrong_type(key, line, other, "items in quotes, such as [\"2.1\", \"3.2\"]"),
            }
        }
        texts
    }
}

/// A reference to an entry.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Reference {
    Number(u64),
    Label(String),
}

/// The words of a date or time, whether in quotes or not.
fn written(value: &DeValue<'_>) -> Option<String> {
    match value {
        DeValue::Datetime(when) if when.offset.is_none() => Some(when.to_string()),
        DeValue::String(text) => Some(text.trim().to_owned()),
        _ => None,
    }
}
