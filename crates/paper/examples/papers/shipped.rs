//! The breakdowns that come with the program: real lengths, so that what fits on a paper is seen.

use breakdown::{Breakdown, parse};

pub fn vein() -> Breakdown {
    sound("vein.txt", include_str!("../../../../breakdowns/vein.txt"))
}

pub fn central_line() -> Breakdown {
    sound("central-line.txt", include_str!("../../../../breakdowns/central-line.txt"))
}

fn sound(name: &str, text: &str) -> Breakdown {
    let parsed = parse(text);
    match parsed.sound() {
        Some(breakdown) => breakdown.clone(),
        None => panic!("{name} is not sound: {:?}", parsed.faults),
    }
}
