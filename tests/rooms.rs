//! Data flows down the rooms; each uses only rooms above it.

#![allow(clippy::unwrap_used, reason = "a test stops where something fails")]

use std::collections::BTreeSet;
use std::fs;
use std::path::{Path, PathBuf};

/// The rooms in the order in which `src/lib.rs` lists them.
fn rooms(src: &Path) -> Vec<String> {
    fs::read_to_string(src.join("lib.rs"))
        .unwrap()
        .lines()
        .filter_map(|l| l.strip_prefix("pub mod ")?.strip_suffix(';').map(str::to_owned))
        .collect()
}

fn files(folder: &Path, into: &mut Vec<PathBuf>) {
    let mut entries: Vec<_> = fs::read_dir(folder).unwrap().map(|e| e.unwrap().path()).collect();
    entries.sort();
    for path in entries {
        if path.is_dir() {
            files(&path, into);
        } else if path.extension().is_some_and(|e| e == "rs") {
            into.push(path);
        }
    }
}

/// The names at the first level of `{a::b, c::{d, e}}`, given the text behind the opening brace.
fn first_level(group: &str) -> Vec<String> {
    let mut names = vec![String::new()];
    let mut depth = 0;
    for c in group.chars() {
        match c {
            '{' => depth += 1,
            '}' if depth == 0 => break,
            '}' => depth -= 1,
            ',' if depth == 0 => names.push(String::new()),
            c if depth == 0 => names.last_mut().unwrap().push(c),
            _ => {}
        }
    }
    names.iter().map(|n| leading_word(n.trim_start())).collect()
}

fn leading_word(text: &str) -> String {
    text.chars()
        .take_while(|c| c.is_alphanumeric() || *c == '_')
        .collect()
}

/// The rooms that a source text names: `crate::room…`, `use crate::{room…, room…}`, `gradeline::room…`.
fn named(text: &str) -> BTreeSet<String> {
    let code: Vec<&str> = text
        .lines()
        .filter(|l| !l.trim_start().starts_with("//"))
        .collect();
    let code = code.join("\n");
    let mut found = BTreeSet::new();
    for root in ["crate::", "gradeline::"] {
        for (at, _) in code.match_indices(root) {
            let rest = &code[at + root.len()..];
            match rest.strip_prefix('{') {
                Some(group) => found.extend(first_level(group)),
                None => {
                    found.insert(leading_word(rest));
                }
            }
        }
    }
    found
}

/// `room may not use other` for every use against the order.
fn against_the_order(order: &[String], room: &str, text: &str) -> Vec<String> {
    let place = |name: &str| order.iter().position(|r| r == name);
    let own = place(room);
    named(text)
        .iter()
        .filter(|name| matches!((own, place(name)), (Some(own), Some(other)) if other > own))
        .map(|name| format!("`{room}` may not use `{name}`"))
        .collect()
}

#[test]
fn each_room_uses_only_rooms_above_it() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let order = rooms(&src);
    assert!(order.len() > 10, "the rooms were not found in src/lib.rs");
    let mut all = Vec::new();
    files(&src, &mut all);
    let mut faults = Vec::new();
    for path in all {
        let inside = path.strip_prefix(&src).unwrap();
        let first = inside
            .components()
            .next()
            .unwrap()
            .as_os_str()
            .to_string_lossy()
            .into_owned();
        let room = first.trim_end_matches(".rs");
        for fault in against_the_order(&order, room, &fs::read_to_string(&path).unwrap()) {
            faults.push(format!("src/{}: {fault}", inside.display()));
        }
    }
    assert!(faults.is_empty(), "{}", faults.join("\n"));
}

#[test]
fn every_folder_and_file_of_the_library_is_a_room() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let order = rooms(&src);
    for entry in fs::read_dir(&src).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        let stem = name.trim_end_matches(".rs").to_owned();
        assert!(
            order.contains(&stem) || ["lib", "main", "cli"].contains(&stem.as_str()),
            "src/{name} is no room of src/lib.rs"
        );
    }
}

#[test]
fn the_check_sees_every_form_of_use() {
    let order: Vec<String> = ["fault", "quantity", "band"].map(String::from).to_vec();
    for text in [
        "use crate::band::Band;",
        "use crate::{fault::Fault, band::{Band, Cause}};",
        "use crate::{fault::{Fault, Place}, band};",
        "fn f() { crate::band::bands(); }",
    ] {
        let faults = against_the_order(&order, "quantity", text);
        assert_eq!(faults, ["`quantity` may not use `band`"], "{text}");
    }
    assert!(against_the_order(&order, "quantity", "//! see `crate::band`").is_empty());
    assert!(against_the_order(&order, "band", "use crate::{fault, quantity::Unit};").is_empty());
}

/// SI inside, units at the edges: the numeric rooms know nothing of units, and every friction factor is Darcy's.
#[test]
fn numbers_are_si_inside_and_friction_factors_are_darcys() {
    let src = Path::new(env!("CARGO_MANIFEST_DIR")).join("src");
    let mut inside = vec![src.join("fluid.rs")];
    files(&src.join("hydraulics"), &mut inside);
    let mut factors = 0;
    for path in inside {
        let text = fs::read_to_string(&path).unwrap();
        for room in ["quantity", "equation"] {
            assert!(!named(&text).contains(room), "{} uses `{room}`", path.display());
        }
        let mut doc = String::new();
        for line in text.lines().map(str::trim_start) {
            if line.starts_with("///") {
                doc.push_str(line);
            } else if line.starts_with("#[") {
                // Attributes stand between a doc and what it is about.
            } else {
                if line.starts_with("pub ") && doc.contains("riction factor") {
                    factors += 1;
                    let said = doc.contains("Darcy") || line.contains("darcy");
                    assert!(said, "{}: whose friction factor is `{line}`?", path.display());
                }
                doc.clear();
            }
        }
    }
    assert!(factors > 8, "the friction factors were not found");
}
