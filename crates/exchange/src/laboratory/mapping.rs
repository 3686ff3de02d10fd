//! Which column is what, what makes a set, and what the words mean.

use std::collections::HashMap;

use culture::{BottleKind, ReportStatus, Route};

use super::mapping_file::{ColumnsFile, DatesFile, FilterFile, HoldsFile, MappingFile, OneOrMore, StaysFile};
pub(super) use super::mapping_file::{
    DuplicateRowsFile as DuplicateRows, EmptyOrganismFile as EmptyOrganism, RowsFile as RowsAre,
    SetPartFile as SetPart, SplitSetsFile as SplitSets, WithoutTimeFile as WithoutTime,
};
use super::message_rules::MessageRules;
use super::words::{self, NO_GROWTH_WORDS, NoGrowth, WordTable, plain};
use crate::nearest::nearest;
use crate::table::TableOptions;
use crate::text::TextEncoding;
use crate::when::{DateFormat, DateFormats};

/// A mapping that has been read and checked; its file is described in `docs/mapping.md`.
#[derive(Debug, Clone)]
pub struct Mapping {
    /// Name of the mapping, for messages.
    pub(super) name: String,
    confirmed: bool,
    pub(super) table: TableOptions,
    pub(super) columns: Columns,
    pub(super) formats: DateFormats,
    pub(super) dates: DateKind,
    pub(super) holds: Holds,
    /// What one row is said to be; rows with one key become one set whatever it says.
    pub(super) rows: Option<RowsAre>,
    pub(super) set_by: Vec<SetPart>,
    pub(super) without_time: WithoutTime,
    pub(super) duplicate_rows: DuplicateRows,
    pub(super) empty_organism: EmptyOrganism,
    pub(super) split_sets: SplitSets,
    pub(super) no_growth: NoGrowth,
    pub(super) organism_separator: Option<String>,
    pub(super) organism_names: HashMap<String, String>,
    pub(super) organism_codes: Option<OrganismCodes>,
    pub(super) only_where: Vec<Filter>,
    pub(super) statuses: WordTable<ReportStatus>,
    pub(super) routes: WordTable<Route>,
    pub(super) bottles: WordTable<BottleKind>,
    pub(super) wide_bottles: Vec<(BottleKind, String)>,
    pub(super) density_g_per_ml: f64,
    /// Mass of an empty bottle in grams, by its lot.
    pub(super) lot_tare_g: HashMap<String, f64>,
    pub(super) stays: Option<Stays>,
    pub(super) messages: MessageRules,
}

/// Whether dates are those of the draws.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum DateKind {
    /// Dates are those of the draws.
    AsRecorded,
    /// Dates were moved to protect patients: future dates are fine, every set is closed, months mean nothing.
    Shifted,
}

/// What a file holds.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Holds {
    /// Every set that was taken.
    AllSets,
    /// Only sets that grew: a rate would have no denominator.
    PositivesOnly,
}

/// The columns, by the names they have in the file.
#[derive(Debug, Clone, Default)]
pub(super) struct Columns {
    pub specimen: Option<String>,
    pub patient: Option<String>,
    pub collected: Option<String>,
    pub collected_date: Option<String>,
    pub collected_time: Option<String>,
    pub received: Option<String>,
    pub reported: Option<String>,
    pub unit: Option<String>,
    pub collector: Option<String>,
    pub specimen_type: Option<String>,
    pub organisms: Vec<String>,
    pub route: Option<String>,
    pub status: Option<String>,
    pub age_years: Option<String>,
    pub birth_date: Option<String>,
    pub bottle: Option<String>,
    pub bottle_id: Option<String>,
    pub fill_ml: Option<String>,
    pub mass_gain_g: Option<String>,
    pub mass_empty_g: Option<String>,
    pub mass_full_g: Option<String>,
    pub lot: Option<String>,
    pub positive_after_h: Option<String>,
}

/// A table of codes of organisms, in a file of its own.
#[derive(Debug, Clone)]
pub(super) struct OrganismCodes {
    pub file: String,
    pub code: String,
    pub name: String,
}

/// Rows are kept only where a column holds one of these words, or none of those.
#[derive(Debug, Clone)]
pub(super) struct Filter {
    pub column: String,
    is: Vec<String>,
    is_not: Vec<String>,
    pub reason: String,
}

