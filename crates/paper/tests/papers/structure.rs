use hayro_syntax::Pdf;
use hayro_syntax::object::{Array, Dict, Name, Object, Stream, String as Text};
use paper::{PaperSize, Printing, month_report, observation_sheet, person_record, pocket_card};

use crate::{larkfield, printing, shipped};

fn every_paper() -> Vec<(&'static str, Vec<u8>)> {
    let (a4, unit, as_of) = (printing(), larkfield::UNIT, larkfield::as_of());
    vec![
        ("Pocket card: Blood culture from a vein", pocket_card(&larkfield::vein(), &a4).unwrap()),
        ("Observation sheet: Blood culture from a vein", observation_sheet(&larkfield::vein(), &a4).unwrap()),
        (
            "Training record: Zoë Ångström-Adeyemi",
            person_record(&larkfield::learner(), as_of, unit, &a4).unwrap(),
        ),
        ("Training record: B. Ng", person_record(&larkfield::newcomer(), as_of, unit, &a4).unwrap()),
        (
            "Blood cultures, March 2026: Larkfield Critical Care Unit",
            month_report(&larkfield::report(), &a4).unwrap(),
        ),
        (
            "Blood cultures, March 2026: Larkfield Critical Care Unit",
            month_report(&larkfield::empty_report(), &a4).unwrap(),
        ),
    ]
}

/// A text string of a PDF (ISO 32000-1, 7.9.2.2): UTF-16 after a byte-order mark, otherwise one byte a character.
fn text_string(text: &Text) -> String {
    let bytes = text.as_bytes();
    match bytes.strip_prefix(&[0xFE, 0xFF]) {
        Some(rest) => {
            let units = rest.chunks(2).map(|pair| u16::from_be_bytes([pair[0], pair[1]]));
            String::from_utf16(&units.collect::<Vec<_>>()).unwrap()
        }
        None => bytes.iter().map(|byte| char::from(*byte)).collect(),
    }
}

fn read(pdf: &[u8]) -> Pdf {
    Pdf::new(pdf.to_vec()).unwrap()
}

fn catalog(pdf: &Pdf) -> Dict<'_> {
    pdf.xref().get(pdf.xref().root_id()).unwrap()
}

fn dicts(pdf: &Pdf) -> Vec<Dict<'_>> {
    let dict = |object| match object {
        Object::Dict(dict) => Some(dict),
        _ => None,
    };
    pdf.objects().into_iter().filter_map(dict).collect()
}

fn is_named(dict: &Dict, key: &str, name: &str) -> bool {
    dict.get::<Name>(key).is_some_and(|found| found.as_str() == name)
}

#[test]
fn papers_are_tagged_titled_and_carry_their_fonts() {
    for (title, bytes) in every_paper() {
        let pdf = read(&bytes);
        let catalog = catalog(&pdf);
        assert!(catalog.get::<Dict>("StructTreeRoot").is_some(), "{title}: no structure tree");
        let marked = catalog.get::<Dict>("MarkInfo").unwrap();
        assert_eq!(marked.get::<bool>("Marked"), Some(true), "{title}: not marked as tagged");
        assert_eq!(text_string(&catalog.get::<Text>("Lang").unwrap()), "en-GB", "{title}");
        let preferences = catalog.get::<Dict>("ViewerPreferences").unwrap();
        assert_eq!(preferences.get::<bool>("DisplayDocTitle"), Some(true), "{title}");
        let info =
            dicts(&pdf).into_iter().find(|dict| dict.contains_key("Title") && dict.contains_key("Creator"));
        assert_eq!(text_string(&info.unwrap().get::<Text>("Title").unwrap()), title);

        let fonts: Vec<Dict> =
            dicts(&pdf).into_iter().filter(|dict| is_named(dict, "Type", "FontDescriptor")).collect();
        assert!(!fonts.is_empty(), "{title}: no font at all");
        for font in fonts {
            let embedded = ["FontFile", "FontFile2", "FontFile3"].iter().any(|key| font.contains_key(key));
            assert!(embedded, "{title}: {font:?} is not embedded");
        }
    }
}

#[test]
fn papers_claim_the_accessibility_standard_they_keep() {
    for (title, bytes) in every_paper() {
        let pdf = read(&bytes);
        let metadata = catalog(&pdf).get::<Stream>("Metadata").unwrap();
        let xmp = String::from_utf8(metadata.decoded().unwrap().to_vec()).unwrap();
        // ISO 14289-1, clause 5: the part number in the metadata identifies PDF/UA-1.
        assert!(xmp.contains("<pdfuaid:part>1</pdfuaid:part>"), "{title}: {xmp}");
    }
}

#[test]
fn tables_have_header_cells_and_the_chart_has_words() {
    let bytes = month_report(&larkfield::report(), &printing()).unwrap();
    let pdf = read(&bytes);
    let elements = dicts(&pdf);
    let with_role = |role: &str| elements.iter().filter(|dict| is_named(dict, "S", role)).count();
    assert_eq!(with_role("Table"), 3, "units, routes, key points");
    // Two header rows of 5 columns, one of 4, and one row header per unit and route (3 + 2).
    assert_eq!(with_role("TH"), 2 * 5 + 4 + 5);
    assert_eq!(with_role("H1"), 1);
    assert!(with_role("H2") >= 7);
    let alternatives: Vec<String> =
        elements.iter().filter_map(|dict| dict.get::<Text>("Alt")).map(|text| text_string(&text)).collect();
    assert_eq!(
        alternatives,
        ["Contaminated sets by month: 18 points from 2024-10 to 2026-03, 1 signal, described below."]
    );
}

#[test]
fn the_same_facts_give_the_same_bytes() {
    for ((title, first), (_, second)) in every_paper().into_iter().zip(every_paper()) {
        assert!(first == second, "{title} differs from run to run");
    }
}

#[test]
fn page_counts_and_page_sizes() {
    let size = |bytes: &[u8]| {
        let pdf = read(bytes);
        let pages = pdf.pages();
        let media = pages[0].raw().get::<Array>("MediaBox").unwrap();
        let points: Vec<f32> = media.iter::<f32>().map(f32::round).collect();
        (pages.len(), points[2], points[3])
    };
    let a4 = printing();
    let letter = Printing { size: PaperSize::Letter, notice: None };
    // ISO 216: A6 is 105 mm by 148 mm, A4 210 mm by 297 mm; 1 pt is 1/72 in, 1 in is 25.4 mm.
    assert_eq!(
        size(&pocket_card(&larkfield::vein(), &a4).unwrap()),
        (2, 298.0, 420.0),
        "front and back of one card"
    );
    assert_eq!(
        size(&observation_sheet(&larkfield::vein(), &a4).unwrap()),
        (2, 595.0, 842.0),
        "both sides of a sheet"
    );
    assert_eq!(size(&observation_sheet(&larkfield::short_job(), &letter).unwrap()), (1, 612.0, 792.0));
    for job in [shipped::vein(), shipped::central_line()] {
        let card = size(&pocket_card(&job, &a4).unwrap()).0;
        assert!(card <= 4, "{}: {card} pages, and one folded A5 sheet holds four A6 pages", job.job);
        for printing in [&a4, &letter] {
            let sheet = size(&observation_sheet(&job, printing).unwrap()).0;
            assert_eq!(sheet, 2, "{}: both sides of one sheet", job.job);
        }
    }
    assert_eq!(size(&month_report(&larkfield::report(), &a4).unwrap()).0, 2);
    assert_eq!(size(&month_report(&larkfield::empty_report(), &a4).unwrap()).0, 1);
}
