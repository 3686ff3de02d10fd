//! Logarithm, exponential and Stirling error of several numbers side by side.
//!
//! Only additions, multiplications, divisions, square roots and moves of bits: each lane gives the same digits on
//! every machine and however many lanes there are. Every function is forced inline, so that it is compiled for the
//! processor its caller was chosen for.

use fearless_simd::{Simd, SimdBase, SimdFloat};

/// As many numbers as the processor holds side by side.
pub(crate) type Lanes<S> = <S as Simd>::f64s;

/// 1.5 × 2^52: a number below 2^51 added to it is rounded to a whole one, which then stands in the low bits.
const WHOLE: f64 = 6_755_399_441_055_744.0;

/// The bits of 1.0, and of the exponent 2^0.
const ONE: u64 = 0x3ff0_0000_0000_0000;

/// The bits of √½: the mantissa of a logarithm lies between it and √2.
const SQRT_HALF: u64 = 0x3fe6_a09e_667f_3bcd;

/// ln 2 in two parts; the first has so few bits that a whole multiple of it up to 2000 is exact.
const LN_2_HIGH: f64 = 0.693_147_180_369_123_8;
const LN_2_LOW: f64 = 1.908_214_929_270_587_7e-10;

/// A polynomial, its coefficients from the constant upwards, at least two of them. The even and the odd ones are summed
/// apart, so that neither sum waits for the other.
#[inline(always)]
pub(crate) fn polynomial<S: Simd, const N: usize>(s: S, x: Lanes<S>, coefficients: &[f64; N]) -> Lanes<S> {
    let square = x * x;
    every_second(s, square, coefficients, 0) + x * every_second(s, square, coefficients, 1)
}

#[inline(always)]
fn every_second<S: Simd, const N: usize>(
    s: S,
    square: Lanes<S>,
    coefficients: &[f64; N],
    first: usize,
) -> Lanes<S> {
    let mut k = first + 2 * ((N - 1 - first) / 2);
    let mut sum = Lanes::<S>::splat(s, coefficients[k]);
    while k > first {
        k -= 2;
        sum = sum * square + coefficients[k];
    }
    sum
}

/// 1 / k!
const EXP_TERMS: [f64; 14] = [
    1.0,
    1.0,
    1.0 / 2.0,
    1.0 / 6.0,
    1.0 / 24.0,
    1.0 / 120.0,
    1.0 / 720.0,
    1.0 / 5_040.0,
    1.0 / 40_320.0,
    1.0 / 362_880.0,
    1.0 / 3_628_800.0,
    1.0 / 39_916_800.0,
    1.0 / 479_001_600.0,
    1.0 / 6_227_020_800.0,
];

/// e^v for v from −700 to 700. With 14 terms to 3e-16 relative, with 7 to 2e-7.
#[inline(always)]
pub(crate) fn exp<S: Simd, const TERMS: usize>(s: S, v: Lanes<S>) -> Lanes<S> {
    let terms: &[f64; TERMS] = const { EXP_TERMS.first_chunk().unwrap() };
    let shifted = v * std::f64::consts::LOG2_E + WHOLE;
    let power = shifted - WHOLE;
    let r = v - power * LN_2_HIGH - power * LN_2_LOW;
    let scale = Lanes::<S>::from_bits((shifted.to_bits() << 52_u32) + ONE);
    polynomial(s, r, terms) * scale
}

/// (artanh(r) / r − 1) / r² over r².
const ARTANH_TERMS: [f64; 10] = [
    1.0 / 3.0,
    1.0 / 5.0,
    1.0 / 7.0,
    1.0 / 9.0,
    1.0 / 11.0,
    1.0 / 13.0,
    1.0 / 15.0,
    1.0 / 17.0,
    1.0 / 19.0,
    1.0 / 21.0,
];

/// ln(1 + t) for finite t > −1. With 10 terms to 3e-16 relative, with 5 to 2e-9.
#[inline(always)]
pub(crate) fn ln_1p<S: Simd, const TERMS: usize>(s: S, t: Lanes<S>) -> Lanes<S> {
    let terms: &[f64; TERMS] = const { ARTANH_TERMS.first_chunk().unwrap() };
    let sum = t + 1.0;
    // What rounding took from t; exact, since one of the two is much the larger or both are near.
    let lost = t - (sum - 1.0);
    let bits = sum.to_bits();
    // The power of two, in the low bits, and its bits where an exponent stands.
    let power = ((bits + (ONE - SQRT_HALF)) >> 52_u32) - (ONE >> 52);
    let exponent = power << 52_u32;
    let mantissa = Lanes::<S>::from_bits(bits - exponent);
    let inverse_scale = Lanes::<S>::from_bits(Lanes::<S>::splat(s, 1.0).to_bits() - exponent);
    let power = Lanes::<S>::from_bits(Lanes::<S>::splat(s, WHOLE).to_bits() + power) - WHOLE;
    let f = (mantissa - 1.0) + lost * inverse_scale;
    let r = f / (f + 2.0);
    let square = r * r;
    let twice = r + r;
    power * LN_2_HIGH + (power * LN_2_LOW + (twice + twice * (square * polynomial(s, square, terms))))
}

