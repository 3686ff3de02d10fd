//! `docs/methods.md` is built from the doc comments of this room; this test fails when the page is stale.
//!
//! To write it anew: `WARDWRIGHT_WRITE_METHODS=1 cargo nextest run -p wardwright-stats --test methods_page`.

use std::collections::BTreeSet;
use std::env;
use std::fmt::Write as _;
use std::fs;
use std::path::{Path, PathBuf};

/// The sections of a method, in their order, and the word the page prints.
const SECTIONS: [&str; 5] = ["Formula", "Range", "Ends", "Source", "Check"];

/// Public functions that compute no figure of their own, so they have no entry: they pass a request on to a
/// method that has one, or only put data in another form. `dist` holds the tools of the methods.
const NO_ENTRY: [&str; 3] = ["interval", "chosen_chart", "gaps_between_events"];

const INTRODUCTION: &str = "# Methods

Every figure a page or paper shows is computed by one of these methods. The entry says how, in what range, what happens
at the ends, who published it, and what outside this project the answer is checked against.

This page is built from the doc comments in `crates/stats/src` and, for release, `crates/practice/src`; do not edit it by hand. References computed with numpy,
scipy, statsmodels and krippendorff come from `tests/reference`. Training support, not a medical device: local policy
and the laboratory's instructions come first.
";

struct Method {
    name: String,
    summary: String,
    sections: Vec<(String, String)>,
    has_example: bool,
}

fn source_folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("src")
}

fn read(path: &Path) -> String {
    fs::read_to_string(path).unwrap_or_else(|error| panic!("{}: {error}", path.display()))
}

/// Modules declared in a file, in reading order.
fn modules(text: &str) -> Vec<String> {
    text.lines()
        .filter_map(|line| line.strip_prefix("pub mod ").or_else(|| line.strip_prefix("mod ")))
        .filter_map(|rest| rest.strip_suffix(';'))
        .map(str::to_owned)
        .collect()
}

/// The sources of a module in reading order: its own file first, then its parts.
fn sources(module: &str) -> Vec<String> {
    let folder = source_folder().join(module);
    let file = source_folder().join(format!("{module}.rs"));
    if file.exists() {
        return vec![read(&file)];
    }
    let root = read(&folder.join("mod.rs"));
    let parts: Vec<String> =
        modules(&root).iter().map(|part| read(&folder.join(format!("{part}.rs")))).collect();
    [vec![root], parts].concat()
}

/// Every public function of a source with its doc comment.
fn public_functions(source: &str) -> Vec<(String, Vec<String>)> {
    // Test modules stand last in a file.
    let source = source.split("#[cfg(test)]").next().unwrap_or(source);
    let mut doc: Vec<String> = Vec::new();
    let mut found = Vec::new();
    for line in source.lines().map(str::trim_start) {
        if let Some(text) = line.strip_prefix("///") {
            doc.push(text.strip_prefix(' ').unwrap_or(text).to_owned());
        } else if line.starts_with("#[") {
            // An attribute stands between the doc comment and the function.
        } else {
            let after = line.strip_prefix("pub fn ").or_else(|| line.strip_prefix("pub const fn "));
            if let Some(rest) = after {
                let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                found.push((name, doc.clone()));
            }
            doc.clear();
        }
    }
    found
}

fn method(name: String, doc: &[String]) -> Option<Method> {
    if !doc.iter().any(|line| line == "# Formula") {
        return None;
    }
    let mut parts: Vec<(String, Vec<&str>)> = vec![(String::new(), Vec::new())];
    for line in doc {
        match line.strip_prefix("# ") {
            // A line inside a code block can begin the same way.
            Some(title) if SECTIONS.contains(&title) || title == "Example" => {
                parts.push((title.to_owned(), Vec::new()));
            }
            _ => parts.last_mut().expect("there is always one").1.push(line),
        }
    }
    let has_example = parts.last().is_some_and(|(title, body)| title == "Example" && body.len() > 2);
    let text = |body: &[&str]| body.join("\n").trim().to_owned();
    let summary = text(&parts[0].1);
    let sections = parts[1..]
        .iter()
        .filter(|(title, _)| title != "Example")
        .map(|(title, body)| (title.clone(), text(body)))
        .collect();
    Some(Method { name, summary, sections, has_example })
}

