//! The record book: append-only, hash-chained, behind one store trait.
