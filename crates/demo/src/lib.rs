//! The invented demo unit, the same every time from one seed.