/// The chapters of the page: each module's title sentence and its methods.
fn chapters() -> Vec<(String, String, Vec<Method>)> {
    modules(&read(&source_folder().join("lib.rs")))
        .into_iter()
        .filter_map(|module| {
            let sources = sources(&module);
            let title: Vec<&str> = sources[0]
                .lines()
                .map_while(|line| line.strip_prefix("//!"))
                .map(str::trim)
                .take_while(|line| !line.is_empty())
                .collect();
            let methods: Vec<Method> = sources
                .iter()
                .flat_map(|source| public_functions(source))
                .filter_map(|(name, doc)| method(name, &doc))
                .collect();
            (!methods.is_empty()).then(|| (module, title.join(" "), methods))
        })
        .chain([release()])
        .collect()
}

/// Files of `practice` whose methods stand on the page too: what a release rule does, and what watched draws say.
const PRACTICE: [&str; 5] = ["error_rates", "shortest", "after_release", "confidence", "watchers"];

/// The chapter on release: its functions with a formula, from the room that knows what a draw is.
fn release() -> (String, String, Vec<Method>) {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("../practice/src");
    let methods = PRACTICE
        .iter()
        .map(|file| read(&folder.join(format!("{file}.rs"))))
        .flat_map(|source| public_functions(&source))
        .filter_map(|(name, doc)| method(name, &doc))
        .collect();
    let title =
        "What a release rule does, and what watched draws say of a person, a unit and their watchers.";
    ("release".to_owned(), title.to_owned(), methods)
}

/// Links of the doc comments become links of the page where they name a method, and plain code elsewhere.
fn linked(text: &str, names: &BTreeSet<String>) -> String {
    let mut out = String::new();
    let mut rest = text;
    while let Some(start) = rest.find("[`") {
        let Some(length) = rest[start..].find("`]") else { break };
        let name = &rest[start + 2..start + length];
        out.push_str(&rest[..start]);
        if names.contains(name) {
            let _ = write!(out, "[`{name}`](#{name})");
        } else {
            let _ = write!(out, "`{name}`");
        }
        rest = &rest[start + length + 2..];
    }
    out.push_str(rest);
    out
}

/// A code fence of a doc comment says `text`, which the page need not.
fn paragraph(text: &str) -> String {
    text.replace("```text", "```")
}

fn page() -> String {
    let chapters = chapters();
    let names: BTreeSet<String> = chapters
        .iter()
        .flat_map(|(_, _, methods)| methods.iter().map(|method| method.name.clone()))
        .collect();
    let mut page = INTRODUCTION.to_owned();
    for (module, _, methods) in &chapters {
        let entries: Vec<String> = methods.iter().map(|method| format!("[{0}](#{0})", method.name)).collect();
        let _ = write!(page, "\n* {module}: {}", entries.join(", "));
    }
    page.push('\n');
    for (module, title, methods) in &chapters {
        let _ = write!(page, "\n## {module}\n\n{}\n", linked(title, &names));
        for method in methods {
            let _ = write!(page, "\n### {}\n\n{}\n", method.name, linked(&method.summary, &names));
            for (title, body) in &method.sections {
                let body = paragraph(&linked(body, &names));
                // A formula set apart begins on its own line.
                let gap = if body.starts_with("```") { "\n\n" } else { " " };
                let _ = write!(page, "\n**{title}.**{gap}{body}\n");
            }
        }
    }
    page
}

