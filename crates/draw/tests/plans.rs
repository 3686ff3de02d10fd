//! Plans by hand, and the one promise: never above the unit's limit.

use draw::{
    Access, AgeMonths, Agent, Antibiotic, AntibioticClock, BodyWeight, BottleKind, BottlesAtHand, Cleaning,
    ConfirmedPolicy, DivertedInto, DrawError, Haemoglobin, Height, Method, Pairing, Patient, PlanNote,
    Policy, PolicyCost, Request, Sex, Site, Supply, Surface, WeightDoubt, plan,
};
use jiff::civil::{DateTime, date};
use proptest::prelude::*;
use quantity::{Seconds, Volume};

fn ml(value: f64) -> Volume {
    Volume::from_ml(value).expect("in range")
}

fn defaults() -> ConfirmedPolicy {
    Policy::default().confirm("the unit's lead (invented)").expect("possible rules")
}

fn adult(kg: f64) -> Request {
    let weight = Some(BodyWeight::from_kg(kg).expect("a weight"));
    let patient = Patient::Adult { weight, height: None, sex: None };
    Request {
        patient,
        weight_confirmed: true,
        haemoglobin: None,
        taken_today: Volume::ZERO,
        access: Access::VEIN,
        line_suspected: false,
        method: Method::WingedSet,
        bottles: None,
        antibiotic: Antibiotic::NotStated,
        draw_at: NOON,
        now: NOON,
        job: None,
    }
}

const NOON: DateTime = date(2026, 3, 2).at(12, 0, 0, 0);
const LINE_AND_VEIN: Access = Access { central_line_lumens: Some(3), ..Access::VEIN };
const CENTRAL: Site = Site::CentralLine { lumen: 1 };

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
    let plan =
        plan(&Request { access: LINE_AND_VEIN, line_suspected: true, ..adult(70.0) }, &defaults()).unwrap();
    let sites: Vec<Site> = plan.sets.iter().map(|set| set.site).collect();
    assert_eq!(sites, [CENTRAL, Site::Vein]);
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
    let fills_less = PolicyCost::FillsLess { short: ml(3.0), volume: ml(10.0), guide_volume: ml(16.0) };
    assert_eq!(policy.costs(), [fills_less, PolicyCost::SingleSet]);
    let plan = plan(&adult(70.0), &policy).unwrap();
    assert!(plan.notes.contains(&PlanNote::Cost(PolicyCost::SingleSet)));
}

/// One fault of a policy at a time: accepted, and named.
#[test]
fn each_costly_rule_is_named() {
    let costs = |change: &dyn Fn(&mut Policy)| {
        let mut policy = Policy::default();
        change(&mut policy);
        policy.confirm("lead").unwrap().costs()
    };
    assert_eq!(costs(&|_| {}), []);
    let s = |value: f64| Seconds::from_s(value).unwrap();
    let fast = |agent, dry: f64| Cleaning { agent, contact: s(30.0), dry: s(dry) };
    let skin = |cleaning: Cleaning| costs(&move |policy| policy.antisepsis.skin = cleaning.clone());
    let dries = |rule: f64, published: f64| PolicyCost::DriesTooShort {
        surface: Surface::Skin,
        rule: s(rule),
        published: s(published),
    };
    assert_eq!(skin(fast(Agent::Alcohol, 29.0)), [dries(29.0, 30.0)]);
    assert_eq!(skin(fast(Agent::Alcohol, 30.0)), []);
    assert_eq!(skin(fast(Agent::Other("own".to_owned()), 0.0)), [], "nothing is published for it");
    let povidone = skin(fast(Agent::PovidoneIodine, 60.0));
    let cleans = PolicyCost::CleansTooShort { surface: Surface::Skin, rule: s(30.0), published: s(90.0) };
    assert_eq!(povidone, [cleans, dries(60.0, 90.0)]);
    let discard = costs(&|policy| policy.line_discard = ml(20.1));
    let (discarded, cultured) = (ml(20.1), ml(20.0));
    assert_eq!(discard, [PolicyCost::DiscardsMoreThanItCultures { discarded, cultured }]);
    assert_eq!(costs(&|policy| policy.line_discard = ml(20.0)), []);
    let into_tubes = |policy: &mut Policy| {
        policy.vein_divert = ml(1.0);
        policy.order.diverted_into = DivertedInto::Tubes;
    };
    assert_eq!(costs(&into_tubes), [PolicyCost::DivertsIntoTubes]);
    assert_eq!(costs(&|policy| policy.time.to_incubator = s(14_460.0)), [PolicyCost::SlowToTheLaboratory]);
    assert_eq!(costs(&|policy| policy.conduct.between_sets = s(960.0)), [PolicyCost::PairsTooFarApart]);
    assert_eq!(costs(&|policy| policy.conduct.between_sets = s(900.0)), []);
}

