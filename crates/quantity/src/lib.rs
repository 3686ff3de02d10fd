//! Millilitres, seconds, counts and rates: read from text, written back.
