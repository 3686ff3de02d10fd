//! The draws that count today, one by one, for whoever asks what they say together.

use std::collections::BTreeMap;

use breakdown::JobCode;
use jiff::civil::Date;

use crate::effective::standing_events;
use crate::event::{History, PersonId};
use crate::file::Files;
use crate::judge::Question;
use crate::rule::ReleaseRule;
use crate::rules::{Rules, end_of};
use crate::versions::Versions;

/// A draw that counts towards release.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct CountedDraw {
    /// Day.
    pub on: Date,
    /// Whether no safety point was missed.
    pub clean: bool,
    /// Whether it was the trainer's own look.
    pub spot_check: bool,
}

/// The draws that count on a day under the rule in force, oldest first, by person and job: as many as
/// [`Standing::draws_counted`](crate::Standing::draws_counted). A draw that two people watched is one draw with the worse
/// mark. `of_file` is the rule of the unit's file.
pub fn counted_draws(
    history: &History,
    today: Date,
    of_file: &ReleaseRule,
) -> BTreeMap<(PersonId, JobCode), Vec<CountedDraw>> {
    let events: Vec<_> =
        standing_events(history).into_iter().filter(|known| known.event.happened.date() <= today).collect();
    let versions = Versions::read(&events);
    let rules = Rules::read(&events, of_file);
    let files = Files::read(&events, &versions, today);
    let counted = |((person, job), file): (&(PersonId, JobCode), &crate::file::File<'_>)| {
        let question = Question { rule: rules.at(end_of(today)), versions: &versions, job, today };
        let draws = file
            .draws
            .iter()
            .filter(|draw| question.draw_does_not_count(file, draw).is_none())
            .map(|draw| CountedDraw {
                on: draw.date(),
                clean: question.missed_safety(draw).is_empty(),
                spot_check: draw.spot_check,
            })
            .collect();
        ((person.clone(), job.clone()), draws)
    };
    files.files.iter().map(counted).collect()
}
