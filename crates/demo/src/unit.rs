use practice::EventId;

use crate::breakdowns;
use crate::calendar::{Roster, TODAY, TRAINING_STARTED};
use crate::cast::{self, HIGH_RATE, TWO_OF_FIVE, TWO_OF_FOURTEEN};
use crate::dice::Dice;
use crate::laboratory::{self, Care, DemoSet, Hands};
use crate::people::{self, Member, id, index};
use crate::story::{self, Engine, Job, Jobs, Stage, TOLD_SETS, number};
use crate::{DemoError, DemoUnit, DrawnAlone, identifier};

/// The seed of the demo everybody sees.
pub const SEED: u64 = 39;

/// How the invented laboratory's columns are to be read.
const MAPPING: &str = include_str!("../data/laboratory.toml");

/// Makes the demo unit of one seed: the same seed gives the same bytes on every machine.
///
/// Fails only when a breakdown file that comes with the program is faulty.
pub fn unit(seed: u64) -> Result<DemoUnit, DemoError> {
    let (breakdown_files, jobs) = breakdowns::read()?;
    let members = people::members();
    let roster = Roster::new(seed, &members);
    let mut engine = Engine::new(seed, &members, &roster, &jobs);
    let mut sets =
        draw_all(&mut engine, laboratory::sets(seed), &hands(seed, &members), Dice::new(seed, "growth"));
    engine.finish();
    tell_two_of_fourteen(seed, &mut sets);
    let drawn_alone = drawn_alone(&engine);
    let mut sent = story::correct(seed, &mut engine, sets);
    sent.first.splice(0..0, earlier(seed, &members, &roster, &jobs));
    story::listen(seed, &mut engine);
    story::say(seed, &mut engine);
    let (laboratory_files, unreadable) = laboratory::files(seed, &sent);
    Ok(DemoUnit {
        unit_name: "Larkfield Critical Care Unit".to_owned(),
        today: TODAY,
        training_started: TRAINING_STARTED,
        people: members.iter().map(|member| member.person.clone()).collect(),
        events: engine.events,
        laboratory_files,
        mapping_toml: MAPPING.to_owned(),
        roster_csv: roster.csv(&members),
        breakdown_files,
        cast: cast::cast(),
        unreadable,
        drawn_alone,
    })
}

/// Every set with its hands and its growth, in the order of collection.
fn draw_all(
    engine: &mut Engine<'_>,
    mut sets: Vec<DemoSet>,
    hands: &[u64],
    mut growth: Dice,
) -> Vec<DemoSet> {
    for place in 0..sets.len() {
        let (told, rest) = sets.split_at_mut(place);
        let Some(set) = rest.first_mut() else { break };
        let before = told.iter().rev().take(12).find(|other| other.episode == set.episode);
        let before = before.map_or(Hands::Nobody, |other| other.hands);
        engine.tell_until(set.collected);
        engine.draw(set, before);
        let care = care(engine, set, hands);
        laboratory::fill_and_grow(set, care, &mut growth);
    }
    sets
}

/// The sets before the main story: the same people draw as they always did, and nobody writes anything down.
fn earlier(seed: u64, members: &[Member], roster: &Roster, jobs: &Jobs) -> Vec<DemoSet> {
    let mut engine = Engine::new(seed, members, roster, jobs);
    engine.dice = Dice::new(seed, "earlier story");
    let growth = Dice::new(seed, "earlier growth");
    draw_all(&mut engine, laboratory::earlier_sets(seed), &hands(seed, members), growth)
}

/// Each person's own hand in thousandths: most are near the unit's, one is far above.
fn hands(seed: u64, members: &[Member]) -> Vec<u64> {
    let mut dice = Dice::new(seed, "hands");
    members
        .iter()
        .enumerate()
        .map(|(who, _)| {
            let own = dice.bell(1_000, 230).clamp(450, 1_700).unsigned_abs();
            if number(who) == HIGH_RATE { 4_200 } else { own }
        })
        .collect()
}

fn care(engine: &Engine<'_>, set: &DemoSet, hands: &[u64]) -> Care {
    let plain = Care { hand: 1_000, taught: false, second_version: false, told: false };
    let Hands::Member(who) = set.hands else { return plain };
    let progress = &engine.progress[who][Job::Vein.place()];
    let taught = matches!(progress.stage, Stage::Released(_)) || set.watched;
    Care {
        hand: hands[who],
        taught,
        second_version: taught && progress.second_version,
        told: number(who) == TWO_OF_FOURTEEN,
    }
}

/// Two of this person's sets are contaminated, by the story: both single bottles of series that are otherwise clear.
fn tell_two_of_fourteen(seed: u64, sets: &mut [DemoSet]) {
    let mut dice = Dice::new(seed, "two of fourteen");
    let own = Hands::Member(index(TWO_OF_FOURTEEN));
    let plain: Vec<usize> = (0..sets.len())
        .filter(|place| sets[*place].hands == own)
        .enumerate()
        // Not the draws before release: they were watched.
        .filter(|(nth, place)| *nth >= TOLD_SETS / 2 && series_is_clear(sets, *place))
        .map(|(_, place)| place)
        .collect();
    let chosen = [plain.get(1), plain.len().checked_sub(2).and_then(|place| plain.get(place))];
    let mut episodes = Vec::new();
    for place in chosen.into_iter().flatten() {
        if !episodes.contains(&sets[*place].episode) {
            episodes.push(sets[*place].episode);
            laboratory::contaminate(&mut sets[*place], &mut dice);
        }
    }
}

fn series_is_clear(sets: &[DemoSet], place: usize) -> bool {
    let episode = sets[place].episode;
    sets.iter().filter(|set| set.episode == episode).all(|set| set.is_clear() && set.cancelled.is_none())
}

fn drawn_alone(engine: &Engine<'_>) -> Vec<DrawnAlone> {
    engine
        .alone_recorded
        .iter()
        .map(|(specimen, entry)| DrawnAlone {
            person: id(TWO_OF_FIVE),
            specimen: specimen.clone(),
            entry: EventId(identifier::text(*entry)),
        })
        .collect()
}
