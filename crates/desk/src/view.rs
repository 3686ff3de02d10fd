use breakdown::{Breakdown, ItemId, JobCode, Version};
use jiff::civil::{Date, DateTime};
use practice::{PersonId, Role};
use stats::charts::ControlChart;

/// A number with its denominator, and its interval or the reason why there is none.
#[derive(Debug, Clone, PartialEq)]
pub struct Rate {
    /// Numerator.
    pub events: u64,
    /// Denominator.
    pub of: u64,
    /// What is counted: "contaminated sets".
    pub what: String,
    /// What the denominator counts: "sets with a closed result".
    pub of_what: String,
    /// The share with its interval, or why it is not shown.
    pub share: Share,
}

/// A share with its interval, or the reason why it is not shown.
#[derive(Debug, Clone, PartialEq)]
pub enum Share {
    /// Share and interval, all as fractions of one.
    Shown {
        /// Estimate.
        estimate: f64,
        /// Lower end of the interval.
        lower: f64,
        /// Upper end of the interval.
        upper: f64,
        /// Method and level: "Wilson, 95 %".
        method: String,
        /// Anchor of the method in the methods page: `wilson`.
        anchor: String,
    },
    /// Why no share is shown.
    Withheld(String),
}

/// Where a line of the desk leads.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Link {
    /// One person's record.
    Person(PersonId),
    /// A breakdown.
    Breakdown(JobCode),
    /// The results page.
    Results,
    /// One month's report, given by its first day.
    Report(Date),
    /// The people page.
    People,
}

/// How soon something needs the trainer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Urgency {
    /// Before the next draw.
    BeforeNextDraw,
    /// Today.
    Today,
    /// This week.
    ThisWeek,
    /// For information.
    Later,
}

/// One thing that needs the trainer.
#[derive(Debug, Clone, PartialEq)]
pub struct TodayItem {
    /// How soon.
    pub urgency: Urgency,
    /// What to do, in an imperative sentence.
    pub what: String,
    /// Why, with the numbers.
    pub why: String,
    /// Where to do it.
    pub link: Link,
}

/// Who is on one shift for one job.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct ShiftCover {
    /// "day" or "night".
    pub shift: String,
    /// Job.
    pub job_name: String,
    /// Everybody on duty.
    pub on_duty: u64,
    /// Names of those who may draw without anybody watching.
    pub may_draw_alone: Vec<String>,
    /// Names of those who may watch a learner.
    pub may_watch: Vec<String>,
    /// Names of those still learning.
    pub learning: Vec<String>,
}

/// The page a trainer opens at the start of a shift.
#[derive(Debug, Clone, PartialEq)]
pub struct TodayPage {
    /// Day asked about.
    pub today: Date,
    /// What needs the trainer, most urgent first.
    pub items: Vec<TodayItem>,
    /// Who is on today's shifts; empty without a roster.
    pub shifts: Vec<ShiftCover>,
    /// Contamination of the last closed twelve months.
    pub contamination: Rate,
    /// Sets not closed yet.
    pub provisional_sets: u64,
    /// Who may draw alone, by job: (job name, released, people on the unit).
    pub released: Vec<(String, u64, u64)>,
    /// Name and version of the rule behind the verdicts.
    pub rule: String,
}

/// Where a person stands in one job.
#[derive(Debug, Clone, PartialEq)]
pub struct JobStanding {
    /// Job.
    pub job: JobCode,
    /// Name of the job.
    pub job_name: String,
    /// Standing in the trade's words: "learning: draws only watched".
    pub standing: String,
    /// Short word for tables: "learning", "own patients", "all patients", "may precept", "not planned".
    pub short: String,
    /// Since when.
    pub since: Option<Date>,
    /// On whose word.
    pub on_word_of: Option<String>,
    /// What the release rule still asks for; empty for a job that is not planned.
    pub missing: Vec<String>,
    /// True when the rule is met and a decision is due.
    pub rule_met: bool,
    /// Next check or refresher: date and what.
    pub next: Option<(Date, String)>,
    /// To be learnt by.
    pub planned_by: Option<Date>,
}

/// One line of the people page.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonRow {
    /// Who.
    pub id: PersonId,
    /// Name.
    pub name: String,
    /// Role.
    pub role: Role,
    /// First day on the unit.
    pub started: Date,
    /// Standing per job, in the order of the jobs.
    pub standings: Vec<JobStanding>,
}

