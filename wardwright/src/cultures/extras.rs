//! What is asked for beside the figures: other rules, judgements, doubts, patient-days, standing, one person.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use clap::Args;
use culture::{
    Beside, CollectorFigures, Comparison, CultureSet, DoubtCount, Judged, Judgement, Month,
    NoCollectorFigures, PatientDayRate, RuleSet, Tally, Verdict, collector_figures, doubts,
    per_thousand_patient_days, tally_by,
};
use desk::{Desk, Material};
use jiff::civil::Date;
use stats::Probability;

use super::given::{self, PatientDays};
use crate::folder::Folder;
use crate::message::Message;

/// Share of closed sets that a unit should stay at or under: 3 % (CBE 3658, 2022).
const TARGET: f64 = 0.03;

/// What may be asked for beside the figures.
#[derive(Debug, Args, Default)]
pub struct ExtraArgs {
    /// Judge the same sets by this rule set as well, and show how the rate moves; may be repeated
    #[arg(long, value_name = "NAME or FILE.toml")]
    compare: Vec<String>,
    /// Signed judgements of people: set, verdict, by, on, because (docs/rules.md)
    #[arg(long, value_name = "FILE.csv")]
    judgements: Option<PathBuf>,
    /// List doubts about the data: missing collectors, impossible times, shared logins, sets with one bottle
    #[arg(long)]
    quality: bool,
    /// Patient-days: month, patient_days and, where wanted, unit
    #[arg(long, value_name = "FILE.csv")]
    patient_days: Option<PathBuf>,
    /// Data folder: also by the collector's standing at the time of the draw
    #[arg(long, value_name = "FOLDER")]
    data: Option<PathBuf>,
    /// One collector's figures, for that person and their trainer only
    #[arg(long, value_name = "ID")]
    collector: Option<String>,
    /// A row for each collector, for the trainer only
    #[arg(long)]
    collectors: bool,
}

impl ExtraArgs {
    /// Whether anything is asked for.
    pub fn any(&self) -> bool {
        !self.compare.is_empty()
            || self.judgements.is_some()
            || self.quality
            || self.patient_days.is_some()
            || self.data.is_some()
            || self.collector.is_some()
            || self.collectors
    }
}

/// What was asked for.
#[derive(Default)]
pub struct Extras {
    pub comparisons: Vec<(RuleSet, Comparison)>,
    pub judgements: Option<Judgements>,
    pub doubts: Option<Vec<DoubtCount>>,
    pub patient_days: Option<PatientDayFigures>,
    pub standings: Option<Vec<(String, Tally)>>,
    pub collectors: Option<Vec<(Option<String>, Tally)>>,
    pub collector: Option<CollectorReport>,
}

/// One person's figures.
pub struct CollectorReport {
    pub id: String,
    pub tally: Tally,
    pub figures: Result<CollectorFigures, NoCollectorFigures>,
}

/// Judgements beside the verdicts.
pub struct Judgements {
    pub signed: Vec<Judgement>,
    pub beside: Beside,
    pub tally: Tally,
}

/// Sets per 1,000 patient-days.
pub struct PatientDayFigures {
    pub all: Option<PatientDayRate>,
    pub rows: Vec<(String, Option<PatientDayRate>)>,
    /// Sets of months or units for which no days are given.
    pub without_days: u64,
}

/// The sets as they were judged.
#[derive(Clone, Copy)]
pub struct Case<'a> {
    pub sets: &'a [CultureSet],
    pub judged: &'a [Judged],
    pub rules: &'a RuleSet,
    /// `None` where dates were shifted.
    pub as_of: Option<Date>,
    /// Only what grew is in the files.
    pub positives_only: bool,
}

impl Extras {
    /// Works out what was asked for.
    pub fn new(args: &ExtraArgs, case: Case<'_>) -> Result<Self, Message> {
        let mut extras = Self::default();
        for name in &args.compare {
            let other = super::named_rules(name)?;
            let judged = culture::judge(case.sets, &other, case.as_of);
            extras.comparisons.push((other, Comparison::of(case.judged, &judged)));
        }
        if let Some(path) = &args.judgements {
            extras.judgements = Some(judgements(path, case)?);
        }
        extras.doubts = args.quality.then(|| doubts(case.sets, case.judged));
        if let Some(path) = &args.patient_days {
            if case.as_of.is_none() || case.positives_only {
                return Err(Message::new(
                    "--patient-days",
                    "files whose dates were shifted, or that hold only what grew",
                    "every set with its own day",
                    "leave --patient-days out for these files",
                ));
            }
            extras.patient_days = Some(patient_day_figures(&given::patient_days(path)?, case));
        }
        if let Some(path) = &args.data {
            extras.standings = Some(by_standing(path, case)?);
        }
        if args.collectors || args.collector.is_some() {
            let tallies = tally_by(case.sets, case.judged, |set| set.collector.clone());
            if let Some(id) = &args.collector {
                extras.collector = Some(collector(id, &tallies, case)?);
            }
            extras.collectors = args.collectors.then(|| tallies.into_iter().collect());
        }
        Ok(extras)
    }
}

