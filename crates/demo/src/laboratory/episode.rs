//! Which sets the unit's patients needed, before anybody has drawn them.

use jiff::civil::{Date, DateTime};

use super::set::{Area, DemoSet, Hands, Infection, Source};
use crate::calendar::{
    FIRST_DAY, LAST_DAY, MAIN_FROM, TRAINING_STARTED, days_after, minutes_after, months_from,
};
use crate::dice::Dice;

/// Episodes per ten thousand in which the patient truly has germs in the blood.
const INFECTED_PER_10_000: u32 = 900;

/// Draws begin more often around the morning round and in the evening than in the quiet hours.
const HOUR_WEIGHTS: [u32; 24] =
    [7, 6, 6, 6, 8, 10, 10, 9, 9, 8, 9, 9, 8, 8, 8, 9, 10, 11, 12, 12, 12, 11, 10, 8];

/// Names the laboratory gives germs that are truly in the blood. The last three are skin germs: from a line, in
/// both sets, they are an infection.
const INFECTIONS: [(&str, u32); 16] = [
    ("Escherichia coli", 22),
    ("STAPH AUREUS", 8),
    ("Staphylococcus aureus", 9),
    ("Klebsiella pneumoniae", 12),
    ("Enterococcus faecalis", 7),
    ("Enterococcus faecium", 7),
    ("Pseudomonas aeruginosa", 7),
    ("Enterobacter cloacae complex", 5),
    ("Serratia marcescens", 3),
    ("Proteus mirabilis", 3),
    ("Candida albicans", 5),
    ("Candida glabrata", 2),
    ("STREPTOCOCCUS PNEUMONIAE", 3),
    ("Staphylococcus epidermidis", 5),
    ("STAPHYLOCOCCUS, COAGULASE NEGATIVE", 3),
    ("Staphylococcus haemolyticus", 2),
];

const CANCELLED: [&str; 3] =
    ["Cancelled: unlabelled bottle", "Cancelled: bottle leaked on the way", "Cancelled: ordered twice"];

/// A patient of the story. No name is ever made.
struct Patient {
    number: String,
    age: u32,
    area: Area,
    last: Date,
}

/// Where the numbers of patients and specimens begin.
struct Numbers {
    patient: usize,
    specimen: u32,
}

/// Every set from May 2025 on in the order it was collected, hands and results still open.
pub(crate) fn sets(seed: u64) -> Vec<DemoSet> {
    let numbers = Numbers { patient: 2_100_000, specimen: 41_200 };
    of_months(&months_from(MAIN_FROM), LAST_DAY, &numbers, &mut Dice::new(seed, "episodes"))
}

/// The sets of the months before.
pub(crate) fn earlier_sets(seed: u64) -> Vec<DemoSet> {
    let months: Vec<Date> = months_from(FIRST_DAY).into_iter().filter(|month| *month < MAIN_FROM).collect();
    let numbers = Numbers { patient: 2_000_000, specimen: 0 };
    of_months(&months, days_after(MAIN_FROM, -1), &numbers, &mut Dice::new(seed, "earlier episodes"))
}

fn of_months(months: &[Date], last_day: Date, numbers: &Numbers, dice: &mut Dice) -> Vec<DemoSet> {
    let mut patients: Vec<Patient> = Vec::new();
    let mut sets: Vec<DemoSet> = Vec::new();
    let mut episode = 0;
    for &month in months {
        let wanted = sets.len() + dice.between(118, 142) as usize;
        while sets.len() < wanted {
            let day =
                days_after(month, i64::from(dice.below(u32::from(month.days_in_month().unsigned_abs()))));
            let hour = dice.weighted(&HOUR_WEIGHTS).unwrap_or(0) as i8;
            let first = day.at(hour, dice.below(60) as i8, 0, 0);
            let patient = admit(&mut patients, numbers.patient, day, dice);
            let count = count_of_sets(day, patients[patient].age, dice);
            push_episode(&mut sets, episode, &patients[patient], first, count, dice);
            patients[patient].last = day;
            episode += 1;
        }
    }
    // A second set may fall into the next month: those after the last day are not sent yet.
    sets.retain(|set| set.collected.date() <= last_day);
    sets.sort_by_key(|set| (set.collected, set.episode));
    number(&mut sets, numbers.specimen, dice);
    sets
}

