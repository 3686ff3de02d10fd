//! Observed draws, standing, release rules and their error rates, follow-up.