impl Filter {
    pub(super) fn keeps(&self, text: &str) -> bool {
        let text = plain(text);
        (self.is.is_empty() || self.is.contains(&text)) && !self.is_not.contains(&text)
    }
}

/// Where patients were when, in a file of its own.
#[derive(Debug, Clone)]
pub(super) struct Stays {
    pub file: String,
    pub patient: String,
    pub from: String,
    pub until: String,
    pub unit: String,
    pub unit_otherwise: Option<String>,
    pub unit_otherwise_prefix: String,
    pub formats: DateFormats,
}

/// A mapping that cannot be used: where, what was found, what was expected, what to do.
#[derive(Debug, Clone, PartialEq, Eq, thiserror::Error)]
#[error("{place}: found {found}; expected {expected}; {to_do}")]
pub struct MappingError {
    /// Line or key of the mapping file.
    pub place: String,
    /// What was found.
    pub found: String,
    /// What was expected.
    pub expected: String,
    /// What to do about it.
    pub to_do: String,
}

impl MappingError {
    pub(super) fn new(
        place: impl Into<String>,
        found: impl Into<String>,
        expected: impl Into<String>,
        to_do: impl Into<String>,
    ) -> Self {
        Self { place: place.into(), found: found.into(), expected: expected.into(), to_do: to_do.into() }
    }
}

impl Mapping {
    /// Reads a mapping file.
    ///
    /// # Errors
    /// Names the line or key, what was found, what was expected and what to do. A key that is not known is an error:
    /// a slip in a key must not change a rate in silence.
    pub fn from_toml(text: &str) -> Result<Self, MappingError> {
        let file: MappingFile = toml::from_str(text).map_err(|error| toml_error(text, &error))?;
        if file.schema != 1 {
            return Err(MappingError::new(
                "schema",
                file.schema.to_string(),
                "1",
                "use a version of this program that reads the newer form, or write schema = 1",
            ));
        }
        checked(file)
    }

    /// Whether an aerobic and an anaerobic bottle under two specimen numbers are one set, as `split_sets = "join"` says.
    pub fn joins_split_sets(&self) -> bool {
        self.split_sets == SplitSets::Join
    }

    /// The mapping for HL7 v2 and FHIR files, which name their own fields.
    pub fn for_messages() -> Self {
        Self {
            name: "messages".to_owned(),
            confirmed: true,
            table: TableOptions::default(),
            columns: Columns::default(),
            formats: DateFormats::plain(),
            dates: DateKind::AsRecorded,
            holds: Holds::AllSets,
            rows: None,
            set_by: Vec::new(),
            without_time: WithoutTime::default(),
            duplicate_rows: DuplicateRows::default(),
            empty_organism: EmptyOrganism::default(),
            split_sets: SplitSets::default(),
            no_growth: NoGrowth::new(NO_GROWTH_WORDS),
            organism_separator: None,
            organism_names: HashMap::new(),
            organism_codes: None,
            only_where: Vec::new(),
            statuses: words::statuses(),
            routes: words::routes(),
            bottles: words::bottles(),
            wide_bottles: Vec::new(),
            density_g_per_ml: DENSITY_G_PER_ML,
            lot_tare_g: HashMap::new(),
            stays: None,
            messages: MessageRules::default(),
        }
    }

    /// Name of the mapping.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// Whether a person has confirmed it: a proposed mapping says `confirmed = false` until then.
    pub fn is_confirmed(&self) -> bool {
        self.confirmed
    }

    /// Density of blood in g/mL at which masses become volumes; `None` where no bottle is weighed.
    pub fn density_g_per_ml(&self) -> Option<f64> {
        let weighed = self.columns.mass_gain_g.is_some() || self.columns.mass_full_g.is_some();
        weighed.then_some(self.density_g_per_ml)
    }

    /// Whether dates were shifted to protect patients.
    pub fn dates(&self) -> DateKind {
        self.dates
    }

    /// Further files this mapping asks for: where patients were when, and the names of organism codes.
    pub fn companions(&self) -> Vec<&str> {
        let stays = self.stays.iter().map(|stays| stays.file.as_str());
        stays.chain(self.organism_codes.iter().map(|codes| codes.file.as_str())).collect()
    }
}

/// Whole blood at 37 °C (Trudnowski and Rico 1974, Clin Chem 20:615), in g/mL.
const DENSITY_G_PER_ML: f64 = 1.0506;

