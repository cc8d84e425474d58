//! What people read when a file is wrong: one small folder a fault, with the file and the text expected.
//!
//! A change of wording is made here on purpose: run with `GRADELINE_WRITE_FAULTS=1` and read the difference.

#![allow(
    clippy::unwrap_used,
    reason = "a test that unwraps nothing fails, as it should"
)]

use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Course, Set, roster};
use gradeline::bank::system::System;
use gradeline::bank::template::Template;
use gradeline::fault::Faults;
use std::fs;
use std::path::{Path, PathBuf};

fn folders() -> Vec<PathBuf> {
    let root = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/faults");
    let mut folders: Vec<PathBuf> = fs::read_dir(root).unwrap().map(|e| e.unwrap().path()).collect();
    folders.sort();
    folders
}

/// The faults of the one input of a folder.
fn faults_of(folder: &Path) -> Option<Faults> {
    for name in [
        "system.yaml",
        "template.yaml",
        "course.yaml",
        "set.yaml",
        "roster.csv",
    ] {
        let Ok(bytes) = fs::read(folder.join(name)) else {
            continue;
        };
        let text = String::from_utf8_lossy(&bytes);
        return match name {
            "system.yaml" => System::parse(&text, name).err(),
            "template.yaml" => Template::parse(&text, "template", name).err(),
            "course.yaml" => Course::parse(&text, name).err(),
            "set.yaml" => {
                let course = Course::parse("name: Pipes", "course.yaml").unwrap();
                Set::parse(&text, "set", name, &course, Some(&builtin_bank())).err()
            }
            _ => roster(&bytes, name).err(),
        };
    }
    panic!("{}: no input", folder.display());
}

#[test]
fn every_fault_reads_as_expected() {
    let write = std::env::var_os("GRADELINE_WRITE_FAULTS").is_some();
    let mut different = String::new();
    let folders = folders();
    assert!(folders.len() >= 30);
    for folder in &folders {
        let Some(faults) = faults_of(folder) else {
            panic!("{}: read without a fault", folder.display());
        };
        let said = format!("{faults}\n");
        let expected = folder.join("expected.txt");
        if write {
            fs::write(&expected, &said).unwrap();
        }
        let expected = fs::read_to_string(&expected).unwrap_or_default();
        if said != expected {
            different += &format!("--- {}\nexpected:\n{expected}\nsaid:\n{said}\n", folder.display());
        }
    }
    assert!(different.is_empty(), "{different}");
}

/// Law 8: what, where, and how to mend.
#[test]
fn every_fault_has_a_place_and_a_mend() {
    for folder in folders() {
        for fault in faults_of(&folder).into_iter().flat_map(|f| f.0) {
            let place = fault
                .place
                .as_ref()
                .unwrap_or_else(|| panic!("no place: {fault}"));
            assert!(place.line.is_some(), "no line: {fault}");
            assert!(fault.mend.is_some(), "no mend: {fault}");
            assert!(!fault.what.ends_with('.'), "{fault}");
        }
    }
}
