//! Which column is what, by its header and its cells.

use super::profile::Profile;
use super::vocabulary::{HEADERS, Role, header_fits};

/// How sure the proposal is of one thing. An order, not a probability: it has not been calibrated.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Sureness {
    /// Look at it closely.
    Unsure,
    /// Header or cells speak for it, not both fully.
    Likely,
    /// Header and cells agree.
    Sure,
}

impl Sureness {
    /// The word for it.
    pub fn id(self) -> &'static str {
        match self {
            Sureness::Unsure => "unsure",
            Sureness::Likely => "likely",
            Sureness::Sure => "sure",
        }
    }

    fn of(score: f64) -> Self {
        if score >= 0.85 {
            Sureness::Sure
        } else if score >= 0.6 {
            Sureness::Likely
        } else {
            Sureness::Unsure
        }
    }
}

/// A column with the role it was given.
#[derive(Debug, Clone)]
pub(super) struct Chosen {
    pub role: Role,
    pub column: usize,
    pub sureness: Sureness,
    pub because: String,
}

/// Least score with which a column is proposed.
const LEAST: f64 = 0.35;

/// Gives every role its best column, the surest first.
pub(super) fn choose(profiles: &[Profile], never: &[(Role, usize)]) -> Vec<Chosen> {
    let mut scored: Vec<(f64, Role, usize, String)> = Vec::new();
    for (column, profile) in profiles.iter().enumerate() {
        // The costliest question about a column, asked once.
        let organisms = if is_dated(profile) { (0.0, false) } else { profile.organisms() };
        for (role, _) in HEADERS {
            if never.contains(&(role, column)) {
                continue;
            }
            if let Some((score, because)) =
                score(profile, role, organisms).filter(|(score, _)| *score >= LEAST)
            {
                scored.push((score, role, column, because));
            }
        }
    }
    scored.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.2.cmp(&b.2)).then(a.1.cmp(&b.1)));
    let mut chosen: Vec<Chosen> = Vec::new();
    for (score, role, column, because) in scored {
        let column_taken = chosen.iter().any(|other| other.column == column);
        // Isolates may stand side by side: "Organism 1", "Organism 2".
        let role_taken = chosen.iter().any(|other| other.role == role)
            && !(role == Role::Organism && numbered_alike(profiles, &chosen, column))
            && role != Role::Drug;
        if !column_taken && !role_taken {
            chosen.push(Chosen { role, column, sureness: Sureness::of(score), because });
        }
    }
    only_date(profiles, &mut chosen);
    chosen.sort_by_key(|chosen| (chosen.role, chosen.column));
    chosen
}

/// Where no header speaks of collection and one column holds dates, it is that one.
fn only_date(profiles: &[Profile], chosen: &mut Vec<Chosen>) {
    let has = |role| chosen.iter().any(|chosen: &Chosen| chosen.role == role);
    if has(Role::Collected) || has(Role::CollectedDate) {
        return;
    }
    let free: Vec<usize> = (0..profiles.len())
        .filter(|column| profiles[*column].dates() >= 0.9 && profiles[*column].filled > 0)
        .filter(|column| !chosen.iter().any(|chosen| chosen.column == *column))
        .collect();
    if let [column] = free[..] {
        let role = if profiles[column].timed() >= 0.2 { Role::Collected } else { Role::CollectedDate };
        let because = "the only column of dates that is left; its header does not say collection".to_owned();
        chosen.push(Chosen { role, column, sureness: Sureness::Unsure, because });
    }
}

fn numbered_alike(profiles: &[Profile], chosen: &[Chosen], column: usize) -> bool {
    let base = |column: usize| {
        let header = super::vocabulary::bare(&profiles[column].header);
        let base = header.trim_end_matches(|c: char| c.is_ascii_digit() || c == ' ').to_owned();
        (base.len() < header.len()).then_some(base)
    };
    base(column).is_some_and(|own| {
        chosen.iter().any(|other| other.role == Role::Organism && base(other.column).as_ref() == Some(&own))
    })
}

fn is_dated(profile: &Profile) -> bool {
    profile.dates() >= 0.9 || profile.times() >= 0.9
}

