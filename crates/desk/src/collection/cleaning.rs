//! Cleaning in words.

use draw::{Agent, AntisepsisRules, Cleaning, Surface, published_cleaning};

use super::origin::by;
use super::{Case, PlanBlock, PlanRow};

pub(super) fn agent(agent: &Agent) -> &str {
    match agent {
        Agent::ChlorhexidineAlcohol => "chlorhexidine in alcohol",
        Agent::Alcohol => "70 % alcohol",
        Agent::IodineTincture => "tincture of iodine",
        Agent::PovidoneIodine => "povidone-iodine",
        Agent::Other(name) => name,
    }
}

pub(super) fn surface(surface: Surface) -> &'static str {
    match surface {
        Surface::Skin => "skin",
        Surface::NewbornSkin => "newborn's skin",
        Surface::BottleTop => "bottle top",
        Surface::Connector => "connector",
    }
}

pub(super) fn block(case: &Case<'_>) -> PlanBlock {
    let rules = &case.policy.rules().antisepsis;
    let defaults = AntisepsisRules::default();
    let row = |which, key: &str, cleaning: &Cleaning, default: &Cleaning| {
        let source = published_cleaning(which, &cleaning.agent)
            .map_or("no published time is at hand for this agent", |published| published.source);
        PlanRow {
            what: surface(which).to_owned(),
            value: format!(
                "{}: {} of contact, then {} to dry",
                agent(&cleaning.agent),
                cleaning.contact,
                cleaning.dry
            ),
            from: by(key, cleaning == default, source),
        }
    };
    let has = |wanted: fn(draw::Site) -> bool| case.plan.sets.iter().any(|set| wanted(set.site));
    let mut rows =
        vec![row(Surface::BottleTop, "antisepsis.bottle_top", &rules.bottle_top, &defaults.bottle_top)];
    if has(|site| site == draw::Site::Vein) {
        rows.push(if case.plan.skin == rules.newborn_skin && is_newborn(case) {
            row(Surface::NewbornSkin, "antisepsis.newborn_skin", &rules.newborn_skin, &defaults.newborn_skin)
        } else {
            row(Surface::Skin, "antisepsis.skin", &rules.skin, &defaults.skin)
        });
    }
    if has(|site| site != draw::Site::Vein) {
        rows.push(row(Surface::Connector, "antisepsis.connector", &rules.connector, &defaults.connector));
    }
    PlanBlock {
        key: "cleaning",
        title: "Cleaning",
        rows,
        remark: Some(
            "Feel for the vein before cleaning, and do not touch the cleaned spot again. Drying counts: wet is not \
             clean yet (common practice, no source)."
                .to_owned(),
        ),
    }
}

fn is_newborn(case: &Case<'_>) -> bool {
    let below = case.policy.rules().antisepsis.newborn_below;
    matches!(case.request.patient, draw::Patient::Child { age: Some(age), .. } if age < below)
}
