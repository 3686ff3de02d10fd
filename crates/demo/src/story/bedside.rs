//! Who draws each set, who watches, and what is written down about it.

use jiff::civil::{Date, date};
use practice::{DrawItem, EventKind, Role, Scope, SpotCheck};

use super::engine::{Engine, is_scripted, number};
use super::jobs::Job;
use super::marks::{self, SafetyPoints};
use super::state::{self, LAST_WEEKS, Stage};
use crate::calendar::{Shift, TRAINING_STARTED, days_between};
use crate::cast::{NIGHTS_ONLY, TRAINER_SOUTH, TWO_OF_FIVE, TWO_OF_FOURTEEN};
use crate::laboratory::{Area, DemoSet, Hands, Infection, Source};
use crate::people::{End, id, index};

/// Draws before release that two people watch; enough to compare watchers, few enough to be true.
const DOUBLES: usize = 17;

/// Sets of the person whose results the story tells.
pub(crate) const TOLD_SETS: usize = 14;

const NOTES: [&str; 8] = [
    "Asked for the fill line to be marked before the tourniquet went on.",
    "Calm, told the steps while working.",
    "Reached for the bottles with the wrong hand; laid them on the other side next time.",
    "Good light and a chair this time, much easier.",
    "Hurried after the alarm next door; waited for the skin when asked.",
    "Supplies were not complete: no transfer device on the trolley.",
    "Second site found without help.",
    "Talked it through afterwards outside the room.",
];

