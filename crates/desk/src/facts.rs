use std::collections::{BTreeMap, HashMap};
use std::sync::OnceLock;

use breakdown::{Breakdown, JobCode};
use culture::{CultureSet, Judged, Route, RuleSet, Verdict};
use jiff::civil::{Date, DateTime};
use practice::{
    CountedDraw, Event, EventKind, History, Person, PersonId, ReleaseRule, Standing, counted_draws, end_of,
    rule_in_force,
};
use stats::Proportion;
use timetable::Roster;

use crate::results::is_closed;
use crate::view::Results;

/// What a desk is worked out from. Nothing in it says where it was stored.
#[derive(Debug, Clone)]
pub struct Material {
    /// Name of the unit.
    pub unit: String,
    /// The day on which every question is asked.
    pub today: Date,
    /// Everything that happened.
    pub history: History,
    /// Latest version of every laboratory set.
    pub sets: Vec<CultureSet>,
    /// Rule for verdicts.
    pub rules: RuleSet,
    /// Rule for release of the unit's file; a rule published in the book goes before it.
    pub release_rule: ReleaseRule,
    /// Who works when, where the unit keeps a roster.
    pub roster: Option<Roster>,
    /// First day that counts as "after the training began", where the unit names one.
    pub training_started: Option<Date>,
}

/// A desk: the material with its verdicts and standings worked out once.
#[derive(Debug)]
pub struct Desk {
    pub(crate) material: Material,
    pub(crate) judged: Vec<Judged>,
    pub(crate) standings: Vec<Standing>,
    /// The release rule in force today.
    pub(crate) rule: ReleaseRule,
    /// The draws that count, by person and job.
    pub(crate) counted: BTreeMap<(PersonId, JobCode), Vec<CountedDraw>>,
    pub(crate) people: BTreeMap<PersonId, Person>,
    pub(crate) jobs: Vec<(JobCode, String)>,
    releases: BTreeMap<(PersonId, JobCode), Vec<(DateTime, bool)>>,
    set_places: HashMap<String, usize>,
    /// The results page, once it has been asked for.
    pub(crate) results: OnceLock<Results>,
    /// Contaminated of closed sets of everybody the laboratory names as collector of at least one closed set.
    pub(crate) collected: BTreeMap<PersonId, Proportion>,
}

impl Desk {
    /// Works out verdicts and standings once for the day given in the material.
    pub fn new(material: Material) -> Desk {
        let judged = culture::judge(&material.sets, &material.rules, Some(material.today));
        let standings = practice::standings(&material.history, material.today, &material.release_rule);
        let (history, of_file) = (&material.history, &material.release_rule);
        let rule = rule_in_force(history, end_of(material.today), of_file);
        let counted = counted_draws(history, material.today, of_file);
        let mut people = BTreeMap::new();
        let mut jobs = BTreeMap::new();
        let mut releases: BTreeMap<(PersonId, JobCode), Vec<(DateTime, bool)>> = BTreeMap::new();
        for event in valid(&material.history) {
            match &event.kind {
                EventKind::PersonAdded(person) => {
                    people.insert(person.id.clone(), person.clone());
                }
                EventKind::BreakdownPublished(breakdown) => {
                    jobs.insert(breakdown.code.clone(), breakdown.job.clone());
                }
                EventKind::Released(release) => {
                    let key = (release.person.clone(), release.job.clone());
                    releases.entry(key).or_default().push((event.happened, true));
                }
                EventKind::Withdrawn { person, job, .. } => {
                    releases.entry((person.clone(), job.clone())).or_default().push((event.happened, false));
                }
                _ => {}
            }
        }
        let set_places =
            material.sets.iter().enumerate().map(|(place, set)| (set.id.0.clone(), place)).collect();
        let jobs = jobs.into_iter().collect();
        let mut desk = Desk {
            material,
            judged,
            standings,
            rule,
            counted,
            people,
            jobs,
            releases,
            set_places,
            collected: BTreeMap::new(),
            results: OnceLock::new(),
        };
        desk.collected = desk.count_collected();
        desk
    }

