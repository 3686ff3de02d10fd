//! The command `wardwright follow-up`: after release, who is due for a check, what the watched draws say, and questions
//! about watching.

use std::path::PathBuf;
use std::process::ExitCode;

use ::breakdown::JobCode;
use clap::Args;
use practice::{
    EventKind, FaultChart, FaultRate, FaultWatch, FaultWatchDesign, Standing, WatcherFacts, fault_rate,
    outcomes_after_release, standing_events, standings, watcher_facts,
};
use serde_json::{Value, json};
use stats::{ConfidenceLevel, Proportion, StatsError};

use crate::breakdown::print;
use crate::folder::Folder;
use crate::message::Message;

/// Show follow-up after release: checks due, what watched draws say of faults, and questions about watching
///
/// For the trainer, and for each person their own line only. A chart that signals is a reason to watch a draw and talk, not
/// a verdict. Exit code: 0, 2 when something could not be read.
#[derive(Debug, Args)]
pub struct FollowUpArgs {
    /// Data folder
    #[arg(long, default_value = "wardwright-data", value_name = "FOLDER")]
    data: PathBuf,
    /// Only this job
    #[arg(long, value_name = "CODE")]
    job: Option<String>,
    /// Print one JSON object instead of text (docs/json.md)
    #[arg(long)]
    json: bool,
}

const ADVICE: &str = "Figures of a person are for that person and their trainer only. A chart or a question is a reason \
                      to watch a draw and talk, not a verdict. Training support, not a medical device; local policy comes \
                      first.";

struct Person {
    standing: Standing,
    rate: Option<FaultRate>,
    watch: FaultWatch,
}

struct Job {
    code: JobCode,
    people: Vec<Person>,
    watchers: Vec<WatcherFacts>,
}

pub fn run(args: &FollowUpArgs) -> ExitCode {
    match gathered(args) {
        Ok(jobs) => {
            print(&if args.json { object(&jobs) } else { text(&jobs) });
            ExitCode::SUCCESS
        }
        Err(message) => message.give_up(),
    }
}

fn gathered(args: &FollowUpArgs) -> Result<Vec<Job>, Message> {
    let folder = Folder::open(&args.data)?;
    let today = folder.today();
    let book = folder.book()?;
    let history = ::book::history(&book).map_err(|error| crate::book::message(&error, folder.path()))?;
    let standings = standings(&history, today, &folder.release_rule()?);
    let mut codes: Vec<JobCode> = standing_events(&history)
        .into_iter()
        .filter_map(|standing| match &standing.event.kind {
            EventKind::BreakdownPublished(breakdown) => Some(breakdown.code.clone()),
            _ => None,
        })
        .collect();
    codes.sort();
    codes.dedup();
    if let Some(wanted) = &args.job {
        let listed = codes.iter().map(|code| code.0.as_str()).collect::<Vec<_>>().join(", ");
        codes.retain(|code| code.0 == *wanted);
        if codes.is_empty() {
            return Err(Message::new(
                "--job",
                format!("{wanted:?}"),
                format!("one of the jobs with a breakdown in the book: {listed}"),
                "give the short name of a job",
            ));
        }
    }
    let bad = |error: StatsError| {
        Message::new("follow-up", error.to_string(), "counts that can be judged", "report this fault")
    };
    let design = FaultWatchDesign::usual().map_err(bad)?;
    let chart = FaultChart::new(&design).map_err(bad)?;
    let mut jobs = Vec::new();
    for code in codes {
        let outcomes = outcomes_after_release(&history, &code, today);
        let person = |standing: &Standing| -> Result<Person, StatsError> {
            let own = outcomes.get(&standing.person).map_or(&[][..], Vec::as_slice);
            let n_faults = own.iter().filter(|missed| **missed).count() as u64;
            let rate = Proportion::new(n_faults, own.len() as u64)
                .ok()
                .map(|seen| fault_rate(seen, design.not_acceptable, ConfidenceLevel::default()));
            Ok(Person { standing: standing.clone(), rate: rate.transpose()?, watch: chart.watch(own) })
        };
        let people = standings
            .iter()
            .filter(|standing| standing.job == code && standing.scope.is_some())
            .map(person)
            .collect::<Result<_, _>>()
            .map_err(bad)?;
        let watchers = watcher_facts(&history, &code, today).map_err(bad)?;
        jobs.push(Job { code, people, watchers });
    }
    Ok(jobs)
}

