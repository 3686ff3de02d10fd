//! The proposal as a mapping file, with the reasons as comments.

use std::fmt::Write as _;

use culture::{BottleKind, ReportStatus, Route};

use super::choose::{Chosen, Sureness};
use super::dates::Order;
use super::profile::{Profile, is_no_growth, meaning};
use super::vocabulary::{BOTTLE_WORDS, ROUTE_WORDS, Role, STATUS_WORDS};
use super::{Proposal, Proposed};
use crate::laboratory::words::{self, NO_GROWTH_WORDS, NoGrowth};

/// Most words of a column that are shown.
const MOST_WORDS: usize = 24;

pub(super) fn says(proposal: &Proposal) -> Vec<Proposed> {
    let mut says = vec![Proposed {
        key: "rows",
        value: proposal.rows_word().to_owned(),
        sureness: if proposal.grain.sets > 1 { Sureness::Likely } else { Sureness::Unsure },
        because: proposal.grain.because.clone(),
    }];
    if !proposal.dates.formats.is_empty() {
        let (sureness, because) = order_words(proposal.dates.order);
        says.push(Proposed {
            key: "date_formats",
            value: proposal.dates.formats.join(", "),
            sureness,
            because,
        });
    }
    if proposal.dates.shifted {
        says.push(Proposed {
            key: "dates",
            value: "shifted".to_owned(),
            sureness: Sureness::Likely,
            because: "most days of collection lie in the future".to_owned(),
        });
    }
    says.push(holds(proposal));
    if proposal.column(Role::Specimen).is_none() {
        says.push(Proposed {
            key: "set_by",
            value: set_by(proposal).join(", "),
            sureness: Sureness::Likely,
            because: "no column numbers the sets: two sets of one patient at one minute count as one"
                .to_owned(),
        });
    }
    for chosen in &proposal.chosen {
        if let Some(key) = key_of(chosen.role) {
            says.push(Proposed {
                key,
                value: proposal.profiles[chosen.column].header.clone(),
                sureness: chosen.sureness,
                because: chosen.because.clone(),
            });
        }
    }
    if let Some(codes) = &proposal.codes {
        says.push(Proposed {
            key: "organism_codes",
            value: codes.file.clone(),
            sureness: Sureness::Likely,
            because: format!(
                "{:.0} % of the codes stand in its column {:?}",
                codes.share * 100.0,
                codes.code
            ),
        });
    }
    if let Some(stays) = &proposal.stays {
        says.push(Proposed {
            key: "stays",
            value: stays.file.clone(),
            sureness: Sureness::Likely,
            because: "it has the patient, two times and a unit; the file itself has no unit".to_owned(),
        });
    }
    says
}

pub(super) fn unused(proposal: &Proposal) -> Vec<&str> {
    let used =
        |column: usize| proposal.chosen.iter().any(|chosen| chosen.column == column && is_used(chosen));
    proposal
        .profiles
        .iter()
        .enumerate()
        .filter(|(column, _)| !used(*column))
        .map(|(_, profile)| profile.header.as_str())
        .collect()
}

pub(super) fn toml(proposal: &Proposal) -> String {
    let mut out = String::new();
    // Writing into a String cannot fail.
    let _ = write(&mut out, proposal);
    out
}