/// One entry in a person's record.
#[derive(Debug, Clone, PartialEq)]
pub struct EvidenceRow {
    /// Identifier of the entry.
    pub entry: String,
    /// When it happened.
    pub when: DateTime,
    /// Kind of evidence: "said", "done", "decision", "plan".
    pub kind: String,
    /// What, in a sentence; opened by the job's code where the person has more than one job on record.
    pub what: String,
    /// Who wrote it down.
    pub by: String,
    /// Identifier of the entry that corrects this one, with the reason.
    pub corrected_by: Option<(String, String)>,
    /// Identifier of the entry this one corrects.
    pub corrects: Option<String>,
}

/// One observed draw in a person's record.
#[derive(Debug, Clone, PartialEq)]
pub struct DrawRow {
    /// Identifier of its entry in the book.
    pub entry: String,
    /// When.
    pub when: DateTime,
    /// Job.
    pub job: JobCode,
    /// Watched by.
    pub watched_by: String,
    /// True for the trainer's spot check.
    pub spot_check: bool,
    /// Key points done without help, of those seen and applicable.
    pub done: u64,
    /// Key points seen and applicable.
    pub seen: u64,
    /// Items after a prompt or not done, each with the key point's words.
    pub open: Vec<(ItemId, String)>,
    /// True when it counts towards release; otherwise the reason it does not.
    pub counts: Result<(), String>,
    /// Verdict on the set, where the specimen number links the draw to a result.
    pub result: Option<String>,
}

/// How far chance explains one person's contaminated sets.
#[derive(Debug, Clone, PartialEq)]
pub struct Chance {
    /// Unit's rate used for comparison, fraction.
    pub unit_rate: f64,
    /// Probability of at least that many contaminated sets at the unit's rate.
    pub at_least_this_many: f64,
    /// Posterior mean of the person's rate, shrunk to the unit.
    pub shrunk: f64,
    /// 95 % posterior interval.
    pub shrunk_interval: (f64, f64),
    /// Target, fraction.
    pub target: f64,
    /// Posterior probability that the person's rate is above the target.
    pub above_target: f64,
    /// Further closed sets after which the estimate, going on as it is, would be on one side of the target with 95 %
    /// certainty; 0 when it is already, `None` when 100,000 would not settle it.
    pub sets_to_know: Option<u64>,
    /// In one plain sentence.
    pub sentence: String,
    /// Anchors of the methods used.
    pub anchors: Vec<String>,
}

/// One person's results: for that person and the trainer only.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonResults {
    /// Contaminated of closed sets that name this person as collector.
    pub contamination: Rate,
    /// How far chance explains it; absent with no closed set.
    pub chance: Option<Chance>,
    /// Share of the unit's sets with no collector recorded.
    pub unknown_collectors: Rate,
}

/// One person's record.
#[derive(Debug, Clone, PartialEq)]
pub struct PersonPage {
    /// The line of the people page.
    pub row: PersonRow,
    /// Draws, latest first.
    pub draws: Vec<DrawRow>,
    /// Everything, latest first.
    pub evidence: Vec<EvidenceRow>,
    /// What to practise next, safety first.
    pub practise: Vec<(ItemId, String)>,
    /// Results.
    pub results: PersonResults,
}

/// How often a key point was open when it was asked or watched.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// Times not unprompted, or not done without help.
    pub open: u64,
    /// Times judged.
    pub of: u64,
}

/// Facts on one key point over all learners.
#[derive(Debug, Clone, PartialEq)]
pub struct PointFacts {
    /// Job whose breakdown it stands in.
    pub job: JobCode,
    /// Which.
    pub item: ItemId,
    /// Words.
    pub text: String,
    /// Safety point.
    pub safety: bool,
    /// In teach-backs.
    pub said: Asked,
    /// On observed draws.
    pub done: Asked,
}

/// A breakdown with what learners make of it.
#[derive(Debug, Clone, PartialEq)]
pub struct BreakdownPage {
    /// Version in force.
    pub breakdown: Breakdown,
    /// Published on, by version, oldest first.
    pub versions: Vec<(Version, Date, Option<String>)>,
    /// Facts per key point, in the breakdown's order.
    pub points: Vec<PointFacts>,
}

/// Counts of verdicts.
#[derive(Debug, Clone, Copy, Default, PartialEq, Eq)]
pub struct VerdictCounts {
    /// All sets.
    pub sets: u64,
    /// Contaminated.
    pub contaminated: u64,
    /// Growth judged to come from the patient's blood.
    pub true_positive: u64,
    /// No growth.
    pub negative: u64,
    /// Neither can be said.
    pub undetermined: u64,
    /// Not closed yet.
    pub provisional: u64,
    /// Outside the rule: cancelled, not an adult.
    pub excluded: u64,
}

/// One month.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthRow {
    /// First day of the month.
    pub month: Date,
    /// Counts.
    pub counts: VerdictCounts,
    /// Contamination.
    pub contamination: Rate,
}

