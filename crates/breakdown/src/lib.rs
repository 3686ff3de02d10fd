//! A job broken down: its file format, its checks, its ledgers.
