//! Time of one plan. `cargo bench -p wardwright-draw`. There is no peer: nothing else plans a collection, so the bench
//! claims no more than its own time, and checks in each round that the plan is the one worked out by hand.

use divan::{Bencher, black_box};
use draw::{Access, Antibiotic, BodyWeight, ConfirmedPolicy, Method, Patient, Policy, Request, plan};
use jiff::civil::{DateTime, date};
use quantity::Volume;

const NOON: DateTime = date(2026, 3, 2).at(12, 0, 0, 0);

fn main() {
    divan::main();
}

fn policy() -> ConfirmedPolicy {
    Policy::default().confirm("the lead of an invented unit").expect("possible rules")
}

fn request(kg: f64, taken_ml: f64) -> Request {
    Request {
        patient: Patient::Adult { weight: BodyWeight::from_kg(kg).ok(), height: None, sex: None },
        weight_confirmed: true,
        haemoglobin: None,
        taken_today: Volume::from_ml(taken_ml).expect("a volume"),
        access: Access { central_line_lumens: Some(3), ..Access::VEIN },
        line_suspected: true,
        method: Method::WingedSet,
        bottles: None,
        antibiotic: Antibiotic::Due(NOON),
        draw_at: NOON,
        now: NOON,
        job: None,
    }
}

/// 70 kg at 70 mL/kg, 3 %: 147 mL. With 0 mL taken two sets of 20 mL and 5 mL of discard fit; with 130 mL 10 mL and the discard do.
#[divan::bench(args = [(0.0, 45.0), (130.0, 15.0)])]
fn one_plan(bencher: Bencher<'_, '_>, (taken_ml, total_ml): (f64, f64)) {
    let (policy, request) = (policy(), request(70.0, taken_ml));
    bencher.bench_local(|| {
        let planned = plan(black_box(&request), black_box(&policy)).expect("a plan");
        assert!((planned.total.to_ml() - total_ml).abs() < 1e-9, "{}", planned.total);
        planned
    });
}