/// A patient already known and not cultured for some days, or a new one.
fn admit(patients: &mut Vec<Patient>, first_number: usize, day: Date, dice: &mut Dice) -> usize {
    if dice.chance(220_000) {
        let known = patients.iter().rposition(|patient| {
            let gap = crate::calendar::days_between(patient.last, day);
            (5..=24).contains(&gap)
        });
        if let Some(known) = known {
            return known;
        }
    }
    let area = match dice.below(100) {
        0..=42 => Area::North,
        43..=82 => Area::South,
        _ => Area::StepDown,
    };
    let age = if dice.chance(12_000) { dice.between(4, 17) } else { dice.bell(63, 14).clamp(18, 95) as u32 };
    // Seven digits, rising with an even step that never repeats: nobody's real number.
    let number = format!("LF{:07}", first_number + patients.len() * 37 + 11);
    patients.push(Patient { number, age, area, last: day });
    patients.len() - 1
}

/// Two sets are asked for; before training more often only one was taken.
fn count_of_sets(day: Date, age: u32, dice: &mut Dice) -> u32 {
    let single = if age < 18 {
        800
    } else if day < TRAINING_STARTED {
        290
    } else if day < jiff::civil::date(2026, 4, 1) {
        210
    } else {
        150
    };
    match dice.below(1_000) {
        chance if chance < single => 1,
        chance if chance < 930 => 2,
        _ => 3,
    }
}

fn push_episode(
    sets: &mut Vec<DemoSet>,
    episode: usize,
    patient: &Patient,
    first: DateTime,
    count: u32,
    dice: &mut Dice,
) {
    let infection = if dice.below(10_000) < INFECTED_PER_10_000 {
        let weights = INFECTIONS.map(|(_, weight)| weight);
        Infection::With(dice.weighted(&weights).map_or("Escherichia coli", |index| INFECTIONS[index].0))
    } else {
        Infection::None
    };
    let mut collected = first;
    for position in 0..count {
        let source = match (position, dice.below(100)) {
            (0, 0..=23) => Source::CentralLine,
            (0, 24..=31) => Source::ArterialLine,
            (1.., 0..=5) => Source::ArterialLine,
            (1.., 6..=16) => Source::CentralLine,
            _ => Source::Vein,
        };
        let received = minutes_after(collected, dice.between(25, 130));
        let cancelled = dice.chance(10_000).then(|| CANCELLED[dice.below(3) as usize]);
        sets.push(DemoSet {
            specimen: String::new(),
            episode,
            in_series: count > 1,
            patient: patient.number.clone(),
            age: patient.age,
            area: patient.area,
            collected,
            received,
            source,
            infection,
            cancelled,
            hands: Hands::Nobody,
            collector: String::new(),
            watched: false,
            weighed: dice.chance(820_000),
            bottles: Vec::new(),
        });
        collected =
            minutes_after(collected, if position == 0 { dice.between(6, 25) } else { dice.between(30, 120) });
    }
}

/// Specimen numbers as the laboratory gives them: rising through the year, with gaps for everybody else's.
fn number(sets: &mut [DemoSet], first: u32, dice: &mut Dice) {
    let mut year = 0;
    let mut running = 0;
    for set in sets {
        let this_year = set.collected.year();
        if this_year != year {
            running = if year == 0 { first } else { 0 };
            year = this_year;
        }
        running += dice.between(3, 110);
        set.specimen = format!("B{:02}-{running:06}", year % 100);
    }
}
