//! Identifiers of entries, as a phone or a desk would make them.

use jiff::civil::{DateTime, date};

use crate::dice::Dice;

/// A UUID of version 7 (RFC 9562, section 5.7): 48 bits of milliseconds, then version, variant and chance.
fn uuid_v7(unix_ms: u64, chance_a: u16, chance_b: u64) -> [u8; 16] {
    let high = (unix_ms << 16) | 0x7000 | u64::from(chance_a & 0x0fff);
    let low = (1 << 63) | (chance_b & 0x3fff_ffff_ffff_ffff);
    let mut id = [0; 16];
    id[..8].copy_from_slice(&high.to_be_bytes());
    id[8..].copy_from_slice(&low.to_be_bytes());
    id
}

/// The identifier of an entry written at a moment. The unit's clock is read as UTC: the order is what matters.
pub(crate) fn written_at(moment: DateTime, dice: &mut Dice) -> [u8; 16] {
    let ms = moment.duration_since(date(1970, 1, 1).at(0, 0, 0, 0)).as_millis();
    let chance = dice.bits();
    uuid_v7(u64::try_from(ms).unwrap_or(0), (chance >> 48) as u16, dice.bits())
}

/// An identifier as text: 8-4-4-4-12 hexadecimal digits in small letters.
pub(crate) fn text(id: [u8; 16]) -> String {
    let hex: String = id.iter().map(|byte| format!("{byte:02x}")).collect();
    format!("{}-{}-{}-{}-{}", &hex[..8], &hex[8..12], &hex[12..16], &hex[16..20], &hex[20..])
}

#[cfg(test)]
mod tests {
    use super::*;

    /// RFC 9562, appendix A.6: Tuesday 22 February 2022, 14:22:22.00 at UTC-05:00.
    #[test]
    fn the_example_of_the_standard() {
        let id = uuid_v7(1_645_557_742_000, 0xcc3, 0x18c4_dc0c_0c07_398f);
        assert_eq!(text(id), "017f22e2-79b0-7cc3-98c4-dc0c0c07398f");
    }

    #[test]
    fn the_moment_is_in_front_and_sorts() {
        let mut dice = Dice::new(1, "test");
        let id = written_at(date(2022, 2, 22).at(19, 22, 22, 0), &mut dice);
        assert!(text(id).starts_with("017f22e2-79b0-7"));
        assert!(id < written_at(date(2022, 2, 22).at(19, 22, 22, 1_000_000), &mut dice));
    }
}
