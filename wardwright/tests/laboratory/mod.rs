//! A folder with a laboratory's file and its mapping, and the program run in it.

#![expect(clippy::unwrap_used, reason = "helpers of tests that cannot go on without their values")]

use std::fs;
use std::path::PathBuf;

use assert_cmd::Command;
use tempfile::TempDir;

/// Mapping of the columns that these tests write.
pub const MAPPING: &str = r#"schema = 1
name = "invented ward"
date_formats = ["YYYY-MM-DD hh:mm"]
[columns]
specimen = "specimen"
patient = "patient"
collected = "collected"
unit = "unit"
collector = "collector"
organism = "organism"
status = "status"
"#;

/// A folder with that mapping as `map.toml`.
pub struct Bench {
    folder: TempDir,
}

impl Bench {
    pub fn new() -> Self {
        let bench = Self { folder: TempDir::new().unwrap() };
        bench.write("map.toml", MAPPING);
        bench
    }

    pub fn write(&self, name: &str, text: impl AsRef<[u8]>) -> PathBuf {
        let path = self.path(name);
        fs::write(&path, text).unwrap();
        path
    }

    pub fn path(&self, name: &str) -> PathBuf {
        self.folder.path().join(name)
    }

    /// Exit code, standard output and standard error of `wardwright cultures`.
    pub fn run(&self, arguments: &[&str]) -> (i32, String, String) {
        let output = Command::cargo_bin("wardwright")
            .unwrap()
            .current_dir(self.folder.path())
            .env_clear()
            .arg("cultures")
            .args(arguments)
            .output()
            .unwrap();
        let text = |bytes: Vec<u8>| String::from_utf8(bytes).unwrap();
        (output.status.code().unwrap(), text(output.stdout), text(output.stderr))
    }
}
