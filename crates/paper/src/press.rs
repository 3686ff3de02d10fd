//! The typesetter with everything it may see: five templates and ten font files, all part of the program.

use std::sync::LazyLock;

use typst::diag::{FileError, FileResult, SourceDiagnostic};
use typst::foundations::{Bytes, Datetime, Dict, Duration, Smart};
use typst::syntax::{DiagSpan, FileId, RootedPath, Source, VirtualPath, VirtualRoot};
use typst::text::{Font, FontBook};
use typst::utils::LazyHash;
use typst::{Feature, Library, LibraryExt, World, WorldExt};
use typst_pdf::{PdfOptions, PdfStandard, PdfStandards};

use crate::error::{PaperError, PaperName};

/// The files a template can name.
const TEMPLATES: [(&str, &str); 5] = [
    ("common.typ", include_str!("../templates/common.typ")),
    ("card.typ", include_str!("../templates/card.typ")),
    ("sheet.typ", include_str!("../templates/sheet.typ")),
    ("record.typ", include_str!("../templates/record.typ")),
    ("report.typ", include_str!("../templates/report.typ")),
];

impl PaperName {
    fn template(self) -> &'static str {
        match self {
            Self::PocketCard => "card.typ",
            Self::ObservationSheet => "sheet.typ",
            Self::PersonRecord => "record.typ",
            Self::MonthReport => "report.typ",
        }
    }
}

/// Sets a paper from its facts.
pub(crate) fn print(paper: PaperName, facts: Dict) -> Result<Vec<u8>, PaperError> {
    let failed = |messages: Vec<String>| PaperError::Typesetting { paper, messages };
    let press = Press::new(paper, facts).ok_or_else(|| failed(vec!["a template is missing".to_owned()]))?;
    let said =
        |diagnostics: &[SourceDiagnostic]| failed(diagnostics.iter().map(|d| press.message(d)).collect());
    let document = typst::compile(&press).output.map_err(|diagnostics| said(&diagnostics))?;
    let standards = PdfStandards::new(&[PdfStandard::V_1_7, PdfStandard::Ua_1])
        .map_err(|error| failed(vec![error.message().to_string()]))?;
    let creator = Smart::Custom(Some("Wardwright".to_owned()));
    let options = PdfOptions { standards, creator, ..PdfOptions::default() };
    let bytes = typst_pdf::pdf(&document, &options).map_err(|diagnostics| said(&diagnostics))?;
    // Papers are made now and then by a program that runs for weeks: what the typesetter remembers is let go.
    typst::comemo::evict(0);
    Ok(bytes)
}

/// Text that the fonts hold, with numbers kept beside their units and places to break in words too long for a
/// column.
pub(crate) fn printable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    let mut run = 0;
    for character in with_units_kept(&drawable(text)).chars() {
        run = if character.is_whitespace() || character == '-' { 0 } else { run + 1 };
        if run > LONGEST_RUN && run % 8 == 0 {
            out.push('\u{200B}');
        }
        out.push(character);
    }
    out
}

/// The space between a number and its unit becomes one at which no line is broken.
fn with_units_kept(text: &str) -> String {
    const UNITS: [&str; 9] = ["mL", "s", "min", "h", "%", "mm", "cm", "kg", "g"];
    let mut out = String::with_capacity(text.len());
    let mut after_number = false;
    for (index, word) in text.split(' ').enumerate() {
        let bare = word.trim_end_matches([',', ';', '.', ':', ')']);
        if index > 0 {
            out.push(if after_number && UNITS.contains(&bare) { '\u{a0}' } else { ' ' });
        }
        after_number = word.ends_with(|last: char| last.is_ascii_digit());
        out.push_str(word);
    }
    out
}

/// Text with every character either in one of the fonts or written as its code point. Marks that would turn the
/// direction of the text around them are written out too.
pub(crate) fn drawable(text: &str) -> String {
    let mut out = String::with_capacity(text.len());
    for character in text.chars() {
        match character {
            '\n' | '\r' | '\t' | '\u{2028}' | '\u{2029}' => out.push(' '),
            // Joiners, selectors and soft breaks change how their neighbours are drawn and have no shape themselves.
            '\u{200B}'..='\u{200F}' | '\u{FE00}'..='\u{FE0F}' | '\u{AD}' | '\u{2060}' | '\u{FEFF}' => {}
            '\u{202A}'..='\u{202E}' | '\u{2066}'..='\u{2069}' => out.push_str(&code_point(character)),
            control if control.is_control() => out.push_str(&code_point(control)),
            _ if FONTS.iter().any(|font| font.info().coverage.contains(u32::from(character))) => {
                out.push(character);
            }
            _ => out.push_str(&code_point(character)),
        }
    }
    out
}