/// One unit, route, shift or other stratum.
#[derive(Debug, Clone, PartialEq)]
pub struct UnitRow {
    /// Name.
    pub name: String,
    /// Counts.
    pub counts: VerdictCounts,
    /// Contamination.
    pub contamination: Rate,
}

/// Fill volume of weighed or reported bottles.
#[derive(Debug, Clone, PartialEq)]
pub struct Fill {
    /// Bottles with a known volume.
    pub bottles: u64,
    /// Bottles without one.
    pub unknown: u64,
    /// Mean in millilitres.
    pub mean_ml: f64,
    /// Share of bottles under the recommended range.
    pub under: Rate,
    /// Share within the range.
    pub within: Rate,
    /// Share over it.
    pub over: Rate,
    /// The range, in words with its source.
    pub range: String,
}

/// A control chart with the labels it needs.
#[derive(Debug, Clone, PartialEq)]
pub struct Charted {
    /// The chart.
    pub chart: ControlChart,
    /// One label per point.
    pub labels: Vec<String>,
    /// Title.
    pub title: String,
    /// What the vertical axis shows.
    pub value_axis: String,
    /// What the denominators count: "sets".
    pub of_what: String,
    /// True when values are fractions to be shown as percentages.
    pub percent: bool,
    /// Anchor of the method.
    pub anchor: String,
}

/// What was found, in plain sentences with counts and intervals, and how.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The sentences.
    pub sentence: String,
    /// Anchor of the method in the methods page.
    pub anchor: String,
}

/// The results page.
#[derive(Debug, Clone, PartialEq)]
pub struct Results {
    /// Day asked about.
    pub as_of: Date,
    /// Name and version of the rule.
    pub rule: String,
    /// First and last day of collection.
    pub from: Date,
    /// Last day of collection.
    pub to: Date,
    /// Counts over everything.
    pub counts: VerdictCounts,
    /// Contamination over everything.
    pub contamination: Rate,
    /// Control chart by month, when there are enough months; otherwise why not.
    pub chart: Result<Charted, String>,
    /// Months, oldest first.
    pub months: Vec<MonthRow>,
    /// Units.
    pub units: Vec<UnitRow>,
    /// Vein or line.
    pub routes: Vec<UnitRow>,
    /// Day or night shift.
    pub shifts: Vec<UnitRow>,
    /// By the collector's standing at the time of the draw.
    pub by_standing: Vec<UnitRow>,
    /// Series with exactly one set, of all sets.
    pub single_sets: Rate,
    /// Sets with growth of any kind.
    pub positivity: Rate,
    /// Fill, where bottles were weighed or reported; otherwise why not.
    pub fill: Result<Fill, String>,
    /// Sets without a collector.
    pub unknown_collectors: Rate,
    /// Before and after the training: the plain difference, then the months as a series. Empty where the unit names no
    /// start, or no set is closed on one of the two sides.
    pub change: Vec<Finding>,
}

/// Training in one month.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct TrainingFacts {
    /// People on the unit on the last day.
    pub people: u64,
    /// By job: name, released on the last day.
    pub released: Vec<(String, u64)>,
    /// Teach-backs heard in the month.
    pub teachbacks: u64,
    /// Draws watched in the month.
    pub draws: u64,
    /// Spot checks in the month.
    pub spot_checks: u64,
    /// Releases signed in the month.
    pub releases: u64,
    /// Follow-ups and refreshers overdue on the last day.
    pub overdue: u64,
}

/// One month's report for the unit: no individual figures.
#[derive(Debug, Clone, PartialEq)]
pub struct MonthReport {
    /// Unit.
    pub unit: String,
    /// First day of the month.
    pub month: Date,
    /// Day on which it was worked out.
    pub as_of: Date,
    /// Name and version of the rule.
    pub rule: String,
    /// The month.
    pub this_month: MonthRow,
    /// The twelve months up to and including this one.
    pub last_twelve: Rate,
    /// What those months are called: fewer than twelve when the book holds no earlier results.
    pub last_twelve_named: String,
    /// Control chart up to this month.
    pub chart: Result<Charted, String>,
    /// What the chart says, in plain sentences.
    pub findings: Vec<String>,
    /// Units this month.
    pub units: Vec<UnitRow>,
    /// Vein or line this month.
    pub routes: Vec<UnitRow>,
    /// Single sets this month.
    pub single_sets: Rate,
    /// Fill this month.
    pub fill: Result<Fill, String>,
    /// Sets without a collector this month.
    pub unknown_collectors: Rate,
    /// Training.
    pub training: TrainingFacts,
    /// Key points most often open in the last three months.
    pub most_missed: Vec<PointFacts>,
    /// One sentence for the staff room.
    pub staff_room: String,
}
