//! Proportions.
