//! Plans by hand, and the one promise: never above the unit's limit.

use draw::{
    Access, AgeMonths, BodyWeight, BottleKind, ConfirmedPolicy, DrawError, Height, Method, Patient, PlanNote,
    Policy, PolicyCost, Request, Sex, Site, plan,
};
use proptest::prelude::*;
use quantity::Volume;

fn ml(value: f64) -> Volume {
    Volume::from_ml(value).expect("in range")
}

fn defaults() -> ConfirmedPolicy {
    Policy::default().confirm("the unit's lead (invented)").expect("possible rules")
}

fn adult(kg: f64) -> Request {
    let weight = Some(BodyWeight::from_kg(kg).expect("a weight"));
    let patient = Patient::Adult { weight, height: None, sex: None };
    Request { patient, taken_today: Volume::ZERO, access: Access::Vein, method: Method::WingedSet }
}

fn child(kg: f64) -> Request {
    let weight = BodyWeight::from_kg(kg).expect("a weight");
    Request { patient: Patient::Child { weight, age: Some(AgeMonths(12)) }, ..adult(70.0) }
}

#[test]
fn an_adult_has_two_sets_of_two_bottles() {
    let plan = plan(&adult(70.0), &defaults()).unwrap();
    assert_eq!(plan.sets.len(), 2);
    assert_eq!((plan.cultured, plan.waste, plan.total), (ml(40.0), Volume::ZERO, ml(40.0)));
    // 70 kg at 70 mL per kg; 3 % is 147 mL.
    assert_eq!(plan.blood_volume, ml(4900.0));
    assert_eq!(plan.day_limit, ml(147.0));
    assert!((plan.share - 40.0 / 4900.0).abs() < 1e-12);
    let kinds: Vec<BottleKind> = plan.sets[0].bottles.iter().map(|bottle| bottle.kind).collect();
    assert_eq!(kinds, [BottleKind::Aerobic, BottleKind::Anaerobic]);
    assert_eq!(plan.notes, [PlanNote::BloodVolumeFromWeight]);
}

#[test]
fn height_and_sex_give_nadlers_volume() {
    let weight = Some(BodyWeight::from_kg(60.0).unwrap());
    let height = Some(Height::from_m(1.65).unwrap());
    let patient = Patient::Adult { weight, height, sex: Some(Sex::Female) };
    let plan = plan(&Request { patient, ..adult(60.0) }, &defaults()).unwrap();
    assert!((plan.blood_volume.to_litres() - 3.767746).abs() < 1e-6);
    assert_eq!(plan.notes, []);
}

#[test]
fn a_suspected_line_gives_a_comparable_pair() {
    let plan = plan(&Request { access: Access::LineAndVein, ..adult(70.0) }, &defaults()).unwrap();
    let sites: Vec<Site> = plan.sets.iter().map(|set| set.site).collect();
    assert_eq!(sites, [Site::CentralLine, Site::Vein]);
    assert_eq!((plan.cultured, plan.waste, plan.total), (ml(40.0), ml(5.0), ml(45.0)));
    // A line is drawn with a syringe: anaerobic first.
    assert_eq!(plan.sets[0].bottles[0].kind, BottleKind::Anaerobic);
    assert!(!plan.notes.contains(&PlanNote::PairNotComparable));
}

#[test]
fn the_limit_takes_fill_then_sets_then_the_bottle() {
    // 70 kg: 147 mL in a day.
    let with = |taken: f64| plan(&Request { taken_today: ml(taken), ..adult(70.0) }, &defaults());
    let shape = |taken: f64| {
        let plan = with(taken).unwrap();
        (plan.sets.len(), plan.total.to_ml())
    };
    assert_eq!(shape(107.0), (2, 40.0));
    assert_eq!(shape(108.0), (2, 32.0));
    assert_eq!(shape(120.0), (1, 20.0));
    assert_eq!(shape(130.0), (1, 16.0));
    assert_eq!(shape(140.0), (1, 7.0));
    let short = with(140.0).unwrap();
    assert_eq!(short.sets[0].bottles.len(), 1);
    assert_eq!(
        short.sets[0].bottles[0].kind,
        BottleKind::Aerobic,
        "a short draw goes into the aerobic bottle"
    );
    assert!(short.notes.contains(&PlanNote::ShortDraw));
    assert!(short.notes.contains(&PlanNote::FewerSets { asked: 2, planned: 1 }));
    let error = with(146.5).unwrap_err();
    assert_eq!(
        error.to_string(),
        "146.5 mL of blood was taken today and the unit's limit is 147 mL: 0.5 mL is left, and 1 mL is needed; ask the \
         clinician who decides"
    );
    assert!(matches!(with(500.0), Err(DrawError::LimitReached { .. })));
}

/// 10 kg at 80 mL per kg are 800 mL: 6 mL is 0.75 % (by hand).
#[test]
fn a_child_by_weight() {
    let plan = plan(&child(10.0), &defaults()).unwrap();
    assert_eq!(plan.blood_volume, ml(800.0));
    assert_eq!(plan.total, ml(6.0));
    assert!((plan.share - 0.0075).abs() < 1e-12);
    assert_eq!(plan.sets.iter().map(|set| set.bottles.len()).collect::<Vec<_>>(), [1, 1]);
    assert!(plan.notes.contains(&PlanNote::ReadWeightAgain));
}