fn text(jobs: &[Job]) -> String {
    let mut lines = Vec::new();
    for job in jobs {
        lines.push(format!("Follow-up of {}", job.code));
        lines.push(
            "  person      next check   faults of draws  chance of more   chart of limit   why".to_owned(),
        );
        lines.push("                           watched since    than 1 in 5".to_owned());
        let mut people: Vec<&Person> = job.people.iter().collect();
        people.sort_by_key(|person| {
            (person.standing.next_check.as_ref().map(|due| due.on), person.standing.person.clone())
        });
        for person in people {
            let due = person.standing.next_check.as_ref();
            let (seen, above) =
                person.rate.as_ref().map_or(("none yet".to_owned(), "-".to_owned()), |rate| {
                    (
                        format!("{} of {}", rate.seen.events(), rate.seen.trials()),
                        format!("{:.0} %", rate.above_target.get() * 100.0),
                    )
                });
            let value = person.watch.path.last().copied().unwrap_or(0.0);
            let signal = if person.watch.first_signal.is_some() { " SIGNAL" } else { "" };
            lines.push(format!(
                "  {:<11} {:<12} {seen:<16} {above:<16} {:<16} {}",
                person.standing.person.0,
                due.map_or("-".to_owned(), |due| due.on.to_string()),
                format!("{value:.1} of {:.1}{signal}", person.watch.limit),
                due.map_or("", |due| due.why.as_str()),
            ));
        }
        if let Some(any) = job.people.first() {
            lines.push(format!(
                "  The chart (Bernoulli CUSUM, 1 fault in 50 draws against 1 in 5) is wrong once in {:.0} watched draws in the \
                 mean while all is well, and signals after {:.1} once it is not.",
                any.watch.draws_to_false_alarm, any.watch.draws_to_notice
            ));
        }
        let questions: Vec<&String> = job.watchers.iter().flat_map(|one| &one.questions).collect();
        if questions.is_empty() {
            lines.push(
                "  No question about watching: chance explains what differs between watchers.".to_owned(),
            );
        }
        lines.extend(questions.into_iter().map(|question| format!("  QUESTION  {question}")));
        lines.push(String::new());
    }
    lines.push(ADVICE.to_owned());
    lines.join("\n") + "\n"
}

fn object(jobs: &[Job]) -> String {
    let jobs: Vec<Value> = jobs
        .iter()
        .map(|job| {
            let people: Vec<Value> = job
                .people
                .iter()
                .map(|person| {
                    let due = person.standing.next_check.as_ref();
                    json!({
                        "person": person.standing.person.0,
                        "level": person.standing.level.words(),
                        "next_check": due.map(|due| json!({ "on": due.on.to_string(), "why": due.why })),
                        "faults": person.rate.map(|rate| rate.seen.events()),
                        "of_draws": person.rate.map(|rate| rate.seen.trials()),
                        "fault_rate": person.rate.map(|rate| json!({
                            "mean": rate.mean,
                            "lower": rate.interval.lower(),
                            "upper": rate.interval.upper(),
                            "p_above_target": rate.above_target.get(),
                            "target": rate.target.get(),
                        })),
                        "chart": json!({
                            "value": person.watch.path.last().copied().unwrap_or(0.0),
                            "limit": person.watch.limit,
                            "first_signal_at_draw": person.watch.first_signal,
                            "draws_to_false_alarm": person.watch.draws_to_false_alarm,
                            "draws_to_notice": person.watch.draws_to_notice,
                        }),
                    })
                })
                .collect();
            let count = |share: Option<Proportion>| share.map(|one| json!([one.events(), one.trials()]));
            let watchers: Vec<Value> = job
                .watchers
                .iter()
                .map(|one| {
                    json!({
                        "watcher": one.watcher.0,
                        "marked": count(Some(one.marked)),
                        "others": count(one.others),
                        "p_so_few": one.so_few.map(|chance| chance.get()),
                        "later": count(one.later),
                        "later_others": count(one.later_others),
                        "p_later_so_many": one.later_so_many.map(|chance| chance.get()),
                        "questions": one.questions,
                    })
                })
                .collect();
            json!({ "job": job.code.0, "people": people, "watchers": watchers })
        })
        .collect();
    format!("{:#}\n", json!({ "schema": 1, "jobs": jobs, "advice": ADVICE }))
}