fn write(out: &mut String, proposal: &Proposal) -> std::fmt::Result {
    let says = says(proposal);
    writeln!(out, "# Proposed from {} rows of the file; nobody has confirmed it.", proposal.rows_seen)?;
    writeln!(
        out,
        "# Read every line with someone from the laboratory, correct what is wrong, and then write"
    )?;
    writeln!(
        out,
        "# confirmed = true. Until then no figure is made with it. docs/mapping.md explains every key."
    )?;
    if !proposal.lacks.is_empty() {
        writeln!(
            out,
            "#\n# NO COLUMN WAS FOUND FOR: {}. Name it under [columns]; the mapping does not work without.",
            proposal.lacks.join(", ")
        )?;
    }
    writeln!(out, "\nschema = 1")?;
    writeln!(out, "name = {}", quoted(&format!("{}, proposed", proposal.file)))?;
    writeln!(out, "confirmed = false")?;
    if proposal.header_line > 1 {
        writeln!(out, "header_line = {}", proposal.header_line)?;
    }
    for said in &says {
        let value = match said.key {
            "rows" | "dates" | "holds" => quoted(&said.value),
            "date_formats" => list(&proposal.dates.formats),
            "set_by" => list(&set_by(proposal)),
            _ => continue,
        };
        writeln!(out, "\n# {}: {}\n{} = {value}", said.sureness.id(), said.because, said.key)?;
    }
    organisms(out, proposal)?;
    columns(out, proposal, &says)?;
    filter(out, proposal)?;
    let status = |profile: &Profile| {
        let known = words::statuses();
        tables(
            profile,
            |word| known.get(word).is_some(),
            |word| meaning(&STATUS_WORDS, word),
            |status| match status {
                ReportStatus::Preliminary => Some("preliminary"),
                ReportStatus::Final => Some("final"),
                ReportStatus::Corrected => Some("corrected"),
                ReportStatus::Cancelled => Some("cancelled"),
                ReportStatus::NotStated => None,
            },
        )
    };
    let route = |profile: &Profile| {
        let known = words::routes();
        tables(
            profile,
            |word| known.get(word).is_some(),
            |word| meaning(&ROUTE_WORDS, word),
            |route| {
                Some(match route {
                    Route::Vein => "vein",
                    Route::CentralLine => "central_line",
                    Route::ArterialLine => "arterial_line",
                    Route::Cannula => "cannula",
                })
            },
        )
    };
    let bottle = |profile: &Profile| {
        let known = words::bottles();
        tables(
            profile,
            |word| known.get(word).is_some(),
            |word| meaning(&BOTTLE_WORDS, word),
            |kind| {
                Some(match kind {
                    BottleKind::Aerobic => "aerobic",
                    BottleKind::Anaerobic => "anaerobic",
                    BottleKind::Paediatric => "paediatric",
                    BottleKind::Other => "other",
                })
            },
        )
    };
    word_table(out, "status_words", proposal.column(Role::Status).map(status))?;
    word_table(out, "route_words", proposal.column(Role::Route).map(route))?;
    word_table(out, "bottle_words", proposal.column(Role::Bottle).map(bottle))?;
    for (role, kind) in [(Role::AerobicMl, "aerobic"), (Role::AnaerobicMl, "anaerobic")] {
        if let Some(profile) = proposal.column(role) {
            writeln!(
                out,
                "\n[[wide_bottle]]\nkind = {}\nfill_ml = {}",
                quoted(kind),
                quoted(&profile.header)
            )?;
        }
    }
    beside(out, proposal)
}

fn organisms(out: &mut String, proposal: &Proposal) -> std::fmt::Result {
    let Some(profile) = proposal.column(Role::Organism) else { return Ok(()) };
    let known = NoGrowth::new(NO_GROWTH_WORDS);
    let own: Vec<&str> = profile
        .values
        .keys()
        .filter(|value| !known.is(value) && is_no_growth(value))
        .map(String::as_str)
        .collect();
    if !own.is_empty() {
        let all: Vec<&str> = NO_GROWTH_WORDS.into_iter().chain(own).collect();
        writeln!(
            out,
            "\n# likely: words for no growth in another language, beside those that are known already"
        )?;
        writeln!(out, "no_growth = {}", list(&all))?;
    }
    if let Some(separator) = proposal.organism_separator {
        writeln!(
            out,
            "\n# likely: several organisms stand in one cell\norganism_separator = {}",
            quoted(separator)
        )?;
    }
    Ok(())
}

fn columns(out: &mut String, proposal: &Proposal, says: &[Proposed]) -> std::fmt::Result {
    writeln!(out, "\n[columns]")?;
    let organisms: Vec<&str> = proposal
        .chosen
        .iter()
        .filter(|chosen| chosen.role == Role::Organism)
        .map(|chosen| proposal.profiles[chosen.column].header.as_str())
        .collect();
    let mut organism_written = false;
    for said in says.iter().filter(|said| is_column(said.key)) {
        let value = if said.key == "organism" && organisms.len() > 1 {
            if std::mem::replace(&mut organism_written, true) {
                continue;
            }
            list(&organisms)
        } else {
            quoted(&said.value)
        };
        if said.key == "reported" {
            // It leaves out all rows of earlier reports: right only where each report repeats the whole set.
            writeln!(
                out,
                "# Only where a set is reported again as a whole, so that the latest report alone counts:"
            )?;
            writeln!(out, "# reported = {value}")?;
            continue;
        }
        writeln!(out, "# {}: {}\n{} = {value}", said.sureness.id(), said.because, said.key)?;
    }
    let unused = unused(proposal);
    if !unused.is_empty() {
        writeln!(
            out,
            "# Not used: {}",
            unused.iter().map(|name| quoted(name)).collect::<Vec<_>>().join(", ")
        )?;
    }
    Ok(())
}