fn judgements(path: &Path, case: Case<'_>) -> Result<Judgements, Message> {
    let signed = given::judgements(path)?;
    let beside = Beside::find(case.sets, &signed);
    if let Some(first) = beside.without_set.first().and_then(|place| signed.get(*place)) {
        return Err(Message::new(
            path.display().to_string(),
            format!(
                "{} judgements on sets that are not in the files, the first on set {:?}",
                beside.without_set.len(),
                first.set().0
            ),
            "judgements on sets of the laboratory's files",
            "correct the number of the set, or give the file that holds it",
        ));
    }
    let tally = beside.tally(case.judged, &signed);
    Ok(Judgements { signed, beside, tally })
}

fn patient_day_figures(days: &PatientDays, case: Case<'_>) -> PatientDayFigures {
    let by_unit = days.keys().any(|(_, unit)| unit.is_some());
    let mut sets: BTreeMap<(Month, Option<String>), u64> = BTreeMap::new();
    for (set, judged) in case.sets.iter().zip(case.judged) {
        if judged.verdict() != Verdict::Excluded {
            let unit = if by_unit { set.unit.clone() } else { None };
            *sets.entry((Month::of(set), unit)).or_insert(0) += 1;
        }
    }
    let without_days = sets.iter().filter(|(key, _)| !days.contains_key(*key)).map(|(_, count)| count).sum();
    let counted = |key: &(Month, Option<String>)| sets.get(key).copied().unwrap_or(0);
    let rows = days
        .iter()
        .map(|(key, days)| {
            let name = match &key.1 {
                Some(unit) => format!("{} {unit}", key.0),
                None => key.0.to_string(),
            };
            (name, per_thousand_patient_days(counted(key), *days))
        })
        .collect();
    let all = per_thousand_patient_days(days.keys().map(counted).sum(), days.values().sum());
    PatientDayFigures { all, rows, without_days }
}

/// The verdicts by whether the collector was released at the draw, by the record book's history.
fn by_standing(path: &Path, case: Case<'_>) -> Result<Vec<(String, Tally)>, Message> {
    let Some(as_of) = case.as_of else {
        return Err(Message::new(
            "--data",
            "files whose dates were shifted",
            "the days of the draws: a standing holds on a day",
            "leave --data out for these files",
        ));
    };
    let folder = Folder::open(path)?;
    let book = folder.book()?;
    let history = ::book::history(&book).map_err(|error| crate::book::message(&error, folder.path()))?;
    let desk = Desk::new(Material {
        unit: folder.settings().unit.clone(),
        today: as_of,
        history,
        sets: case.sets.to_vec(),
        rules: case.rules.clone(),
        release_rule: folder.release_rule()?,
        roster: None,
        training_started: None,
    });
    let rows = desk.results().by_standing;
    Ok(rows
        .into_iter()
        .map(|row| {
            let counts = row.counts;
            let tally = Tally {
                contaminated: counts.contaminated,
                true_positive: counts.true_positive,
                negative: counts.negative,
                undetermined: counts.undetermined,
                provisional: counts.provisional,
                excluded: counts.excluded,
            };
            (row.name, tally)
        })
        .collect())
}

fn collector(
    id: &str,
    tallies: &BTreeMap<Option<String>, Tally>,
    case: Case<'_>,
) -> Result<CollectorReport, Message> {
    if case.positives_only {
        return Err(Message::new(
            "--collector",
            "a file that holds only what grew",
            "every set the person drew",
            "ask the laboratory for negative sets too: without them nothing can be said of a person",
        ));
    }
    let named: BTreeMap<String, Tally> =
        tallies.iter().filter_map(|(name, tally)| Some((name.clone()?, *tally))).collect();
    let tally = *named.get(id).ok_or_else(|| {
        Message::new(
            "--collector",
            format!("{id:?}, and no set with this collector among {} sets", case.sets.len()),
            "a collector as the laboratory writes it",
            "check the spelling, and that the mapping names the column of the collector",
        )
    })?;
    let target = Probability::new(TARGET)
        .map_err(|error| Message::new("target", error.to_string(), "a share", "report this as a fault"))?;
    Ok(CollectorReport { id: id.to_owned(), tally, figures: collector_figures(&named, id, target) })
}
