//! What was asked for beside the figures, for machines; documented in docs/json.md. What was not asked for is null.

use culture::{PatientDayRate, Tally};
use serde::Serialize;

use super::extras::{CollectorReport, Extras, Judgements, PatientDayFigures};
use super::figures::Figures;
use super::json::{Part, Share};

#[derive(Serialize)]
pub struct ExtraParts<'a> {
    comparisons: Vec<ComparisonPart<'a>>,
    judgements: Option<JudgementsPart<'a>>,
    quality: Option<QualityPart>,
    patient_days: Option<PatientDaysPart<'a>>,
    standings: Option<Vec<NamedPart<'a>>>,
    by_collector: Option<Vec<NamedPart<'a>>>,
    collector: Option<CollectorPart<'a>>,
}

#[derive(Serialize)]
struct ComparisonPart<'a> {
    rule: &'a str,
    version: &'a str,
    first: Part,
    second: Part,
    sets: u64,
    changed: u64,
    changes: Vec<MovePart>,
}

#[derive(Serialize)]
struct MovePart {
    from: &'static str,
    from_clause: &'static str,
    to: &'static str,
    to_clause: &'static str,
    sets: u64,
}

#[derive(Serialize)]
struct JudgementsPart<'a> {
    signed: u64,
    replaced: u64,
    with_judgements: Part,
    differing: Vec<DifferingPart<'a>>,
}

#[derive(Serialize)]
struct DifferingPart<'a> {
    set: &'a str,
    by_rule: &'static str,
    clause: &'static str,
    by_person: &'static str,
    by: &'a str,
    on: String,
    because: &'a str,
}

#[derive(Serialize)]
struct QualityPart {
    rows: u64,
    repeated_rows: u64,
    doubts: Vec<DoubtPart>,
}

#[derive(Serialize)]
struct DoubtPart {
    doubt: &'static str,
    sentence: String,
    #[serde(flatten)]
    share: Share,
    places: Vec<PlacePart>,
}

#[derive(Serialize)]
struct PlacePart {
    /// Only where there is no line: a number made from patient and time would tell that two sets are of one patient.
    set: Option<String>,
    file: Option<String>,
    line: Option<u64>,
}

#[derive(Serialize)]
struct PatientDaysPart<'a> {
    all: Option<DaysPart>,
    rows: Vec<NamedDays<'a>>,
    sets_without_days: u64,
    interval_method: &'static str,
}

#[derive(Serialize)]
struct NamedDays<'a> {
    name: &'a str,
    #[serde(flatten)]
    days: Option<DaysPart>,
}

#[derive(Serialize)]
struct DaysPart {
    sets: u64,
    patient_days: f64,
    per_thousand: f64,
    interval: [f64; 2],
}

#[derive(Serialize)]
struct NamedPart<'a> {
    name: Option<&'a str>,
    #[serde(flatten)]
    part: Part,
}

#[derive(Serialize)]
struct CollectorPart<'a> {
    id: &'a str,
    for_whom: &'static str,
    #[serde(flatten)]
    part: CountsPart,
    why_none: Option<String>,
    figures: Option<PersonPart>,
}

/// Counts without a rate: a bare percentage of one person says less than it seems to.
#[derive(Serialize)]
struct CountsPart {
    sets: u64,
    contaminated: u64,
    true_positive: u64,
    negative: u64,
    undetermined: u64,
    provisional: u64,
    closed: u64,
}

#[derive(Serialize)]
struct PersonPart {
    everyone_contaminated: u64,
    everyone_closed: u64,
    people: u64,
    people_differ: bool,
    estimate: f64,
    credible_interval: [f64; 2],
    target: f64,
    probability_above_target: f64,
    probability_as_high_by_chance: f64,
    adjusted_for_people: f64,
    funnel: [f64; 2],
    sets_to_know: Option<u64>,
}

