//! Distributions: tail areas and quantiles that hold in the tails and at hospital-sized counts.
//!
//! `statrs` supplies the first guess of a normal quantile and the reference for small cases in the tests. The
//! incomplete beta and gamma functions are worked here for two measured reasons: `statrs` 0.19 stops its
//! continued fraction after 140 terms, which is too few for counts in the hundred thousands, and it takes
//! the difference of large log-gammas, which loses digits there. Both are shown by a test in this module. The leading factor is taken in
//! saddle-point form (Loader 2000, "Fast and accurate computation of binomial probabilities", equations 5 to 7), so the
//! large parts cancel on paper instead of in the machine. Elementary functions come from `libm`, so every
//! machine prints the same digits.
//!
//! These are tools for the methods, not figures for a page: arguments are plain numbers, checked by debug
//! assertions, and the public methods refuse bad values before they get here.

mod beta;
mod discrete;
mod gamma;
mod normal;
mod root;
mod saddle;

pub use beta::{
    beta_cdf, beta_quantile, beta_sf, beta_upper_quantile, student_t_quantile, student_t_two_sided,
};
pub use discrete::{
    binomial_cdf, binomial_pmf, binomial_quantile, binomial_sf, geometric_quantile, negative_binomial_cdf,
    poisson_cdf, poisson_pmf, poisson_quantile, poisson_sf,
};
pub use gamma::{
    chi_squared_quantile, chi_squared_sf, gamma_cdf, gamma_quantile, gamma_sf, gamma_upper_quantile,
};
pub use normal::{normal_cdf, normal_quantile, normal_sf, two_sided_z};
pub(crate) use root::root_between;
pub use saddle::{ln_beta, ln_choose, ln_gamma};
