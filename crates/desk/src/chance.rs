use practice::PersonId;
use stats::people::{
    Excess, benjamini_hochberg, beta_binomial_likelihood, probability_as_high, trials_to_know,
};
use stats::{ConfidenceLevel, Probability, Proportion};

use crate::facts::Desk;
use crate::rate::{counted, percent};
use crate::view::Chance;

/// Share of closed sets that a unit should stay at or under: 3 % (CBE 3658, 2022, and the CDC's adult tool).
pub const TARGET: f64 = 0.03;

/// Chance below which a finding is called more than chance: 1 in 20, common practice.
const RARE: f64 = 0.05;

/// Further sets beyond which waiting for results is no plan: no nurse draws so many in a year. Common practice, no source.
const MOST_SETS_WORTH_WAITING_FOR: u64 = 1_000;

/// How sure the estimate must be of its side of the target before it is called known.
const CERTAINTY: f64 = 0.95;

/// How far chance explains one person's contaminated sets. `None` where they have no closed set, where the unit has
/// none, or where nobody on it has a contaminated one.
pub(crate) fn chance(desk: &Desk, id: &PersonId, seen: Option<Proportion>) -> Option<Chance> {
    let seen = seen?;
    let everyone: Vec<(&PersonId, Proportion)> =
        desk.collected.iter().map(|(person, proportion)| (person, *proportion)).collect();
    let (events, trials) = everyone
        .iter()
        .fold((0, 0), |(events, trials), (_, one)| (events + one.events(), trials + one.trials()));
    let unit = Proportion::new(events, trials).ok()?.estimate();
    let unit_rate = Probability::new(unit).ok()?;
    let as_high: Vec<Probability> = everyone
        .iter()
        .map(|(_, one)| probability_as_high(*one, unit_rate))
        .collect::<Result<_, _>>()
        .ok()?;
    let adjusted = benjamini_hochberg(&as_high);
    let place = everyone.iter().position(|(person, _)| *person == id)?;
    let at_least_this_many = as_high.get(place)?.get();
    let adjusted = adjusted.get(place)?.get();

    let people: Vec<Proportion> = everyone.iter().map(|(_, one)| *one).collect();
    let fit = beta_binomial_likelihood(&people).ok()?;
    let posterior = fit.prior.after(seen);
    let interval = posterior.credible_interval(ConfidenceLevel::default());
    let target = Probability::new(TARGET).ok()?;
    let sets_to_know = trials_to_know(fit.prior, seen, target, Probability::new(CERTAINTY).ok()?).ok()?;

    Some(Chance {
        unit_rate: unit,
        at_least_this_many,
        shrunk: posterior.mean(),
        shrunk_interval: (interval.lower(), interval.upper()),
        target: TARGET,
        above_target: posterior.probability_above(target).get(),
        sets_to_know,
        sentence: sentence(seen, unit, at_least_this_many, adjusted, everyone.len(), fit.excess),
        anchors: [
            "probability_as_high",
            "benjamini_hochberg",
            "beta_binomial_likelihood",
            "credible_interval",
            "trials_to_know",
        ]
        .map(str::to_owned)
        .to_vec(),
    })
}

impl Chance {
    /// How many further sets would tell, in a sentence.
    pub fn to_know(&self) -> String {
        let target = format!("{:.1}", self.target * 100.0);
        let target = target.trim_end_matches(".0");
        match self.sets_to_know {
            Some(0) => {
                let side = if self.above_target > 0.5 { "above" } else { "below" };
                format!("No more sets are needed: with 95 % certainty they are {side} {target} %.")
            }
            Some(1) => format!(
                "1 more closed set at this rate would show with 95 % certainty on which side of {target} % they are."
            ),
            Some(sets) if sets <= MOST_SETS_WORTH_WAITING_FOR => format!(
                "About {sets} more closed sets at this rate would show with 95 % certainty on which side of {target} % they are."
            ),
            _ => "More than 1,000 further sets: results alone will not tell; watch draws instead.".to_owned(),
        }
    }
}

fn sentence(
    seen: Proportion,
    unit: f64,
    as_high: f64,
    adjusted: f64,
    people: usize,
    excess: Excess,
) -> String {
    let sets = counted(seen.trials(), "set", "sets");
    if seen.events() == 0 {
        return format!(
            "None in {sets}: too few to tell a careful collector from a lucky one unless it is many more."
        );
    }
    let alike = format!(
        "a nurse at the unit's rate of {} would have {} or more in {sets} {}",
        percent(unit),
        seen.events(),
        in_a_hundred(as_high)
    );
    if adjusted < RARE {
        format!(
            "More than chance explains, also when {people} collectors are looked at together: {alike}. Watch a draw and \
             talk, privately, about the circumstances first."
        )
    } else if as_high < RARE {
        format!("Cannot tell: {alike}, but among {people} collectors some will look like this by chance.")
    } else {
        let unit_word = match excess {
            Excess::NotFound => " Chance explains all of the difference between the unit's collectors.",
            Excess::Found => "",
        };
        format!("Chance explains it: {alike}.{unit_word}")
    }
}

/// A probability as a frequency a reader can picture.
fn in_a_hundred(probability: f64) -> String {
    let cases = probability * 100.0;
    if cases < 1.0 {
        "in fewer than 1 of 100 cases".to_owned()
    } else {
        format!("in {cases:.0} of 100 cases")
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn two_in_fourteen_at_the_units_rate_is_chance() {
        // Binomial(14, 0.05), by hand: P(X >= 2) = 1 - .95^14 - 14 * .05 * .95^13 = 1 - .48767 - .35934 = .15299.
        let seen = Proportion::new(2, 14).expect("2 of 14");
        let as_high = probability_as_high(seen, Probability::new(0.05).expect("5 %")).expect("inside").get();
        assert!((as_high - 0.15299).abs() < 1e-5, "{as_high}");
        assert_eq!(
            sentence(seen, 0.05, as_high, 0.6, 40, Excess::Found),
            "Chance explains it: a nurse at the unit's rate of 5.0 % would have 2 or more in 14 sets in 15 of 100 cases."
        );
    }

    #[test]
    fn sets_to_know_are_told_in_words() {
        let told = |sets_to_know, above_target| {
            Chance {
                unit_rate: 0.05,
                at_least_this_many: 0.15,
                shrunk: 0.05,
                shrunk_interval: (0.02, 0.08),
                target: 0.03,
                above_target,
                sets_to_know,
                sentence: String::new(),
                anchors: Vec::new(),
            }
            .to_know()
        };
        assert_eq!(
            told(Some(460), 0.9),
            "About 460 more closed sets at this rate would show with 95 % certainty on which side of 3 % they are."
        );
        assert_eq!(told(Some(0), 0.97), "No more sets are needed: with 95 % certainty they are above 3 %.");
        assert_eq!(told(Some(0), 0.02), "No more sets are needed: with 95 % certainty they are below 3 %.");
        assert!(told(Some(1_000), 0.9).starts_with("About 1000 more"));
        for hopeless in [Some(1_001), None] {
            assert_eq!(
                told(hopeless, 0.6),
                "More than 1,000 further sets: results alone will not tell; watch draws instead."
            );
        }
    }

    #[test]
    fn a_rare_count_among_many_people_is_not_yet_a_finding() {
        let seen = Proportion::new(4, 14).expect("4 of 14");
        assert!(sentence(seen, 0.05, 0.004, 0.2, 40, Excess::Found).starts_with("Cannot tell: "));
        assert!(
            sentence(seen, 0.05, 0.0004, 0.02, 40, Excess::Found).starts_with("More than chance explains")
        );
    }
}
