//! The report for machines, version 1; documented in docs/json.md.

use culture::{Clause, FillFacts, Rate, Route, Shift, Tally};
use serde::Serialize;

use super::extras::Extras;
use super::extras_json::ExtraParts;
use super::figures::{Figures, why_no_rate};

/// The report as one JSON object.
pub fn object(figures: &Figures<'_>, extras: &Extras) -> String {
    let report = Report::new(figures, extras);
    // Every part is a plain struct with text keys, so this cannot fail; an empty object would be seen at once.
    serde_json::to_string_pretty(&report).unwrap_or_else(|_| "{}".to_owned())
}

#[derive(Serialize)]
struct Report<'a> {
    schema: u32,
    #[serde(flatten)]
    part: Part,
    rule: Rule<'a>,
    commensal_list: Named<'a>,
    as_of: String,
    dates: &'static str,
    months: Vec<MonthPart>,
    units: Vec<UnitPart<'a>>,
    routes: Vec<RoutePart>,
    shifts: Vec<ShiftPart>,
    clauses: Vec<ClausePart>,
    flags: Vec<FlagPart>,
    single_sets: SinglePart,
    collectors: Share,
    positivity: Share,
    fill: FillPart,
    #[serde(flatten)]
    extras: ExtraParts<'a>,
    files: Vec<FilePart<'a>>,
    unread: Vec<UnreadPart<'a>>,
    dropped: Vec<DroppedPart<'a>>,
    notes: Vec<NotePart<'a>>,
    caution: &'static str,
}

/// The counts and the rate of the whole, or of a part.
#[derive(Serialize)]
pub struct Part {
    sets: u64,
    contaminated: u64,
    true_positive: u64,
    negative: u64,
    undetermined: u64,
    provisional: u64,
    excluded: u64,
    rate: Option<f64>,
    interval: Option<[f64; 2]>,
    denominator: u64,
    denominator_is: &'static str,
    interval_method: &'static str,
    why_no_rate: Option<&'static str>,
}

/// A count out of another.
#[derive(Serialize)]
pub struct Share {
    events: u64,
    denominator: u64,
    denominator_is: &'static str,
    rate: Option<f64>,
    interval: Option<[f64; 2]>,
}

#[derive(Serialize)]
struct Rule<'a> {
    name: &'a str,
    version: &'a str,
    title: &'a str,
    source: &'a str,
    window: String,
}

#[derive(Serialize)]
struct Named<'a> {
    name: &'a str,
    version: &'a str,
}

#[derive(Serialize)]
struct MonthPart {
    month: String,
    #[serde(flatten)]
    part: Part,
    fill: FillPart,
}

#[derive(Serialize)]
struct UnitPart<'a> {
    unit: Option<&'a str>,
    #[serde(flatten)]
    part: Part,
    fill: FillPart,
}

#[derive(Serialize)]
struct RoutePart {
    route: Option<&'static str>,
    #[serde(flatten)]
    part: Part,
}

#[derive(Serialize)]
struct ShiftPart {
    shift: Option<&'static str>,
    #[serde(flatten)]
    part: Part,
}

#[derive(Serialize)]
struct ClausePart {
    clause: &'static str,
    verdict: &'static str,
    sets: u64,
    sentence: String,
}

#[derive(Serialize)]
struct FlagPart {
    flag: &'static str,
    sets: u64,
    sentence: &'static str,
}

#[derive(Serialize)]
struct SinglePart {
    by_venepuncture: Share,
    by_occasion: Share,
}

#[derive(Serialize)]
struct FillPart {
    bottles: u64,
    with_fill: u64,
    paediatric_bottles: u64,
    mean_ml: Option<f64>,
    target_ml: [f64; 2],
    density_g_per_ml: Option<f64>,
    within: Share,
    under: Share,
    over: Share,
}

#[derive(Serialize)]
struct FilePart<'a> {
    file: &'a str,
    rows: u64,
    kept: u64,
    dropped: u64,
    unread: u64,
}

#[derive(Serialize)]
struct UnreadPart<'a> {
    file: &'a str,
    line: Option<u64>,
    reason: String,
    column: Option<&'a str>,
    found: &'a str,
    expected: &'a str,
    to_do: &'a str,
}

#[derive(Serialize)]
struct DroppedPart<'a> {
    file: &'a str,
    reason: &'a str,
    rows: u64,
}

#[derive(Serialize)]
struct NotePart<'a> {
    file: &'a str,
    text: &'a str,
    count: u64,
    first_line: Option<u64>,
}

