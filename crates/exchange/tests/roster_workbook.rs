//! A roster kept as a workbook is the roster kept as text. The workbook is written here part by part, as ECMA-376 part 1 has it.

#![expect(clippy::unwrap_used, reason = "a helper of tests that cannot go on without its values")]

use std::io::{Cursor, Write as _};

use exchange::roster;

const TYPES: &str = r#"<Types xmlns="http://schemas.openxmlformats.org/package/2006/content-types">
<Default Extension="rels" ContentType="application/vnd.openxmlformats-package.relationships+xml"/>
<Override PartName="/xl/workbook.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.sheet.main+xml"/>
<Override PartName="/xl/worksheets/sheet1.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.worksheet+xml"/>
<Override PartName="/xl/styles.xml" ContentType="application/vnd.openxmlformats-officedocument.spreadsheetml.styles+xml"/>
</Types>"#;
const PACKAGE: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/officeDocument" Target="xl/workbook.xml"/>
</Relationships>"#;
const WORKBOOK: &str = r#"<workbook xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"
xmlns:r="http://schemas.openxmlformats.org/officeDocument/2006/relationships">
<sheets><sheet name="October" sheetId="1" r:id="r1"/></sheets></workbook>"#;
const OF_WORKBOOK: &str = r#"<Relationships xmlns="http://schemas.openxmlformats.org/package/2006/relationships">
<Relationship Id="r1" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/worksheet" Target="worksheets/sheet1.xml"/>
<Relationship Id="r2" Type="http://schemas.openxmlformats.org/officeDocument/2006/relationships/styles" Target="styles.xml"/>
</Relationships>"#;
/// The second format of a cell is number format 14, a date (18.8.30).
const STYLES: &str = r#"<styleSheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main">
<cellXfs count="2"><xf numFmtId="0"/><xf numFmtId="14" applyNumberFormat="1"/></cellXfs></styleSheet>"#;

/// A sheet of rows; a cell that is a number is a date.
fn workbook(rows: &[&[&str]]) -> Vec<u8> {
    let mut sheet = String::from(
        r#"<worksheet xmlns="http://schemas.openxmlformats.org/spreadsheetml/2006/main"><sheetData>"#,
    );
    for (row, cells) in rows.iter().enumerate() {
        sheet += &format!(r#"<row r="{}">"#, row + 1);
        for (cell, column) in cells.iter().zip('A'..) {
            let place = format!("{column}{}", row + 1);
            sheet += &match cell.parse::<u32>() {
                Ok(day) => format!(r#"<c r="{place}" s="1"><v>{day}</v></c>"#),
                Err(_) => format!(r#"<c r="{place}" t="inlineStr"><is><t>{cell}</t></is></c>"#),
            };
        }
        sheet += "</row>";
    }
    sheet += "</sheetData></worksheet>";
    let mut archive = zip::ZipWriter::new(Cursor::new(Vec::new()));
    for (name, text) in [
        ("[Content_Types].xml", TYPES),
        ("_rels/.rels", PACKAGE),
        ("xl/workbook.xml", WORKBOOK),
        ("xl/_rels/workbook.xml.rels", OF_WORKBOOK),
        ("xl/styles.xml", STYLES),
        ("xl/worksheets/sheet1.xml", &sheet),
    ] {
        archive.start_file(name, zip::write::SimpleFileOptions::default()).unwrap();
        archive.write_all(text.as_bytes()).unwrap();
    }
    archive.finish().unwrap().into_inner()
}

/// Dates are days since 30 December 1899 (18.17.4.1): 46300 is 5 October 2026, by Python's `datetime`.
#[test]
fn a_workbook_gives_the_shifts_of_the_text() {
    let rows: [&[&str]; 3] = [
        &["staff id", "unit", "date", "shift"],
        &["n001", "North", "46300", "day"],
        &["n002", "North", "46301", "night"],
    ];
    let sheet = roster::read(&workbook(&rows));
    let text =
        roster::read(b"staff id,unit,date,shift\nn001,North,2026-10-05,day\nn002,North,2026-10-06,night\n");
    assert_eq!(sheet.unread, []);
    assert_eq!(sheet.rows.len(), 2);
    assert_eq!(sheet.rows, text.rows);
}

#[test]
fn a_workbook_without_a_needed_column_says_which() {
    let sheet = roster::read(&workbook(&[&["staff", "date", "shift"], &["n001", "46300", "day"]]));
    assert!(sheet.rows.is_empty());
    assert!(sheet.unread.iter().any(|(_, why)| why.contains("staff id")), "{:?}", sheet.unread);
}