fn filter(out: &mut String, proposal: &Proposal) -> std::fmt::Result {
    let Some(profile) = proposal.column(Role::SpecimenType).filter(|_| !proposal.blood_cultures.is_empty())
    else {
        return Ok(());
    };
    writeln!(out, "\n# likely: other specimens stand in the file as well")?;
    writeln!(
        out,
        "[[only_where]]\ncolumn = {}\nis = {}",
        quoted(&profile.header),
        list(&proposal.blood_cultures)
    )?;
    let near: Vec<&str> = shown(profile)
        .filter(|word| !proposal.blood_cultures.iter().any(|chosen| chosen == word))
        .filter(|word| {
            let lower = word.to_lowercase();
            ["blood", "blut", "sang", "emocult", "bc"].iter().any(|part| lower.contains(part))
        })
        .take(MOST_WORDS)
        .collect();
    if !near.is_empty() {
        let near = near.iter().map(|word| quoted(word)).collect::<Vec<_>>().join(", ");
        writeln!(out, "# Left out; add those that are blood cultures drawn from a patient: {near}")?;
    }
    Ok(())
}

/// Words with a proposed meaning, by key, and words without.
type WordsFound = (Vec<(&'static str, Vec<String>)>, Vec<String>, usize);

fn tables<T: Copy>(
    profile: &Profile,
    is_known: impl Fn(&str) -> bool,
    meaning: impl Fn(&str) -> Option<T>,
    key: impl Fn(T) -> Option<&'static str>,
) -> WordsFound {
    let mut found: Vec<(&'static str, Vec<String>)> = Vec::new();
    let (mut unknown, mut rare) = (Vec::new(), 0);
    for (word, count) in profile.values.iter().filter(|(word, _)| !is_known(word)) {
        match meaning(word).and_then(&key) {
            Some(key) => match found.iter_mut().find(|(other, _)| *other == key) {
                Some((_, words)) => words.push(word.clone()),
                None => found.push((key, vec![word.clone()])),
            },
            None if *count > 1 && word.chars().count() <= 40 => unknown.push(word.clone()),
            None => rare += 1,
        }
    }
    (found, unknown, rare)
}

fn word_table(out: &mut String, name: &str, found: Option<WordsFound>) -> std::fmt::Result {
    let Some((found, unknown, rare)) = found else { return Ok(()) };
    if found.is_empty() && unknown.is_empty() && rare == 0 {
        return Ok(());
    }
    writeln!(out, "\n[{name}]")?;
    for (key, words) in found {
        writeln!(out, "# likely: by the meaning of the words\n{key} = {}", list(&words))?;
    }
    if !unknown.is_empty() {
        let words = unknown.iter().take(MOST_WORDS).map(|word| quoted(word)).collect::<Vec<_>>().join(", ");
        let more = unknown.len().saturating_sub(MOST_WORDS);
        let more = if more > 0 { format!(" and {more} more") } else { String::new() };
        writeln!(out, "# Not known; write each beside its meaning: {words}{more}")?;
    }
    if rare > 0 {
        writeln!(out, "# {rare} further words stand in the column once each and are not shown here")?;
    }
    Ok(())
}

fn beside(out: &mut String, proposal: &Proposal) -> std::fmt::Result {
    if let Some(codes) = &proposal.codes {
        writeln!(out, "\n# likely: {:.0} % of the codes stand there", codes.share * 100.0)?;
        writeln!(
            out,
            "[organism_codes]\nfile = {}\ncode = {}\nname = {}",
            quoted(&codes.file),
            quoted(&codes.code),
            quoted(&codes.name)
        )?;
    }
    let Some(stays) = &proposal.stays else { return Ok(()) };
    writeln!(out, "\n# likely: the unit at the time of the draw\n[stays]\nfile = {}", quoted(&stays.file))?;
    writeln!(
        out,
        "patient = {}\nin = {}\nout = {}",
        quoted(&stays.patient),
        quoted(&stays.from),
        quoted(&stays.until)
    )?;
    writeln!(out, "unit = {}", quoted(&stays.unit))?;
    if let Some(otherwise) = &stays.otherwise {
        writeln!(out, "unit_otherwise = {}\nunit_otherwise_prefix = \"ward \"", quoted(otherwise))?;
    }
    writeln!(out, "date_formats = {}", list(&stays.formats))
}

fn holds(proposal: &Proposal) -> Proposed {
    let (value, because, sureness) = if proposal.positives_only {
        (
            "positives-only",
            "no cell of the organism is empty or says no growth: then there is no rate; ask for negative sets too",
            Sureness::Likely,
        )
    } else {
        ("all-sets", "sets without growth are in the file", Sureness::Likely)
    };
    Proposed { key: "holds", value: value.to_owned(), sureness, because: because.to_owned() }
}

fn order_words(order: Order) -> (Sureness, String) {
    match order {
        Order::Settled => (Sureness::Sure, "the dates can be read in one way only".to_owned()),
        Order::DayFirst => (Sureness::Sure, "some dates can only be read with the day first".to_owned()),
        Order::MonthFirst => (Sureness::Sure, "some dates can only be read with the month first".to_owned()),
        Order::NotKnown => (
            Sureness::Unsure,
            "EVERY DATE CAN BE READ WITH THE DAY OR THE MONTH FIRST; the day was taken first: ask the laboratory".to_owned(),
        ),
        Order::Contradictory => (
            Sureness::Unsure,
            "SOME DATES CAN ONLY BE READ WITH THE DAY FIRST AND OTHERS ONLY WITH THE MONTH FIRST: ask the laboratory".to_owned(),
        ),
    }
}

fn set_by(proposal: &Proposal) -> Vec<&'static str> {
    let mut parts = vec!["patient", "collected"];
    if proposal.column(Role::SpecimenType).is_some() {
        parts.push("specimen_type");
    }
    parts
}

fn key_of(role: Role) -> Option<&'static str> {
    Some(match role {
        Role::Specimen => "specimen",
        Role::Patient => "patient",
        Role::Collected => "collected",
        Role::CollectedDate => "collected_date",
        Role::CollectedTime => "collected_time",
        Role::Received => "received",
        Role::Reported => "reported",
        Role::Unit => "unit",
        Role::Collector => "collector",
        Role::SpecimenType => "specimen_type",
        Role::Organism => "organism",
        Role::Route => "route",
        Role::Status => "status",
        Role::AgeYears => "age_years",
        Role::BirthDate => "birth_date",
        Role::Bottle => "bottle",
        Role::BottleId => "bottle_id",
        Role::FillMl => "fill_ml",
        Role::PositiveAfter => "positive_after_h",
        Role::MassGain => "mass_gain_g",
        Role::MassEmpty => "mass_empty_g",
        Role::MassFull => "mass_full_g",
        Role::Lot => "lot",
        Role::AerobicMl | Role::AnaerobicMl => "wide_bottle",
        Role::Drug | Role::RowNumber => return None,
    })
}

fn is_used(chosen: &Chosen) -> bool {
    key_of(chosen.role).is_some()
}

fn is_column(key: &str) -> bool {
    !matches!(
        key,
        "rows" | "dates" | "holds" | "date_formats" | "set_by" | "wide_bottle" | "organism_codes" | "stays"
    )
}

/// Words that stand there more than once.
fn shown(profile: &Profile) -> impl Iterator<Item = &str> {
    profile.values.iter().filter(|(_, count)| **count > 1).map(|(word, _)| word.as_str())
}

fn quoted(text: &str) -> String {
    toml::Value::String(text.to_owned()).to_string()
}

fn list<S: AsRef<str>>(items: &[S]) -> String {
    format!("[{}]", items.iter().map(|item| quoted(item.as_ref())).collect::<Vec<_>>().join(", "))
}