#[test]
fn a_newborn_may_have_blood_for_one_set_only() {
    // 1.5 kg at 76.5 mL per kg are 114.75 mL, 3 % of it 3.4425 mL: the second 2 mL do not fit.
    let weight = BodyWeight::from_kg(1.5).unwrap();
    let patient = Patient::Child { weight, age: Some(AgeMonths(0)) };
    let plan = plan(&Request { patient, ..child(1.5) }, &defaults()).unwrap();
    assert_eq!(plan.total, ml(2.0));
    assert!(plan.notes.contains(&PlanNote::FewerSets { asked: 2, planned: 1 }));
}

#[test]
fn no_plan_rather_than_a_wrong_one() {
    let patient = Patient::Adult { weight: None, height: None, sex: None };
    assert_eq!(plan(&Request { patient, ..adult(70.0) }, &defaults()), Err(DrawError::WeightNeeded));
    let refuse = |policy: Policy| policy.confirm("lead").unwrap_err().to_string();
    assert!(Policy::default().confirm(" ").is_err());
    assert!(refuse(Policy { adult_sets: 0, ..Policy::default() }).contains("1 to 4"));
    assert!(refuse(Policy { day_limit_share: 0.5, ..Policy::default() }).contains("0.10"));
    assert!(refuse(Policy { day_limit_share: f64::NAN, ..Policy::default() }).contains("0.10"));
    assert!(refuse(Policy { adult_fill_low: ml(12.0), ..Policy::default() }).contains("must rise"));
}

#[test]
fn what_a_policy_costs_is_said() {
    let thumb =
        Policy { adult_fill_low: ml(5.0), adult_fill_target: ml(5.0), adult_sets: 1, ..Policy::default() };
    let policy = thumb.confirm("lead").unwrap();
    assert_eq!(policy.costs(), [PolicyCost::FillsLess { short: ml(3.0) }, PolicyCost::SingleSet]);
    let plan = plan(&adult(70.0), &policy).unwrap();
    assert!(plan.notes.contains(&PlanNote::Cost(PolicyCost::SingleSet)));
}

fn requests() -> impl Strategy<Value = Request> {
    let adult = (20.0..400.0f64, prop::option::of(1.0..2.5f64), prop::option::of(any::<bool>())).prop_map(
        |(kg, m, male)| Patient::Adult {
            weight: BodyWeight::from_kg(kg).ok(),
            height: m.and_then(|m| Height::from_m(m).ok()),
            sex: male.map(|male| if male { Sex::Male } else { Sex::Female }),
        },
    );
    let child = (0.3..120.0f64, prop::option::of(0u16..216)).prop_filter_map("a weight", |(kg, age)| {
        Some(Patient::Child { weight: BodyWeight::from_kg(kg).ok()?, age: age.map(AgeMonths) })
    });
    let access = prop_oneof![Just(Access::Vein), Just(Access::LineAndVein), Just(Access::CentralLine)];
    let method = prop_oneof![Just(Method::WingedSet), Just(Method::Syringe)];
    (prop_oneof![adult, child], 0.0..400.0f64, access, method).prop_filter_map(
        "a volume",
        |(patient, taken, access, method)| {
            Some(Request { patient, taken_today: Volume::from_ml(taken).ok()?, access, method })
        },
    )
}

fn policies() -> impl Strategy<Value = ConfirmedPolicy> {
    let fills = (0.5..3.0f64, 0.0..8.0f64, 0.0..5.0f64, 0.0..5.0f64);
    (1u32..=4, fills, 1.0..8.0f64, 0.0..12.0f64, 0.0..3.0f64, 0.001..0.10f64).prop_filter_map(
        "possible rules",
        |(adult_sets, (useful, low, target, most), child, discard, divert, share)| {
            let volume = |value: f64| Volume::from_ml(value).ok();
            Policy {
                adult_sets,
                least_useful: volume(useful)?,
                adult_fill_low: volume(useful + low)?,
                adult_fill_target: volume(useful + low + target)?,
                adult_bottle_most: volume(useful + low + target + most)?,
                child_bottle_most: volume(useful + child)?,
                line_discard: volume(discard)?,
                vein_divert: volume(divert)?,
                day_limit_share: share,
                ..Policy::default()
            }
            .confirm("lead")
            .ok()
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20_000))]

    #[test]
    fn never_above_the_limit_and_every_volume_adds_up(request in requests(), policy in policies()) {
        let Ok(plan) = plan(&request, &policy) else { return Ok(()) };
        prop_assert!(plan.day_total <= plan.day_limit || plan.day_total / plan.day_limit - 1.0 < 1e-12, "{:?}", plan);
        let bottles: f64 = plan.sets.iter().flat_map(|set| &set.bottles).map(|bottle| bottle.target.to_ml()).sum();
        let waste: f64 = plan.sets.iter().map(|set| set.waste.to_ml()).sum();
        prop_assert!((plan.total.to_ml() - bottles - waste).abs() < 1e-9);
        prop_assert!(!plan.sets.is_empty());
        for bottle in plan.sets.iter().flat_map(|set| &set.bottles) {
            prop_assert!(bottle.target > Volume::ZERO);
            prop_assert!(bottle.least <= bottle.target, "{:?}", bottle);
            prop_assert!(bottle.target.to_ml() <= bottle.most.to_ml() + 1e-9, "{:?}", bottle);
        }
    }
}
