//! The incomplete beta function of several arguments side by side.

use fearless_simd::{Simd, SimdBase, SimdFloat};

use super::lanes::Lanes;

/// The continued fraction under way: the leading factor divided by it is the tail area.
///
/// Every term is multiplied through by (a + 2m − 1)(a + 2m + 1) / a², so that a term needs no division; the products
/// stay far inside the range of double precision for any count.
#[derive(Clone, Copy)]
pub(crate) struct Fraction<S: Simd> {
    /// How much these grow from term to term.
    step_of_a: Lanes<S>,
    step_of_sum: Lanes<S>,
    step_of_fall: Lanes<S>,
    step_of_rise: Lanes<S>,
    /// The number of the next term, m.
    m: Lanes<S>,
    /// (a + 2m − 3) / a and (a + 2m − 1) / a; the first term has nothing before it.
    odd_before: Lanes<S>,
    odd: Lanes<S>,
    /// (a + m − 1) / a, (a + b + m − 1) p, (b − m) p / a and a q − b p + 1 + m (1 + q).
    from_a: Lanes<S>,
    from_sum: Lanes<S>,
    fall: Lanes<S>,
    rise: Lanes<S>,
    /// The last two convergents.
    top_before: Lanes<S>,
    top: Lanes<S>,
    bottom_before: Lanes<S>,
    bottom: Lanes<S>,
}

impl<S: Simd> Fraction<S> {
    /// Shape a with its inverse, shape b, and p with q = 1 − p beside it.
    #[inline(always)]
    pub(crate) fn new(
        s: S,
        (a, inverse_a): (Lanes<S>, Lanes<S>),
        b: Lanes<S>,
        (p, q): (Lanes<S>, Lanes<S>),
    ) -> Self {
        let (one, zero) = (Lanes::<S>::splat(s, 1.0), Lanes::<S>::splat(s, 0.0));
        let start = a * q - b * p + 1.0;
        let (step_of_fall, step_of_rise) = (p * inverse_a, q + 1.0);
        Self {
            step_of_a: inverse_a,
            step_of_sum: p,
            step_of_fall,
            step_of_rise,
            m: one,
            odd_before: one,
            odd: inverse_a + 1.0,
            from_a: one,
            from_sum: (a + b) * p,
            fall: (b - 1.0) * step_of_fall,
            rise: start + step_of_rise,
            top_before: one,
            top: start,
            bottom_before: zero,
            bottom: one,
        }
    }

    /// The next numerator and denominator.
    #[inline(always)]
    fn next(&mut self) -> (Lanes<S>, Lanes<S>) {
        let odd_after = self.odd + (self.step_of_a + self.step_of_a);
        // With b whole the fraction ends at m = b.
        let fall = self.fall.max(0.0);
        let numerator = (self.from_a * self.from_sum) * (self.m * fall) * (self.odd_before * odd_after);
        self.from_a += self.step_of_a;
        let denominator = (self.m * odd_after) * (self.odd + fall) + (self.from_a * self.odd) * self.rise;
        self.from_sum += self.step_of_sum;
        self.fall -= self.step_of_fall;
        self.rise += self.step_of_rise;
        self.m += 1.0;
        (self.odd_before, self.odd) = (self.odd, odd_after);
        (numerator, denominator)
    }

    #[inline(always)]
    pub(crate) fn take_term(&mut self) {
        let (numerator, denominator) = self.next();
        (self.top_before, self.top) = (self.top, denominator * self.top + numerator * self.top_before);
        (self.bottom_before, self.bottom) =
            (self.bottom, denominator * self.bottom + numerator * self.bottom_before);
    }

    /// One over the fraction, with the remainder estimated; and how far the last term had moved it, relatively.
    #[inline(always)]
    pub(crate) fn inverse(mut self) -> (Lanes<S>, Lanes<S>) {
        let odd_before = self.odd_before;
        let (numerator, denominator) = self.next();
        // What follows is about the fixed point of t = numerator / (denominator + t), t growing as the places do.
        let odd_after = self.odd + (self.step_of_a + self.step_of_a);
        let grown = odd_after / odd_before;
        let root = (denominator * denominator + numerator * grown * 4.0).sqrt();
        let remainder = (numerator + numerator) / (denominator + root);
        let unsettled = (self.top * self.bottom_before / (self.bottom * self.top_before) - 1.0).abs();
        let bottom = self.bottom + remainder * self.bottom_before;
        let top = self.top + remainder * self.top_before;
        (bottom / top * (self.step_of_a + 1.0), unsettled)
    }
}
