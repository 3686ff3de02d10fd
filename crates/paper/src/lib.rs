//! Papers as PDF.
