//! Which bottle is filled first.

use quantity::Volume;

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

/// A draw of this much or less goes into the aerobic bottle alone (IDSA/ASM guide, from memory): 10 mL.
pub fn short_draw() -> Volume {
    Volume::from_ml(10.0).unwrap_or(Volume::ZERO)
}

/// Bottles of an adult set in the order of filling.
///
/// Winged set: aerobic first, because the air of the tubing (about 0.5 mL) would spoil the anaerobic bottle and a
/// short draw should favour the aerobic (a hospital's phlebotomy guide). Syringe: anaerobic first (from memory). 10
/// mL or less in all: aerobic only, whatever the method. Local policy differs and comes first. Culture bottles come
/// before every other tube.
pub fn filling_order(method: Method, blood: Volume) -> Vec<BottleKind> {
    use BottleKind::{Aerobic, Anaerobic};
    if blood <= short_draw() {
        return vec![Aerobic];
    }
    match method {
        Method::WingedSet => vec![Aerobic, Anaerobic],
        Method::Syringe => vec![Anaerobic, Aerobic],
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn orders() {
        use BottleKind::{Aerobic, Anaerobic};
        let ml = |value| Volume::from_ml(value).unwrap();
        assert_eq!(filling_order(Method::WingedSet, ml(20.0)), [Aerobic, Anaerobic]);
        assert_eq!(filling_order(Method::Syringe, ml(20.0)), [Anaerobic, Aerobic]);
        for method in [Method::WingedSet, Method::Syringe] {
            assert_eq!(filling_order(method, ml(10.0)), [Aerobic]);
            assert_eq!(filling_order(method, ml(6.0)), [Aerobic]);
        }
    }
}