fn checked(file: MappingFile) -> Result<Mapping, MappingError> {
    let mut mapping = Mapping::for_messages();
    mapping.table = table_options(&file)?;
    mapping.formats = formats("date_formats", file.date_formats.as_deref())?;
    mapping.columns = columns(file.columns);
    mapping.dates = match file.dates {
        DatesFile::AsRecorded => DateKind::AsRecorded,
        DatesFile::Shifted => DateKind::Shifted,
    };
    mapping.holds = match file.holds {
        HoldsFile::AllSets => Holds::AllSets,
        HoldsFile::PositivesOnly => Holds::PositivesOnly,
    };
    mapping.confirmed = file.confirmed.unwrap_or(true);
    mapping.rows = file.rows;
    mapping.set_by = file.set_by.unwrap_or_default();
    mapping.without_time = file.without_time;
    mapping.duplicate_rows = file.duplicate_rows;
    mapping.empty_organism = file.empty_organism;
    mapping.split_sets = file.split_sets;
    if let Some(own) = &file.no_growth {
        mapping.no_growth = NoGrowth::new(own.iter().map(String::as_str));
    }
    mapping.organism_separator = file.organism_separator.filter(|separator| !separator.is_empty());
    mapping.organism_names =
        file.organism_names.into_iter().map(|(code, name)| (plain(&code), name)).collect();
    mapping.organism_codes = file.organism_codes.map(|codes| OrganismCodes {
        file: codes.file,
        code: codes.code,
        name: codes.name,
    });
    mapping.only_where = file.only_where.into_iter().map(filter).collect::<Result<_, _>>()?;
    let status = &file.status_words;
    mapping.statuses.extend(meaning(&status.preliminary, ReportStatus::Preliminary));
    mapping.statuses.extend(meaning(&status.final_, ReportStatus::Final));
    mapping.statuses.extend(meaning(&status.corrected, ReportStatus::Corrected));
    mapping.statuses.extend(meaning(&status.cancelled, ReportStatus::Cancelled));
    let route = &file.route_words;
    mapping.routes.extend(meaning(&route.vein, Route::Vein));
    mapping.routes.extend(meaning(&route.central_line, Route::CentralLine));
    mapping.routes.extend(meaning(&route.arterial_line, Route::ArterialLine));
    mapping.routes.extend(meaning(&route.cannula, Route::Cannula));
    let bottle = &file.bottle_words;
    mapping.bottles.extend(meaning(&bottle.aerobic, BottleKind::Aerobic));
    mapping.bottles.extend(meaning(&bottle.anaerobic, BottleKind::Anaerobic));
    mapping.bottles.extend(meaning(&bottle.paediatric, BottleKind::Paediatric));
    mapping.bottles.extend(meaning(&bottle.other, BottleKind::Other));
    for wide in file.wide_bottle {
        let kind = mapping.bottles.get(&wide.kind).ok_or_else(|| {
            MappingError::new(
                "wide_bottle.kind",
                format!("{:?}", wide.kind),
                "aerobic, anaerobic or paediatric",
                "write one of these words",
            )
        })?;
        mapping.wide_bottles.push((kind, wide.fill_ml));
    }
    if let Some(density) = file.density_g_per_ml {
        if !(1.0..=1.1).contains(&density) {
            return Err(MappingError::new(
                "density_g_per_ml",
                density.to_string(),
                "1.0 to 1.1 grams per millilitre",
                "state the density of blood that your laboratory uses; 1.05 to 1.06 is usual",
            ));
        }
        mapping.density_g_per_ml = density;
    }
    mapping.lot_tare_g = lot_tares(file.lot_tare_g)?;
    if !mapping.lot_tare_g.is_empty()
        && (mapping.columns.lot.is_none() || mapping.columns.mass_full_g.is_none())
    {
        return Err(MappingError::new(
            "lot_tare_g",
            "masses of empty bottles by lot, without the columns lot and mass_full_g",
            "both columns under [columns]",
            "name the columns with the bottle's lot and the mass of the full bottle, or take [lot_tare_g] out",
        ));
    }
    mapping.stays = file.stays.map(stays).transpose()?;
    mapping.messages = MessageRules::checked(file.messages, &mapping.bottles)?;
    mapping.name = file.name;
    has_what_a_table_needs(&mapping)?;
    Ok(mapping)
}