#[test]
fn the_page_is_what_the_doc_comments_say() {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("../../docs/methods.md");
    let wanted = page();
    if env::var_os("WARDWRIGHT_WRITE_METHODS").is_some() {
        fs::write(&path, &wanted).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
    }
    let found = fs::read_to_string(&path).unwrap_or_default();
    if found != wanted {
        let line = found.lines().zip(wanted.lines()).take_while(|(found, wanted)| found == wanted).count();
        panic!(
            "docs/methods.md is stale from line {} on; write it anew with WARDWRIGHT_WRITE_METHODS=1 (see the head of \
             this test)",
            line + 1
        );
    }
}

#[test]
fn every_method_says_all_of_it() {
    let mut names = BTreeSet::new();
    let mut faults = Vec::new();
    for (module, _, methods) in chapters() {
        for method in methods {
            let titles: Vec<&str> = method.sections.iter().map(|(title, _)| title.as_str()).collect();
            if titles != SECTIONS {
                faults.push(format!("{module}::{}: sections {titles:?}, wanted {SECTIONS:?}", method.name));
            }
            if method.summary.is_empty() || method.sections.iter().any(|(_, body)| body.is_empty()) {
                faults.push(format!("{module}::{}: something is empty", method.name));
            }
            let marks = ["+ ", "- ", "> ", "= "];
            for line in method.sections.iter().flat_map(|(_, body)| body.lines()) {
                // Broken there, a formula turns into a list, a quotation or a heading.
                if marks.iter().any(|mark| line.starts_with(mark)) {
                    faults.push(format!("{module}::{}: a line begins with a mark: {line}", method.name));
                }
            }
            if !method.has_example {
                faults.push(format!("{module}::{}: no example", method.name));
            }
            if !names.insert(method.name.clone()) {
                faults.push(format!(
                    "{module}::{}: the name is taken, so the page cannot link to it",
                    method.name
                ));
            }
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
    assert!(names.len() > 30, "only {} methods found: has the layout of the sources changed?", names.len());
}

#[test]
fn every_public_function_has_an_entry() {
    let mut missing = Vec::new();
    for module in modules(&read(&source_folder().join("lib.rs"))) {
        if module == "dist" {
            continue;
        }
        for source in sources(&module) {
            // Methods of a type are judged by their sections alone: most of them only read a field.
            let free: Vec<&str> = source.lines().filter(|line| line.starts_with("pub fn ")).collect();
            for (name, doc) in public_functions(&source) {
                let is_free = free.iter().any(|line| {
                    let rest = &line["pub fn ".len()..];
                    rest.strip_prefix(name.as_str()).is_some_and(|rest| rest.starts_with(['(', '<']))
                });
                if is_free && !NO_ENTRY.contains(&name.as_str()) && method(name.clone(), &doc).is_none() {
                    missing.push(format!("{module}::{name}"));
                }
            }
        }
    }
    assert!(missing.is_empty(), "no `# Formula` in the doc comment of {}", missing.join(", "));
}

#[test]
fn a_doc_comment_is_read_as_written() {
    let source = "\
/// First line.
///
/// # Formula
///
/// a + b
///
/// # Example
///
/// ```
/// # hidden
/// assert!(true);
/// ```
#[must_use]
pub fn sum(a: f64) {}
/// No sections.
pub fn other() {}
";
    let functions = public_functions(source);
    assert_eq!(functions.len(), 2);
    let sum = method(functions[0].0.clone(), &functions[0].1).expect("it has a formula");
    assert_eq!((sum.name.as_str(), sum.summary.as_str(), sum.has_example), ("sum", "First line.", true));
    assert_eq!(sum.sections, [("Formula".to_owned(), "a + b".to_owned())]);
    assert!(method(functions[1].0.clone(), &functions[1].1).is_none());
    let names = BTreeSet::from(["sum".to_owned()]);
    assert_eq!(linked("see [`sum`] and [`Other`].", &names), "see [`sum`](#sum) and `Other`.");
}
