//! What a plan gave up, what the policy costs, when to stop, and the usual cautions.

use draw::{POINTS_PER_ML, Patient, PlanNote, PolicyCost, Surface, points_lost};
use quantity::Volume;

use super::cleaning::surface;
use super::{Case, PlanSentence};

fn sentence(kind: &'static str, sentence: impl Into<String>) -> PlanSentence {
    PlanSentence { kind, sentence: sentence.into() }
}

pub(super) fn note(note: &PlanNote) -> PlanSentence {
    match *note {
        PlanNote::FewerSets { asked, planned } => sentence(
            "fewer-sets",
            format!(
                "{planned} of the {asked} sets asked for: the unit's limit leaves no blood for more. Ask the clinician \
                 who decides."
            ),
        ),
        PlanNote::LeastFill => sentence(
            "least-fill",
            "Bottles are planned at their least fill, to stay within the unit's limit.",
        ),
        PlanNote::ShortDraw => sentence(
            "short-draw",
            "A short draw: less than the policy asks for, because the unit's limit leaves no more. Tell the laboratory \
             and the clinician who decides.",
        ),
        PlanNote::PairNotComparable => sentence(
            "pair-not-comparable",
            "The sets of the pair have unequal volumes, or one is missing: their times to positivity cannot be compared \
             (IDSA 2009 asks for equal volumes).",
        ),
        PlanNote::ReadWeightAgain => {
            sentence("read-weight-again", "The weight decides the volumes: read it again before drawing.")
        }
        PlanNote::BloodVolumeFromWeight => sentence(
            "blood-volume-from-weight",
            "The patient's blood is estimated from the weight alone: in a heavy or oedematous patient it is less than \
             that.",
        ),
        PlanNote::LineForWantOfVein => sentence(
            "line-for-want-of-vein",
            "Drawn from a line because no vein can be had, not because it is easier: in a review line draws found 8 more \
             true cases in 1,000 patients and 59 more false ones (J Med Microbiol 2008).",
        ),
        PlanNote::FromNewCannula => sentence(
            "from-new-cannula",
            "Drawn from a cannula just placed, as the policy allows: contaminated more often than a fresh puncture \
             (Snyder 2012: odds ratio 2.69).",
        ),
        PlanNote::PairFromLumens => sentence(
            "pair-from-lumens",
            "No vein can be had: two lumens are compared with each other (IDSA 2009, from memory). Both can be infected \
             alike, so that no difference does not clear the line.",
        ),
        PlanNote::NoPair => sentence(
            "no-pair",
            "One lumen and no vein: growth cannot be told to come from the line or from the blood. Look for a vein once \
             more.",
        ),
        PlanNote::OneSite => sentence(
            "one-site",
            "No set is from a vein: sets from lines and cannulas tell a contaminant from a cause less well than two \
             fresh punctures.",
        ),
        PlanNote::AgeForSkin => sentence(
            "age-for-skin",
            "The child's age was not entered: below 2 months, or what the policy says, the newborn's agent and times \
             hold. Enter the age.",
        ),
        PlanNote::Cost(cost) => cost_words(&cost),
    }
}

/// What a rule that is followed costs. Also shown to whoever checks the policy alone.
pub fn cost_words(cost: &PolicyCost) -> PlanSentence {
    match *cost {
        PolicyCost::FillsLess { short, volume, guide_volume } => {
            let ml = short.to_ml();
            let (low, _, high) = POINTS_PER_ML;
            let by_volume = points_lost(volume, guide_volume).map_or_else(String::new, |(low, high)| {
                format!(
                    "; by the volume model, {volume} in all sets in place of {guide_volume} loses {low:.0} to {high:.0} \
                     points"
                )
            });
            sentence(
                "fills-less",
                format!(
                    "The policy fills an adult bottle {short} below the 8 mL of the guides. That costs about {:.0} \
                     percentage points of yield at 3 per mL ({:.1} to {:.1} over the 95 % interval of Mermel and Maki 1993){by_volume}. \
                     The two disagree.",
                    ml * 3.0,
                    ml * low,
                    ml * high
                ),
            )
        }
        PolicyCost::SingleSet => sentence(
            "single-set",
            "One set alone misses about a quarter of bloodstream infections (Lee 2007: 26.9 %; others 8.5 to 34.9 %) and \
             cannot tell a contaminant from a cause.",
        ),
        PolicyCost::DiscardsMoreThanItCultures { discarded, cultured } => sentence(
            "discards-more-than-it-cultures",
            format!(
                "The policy discards {discarded} from a line before each set and cultures {cultured}: for every \
                 millilitre cultured {:.1} mL are lost. 3 mL were found as good as 5 in 64 adults.",
                discarded / cultured
            ),
        ),
        PolicyCost::CleansTooShort { surface: which, rule, published } => sentence(
            "cleans-too-short",
            format!(
                "The policy cleans the {} for {rule}, and {published} is the shortest published for its agent. Germs \
                 that survive grow in the bottle; {}",
                surface(which),
                no_number(which)
            ),
        ),
        PolicyCost::DriesTooShort { surface: which, rule, published } => sentence(
            "dries-too-short",
            format!(
                "The policy lets the {} dry for {rule}, and {published} is the shortest published for its agent. \
                 Killing needs contact and drying, and wet alcohol stings; {}",
                surface(which),
                no_number(which)
            ),
        ),
        PolicyCost::DivertsIntoTubes => sentence(
            "diverts-into-tubes",
            "The policy puts the first blood into other tubes, against \"culture bottles first\": their stoppers are not \
             sterile. One trial found less contamination all the same (5.0 to 1.6 %, Lalezari 2020).",
        ),
        PolicyCost::SlowToTheLaboratory => sentence(
            "slow-to-the-laboratory",
            "The policy allows more than 2 h to the laboratory or 4 h to the incubator (both from memory): germs that die \
             early are lost, and results come later. No study here gives a number per hour.",
        ),
        PolicyCost::PairsTooFarApart => sentence(
            "pairs-too-far-apart",
            "The policy waits more than 15 minutes between sets: times to positivity of a line and a vein cannot be \
             compared then.",
        ),
    }
}