/// [`super::saddle::stirling_error`] of the counts; a count of 0 gives 0.
#[inline(always)]
pub(crate) fn stirling_errors<S: Simd>(s: S, counts: &[u64]) -> Lanes<S> {
    /// ln k! − (k + ½) ln k + k − ½ ln 2π, worked in 40 digits.
    static OF_SMALL: [f64; 16] = [
        0.0,
        0.081_061_466_795_327_26,
        0.041_340_695_955_409_3,
        0.027_677_925_684_998_34,
        0.020_790_672_103_765_093,
        0.016_644_691_189_821_193,
        0.013_876_128_823_070_748,
        0.011_896_709_945_891_77,
        0.010_411_265_261_972_096,
        0.009_255_462_182_712_733,
        0.008_330_563_433_362_87,
        0.007_573_675_487_951_841,
        0.006_942_840_107_209_53,
        0.006_408_994_188_004_207,
        0.005_951_370_112_758_847_5,
        0.005_554_733_551_962_801,
    ];
    // Bernoulli numbers B2k / (2k (2k − 1)): from 16 on the first term left out is below 1e-16.
    const TERMS: [f64; 6] =
        [1.0 / 12.0, -1.0 / 360.0, 1.0 / 1260.0, -1.0 / 1680.0, 1.0 / 1188.0, -691.0 / 360_360.0];
    let small = Lanes::<S>::from_fn(
        s,
        #[inline(always)]
        |lane| OF_SMALL[(counts[lane] & 15) as usize],
    );
    let count = Lanes::<S>::from_fn(
        s,
        #[inline(always)]
        |lane| counts[lane] as f64,
    );
    let inverse = Lanes::<S>::splat(s, 1.0) / count.max(16.0);
    let series = inverse * polynomial(s, inverse * inverse, &TERMS);
    use fearless_simd::Select;
    count.simd_lt(16.0).select(small, series)
}

#[cfg(test)]
mod tests {
    use fearless_simd::{Level, dispatch};

    use super::*;
    use crate::dist::saddle::stirling_error;

    #[inline(always)]
    fn exp_of_each<S: Simd, const TERMS: usize>(s: S, values: &[f64]) -> Vec<f64> {
        values.iter().map(|&v| exp::<S, TERMS>(s, Lanes::<S>::splat(s, v)).as_slice()[0]).collect()
    }

    #[inline(always)]
    fn ln_1p_of_each<S: Simd, const TERMS: usize>(s: S, values: &[f64]) -> Vec<f64> {
        values.iter().map(|&t| ln_1p::<S, TERMS>(s, Lanes::<S>::splat(s, t)).as_slice()[0]).collect()
    }

    #[test]
    fn exponential_and_logarithm_are_those_of_libm() {
        let exponents: Vec<f64> = (-6990..=6990).map(|k| f64::from(k) * 0.1003).collect();
        for (v, found) in
            exponents.iter().zip(dispatch!(Level::new(), s => exp_of_each::<_, 14>(s, &exponents)))
        {
            assert!((found / libm::exp(*v) - 1.0).abs() < 5e-16, "{v}: {found}");
        }
        for (v, found) in
            exponents.iter().zip(dispatch!(Level::new(), s => exp_of_each::<_, 7>(s, &exponents)))
        {
            assert!((found / libm::exp(*v) - 1.0).abs() < 2e-7, "{v}: {found}");
        }
        let beyond_minus_one = (1..1000).map(|k| -1.0 + f64::from(k) * 0.001);
        let wide = (-300..300).flat_map(|k| {
            let power = libm::pow(10.0, f64::from(k) * 0.1);
            [power, -power].into_iter().filter(|&t| t > -1.0)
        });
        let arguments: Vec<f64> = beyond_minus_one.chain(wide).collect();
        for (t, found) in
            arguments.iter().zip(dispatch!(Level::new(), s => ln_1p_of_each::<_, 10>(s, &arguments)))
        {
            assert!((found / libm::log1p(*t) - 1.0).abs() < 5e-16, "{t}: {found}");
        }
        for (t, found) in
            arguments.iter().zip(dispatch!(Level::new(), s => ln_1p_of_each::<_, 5>(s, &arguments)))
        {
            assert!((found / libm::log1p(*t) - 1.0).abs() < 3e-9, "{t}: {found}");
        }
    }

    #[test]
    fn stirling_errors_are_those_of_one_at_a_time() {
        for k in (1..100).chain([1_000, 123_456, 1_000_000_000_000]) {
            let found = dispatch!(Level::new(), s => stirling_errors(s, &[k; 8]).as_slice()[0]);
            // Below 12 the other takes a difference of logarithms of factorials, which loses digits.
            let tolerance = if k < 12 { 8e-15 } else { 3e-17 };
            assert!((found - stirling_error(k as f64)).abs() < tolerance, "{k}: {found}");
        }
        assert_eq!(dispatch!(Level::new(), s => stirling_errors(s, &[0; 8]).as_slice()[0]), 0.0);
    }
}
