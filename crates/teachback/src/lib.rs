//! A teach-back held against a breakdown.