/// 7.0 typed as 70 and 70 typed as 7.0: asked once more, and taken when it was read twice.
#[test]
fn a_weight_that_may_be_a_slip_is_asked_for_once_more() {
    let once = |request: Request| plan(&Request { weight_confirmed: false, ..request }, &defaults());
    let doubt = |request| match once(request) {
        Err(DrawError::WeightAgain(doubt)) => doubt,
        other => panic!("{other:?}"),
    };
    let seven = (BodyWeight::from_kg(7.0).unwrap(), ml(6.0));
    assert_eq!(doubt(child(70.0)), WeightDoubt::OtherVolume { volume: ml(40.0), others: vec![seven] });
    assert_eq!(doubt(adult(7.0)), WeightDoubt::ChildsWeight);
    assert_eq!(doubt(adult(390.0)), WeightDoubt::TenthIsAdult { other: BodyWeight::from_kg(39.0).unwrap() });
    assert!(once(adult(70.0)).is_ok());
    assert!(plan(&child(70.0), &defaults()).is_ok());
}

#[test]
fn a_child_with_adult_bottles_gets_no_plan() {
    let with = |adult, paediatric| Some(BottlesAtHand { adult, paediatric });
    let planned = |bottles| plan(&Request { bottles, ..child(10.0) }, &defaults());
    assert!(matches!(
        planned(with(true, false)),
        Err(DrawError::Bottles { kind: BottleKind::Paediatric, patient_is_child: true, .. })
    ));
    assert!(planned(with(true, true)).is_ok() && planned(None).is_ok());
}

/// By hand: 45 mL of 4900 mL at 85 g/L are 3.825 g. Set from the line: two tops of 15 s, 15 s and 30 s; set from the
/// vein: two tops of 15 s, 30 s and 30 s; 75 + 90 = 165 s. Two hours and four after noon.
#[test]
fn a_pair_with_everything_known() {
    let request = Request {
        access: LINE_AND_VEIN,
        line_suspected: true,
        haemoglobin: Some(Haemoglobin::from_g_per_l(85.0).unwrap()),
        antibiotic: Antibiotic::Due(date(2026, 3, 2).at(12, 30, 0, 0)),
        ..adult(70.0)
    };
    let plan = plan(&request, &defaults()).unwrap();
    assert_eq!(plan.pairing, Pairing::LineAndVein);
    assert!((plan.haemoglobin.unwrap().taken_g - 3.825).abs() < 1e-9);
    assert_eq!(plan.shortest.to_s(), 165.0);
    assert_eq!(plan.flush, ml(10.0));
    let spare = Seconds::from_s(1800.0 - 165.0).unwrap();
    assert_eq!(plan.antibiotic, AntibioticClock::DrawFirst { spare });
    assert_eq!(plan.latest.laboratory, date(2026, 3, 2).at(14, 0, 0, 0));
    assert_eq!(plan.latest.incubator, date(2026, 3, 2).at(16, 0, 0, 0));
    for supply in [
        Supply::Bottles(BottleKind::Aerobic, 2),
        Supply::Bottles(BottleKind::Anaerobic, 2),
        Supply::Labels(4),
        Supply::Syringes(1, ml(20.0)),
        Supply::TransferDevices(1),
        Supply::WingedSets(1),
        Supply::DiscardSyringes(1),
        Supply::Connectors(1),
        Supply::Flush(ml(10.0)),
        Supply::Mask,
        Supply::SkinAntiseptic(1),
    ] {
        assert!(plan.supplies.contains(&supply), "{supply:?} in {:?}", plan.supplies);
    }
}