/// How well a column fits a role, with the reason.
fn score(profile: &Profile, role: Role, (organisms, any_organism): (f64, bool)) -> Option<(f64, String)> {
    let header = header_fits(&profile.header, role);
    if profile.filled == 0 {
        return None;
    }
    let dated = is_dated(profile);
    // By header and cells, where the cells can speak for the role.
    let both = |cells: f64, what: &str| {
        let score = 0.55 * header + 0.45 * cells;
        let said = if header >= 0.9 {
            "header"
        } else if header > 0.0 {
            "part of the header"
        } else {
            "no header"
        };
        (header > 0.0 && cells >= 0.9)
            .then(|| (score, format!("{said}, and {:.0} % of its cells are {what}", cells * 100.0)))
    };
    // By the header alone, where the cells must only not speak against it.
    let by_header = |fine: bool, why: &str| {
        let said = if header >= 0.9 { "header" } else { "part of the header" };
        (header > 0.0 && fine).then(|| (0.95 * header, format!("{said}{why}")))
    };
    let wordy = !dated && !profile.many_values && profile.different() <= 400;
    match role {
        Role::Collected | Role::Received | Role::Reported if profile.timed() >= 0.2 => {
            // "Collection date" may well hold day and time.
            let header = header.max(if role == Role::Collected {
                header_fits(&profile.header, Role::CollectedDate) * 0.95
            } else {
                0.0
            });
            let dates = profile.dates();
            (header > 0.0 && dates >= 0.9).then(|| {
                (
                    0.55 * header + 0.45 * dates,
                    format!("header, and {:.0} % of its cells are dates, most with a time", dates * 100.0),
                )
            })
        }
        Role::Received | Role::Reported => both(profile.dates(), "dates"),
        Role::Collected => None,
        Role::CollectedDate if profile.timed() < 0.2 => {
            let header = header.max(header_fits(&profile.header, Role::Collected) * 0.95);
            let dates = profile.dates();
            (header > 0.0 && dates >= 0.9).then(|| {
                (
                    0.55 * header + 0.45 * dates,
                    format!("header, and {:.0} % of its cells are days without a time", dates * 100.0),
                )
            })
        }
        Role::CollectedDate => None,
        Role::CollectedTime => {
            let header = header.max(header_fits(&profile.header, Role::Collected) * 0.95);
            let times = profile.times();
            (header > 0.0 && times >= 0.9 && profile.dates() < 0.5).then(|| {
                (
                    0.55 * header + 0.45 * times,
                    format!("header, and {:.0} % of its cells are times of day", times * 100.0),
                )
            })
        }
        Role::BirthDate => both(profile.dates(), "dates"),
        Role::Organism => {
            if organisms >= 0.6 && any_organism {
                let score = 0.3 * header + 0.7 * organisms.max(0.9) - if header == 0.0 { 0.1 } else { 0.0 };
                return Some((
                    score,
                    format!(
                        "{:.0} % of its different words name an organism or no growth",
                        organisms * 100.0
                    ),
                ));
            }
            let codes = header >= 0.9
                && wordy
                && profile.different() > 1
                && profile.numbers_within(f64::MIN, f64::MAX) < 0.5;
            (codes && organisms < 0.6 && profile.values.keys().any(|value| value.len() > 2)).then(|| {
                (
                    0.5,
                    format!(
                        "header; only {:.0} % of its different words name an organism: codes?",
                        organisms * 100.0
                    ),
                )
            })
        }
        Role::Status => worded(header, profile.statuses(), profile, "statuses"),
        Role::Route => worded(header, profile.routes(), profile, "veins or lines").or_else(|| {
            by_header(wordy && organisms < 0.5 && header >= 0.9, "; few of its words are known")
                .map(|(score, why)| (score * 0.6, why))
        }),
        Role::Bottle => worded(header, profile.bottles(), profile, "kinds of bottle"),
        Role::SpecimenType => {
            let blood = profile.blood_cultures();
            if blood > 0.0 && wordy {
                return Some((
                    0.5 + 0.4 * header + 0.1 * blood,
                    format!("{:.0} % of its cells say blood culture", blood * 100.0),
                ));
            }
            by_header(wordy && organisms < 0.5 && profile.different() > 1, "")
                .map(|(score, why)| (score * 0.6, why))
        }
        Role::AgeYears => both(profile.numbers_within(0.0, 130.0), "numbers from 0 to 130"),
        Role::FillMl | Role::AerobicMl | Role::AnaerobicMl => {
            both(profile.numbers_within(0.0, 60.0), "numbers from 0 to 60")
        }
        Role::PositiveAfter => both(profile.hours_to_positivity(), "hours until a bottle was positive"),
        Role::MassGain | Role::MassEmpty | Role::MassFull => {
            both(profile.numbers_within(0.0, 400.0), "numbers from 0 to 400")
        }
        Role::Patient => by_header(
            !dated && profile.share_filled() >= 0.9 && organisms < 0.5,
            ", and nearly every cell is filled",
        ),
        Role::Specimen => by_header(
            !dated && profile.share_filled() >= 0.5 && organisms < 0.5 && profile.blood_cultures() == 0.0,
            "",
        ),
        Role::Unit | Role::Collector => by_header(!dated && organisms < 0.5, ""),
        Role::Lot | Role::BottleId => by_header(!dated, ""),
        Role::Drug | Role::RowNumber => {
            by_header(!dated && header >= 0.9, "").map(|(score, why)| (score * 0.8, why))
        }
    }
}

/// By the words of the cells, with the header or, where the words are long enough not to be chance, without.
fn worded(header: f64, known: f64, profile: &Profile, what: &str) -> Option<(f64, String)> {
    let long = profile.values.keys().any(|word| word.chars().count() > 3);
    let fits = if header > 0.0 { known >= 0.5 } else { known >= 0.95 && long };
    fits.then(|| {
        (
            0.5 * header + 0.45 * known,
            format!("{:.0} % of its cells are known words for {what}", known * 100.0),
        )
    })
}
