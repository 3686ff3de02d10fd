//! One root of a continuous function between two points where its signs differ.

/// Brent's method (Brent 1973, "Algorithms for Minimization without Derivatives", chapter 4), to the last
/// digits of the root.
///
/// Where the signs do not differ the end with the smaller value is returned: callers choose ends that bracket.
pub(crate) fn root_between(low: f64, high: f64, mut f: impl FnMut(f64) -> f64) -> f64 {
    let (mut a, mut b) = (low, high);
    let (mut fa, mut fb) = (f(a), f(b));
    if fa == 0.0 {
        return a;
    }
    if fb == 0.0 {
        return b;
    }
    if (fa > 0.0) == (fb > 0.0) {
        return if fa.abs() < fb.abs() { a } else { b };
    }
    let (mut c, mut fc) = (a, fa);
    let mut step = b - a;
    let mut before = step;
    for _ in 0..300 {
        if (fb > 0.0) == (fc > 0.0) {
            (c, fc) = (a, fa);
            step = b - a;
            before = step;
        }
        if fc.abs() < fb.abs() {
            (a, b, c) = (b, c, b);
            (fa, fb, fc) = (fb, fc, fb);
        }
        let tolerance = f64::EPSILON * b.abs();
        let half = 0.5 * (c - b);
        if half.abs() <= tolerance || fb == 0.0 {
            return b;
        }
        if before.abs() >= tolerance && fa.abs() > fb.abs() {
            let s = fb / fa;
            let (mut p, mut q) = if a == c {
                (2.0 * half * s, 1.0 - s)
            } else {
                let (q, r) = (fa / fc, fb / fc);
                (s * (2.0 * half * q * (q - r) - (b - a) * (r - 1.0)), (q - 1.0) * (r - 1.0) * (s - 1.0))
            };
            if p > 0.0 {
                q = -q;
            } else {
                p = -p;
            }
            if 2.0 * p < (3.0 * half * q - (tolerance * q).abs()).min((before * q).abs()) {
                before = step;
                step = p / q;
            } else {
                step = half;
                before = half;
            }
        } else {
            step = half;
            before = half;
        }
        (a, fa) = (b, fb);
        b += if step.abs() > tolerance { step } else { tolerance.copysign(half) };
        fb = f(b);
    }
    b
}

#[cfg(test)]
mod tests {
    use super::root_between;

    #[test]
    fn finds_roots_whose_value_is_known() {
        assert!((root_between(0.0, 2.0, |x| x * x - 2.0) - 2.0_f64.sqrt()).abs() < 1e-15);
        assert_eq!(root_between(-1.0, 1.0, |x| x), 0.0);
        assert!((root_between(0.0, 1.0, |x| x * x * x - 1e-30) - 1e-10).abs() < 1e-24);
        // No change of sign: the nearer end.
        assert_eq!(root_between(1.0, 2.0, |x| x), 1.0);
    }
}