impl<'a> Report<'a> {
    fn new(figures: &'a Figures<'a>, extras: &'a Extras) -> Self {
        let import = figures.import;
        let part = |tally: &Tally| Part::new(figures, tally);
        Self {
            schema: 1,
            part: Part { why_no_rate: figures.why_no_rate(), ..part(&figures.tally) },
            rule: Rule {
                name: &figures.rules.name,
                version: &figures.rules.version,
                title: &figures.rules.title,
                source: &figures.rules.source,
                window: figures.rules.window.to_string(),
            },
            commensal_list: Named { name: figures.list.name(), version: figures.list.version() },
            as_of: figures.as_of.to_string(),
            dates: if figures.shifted() { "shifted" } else { "as-recorded" },
            months: figures
                .months
                .iter()
                .map(|(month, counts)| MonthPart {
                    month: month.to_string(),
                    part: part(&counts.tally),
                    fill: FillPart::new(figures, &counts.fill),
                })
                .collect(),
            units: figures
                .units
                .iter()
                .map(|(unit, counts)| UnitPart {
                    unit: unit.as_deref(),
                    part: part(&counts.tally),
                    fill: FillPart::new(figures, &counts.fill),
                })
                .collect(),
            routes: figures
                .routes
                .iter()
                .map(|(route, tally)| RoutePart { route: route.map(route_id), part: part(tally) })
                .collect(),
            shifts: figures
                .shifts
                .iter()
                .map(|(shift, tally)| ShiftPart { shift: shift_id(*shift), part: part(tally) })
                .collect(),
            clauses: figures
                .clauses
                .iter()
                .map(|(clause, sets)| clause_part(*clause, *sets, figures))
                .collect(),
            flags: figures
                .flags
                .iter()
                .map(|(flag, sets)| FlagPart { flag: flag.id(), sets: *sets, sentence: flag.sentence() })
                .collect(),
            single_sets: SinglePart {
                by_venepuncture: Share::new(
                    figures.single.single,
                    figures.single.sets,
                    "sets",
                    figures.singles_per_set(),
                ),
                by_occasion: Share::new(
                    figures.single.single,
                    figures.single.occasions,
                    "occasions: a patient's sets within 24 hours of the first",
                    figures.singles_per_occasion(),
                ),
            },
            collectors: Share::new(
                figures.with_collector,
                figures.tally.sets(),
                "sets",
                culture::share(figures.with_collector, figures.tally.sets()),
            ),
            positivity: Share::new(
                figures.tally.contaminated + figures.tally.true_positive + figures.tally.undetermined,
                figures.tally.closed(),
                "closed sets",
                figures.positivity(),
            ),
            fill: FillPart::new(figures, &figures.fill),
            extras: ExtraParts::new(figures, extras),
            files: import
                .counts
                .iter()
                .map(|file| FilePart {
                    file: &file.file,
                    rows: file.rows,
                    kept: file.kept,
                    dropped: file.dropped,
                    unread: file.unread,
                })
                .collect(),
            unread: import
                .unread
                .iter()
                .map(|unread| UnreadPart {
                    file: &unread.file,
                    line: unread.line,
                    reason: unread.reason(),
                    column: unread.column.as_ref().map(exchange::laboratory::Column::name),
                    found: &unread.found,
                    expected: &unread.expected,
                    to_do: &unread.to_do,
                })
                .collect(),
            dropped: import
                .dropped
                .iter()
                .map(|dropped| DroppedPart {
                    file: &dropped.file,
                    reason: &dropped.reason,
                    rows: dropped.rows,
                })
                .collect(),
            notes: import
                .notes
                .iter()
                .map(|note| NotePart {
                    file: &note.file,
                    text: &note.text,
                    count: note.count,
                    first_line: note.first_line,
                })
                .collect(),
            caution: super::text::CAUTION,
        }
    }
}

impl Part {
    pub fn new(figures: &Figures<'_>, tally: &Tally) -> Self {
        let rate = figures.rate(tally);
        Self {
            sets: tally.sets(),
            contaminated: tally.contaminated,
            true_positive: tally.true_positive,
            negative: tally.negative,
            undetermined: tally.undetermined,
            provisional: tally.provisional,
            excluded: tally.excluded,
            rate: estimate(rate),
            interval: bounds(rate),
            denominator: tally.closed(),
            denominator_is: "closed sets: sets less provisional",
            interval_method: "Wilson score interval, 95 %",
            why_no_rate: figures.why_no_rate().or(why_no_rate(tally)),
        }
    }
}

impl Share {
    pub fn new(events: u64, denominator: u64, denominator_is: &'static str, rate: Option<Rate>) -> Self {
        Self { events, denominator, denominator_is, rate: estimate(rate), interval: bounds(rate) }
    }
}

impl FillPart {
    fn new(figures: &Figures<'_>, fill: &FillFacts) -> Self {
        let share =
            |events, rate| Share::new(events, fill.with_fill, "adult bottles whose fill is known", rate);
        Self {
            bottles: fill.bottles,
            with_fill: fill.with_fill,
            paediatric_bottles: fill.paediatric,
            mean_ml: fill.mean_ml(),
            target_ml: [fill.target.low_ml(), fill.target.high_ml()],
            density_g_per_ml: figures.density_g_per_ml,
            within: share(fill.within, fill.within_share()),
            under: share(fill.under, fill.under_share()),
            over: share(fill.over, fill.over_share()),
        }
    }
}

fn clause_part(clause: Clause, sets: u64, figures: &Figures<'_>) -> ClausePart {
    ClausePart {
        clause: clause.id(),
        verdict: clause.verdict().id(),
        sets,
        sentence: clause.sentence(figures.rules),
    }
}

fn estimate(rate: Option<Rate>) -> Option<f64> {
    rate.map(|rate| rate.proportion.estimate())
}

fn bounds(rate: Option<Rate>) -> Option<[f64; 2]> {
    rate.map(|rate| [rate.interval.lower(), rate.interval.upper()])
}

/// The word for a route in files.
pub fn route_id(route: Route) -> &'static str {
    match route {
        Route::Vein => "vein",
        Route::CentralLine => "central-line",
        Route::ArterialLine => "arterial-line",
        Route::Cannula => "cannula",
    }
}

fn shift_id(shift: Shift) -> Option<&'static str> {
    match shift {
        Shift::Day => Some("day"),
        Shift::Night => Some("night"),
        Shift::NotKnown => None,
    }
}