/// The longest word in a dictionary of English fits; anything longer is broken where the column ends.
const LONGEST_RUN: usize = 30;

fn code_point(character: char) -> String {
    format!("‹U+{:04X}›", u32::from(character))
}

/// Text faces and a monospaced face with a wide range of scripts; mathematics is not set here.
static FONTS: LazyLock<Vec<Font>> = LazyLock::new(|| {
    let fonts = typst_assets::fonts().flat_map(|data| Font::iter(Bytes::new(data)));
    fonts.filter(|font| FAMILIES.contains(&font.info().family.as_str())).collect()
});

const FAMILIES: [&str; 2] = ["Libertinus Serif", "DejaVu Sans Mono"];

static BOOK: LazyLock<LazyHash<FontBook>> =
    LazyLock::new(|| LazyHash::new(FontBook::from_fonts(FONTS.iter())));

/// What the typesetter can see of the world.
struct Press {
    library: LazyHash<Library>,
    sources: Vec<Source>,
    main: FileId,
}

impl Press {
    fn new(paper: PaperName, facts: Dict) -> Option<Press> {
        let features = [Feature::A11yExtras].into_iter().collect();
        let library = Library::builder().with_inputs(facts).with_features(features).build();
        let source = |(name, text): (&str, &str)| {
            let path = RootedPath::new(VirtualRoot::Project, VirtualPath::new(name).ok()?);
            Some(Source::new(path.intern(), text.to_owned()))
        };
        let sources = TEMPLATES.into_iter().map(source).collect::<Option<Vec<Source>>>()?;
        let place = TEMPLATES.iter().position(|(name, _)| *name == paper.template())?;
        let main = sources.get(place)?.id();
        Some(Press { library: LazyHash::new(library), sources, main })
    }

    /// A diagnostic in one line, with its place in the template.
    fn message(&self, diagnostic: &SourceDiagnostic) -> String {
        let mut text = diagnostic.message.to_string();
        for hint in &diagnostic.hints {
            text.push_str(&format!(" ({})", hint.v));
        }
        match self.place_of(diagnostic.span) {
            Some(place) => format!("{place}: {text}"),
            None => text,
        }
    }

    fn place_of(&self, span: DiagSpan) -> Option<String> {
        let source = self.source(span.id()?).ok()?;
        let line = source.lines().byte_to_line(self.range(span)?.start)? + 1;
        Some(format!("{} line {line}", source.id().get().vpath().get_without_slash()))
    }
}

impl World for Press {
    fn library(&self) -> &LazyHash<Library> {
        &self.library
    }

    fn book(&self) -> &LazyHash<FontBook> {
        &BOOK
    }

    fn main(&self) -> FileId {
        self.main
    }

    fn source(&self, id: FileId) -> FileResult<Source> {
        let found = self.sources.iter().find(|source| source.id() == id);
        found.cloned().ok_or_else(|| FileError::NotFound(id.get().vpath().get_without_slash().into()))
    }

    fn file(&self, id: FileId) -> FileResult<Bytes> {
        Ok(Bytes::from_string(self.source(id)?))
    }

    fn font(&self, index: usize) -> Option<Font> {
        FONTS.get(index).cloned()
    }

    // A paper carries the dates it was given, never the day on which it was printed.
    fn today(&self, _offset: Option<Duration>) -> Option<Datetime> {
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn fonts_are_found() {
        assert_eq!(FONTS.len(), 10, "six faces of the serif and four of the monospaced font");
    }

    #[test]
    fn nothing_vanishes_from_a_text() {
        let rows = [
            ("Zoë Ångström-Łuczak", "Zoë Ångström-Łuczak"),
            ("Ελένη Жукова", "Ελένη Жукова"),
            ("李", "‹U+674E›"),
            ("🩸", "‹U+1FA78›"),
            ("a\u{202E}b", "a‹U+202E›b"),
            ("one\ntwo\tthree", "one two three"),
            ("\u{0}", "‹U+0000›"),
            ("8 to 10 mL, at least 30 s", "8 to 10\u{a0}mL, at least 30\u{a0}s"),
            ("  two  spaces ", "  two  spaces "),
        ];
        for (input, output) in rows {
            assert_eq!(printable(input), output);
        }
    }

    #[test]
    fn a_word_too_long_for_a_column_can_be_broken() {
        let long = "x".repeat(70);
        assert!(printable(&long).contains('\u{200B}'));
        assert_eq!(printable(&long).replace('\u{200B}', ""), long);
        assert!(!printable(&"word ".repeat(30)).contains('\u{200B}'));
    }
}
