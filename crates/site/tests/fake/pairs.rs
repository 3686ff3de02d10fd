//! Pairs of the invented unit.

use desk::{PairRow, PairSet, PairsPage};
use jiff::civil::date;
use site::{DeskError, PairsDesk};

use super::{Fake, TODAY};

impl PairsDesk for Fake {
    fn pairs(&self) -> Result<PairsPage, DeskError> {
        self.answer(full, empty)
    }
}

fn empty() -> PairsPage {
    PairsPage {
        as_of: TODAY,
        n_pairs: 0,
        findings: vec![("Points to the line", 0)],
        rows: Vec::new(),
        n_alone: 0,
        n_line_sets: 0,
        timed: (0, 0),
    }
}

fn full() -> PairsPage {
    let side = |specimen: &str, from, minute, after: Option<&str>| PairSet {
        specimen: specimen.to_owned(),
        day: date(2026, 2, 26),
        at: Some(date(2026, 2, 26).at(4, minute, 0, 0)),
        from,
        organisms: after.map(|_| "Staphylococcus aureus".to_owned()).into_iter().collect(),
        volume_ml: Some(18.5),
        positive_after: after.map(str::to_owned),
    };
    let row = |finding, difference: Option<&str>, doubts: &[&str], after: Option<&str>| PairRow {
        line: side("INV-26-000801", "central line", 5, Some("11 h 2 min")),
        vein: side("INV-26-000802", "vein", 12, after),
        finding,
        difference: difference.map(str::to_owned),
        doubts: doubts.iter().map(|doubt| (*doubt).to_owned()).collect(),
        both_grew: after.is_some(),
        is_open: after.is_some(),
    };
    PairsPage {
        as_of: TODAY,
        n_pairs: 2,
        findings: vec![("Points to the line", 1), ("Does not point to the line", 0)],
        rows: vec![
            row(
                "Points to the line",
                Some("the line's 120 min (2 h 0 min) earlier"),
                &[],
                Some("13 h 2 min"),
            ),
            row("Only the line's set grew", None, &["drawn 16 minutes apart, more than 15"], None),
        ],
        n_alone: 3,
        n_line_sets: 5,
        timed: (3, 3),
    }
}
