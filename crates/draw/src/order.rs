//! Which bottle is filled first.

use quantity::Volume;

use crate::policy::OrderRules;

/// What a bottle is made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum BottleKind {
    /// For germs that grow with air.
    Aerobic,
    /// For germs that grow without air.
    Anaerobic,
    /// For the small volumes of children.
    Paediatric,
}

/// How the blood gets from the patient into the bottle.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Method {
    /// A closed winged set with tubing.
    WingedSet,
    /// A syringe and a transfer device.
    Syringe,
}

/// Bottles of an adult set in the order of filling, by the unit's rules.
///
/// The defaults: winged set aerobic first, because the air of the tubing (about 0.5 mL) would spoil the anaerobic
/// bottle and a short draw should favour the aerobic (a hospital's phlebotomy guide); syringe anaerobic first (from
/// memory); 10 mL or less in all aerobic only, whatever the method (IDSA/ASM, from memory). Culture bottles come before
/// every other tube.
pub fn filling_order(method: Method, blood: Volume, rules: &OrderRules) -> Vec<BottleKind> {
    use BottleKind::{Aerobic, Anaerobic};
    if blood <= rules.short_draw {
        return vec![Aerobic];
    }
    let first = match method {
        Method::WingedSet => rules.winged_set_first,
        Method::Syringe => rules.syringe_first,
    };
    if first == Anaerobic { vec![Anaerobic, Aerobic] } else { vec![Aerobic, Anaerobic] }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders() {
        use BottleKind::{Aerobic, Anaerobic};
        let rules = OrderRules::default();
        let ml = |value| Volume::from_ml(value).unwrap();
        assert_eq!(filling_order(Method::WingedSet, ml(20.0), &rules), [Aerobic, Anaerobic]);
        assert_eq!(filling_order(Method::Syringe, ml(20.0), &rules), [Anaerobic, Aerobic]);
        for method in [Method::WingedSet, Method::Syringe] {
            assert_eq!(filling_order(method, ml(10.0), &rules), [Aerobic]);
            assert_eq!(filling_order(method, ml(6.0), &rules), [Aerobic]);
        }
        let own = OrderRules { syringe_first: Aerobic, ..OrderRules::default() };
        assert_eq!(filling_order(Method::Syringe, ml(20.0), &own), [Aerobic, Anaerobic]);
    }
}
