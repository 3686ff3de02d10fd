//! Distributions.
