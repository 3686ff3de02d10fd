//! The rules of the house that a reader cannot find by searching: which arrows exist, and which must not.

use std::collections::{BTreeMap, BTreeSet};

use cargo_metadata::{DependencyKind, Metadata, MetadataCommand, Package};

/// Every arrow between rooms, in the order of the map in ARCHITECTURE.md. A new arrow is a conversation first.
const ARROWS: &[(&str, &[&str])] = &[
    ("quantity", &[]),
    ("stats", &[]),
    ("breakdown", &["quantity"]),
    ("teachback", &["breakdown", "quantity"]),
    ("practice", &["breakdown", "stats", "teachback"]),
    ("account", &["practice"]),
    ("openid", &[]),
    ("culture", &["quantity", "stats"]),
    ("draw", &["quantity"]),
    ("timetable", &["breakdown", "practice", "stats"]),
    ("exchange", &["culture", "quantity", "teachback", "timetable"]),
    ("book", &["breakdown", "culture", "practice", "quantity", "teachback"]),
    ("door", &["book", "culture", "exchange", "practice"]),
    ("desk", &["breakdown", "culture", "draw", "practice", "quantity", "stats", "teachback", "timetable"]),
    ("chart", &["stats"]),
    ("demo", &["breakdown", "practice", "teachback"]),
    ("paper", &["breakdown", "chart", "desk", "practice"]),
    ("site", &["account", "breakdown", "chart", "desk", "practice", "teachback"]),
];

/// Rooms that compute: no files, no sockets, no clock, no database, no serialised core types.
const PURE: &[&str] = &[
    "quantity",
    "stats",
    "breakdown",
    "teachback",
    "practice",
    "account",
    "culture",
    "draw",
    "timetable",
    "desk",
    "chart",
    "demo",
];

/// Licences a hospital can take with this program.
const LICENCES: &[&str] = &[
    "0BSD",
    "Apache-2.0",
    "Apache-2.0 WITH LLVM-exception",
    "BSD-2-Clause",
    "BSD-3-Clause",
    "BSL-1.0",
    "CC0-1.0",
    "ISC",
    "MIT",
    "MIT-0",
    "MPL-2.0",
    "OFL-1.1",
    "Ubuntu-font-1.0",
    "Unicode-3.0",
    "Unlicense",
    "Zlib",
];

fn metadata() -> Metadata {
    MetadataCommand::new().exec().expect("cargo metadata runs in this workspace")
}

fn room(package: &Package) -> Option<&str> {
    package.name.strip_prefix("wardwright-")
}

fn arrows(metadata: &Metadata) -> BTreeMap<String, BTreeSet<String>> {
    metadata
        .workspace_packages()
        .into_iter()
        .filter_map(|package| {
            let to = package
                .dependencies
                .iter()
                .filter(|dependency| dependency.kind == DependencyKind::Normal)
                .filter_map(|dependency| dependency.name.strip_prefix("wardwright-").map(str::to_owned))
                .collect();
            room(package).map(|name| (name.to_owned(), to))
        })
        .collect()
}

#[test]
fn arrows_go_one_way_and_are_all_listed() {
    let found = arrows(&metadata());
    let listed: BTreeMap<String, BTreeSet<String>> = ARROWS
        .iter()
        .map(|(name, to)| ((*name).to_owned(), to.iter().map(|name| (*name).to_owned()).collect()))
        .collect();
    for (name, to) in &found {
        let allowed = listed.get(name).unwrap_or_else(|| panic!("room {name} is not on the list of arrows"));
        let extra: Vec<_> = to.difference(allowed).collect();
        let gone: Vec<_> = allowed.difference(to).collect();
        assert!(
            extra.is_empty(),
            "{name} imports {extra:?}: decide it, then list it here and in ARCHITECTURE.md"
        );
        assert!(
            gone.is_empty(),
            "{name} no longer imports {gone:?}: take it off the list and out of the map"
        );
    }
    assert_eq!(found.len(), listed.len(), "a listed room is gone");

    let mut above = BTreeSet::new();
    for (name, to) in ARROWS {
        for target in *to {
            assert!(above.contains(target), "{name} imports {target}, which does not stand above it");
        }
        above.insert(*name);
    }
}

#[test]
fn only_the_binary_knows_the_typesetter_and_only_the_book_knows_the_database() {
    for package in metadata().workspace_packages() {
        for dependency in package.dependencies.iter().filter(|d| d.kind == DependencyKind::Normal) {
            let name = dependency.name.as_str();
            if name.starts_with("typst") {
                assert_eq!(room(package), Some("paper"), "{} must not know {name}", package.name);
            }
            if ["rusqlite", "postgres"].contains(&name) {
                assert_eq!(room(package), Some("book"), "{} must not know {name}", package.name);
            }
            if ["ureq", "jsonwebtoken"].contains(&name) {
                assert_eq!(room(package), Some("openid"), "{} must not know {name}", package.name);
            }
            if name == "axum" {
                assert_eq!(room(package), Some("site"), "{} must not know {name}", package.name);
            }
            if name == "wardwright-paper" {
                assert_eq!(room(package), None, "{} must not know the typesetter's room", package.name);
            }
        }
    }
}

#[test]
fn pure_rooms_read_no_file_and_no_clock() {
    let forbidden = [
        "std::fs",
        "std::net",
        "std::env",
        "std::process",
        "std::time::SystemTime",
        "SystemTime::now",
        "Instant::now",
        "Zoned::now",
        "Timestamp::now",
        "File::open",
        "println!",
        "eprintln!",
    ];
    for package in metadata().workspace_packages() {
        let Some(name) = room(package).filter(|name| PURE.contains(name)) else { continue };
        let sources = package.manifest_path.parent().expect("a manifest lies in a folder").join("src");
        for file in rust_files(sources.as_std_path()) {
            let text = std::fs::read_to_string(&file).expect("a source file can be read");
            for (number, line) in text.lines().enumerate() {
                if line.trim_start().starts_with("//") {
                    continue;
                }
                for word in forbidden {
                    assert!(
                        !line.contains(word),
                        "{}:{}: the pure room {name} uses {word}; pass the value in instead",
                        file.display(),
                        number + 1
                    );
                }
            }
        }
    }
}

fn rust_files(folder: &std::path::Path) -> Vec<std::path::PathBuf> {
    let mut files = Vec::new();
    for entry in std::fs::read_dir(folder).expect("a room has a src folder") {
        let path = entry.expect("a folder entry can be read").path();
        if path.is_dir() {
            files.extend(rust_files(&path));
        } else if path.extension().is_some_and(|extension| extension == "rs") {
            files.push(path);
        }
    }
    files
}

#[test]
fn every_licence_is_one_a_hospital_can_take() {
    let mut refused = Vec::new();
    for package in metadata().packages {
        let Some(expression) = package.license.as_deref() else {
            if package.license_file.is_none() {
                refused.push(format!("{} states no licence", package.name));
            }
            continue;
        };
        // "A OR B" needs one acceptable side, "A AND B" needs both; "/" is an old spelling of OR.
        let acceptable = expression.replace('/', " OR ").split(" AND ").all(|part| {
            part.trim_matches(|c| c == '(' || c == ')' || c == ' ')
                .split(" OR ")
                .any(|one| LICENCES.contains(&one.trim_matches(|c| c == '(' || c == ')' || c == ' ')))
        });
        if !acceptable {
            refused.push(format!("{} {}: {expression}", package.name, package.version));
        }
    }
    assert!(refused.is_empty(), "licences to decide on:\n{}", refused.join("\n"));
}
