//! One collection: how much blood, in which bottles, within which limit.
