//! The web pages.