/// A mapping may be for messages only, and then names no column at all.
fn has_what_a_table_needs(mapping: &Mapping) -> Result<(), MappingError> {
    let columns = &mapping.columns;
    let lacks = |key: &str, to_do: &str| {
        Err(MappingError::new("columns", format!("no {key}"), format!("the key {key}"), to_do.to_owned()))
    };
    let none = columns.patient.is_none()
        && columns.specimen.is_none()
        && columns.collected.is_none()
        && columns.collected_date.is_none()
        && columns.organisms.is_empty();
    if none {
        return Ok(());
    }
    if columns.patient.is_none() {
        return lacks(
            "patient",
            "name the column that tells patients apart; its content is hashed and never shown",
        );
    }
    if columns.collected.is_none() && columns.collected_date.is_none() {
        return lacks(
            "collected",
            "name the column with the time of collection, or the day as collected_date",
        );
    }
    if columns.organisms.is_empty() {
        return lacks("organism", "name the column with the organism, or several as a list");
    }
    if columns.specimen.is_none() && mapping.set_by.is_empty() {
        return Err(MappingError::new(
            "set_by",
            "neither columns.specimen nor set_by",
            "the column of specimen numbers, or what makes a set",
            "write specimen = \"...\" under [columns], or set_by = [\"patient\", \"collected\", \"specimen_type\"]",
        ));
    }
    for part in &mapping.set_by {
        let there = match part {
            SetPart::Patient | SetPart::Collected => true,
            SetPart::SpecimenType => columns.specimen_type.is_some(),
            SetPart::Unit => columns.unit.is_some(),
            SetPart::Route => columns.route.is_some(),
        };
        if !there {
            return Err(MappingError::new(
                "set_by",
                format!("{part:?} without a column of that kind"),
                "only kinds that [columns] names",
                "name the column under [columns] or take the word out of set_by",
            ));
        }
    }
    Ok(())
}

fn meaning<T: Copy>(words: &[String], meaning: T) -> impl Iterator<Item = (&str, T)> {
    words.iter().map(move |word| (word.as_str(), meaning))
}

fn table_options(file: &MappingFile) -> Result<TableOptions, MappingError> {
    let encoding = file
        .encoding
        .as_ref()
        .map(|name| {
            TextEncoding::named(name).ok_or_else(|| {
                MappingError::new(
                    "encoding",
                    format!("{name:?}"),
                    "utf-8, utf-16, windows-1252 or iso-8859-1",
                    "write one of these, or leave the key out and it is recognised",
                )
            })
        })
        .transpose()?;
    let separator = file
        .separator
        .as_ref()
        .map(|written| {
            let mut characters = written.chars();
            match (written.as_str(), characters.next(), characters.next()) {
                ("tab" | "\\t", _, _) => Ok('\t'),
                (_, Some(one), None) if one.is_ascii() && one != '"' && one != '\n' => Ok(one),
                _ => Err(MappingError::new(
                    "separator",
                    format!("{written:?}"),
                    "one character such as , ; | or the word tab",
                    "write one of these, or leave the key out and it is recognised",
                )),
            }
        })
        .transpose()?;
    if file.header_line == Some(0) {
        return Err(MappingError::new("header_line", "0", "1 or more", "lines are counted from 1"));
    }
    Ok(TableOptions { encoding, separator, sheet: file.sheet.clone(), header_line: file.header_line })
}

fn formats(place: &str, written: Option<&[String]>) -> Result<DateFormats, MappingError> {
    let Some(written) = written.filter(|written| !written.is_empty()) else {
        return Ok(DateFormats::plain());
    };
    let formats = written.iter().map(|format| {
        DateFormat::new(format).map_err(|_| {
            MappingError::new(
                place,
                format!("{format:?}"),
                "a date such as DD.MM.YYYY hh:mm, or a time such as hh:mm",
                "use YYYY, MM, DD, hh, mm and ss; docs/mapping.md lists them all",
            )
        })
    });
    Ok(DateFormats::new(formats.collect::<Result<_, _>>()?))
}