#[test]
fn lines_without_a_vein() {
    let lumens = |lumens| Access { vein: false, central_line_lumens: Some(lumens), ..Access::VEIN };
    let planned = |access, line_suspected| {
        plan(&Request { access, line_suspected, ..adult(70.0) }, &defaults()).unwrap()
    };
    let two = planned(lumens(2), true);
    assert_eq!(two.sets[1].site, Site::CentralLine { lumen: 2 });
    assert!(two.notes.contains(&PlanNote::PairFromLumens));
    assert!(planned(lumens(1), true).notes.contains(&PlanNote::NoPair));
    let for_want = planned(lumens(2), false);
    assert!(for_want.notes.contains(&PlanNote::LineForWantOfVein));
    assert_eq!(for_want.waste, ml(10.0), "5 mL before each set");
    let mut rules = Policy::default();
    rules.line.central_without_suspicion = false;
    let never = plan(&Request { access: lumens(2), ..adult(70.0) }, &rules.confirm("lead").unwrap());
    assert!(matches!(never, Err(DrawError::NotDrawnFrom { central_line: true, .. })));
}

/// A newborn's skin has the newborn's agent; without an age the plan says so.
#[test]
fn the_youngest_have_their_own_antiseptic() {
    let of = |age| {
        let patient = Patient::Child { weight: BodyWeight::from_kg(3.5).unwrap(), age };
        plan(&Request { patient, ..child(3.5) }, &defaults()).unwrap()
    };
    assert_eq!(of(Some(AgeMonths(1))).skin.agent, Agent::PovidoneIodine);
    assert_eq!(of(Some(AgeMonths(2))).skin.agent, Agent::ChlorhexidineAlcohol);
    assert!(of(None).notes.contains(&PlanNote::AgeForSkin));
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
    let access = (any::<bool>(), any::<bool>(), prop::option::of(1u8..=5), any::<bool>()).prop_map(
        |(vein, new_cannula, central_line_lumens, arterial_line)| Access {
            vein,
            new_cannula,
            central_line_lumens,
            arterial_line,
        },
    );
    let method = prop_oneof![Just(Method::WingedSet), Just(Method::Syringe)];
    (prop_oneof![adult, child], 0.0..400.0f64, access, any::<bool>(), method).prop_filter_map(
        "a volume",
        |(patient, taken, access, line_suspected, method)| {
            let taken_today = Volume::from_ml(taken).ok()?;
            Some(Request { patient, taken_today, access, line_suspected, method, ..self::adult(70.0) })
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
    #![proptest_config(ProptestConfig::with_cases(100_000))]

    #[test]
    fn never_above_the_limit_and_every_volume_adds_up(request in requests(), policy in policies()) {
        let Ok(plan) = plan(&request, &policy) else { return Ok(()) };
        prop_assert!(plan.day_total <= plan.day_limit || plan.day_total / plan.day_limit - 1.0 < 1e-12, "{:?}", plan);
        let bottles: f64 = plan.sets.iter().flat_map(|set| &set.bottles).map(|bottle| bottle.target.to_ml()).sum();
        let waste: f64 = plan.sets.iter().map(|set| set.waste.to_ml()).sum();
        prop_assert!((plan.total.to_ml() - bottles - waste).abs() < 1e-9);
        prop_assert!(!plan.sets.is_empty());
        prop_assert!((plan.cultured.to_ml() - bottles).abs() < 1e-9 && (plan.waste.to_ml() - waste).abs() < 1e-9);
        for bottle in plan.sets.iter().flat_map(|set| &set.bottles) {
            prop_assert!(bottle.target > Volume::ZERO);
            prop_assert!(bottle.least <= bottle.target, "{:?}", bottle);
            prop_assert!(bottle.target.to_ml() <= bottle.most.to_ml() + 1e-9, "{:?}", bottle);
        }
    }
}
