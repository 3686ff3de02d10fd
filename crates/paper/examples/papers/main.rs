//! Writes every paper from invented values and from the shipped breakdowns, to be looked at: `cargo run --example papers -- FOLDER`.

mod larkfield;
mod shipped;

use std::error::Error;
use std::path::PathBuf;
use std::time::Instant;

use paper::{PaperError, PaperSize, Printing, month_report, observation_sheet, person_record, pocket_card};

fn main() -> Result<(), Box<dyn Error>> {
    let folder = PathBuf::from(std::env::args().nth(1).unwrap_or_else(|| "papers".to_owned()));
    std::fs::create_dir_all(&folder)?;
    let a4 = Printing { size: PaperSize::A4, notice: Some("Invented demo unit: no real people or results") };
    let letter = Printing { size: PaperSize::Letter, ..a4 };
    let write = |name: &str, make: &dyn Fn() -> Result<Vec<u8>, PaperError>| -> Result<(), Box<dyn Error>> {
        let started = Instant::now();
        let bytes = make()?;
        println!("{name}: {} kB in {} ms", bytes.len() / 1000, started.elapsed().as_millis());
        Ok(std::fs::write(folder.join(format!("{name}.pdf")), bytes)?)
    };
    let unit = larkfield::UNIT;
    let as_of = larkfield::as_of();
    write("card", &|| pocket_card(&larkfield::vein(), &a4))?;
    write("card-short", &|| pocket_card(&larkfield::short_job(), &a4))?;
    write("card-long", &|| pocket_card(&larkfield::long_job(), &a4))?;
    write("card-vein", &|| pocket_card(&shipped::vein(), &a4))?;
    write("card-central-line", &|| pocket_card(&shipped::central_line(), &a4))?;
    write("sheet", &|| observation_sheet(&larkfield::vein(), &a4))?;
    write("sheet-letter", &|| observation_sheet(&larkfield::vein(), &letter))?;
    write("sheet-short", &|| observation_sheet(&larkfield::short_job(), &Printing::default()))?;
    write("sheet-long", &|| observation_sheet(&larkfield::long_job(), &a4))?;
    write("sheet-vein", &|| observation_sheet(&shipped::vein(), &a4))?;
    write("sheet-vein-letter", &|| observation_sheet(&shipped::vein(), &letter))?;
    write("sheet-central-line", &|| observation_sheet(&shipped::central_line(), &a4))?;
    write("record", &|| person_record(&larkfield::learner(), as_of, unit, &a4))?;
    write("record-short", &|| person_record(&larkfield::newcomer(), as_of, unit, &a4))?;
    write("record-long", &|| person_record(&larkfield::long_record(), as_of, unit, &letter))?;
    write("report", &|| month_report(&larkfield::report(), &a4))?;
    write("report-letter", &|| month_report(&larkfield::report(), &letter))?;
    write("report-empty", &|| month_report(&larkfield::empty_report(), &a4))?;
    write("report-long", &|| month_report(&larkfield::long_report(), &a4))?;
    Ok(())
}