    fn count_collected(&self) -> BTreeMap<PersonId, Proportion> {
        let mut counts: BTreeMap<PersonId, (u64, u64)> = BTreeMap::new();
        for (set, judged) in self.judged_sets().filter(|(_, judged)| is_closed(judged)) {
            if let Some(person) = self.collector(set) {
                let (events, of) = counts.entry(person.id.clone()).or_default();
                *events += u64::from(judged.verdict() == Verdict::Contaminated);
                *of += 1;
            }
        }
        counts
            .into_iter()
            .filter_map(|(person, (events, of))| Some((person, Proportion::new(events, of).ok()?)))
            .collect()
    }

    /// The laboratory's sets, as they were given.
    pub fn sets(&self) -> &[CultureSet] {
        &self.material.sets
    }

    /// The day asked about.
    pub fn today(&self) -> Date {
        self.material.today
    }

    /// Jobs with a published breakdown: code and name.
    pub fn jobs(&self) -> &[(JobCode, String)] {
        &self.jobs
    }

    /// Name and version of the rule behind the verdicts.
    pub fn rule_name(&self) -> String {
        format!("{}, version {}", self.material.rules.name, self.material.rules.version)
    }

    /// The name of a person, or their identifier when the book does not know them.
    pub fn name_of(&self, id: &PersonId) -> String {
        self.people.get(id).map_or_else(|| id.to_string(), |person| person.name.clone())
    }

    /// Breakdown versions in the order of publication: the one in force is the last that has come into effect.
    pub(crate) fn published(&self, code: &JobCode) -> Vec<(&Event, &Breakdown)> {
        let mut versions: Vec<(&Event, &Breakdown)> = valid(&self.material.history)
            .filter_map(|event| match &event.kind {
                EventKind::BreakdownPublished(breakdown) if breakdown.code == *code => {
                    Some((event, &**breakdown))
                }
                _ => None,
            })
            .collect();
        versions.sort_by_key(|(_, breakdown)| breakdown.version);
        versions
    }

    /// The breakdown of a job in force today.
    pub(crate) fn in_force(&self, code: &JobCode) -> Option<&Breakdown> {
        let versions = self.published(code);
        versions
            .iter()
            .rev()
            .find(|(event, breakdown)| {
                breakdown.effective.unwrap_or(event.happened.date()) <= self.material.today
            })
            .or(versions.last())
            .map(|(_, breakdown)| *breakdown)
    }

    /// The set that a specimen number names, with its verdict.
    pub(crate) fn set_of(&self, specimen: &str) -> Option<(&CultureSet, &Judged)> {
        let place = *self.set_places.get(specimen)?;
        Some((self.material.sets.get(place)?, self.judged.get(place)?))
    }

    /// The person of the unit whom the laboratory named as collector.
    pub(crate) fn collector(&self, set: &CultureSet) -> Option<&Person> {
        let named = set.collector.as_deref()?.trim();
        self.people
            .get(&PersonId(named.to_owned()))
            .or_else(|| self.people.values().find(|person| person.id.0.eq_ignore_ascii_case(named)))
    }

    /// When the last release of a person on a job was signed.
    pub(crate) fn last_release(&self, person: &PersonId, job: &JobCode) -> Option<DateTime> {
        let decisions = self.releases.get(&(person.clone(), job.clone()))?;
        decisions.iter().rev().find(|(_, released)| *released).map(|(when, _)| *when)
    }

    /// Whether a person was released, at a moment, on the job that a route needs; on any job where the route is unknown.
    pub(crate) fn released_at(&self, person: &PersonId, route: Option<Route>, when: DateTime) -> bool {
        self.jobs
            .iter()
            .filter(|(code, _)| route.is_none_or(|route| self.route_is_of(route, code)))
            .filter_map(|(code, _)| self.releases.get(&(person.clone(), code.clone())))
            .any(|decisions| {
                decisions
                    .iter()
                    .rev()
                    .find(|(decided, _)| *decided <= when)
                    .is_some_and(|(_, released)| *released)
            })
    }

    /// Whether a draw by this route is done as this job teaches.
    pub(crate) fn route_is_of(&self, route: Route, job: &JobCode) -> bool {
        match route {
            Route::Vein | Route::Cannula => job.0 == "vein",
            Route::CentralLine | Route::ArterialLine => job.0 == "central-line",
        }
    }
}

/// Events that stand, corrections in place of what they correct, in the order in which they happened.
pub(crate) fn valid(history: &History) -> impl Iterator<Item = &Event> {
    practice::standing_events(history).into_iter().map(|standing| standing.event)
}