fn no_number(which: Surface) -> &'static str {
    match which {
        Surface::Skin | Surface::NewbornSkin => {
            "no study gives contaminated sets per second missing, so no number stands here (alcoholic against aqueous \
             agents: risk ratio 0.33, Caldeira 2011)."
        }
        Surface::BottleTop | Surface::Connector => {
            "no study gives contaminated sets per second missing, so no number stands here."
        }
    }
}

/// What has to be said of the answers themselves.
pub(super) fn of_ask(case: &Case<'_>) -> Vec<PlanSentence> {
    let mut notes = Vec::new();
    if case.ask.central_line
        && case.ask.lumens.is_none()
        && case.plan.sets.iter().any(|set| set.site.is_line())
    {
        notes.push(sentence(
            "lumens-not-entered",
            "The number of lumens was not entered: counted as one. Label the bottles with the lumen that was used.",
        ));
    }
    let limit = case.plan.day_limit;
    if case.plan.waste > Volume::ZERO && case.plan.waste / limit > 0.1 {
        notes.push(sentence(
            "waste-of-the-limit",
            format!(
                "{} go into no bottle: {:.0} % of what the patient may lose in 24 hours.",
                case.plan.waste,
                100.0 * (case.plan.waste / limit)
            ),
        ));
    }
    notes
}

/// When to stop, in plain words.
pub(super) fn stops(case: &Case<'_>) -> Vec<String> {
    let attempts = case.policy.rules().conduct.attempts;
    let mut stops = vec![
        "Shooting pain, tingling or tremor: needle out at once. It may be a nerve.".to_owned(),
        "Bright pulsing blood: needle out, press 5 minutes or more, call. It may be an artery.".to_owned(),
        format!(
            "{attempts} {} by you: stop, another collector. A failed attempt adds no extra draw; plan again with the \
             blood that was lost.",
            if attempts == 1 { "attempt" } else { "attempts" }
        ),
    ];
    if case.plan.sets.iter().any(|set| set.site.is_line()) {
        stops.push(
            "Breathlessness, chest pain or confusion after a line was opened: clamp, left side, head down, oxygen, call."
                .to_owned(),
        );
    }
    stops
}

/// The usual cautions of a draw: common practice, no source.
pub(super) fn cautions(case: &Case<'_>) -> Vec<String> {
    let mut cautions = vec![
        "Check the patient against the wristband before the draw; label every bottle at the bedside, after filling.",
        "Ask for bleeding, anticoagulants, allergy to latex or antiseptic, an arm not to be used, fainting.",
        "Never draw from an arm or lumen that is running blood, feed or drugs.",
        "Sharps: activate the safety device, straight into the bin, never recap.",
    ];
    if case.plan.sets.iter().any(|set| set.site.is_line()) {
        cautions.push("Dialysis lines and implanted ports: only those authorised for them.");
    }
    if matches!(case.request.patient, Patient::Child { .. }) {
        cautions.push(
            "Skin antisepsis of a newborn follows the unit's own agent and amount: little of it, no pooling. It can \
             burn the skin.",
        );
    }
    cautions.into_iter().map(str::to_owned).collect()
}