impl<'a> ExtraParts<'a> {
    pub fn new(figures: &'a Figures<'_>, extras: &'a Extras) -> Self {
        let named =
            |name: Option<&'a str>, tally: &Tally| NamedPart { name, part: Part::new(figures, tally) };
        Self {
            comparisons: extras
                .comparisons
                .iter()
                .map(|(rules, comparison)| ComparisonPart {
                    rule: &rules.name,
                    version: &rules.version,
                    first: Part::new(figures, &comparison.first),
                    second: Part::new(figures, &comparison.second),
                    sets: figures.judged.len() as u64,
                    changed: comparison.changed(),
                    changes: comparison
                        .changes()
                        .map(|((from, to), sets)| MovePart {
                            from: from.verdict().id(),
                            from_clause: from.id(),
                            to: to.verdict().id(),
                            to_clause: to.id(),
                            sets,
                        })
                        .collect(),
                })
                .collect(),
            judgements: extras.judgements.as_ref().map(|judgements| judgements_part(figures, judgements)),
            quality: extras.doubts.as_ref().map(|doubts| QualityPart {
                rows: figures.import.counts.iter().map(|file| file.rows).sum(),
                repeated_rows: figures
                    .import
                    .dropped
                    .iter()
                    .filter(|dropped| dropped.reason == exchange::laboratory::REPEATED_ROW)
                    .map(|dropped| dropped.rows)
                    .sum(),
                doubts: doubts
                    .iter()
                    .map(|count| DoubtPart {
                        doubt: count.doubt.id(),
                        sentence: count.doubt.sentence(),
                        share: Share::new(
                            count.sets,
                            count.of,
                            count.doubt.out_of(),
                            culture::share(count.sets, count.of),
                        ),
                        places: count.places.iter().filter_map(|place| place_part(figures, *place)).collect(),
                    })
                    .collect(),
            }),
            patient_days: extras.patient_days.as_ref().map(patient_days),
            standings: extras
                .standings
                .as_ref()
                .map(|rows| rows.iter().map(|(name, tally)| named(Some(name), tally)).collect()),
            by_collector: extras
                .collectors
                .as_ref()
                .map(|rows| rows.iter().map(|(name, tally)| named(name.as_deref(), tally)).collect()),
            collector: extras.collector.as_ref().map(collector),
        }
    }
}

fn judgements_part<'a>(figures: &'a Figures<'_>, judgements: &'a Judgements) -> JudgementsPart<'a> {
    let Judgements { signed, beside, tally } = judgements;
    JudgementsPart {
        signed: signed.len() as u64,
        replaced: beside.replaced.len() as u64,
        with_judgements: Part::new(figures, tally),
        differing: beside
            .differing(figures.judged, signed)
            .filter_map(|(set, judgement)| {
                let (rule, person) = (figures.judged.get(set)?, signed.get(judgement)?);
                Some(DifferingPart {
                    set: figures.import.sets.get(set)?.id,
                    by_rule: rule.verdict().id(),
                    clause: rule.clause.id(),
                    by_person: person.verdict().id(),
                    by: person.by(),
                    on: person.on().to_string(),
                    because: person.because(),
                })
            })
            .collect(),
    }
}

fn place_part(figures: &Figures<'_>, place: usize) -> Option<PlacePart> {
    let (set, source) = (figures.import.sets.get(place)?, figures.import.sources.get(place)?);
    Some(PlacePart {
        set: source.line.is_none().then(|| set.id.to_string()),
        file: figures.import.counts.get(source.file).map(|file| file.file.clone()),
        line: source.line,
    })
}

fn patient_days(days: &PatientDayFigures) -> PatientDaysPart<'_> {
    let part = |rate: &Option<PatientDayRate>| {
        rate.map(|rate| DaysPart {
            sets: rate.sets,
            patient_days: rate.patient_days,
            per_thousand: rate.per_thousand,
            interval: [rate.interval.lower(), rate.interval.upper()],
        })
    };
    PatientDaysPart {
        all: part(&days.all),
        rows: days.rows.iter().map(|(name, rate)| NamedDays { name, days: part(rate) }).collect(),
        sets_without_days: days.without_days,
        interval_method: "exact Poisson interval, 95 %",
    }
}

fn collector(report: &CollectorReport) -> CollectorPart<'_> {
    let tally = &report.tally;
    CollectorPart {
        id: &report.id,
        for_whom: "this person and their trainer only",
        part: CountsPart {
            sets: tally.sets(),
            contaminated: tally.contaminated,
            true_positive: tally.true_positive,
            negative: tally.negative,
            undetermined: tally.undetermined,
            provisional: tally.provisional,
            closed: tally.closed(),
        },
        why_none: report.figures.as_ref().err().map(ToString::to_string),
        figures: report.figures.as_ref().ok().map(|figures| PersonPart {
            everyone_contaminated: figures.everyone.events(),
            everyone_closed: figures.everyone.trials(),
            people: figures.people,
            people_differ: figures.people_differ,
            estimate: figures.estimate,
            credible_interval: [figures.interval.lower(), figures.interval.upper()],
            target: figures.target,
            probability_above_target: figures.above_target,
            probability_as_high_by_chance: figures.as_high_by_chance,
            adjusted_for_people: figures.adjusted,
            funnel: [figures.funnel.lower(), figures.funnel.upper()],
            sets_to_know: figures.sets_to_know,
        }),
    }
}
