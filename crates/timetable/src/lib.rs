//! Rosters, expected draws, who practises when, the chance of being done by a date.