fn columns(file: ColumnsFile) -> Columns {
    Columns {
        specimen: file.specimen,
        patient: file.patient,
        collected: file.collected,
        collected_date: file.collected_date,
        collected_time: file.collected_time,
        received: file.received,
        reported: file.reported,
        unit: file.unit,
        collector: file.collector,
        specimen_type: file.specimen_type,
        organisms: match file.organism {
            None => Vec::new(),
            Some(OneOrMore::One(one)) => vec![one],
            Some(OneOrMore::More(several)) => several,
        },
        route: file.route,
        status: file.status,
        age_years: file.age_years,
        birth_date: file.birth_date,
        bottle: file.bottle,
        bottle_id: file.bottle_id,
        fill_ml: file.fill_ml,
        mass_gain_g: file.mass_gain_g,
        mass_empty_g: file.mass_empty_g,
        mass_full_g: file.mass_full_g,
        lot: file.lot,
        positive_after_h: file.positive_after_h,
    }
}

/// An empty bottle weighs some 50 to 80 g; the range only keeps out slips of units.
fn lot_tares(file: std::collections::BTreeMap<String, f64>) -> Result<HashMap<String, f64>, MappingError> {
    file.into_iter()
        .map(|(lot, tare_g)| {
            if (10.0..=200.0).contains(&tare_g) {
                return Ok((plain(&lot), tare_g));
            }
            Err(MappingError::new(
                format!("lot_tare_g, lot {lot:?}"),
                tare_g.to_string(),
                "10 to 200 grams",
                "write the mass of an empty bottle of this lot, with label and cap, in grams",
            ))
        })
        .collect()
}

fn filter(file: FilterFile) -> Result<Filter, MappingError> {
    if file.is.is_empty() && file.is_not.is_empty() {
        return Err(MappingError::new(
            "only_where",
            format!("column {:?} with neither is nor is_not", file.column),
            "words that the column must hold, or must not",
            "write is = [\"BLOOD CULTURE\"] or is_not = [...]",
        ));
    }
    let reason = file.reason.unwrap_or_else(|| {
        if file.is.is_empty() {
            format!("{} is {}", file.column, file.is_not.join(" or "))
        } else {
            format!("{} is not {}", file.column, file.is.join(" or "))
        }
    });
    let all_plain = |words: &[String]| words.iter().map(|word| plain(word)).collect();
    Ok(Filter { is: all_plain(&file.is), is_not: all_plain(&file.is_not), column: file.column, reason })
}

fn stays(file: StaysFile) -> Result<Stays, MappingError> {
    Ok(Stays {
        formats: formats("stays.date_formats", file.date_formats.as_deref())?,
        file: file.file,
        patient: file.patient,
        from: file.from,
        until: file.until,
        unit: file.unit,
        unit_otherwise: file.unit_otherwise,
        unit_otherwise_prefix: file.unit_otherwise_prefix,
    })
}

/// Turns the reader's words into place, finding, expectation and what to do.
fn toml_error(text: &str, error: &toml::de::Error) -> MappingError {
    let line = error.span().map(|span| text[..span.start.min(text.len())].matches('\n').count() + 1);
    let place = line.map_or("mapping".to_owned(), |line| format!("line {line}"));
    let message = error.message();
    let between = |start: &str| -> Option<String> {
        let after = message.split_once(start)?.1;
        after.split('`').next().map(str::to_owned)
    };
    if let Some(unknown) = between("unknown field `") {
        let known: Vec<&str> = message.split('`').skip(3).step_by(2).collect();
        let to_do = match nearest(&unknown, known.iter().copied()) {
            Some(near) => format!("did you mean {near}? docs/mapping.md lists every key"),
            None => "take the key out; docs/mapping.md lists every key".to_owned(),
        };
        let expected = if known.len() > 12 {
            "a key of the mapping".to_owned()
        } else {
            format!("one of {}", known.join(", "))
        };
        return MappingError::new(place, format!("the unknown key {unknown}"), expected, to_do);
    }
    if let Some(unknown) = between("unknown variant `") {
        let known: Vec<&str> = message.split('`').skip(3).step_by(2).collect();
        return MappingError::new(
            place,
            format!("{unknown:?}"),
            format!("one of {}", known.join(", ")),
            "write one of these words",
        );
    }
    if let Some(missing) = between("missing field `") {
        return MappingError::new(
            place,
            format!("no key {missing}"),
            format!("the key {missing}"),
            "add it; docs/mapping.md shows a full example",
        );
    }
    MappingError::new(
        place,
        message.trim().to_owned(),
        "a mapping in TOML as docs/mapping.md describes it",
        "correct the line named here",
    )
}