impl Engine<'_> {
    /// Decides whose hands draw a set, and writes down what was watched. `before` are the hands of the set of the
    /// same episode just before this one.
    pub(crate) fn draw(&mut self, set: &mut DemoSet, before: Hands) {
        let on_shift = self.roster.on(Shift::at(set.collected)).to_vec();
        let day = set.collected.date();
        if let Some((learner, job)) = self.learner_for(set, before, &on_shift) {
            self.watch(set, learner, job, &on_shift);
        } else if self.draws_alone_before_release(set, &on_shift) {
            set.hands = Hands::Member(index(TWO_OF_FIVE));
            self.alone = Some((set.specimen.clone(), set.collected));
        } else {
            set.hands = self.hands_alone(set, before, &on_shift);
            self.follow_up(set, &on_shift);
        }
        if let Hands::Member(who) = set.hands {
            for job in Job::ALL {
                if job_of(set.source).is_none_or(|drawn| drawn == job) {
                    self.progress[who][job.place()].last_draw = Some(day);
                }
            }
            if number(who) == TWO_OF_FOURTEEN {
                self.told_sets += 1;
            }
        }
        self.record_collector(set);
    }

    /// The learner who takes this draw, where one is on shift with somebody who may watch.
    fn learner_for(&mut self, set: &DemoSet, before: Hands, on_shift: &[usize]) -> Option<(usize, Job)> {
        let job = job_of(set.source)?;
        let day = set.collected.date();
        if !set.is_adult() || set.cancelled.is_some() || day < TRAINING_STARTED {
            return None;
        }
        let mut learners: Vec<usize> = on_shift
            .iter()
            .copied()
            .filter(|who| self.progress[*who][job.place()].wants_draw(day))
            .filter(|who| self.may_take(*who, set))
            .filter(|who| {
                !self.waits_for_trainer(*who, job) || on_shift.iter().any(|other| self.is_trainer(*other))
            })
            .filter(|who| on_shift.iter().any(|watcher| watcher != who && self.may_watch(*watcher, job, day)))
            .collect();
        // Those nearest to the end first, so that a release comes rather than many half-learned.
        learners.sort_by_key(|who| {
            let counted = self.progress[*who][job.place()].counted.len();
            (number(*who) > TRAINER_SOUTH, !self.is_near(*who, set.area), std::cmp::Reverse(counted), *who)
        });
        let again = learners.iter().copied().find(|who| before == Hands::Member(*who));
        if let Some(who) = again
            && self.dice.chance(500_000)
        {
            return Some((who, job));
        }
        let first = learners.into_iter().find(|who| Some(*who) != again)?;
        let eager = is_scripted(first) || job == Job::Line || day < date(2026, 1, 5);
        self.dice.chance(if eager { 850_000 } else { 780_000 }).then_some((first, job))
    }

    /// The last draw of two stories is one that the trainer sees.
    fn waits_for_trainer(&self, who: usize, job: Job) -> bool {
        let progress = &self.progress[who][job.place()];
        let told = matches!(progress.end(), Some(End::SafetyPointMissed | End::Waiting));
        told && progress.counted.len() >= 4 && !progress.checked
    }

    fn is_trainer(&self, who: usize) -> bool {
        self.members[who].person.role == Role::Trainer
    }

    fn is_near(&self, who: usize, area: Area) -> bool {
        area == Area::StepDown || self.members[who].person.unit == area.name()
    }

    /// The person whose results are told draws only sets whose result will be plain.
    fn may_take(&self, who: usize, set: &DemoSet) -> bool {
        if number(who) != TWO_OF_FOURTEEN {
            return true;
        }
        let so_far = self.told_sets;
        let plain = set.is_adult() && set.cancelled.is_none() && set.collected.date() < date(2026, 10, 24);
        plain && so_far < TOLD_SETS && set.infection == Infection::None && set.in_series
    }

    /// Two people, or a preceptor and the trainer, or one of them: writes the draw down and counts it.
    fn watch(&mut self, set: &mut DemoSet, learner: usize, job: Job, on_shift: &[usize]) {
        let day = set.collected.date();
        let watchers: Vec<usize> = on_shift
            .iter()
            .copied()
            .filter(|who| *who != learner && self.may_watch(*who, job, day))
            .collect();
        let trainer = watchers.iter().copied().find(|who| self.is_trainer(*who));
        let mut preceptors: Vec<usize> =
            watchers.iter().copied().filter(|who| !self.is_trainer(*who)).collect();
        let turn = self.dice.below(preceptors.len().max(1) as u32) as usize;
        preceptors.rotate_left(turn);
        preceptors.sort_by_key(|who| !self.is_near(*who, set.area));
        let Some(watcher) = preceptors.first().copied().or(trainer) else { return };

        let breakdown = self.jobs.in_force(job, day);
        let taken_over = self.is_taken_over(learner, job);
        let progress = &self.progress[learner][job.place()];
        let draw_number = progress.watched + 1;
        let counted = progress.counted.len();
        let safety = match progress.end() {
            Some(End::SafetyPointMissed) if counted == 3 => SafetyPoints::OneMissed,
            Some(End::SafetyPointMissed | End::Waiting | End::Draws(_)) => SafetyPoints::AllDone,
            _ if is_scripted(learner) && counted >= 2 => SafetyPoints::AllDone,
            _ => SafetyPoints::by_chance(draw_number, &mut self.dice),
        };
        let progress = &self.progress[learner][job.place()];
        let check_wanted = progress.wants_check() && !taken_over && safety != SafetyPoints::OneMissed;
        let items = marks::draw(breakdown, draw_number, safety, &mut self.marks);
        let clean = safety == SafetyPoints::AllDone;
        let checked = safety != SafetyPoints::OneMissed;

        set.hands = Hands::Member(if taken_over { watcher } else { learner });
        set.watched = true;
        self.progress[learner][job.place()].was_watched(day);
        match trainer {
            Some(trainer) if check_wanted => {
                let both = watcher != trainer && (self.doubles < DOUBLES || is_scripted(learner));
                if both {
                    self.doubles += 1;
                    let seen = marks::second_look(breakdown, &items, &mut self.marks);
                    self.write_watched(set, job, learner, watcher, seen, false);
                }
                let mut draw = self.observed(job, day, learner, trainer, Some(set.specimen.clone()), items);
                draw.note = self.note();
                self.write(set.collected, trainer, EventKind::SpotChecked(SpotCheck(draw)));
                // However many people watched, it is one draw.
                self.progress[learner][job.place()].counted.push(clean);
                self.progress[learner][job.place()].checked = checked;
            }
            _ => {
                self.write_watched(set, job, learner, watcher, items, taken_over);
                if !taken_over {
                    self.progress[learner][job.place()].counted.push(clean);
                }
            }
        }
        self.decide(learner, job, day);
    }

    fn write_watched(
        &mut self,
        set: &DemoSet,
        job: Job,
        learner: usize,
        watcher: usize,
        items: Vec<DrawItem>,
        taken_over: bool,
    ) {
        let mut draw =
            self.observed(job, set.collected.date(), learner, watcher, Some(set.specimen.clone()), items);
        draw.taken_over = taken_over;
        draw.note = if taken_over {
            draw.attempts = 2;
            Some("Vein lost on the second attempt; I took over.".to_owned())
        } else {
            self.note()
        };
        let recorded_alone = if number(learner) == TWO_OF_FIVE { self.alone.take() } else { None };
        if let Some((specimen, when)) = &recorded_alone {
            draw.note = Some(format!(
                "Drew set {specimen} alone on {} before release, nobody free to watch; said so at once. Agreed: \
                 call first, always.",
                when.date()
            ));
        }
        let entry = self.write(set.collected, watcher, EventKind::DrawObserved(draw));
        if let Some((specimen, _)) = recorded_alone {
            self.alone_recorded = Some((specimen, entry));
        }
    }

    fn note(&mut self) -> Option<String> {
        self.dice.chance(170_000).then(|| NOTES[self.dice.below(NOTES.len() as u32) as usize].to_owned())
    }

    fn is_taken_over(&mut self, learner: usize, job: Job) -> bool {
        let progress = &self.progress[learner][job.place()];
        let told = number(learner) == NIGHTS_ONLY && progress.counted.len() == 2 && progress.taken_over == 0;
        let early = !is_scripted(learner) && progress.counted.len() < 2;
        let taken_over = told || (early && self.dice.chance(30_000));
        if taken_over {
            self.progress[learner][job.place()].taken_over += 1;
        }
        taken_over
    }

    /// When the rule is met, the decision goes to a trainer; in one story it is still there today.
    fn decide(&mut self, learner: usize, job: Job, day: Date) {
        let progress = &self.progress[learner][job.place()];
        let goes_on = matches!(progress.end(), Some(End::OwnPatients | End::AllPatients | End::MayPrecept));
        if progress.rule_met() && goes_on && !progress.on_desk {
            self.put_on_desk(learner, job, day, Scope::OwnPatients);
        }
    }

    /// One learner drew once alone in a night when nobody was free to watch.
    fn draws_alone_before_release(&self, set: &DemoSet, on_shift: &[usize]) -> bool {
        let who = index(TWO_OF_FIVE);
        let progress = &self.progress[who][Job::Vein.place()];
        progress.counted.len() == 1
            && progress.stage == Stage::Learning
            && self.alone.is_none()
            && self.alone_recorded.is_none()
            && on_shift.contains(&who)
            && set.source == Source::Vein
            && set.is_adult()
            && set.cancelled.is_none()
            && set.collected.date() < date(2026, 10, 16)
    }

    fn hands_alone(&mut self, set: &DemoSet, before: Hands, on_shift: &[usize]) -> Hands {
        let line = set.source == Source::CentralLine;
        let by_day = Shift::at(set.collected).kind == crate::calendar::ShiftKind::Day;
        let team = match set.area {
            Area::StepDown if by_day => 300_000,
            _ if by_day => 40_000,
            _ => 0,
        };
        if !line && self.dice.chance(team) {
            return Hands::DrawTeam(self.dice.between(1, 3) as u8);
        }
        let free: Vec<usize> = on_shift
            .iter()
            .copied()
            .filter(|who| {
                state::may_draw_alone(&self.progress[*who], self.members[*who].person.started, line)
            })
            .filter(|who| self.may_take(*who, set))
            .collect();
        if let Hands::Member(same) = before
            && free.contains(&same)
            && number(same) != TWO_OF_FOURTEEN
            && self.dice.chance(700_000)
        {
            return before;
        }
        let weights: Vec<u32> = free.iter().map(|who| self.weight(*who, set, on_shift)).collect();
        match self.dice.weighted(&weights) {
            Some(chosen) => Hands::Member(free[chosen]),
            None => Hands::DrawTeam(1),
        }
    }

    /// How likely a person is to be the one: near the bed, released to all, not long without a draw.
    fn weight(&self, who: usize, set: &DemoSet, on_shift: &[usize]) -> u32 {
        let job = job_of(set.source).unwrap_or(Job::Vein);
        let progress = &self.progress[who][job.place()];
        let day = set.collected.date();
        let near = if self.is_near(who, set.area) { 40 } else { 10 };
        let scope = if progress.stage == Stage::Released(Scope::OwnPatients) { 1 } else { 2 };
        let idle = progress.last_draw.is_some_and(|last| days_between(last, day) > 40);
        let rare = progress.last_draw.is_some_and(|last| days_between(last, day) > 60);
        let told = number(who) == TWO_OF_FOURTEEN && day > date(2026, 7, 20);
        // A trainer on shift asks those whose check is due to take the next draw.
        let trainer = on_shift.iter().any(|other| *other != who && self.is_trainer(*other));
        let overdue = progress.next_check.map_or(-1, |due| days_between(due, day));
        let urgency = match u32::try_from(overdue) {
            _ if rare => 30,
            Ok(days) if trainer => 40 + 3 * days,
            _ if told => 12,
            _ if idle => 6,
            _ => 1,
        };
        near * scope * urgency
    }

    /// A trainer on shift checks a draw of somebody whose follow-up is due.
    fn follow_up(&mut self, set: &mut DemoSet, on_shift: &[usize]) {
        let (Hands::Member(who), Some(job)) = (set.hands, job_of(set.source)) else { return };
        let day = set.collected.date();
        let progress = &self.progress[who][job.place()];
        let Stage::Released(scope) = progress.stage else { return };
        let due = progress.next_check.is_some_and(|due| due <= day);
        let trainer = on_shift.iter().copied().find(|other| *other != who && self.is_trainer(*other));
        let (true, Some(trainer), true, None) = (due, trainer, set.is_adult(), set.cancelled) else { return };
        // Those who are to stay at their own patients: a slip at the check, or no check yet.
        let stays = progress.end() == Some(End::OwnPatients);
        let waiting = scope == Scope::OwnPatients && !stays;
        let too_late = waiting && day >= LAST_WEEKS;
        let chance = if waiting { 950_000 } else { 850_000 };
        if too_late || (stays && number(who) % 2 == 1) || !self.dice.chance(chance) {
            return;
        }
        let breakdown = self.jobs.in_force(job, day);
        let draw_number = progress.watched.max(4) + 1;
        let chance = SafetyPoints::by_chance(draw_number, &mut self.dice);
        let safety = if stays { SafetyPoints::OneMissed } else { chance };
        let items = marks::draw(breakdown, draw_number, safety, &mut self.marks);
        let clean = safety != SafetyPoints::OneMissed;
        let mut draw = self.observed(job, day, who, trainer, Some(set.specimen.clone()), items);
        draw.note = self.note();
        self.write(set.collected, trainer, EventKind::SpotChecked(SpotCheck(draw)));
        set.watched = true;
        let progress = &mut self.progress[who][job.place()];
        progress.followed_up(day, clean);
        if waiting && clean && !progress.on_desk {
            self.put_on_desk(who, job, day, Scope::AllPatients);
        }
    }

    /// The collector as the laboratory records it: right where somebody watched, sometimes missing elsewhere.
    fn record_collector(&mut self, set: &mut DemoSet) {
        let day = set.collected.date();
        let shared = date(2026, 1, 17) <= day && day <= date(2026, 1, 18);
        let told = set.hands == Hands::Member(index(TWO_OF_FOURTEEN));
        let alone = set.hands == Hands::Member(index(TWO_OF_FIVE)) && !set.watched;
        let missing = self.dice.chance(85_000);
        set.collector = match set.hands {
            Hands::Member(who) if set.watched || told || alone => id(number(who)).0,
            _ if shared => "LCCU-DESK".to_owned(),
            _ if missing => String::new(),
            Hands::Member(who) => id(number(who)).0,
            Hands::DrawTeam(number) => format!("dt{number:02}"),
            Hands::Nobody => String::new(),
        };
    }
}

/// The job a draw is, where the unit has a breakdown for it.
pub(crate) fn job_of(source: Source) -> Option<Job> {
    match source {
        Source::Vein => Some(Job::Vein),
        Source::CentralLine => Some(Job::Line),
        Source::ArterialLine => None,
    }
}
