//! What must hold for every kind of system: names mean what they are said to mean, and every template of the bank is
//! dealt soundly and has a worked solution.

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::bank::system::System;
use gradeline::deal::deal_one;
use gradeline::draw::Seed;
use gradeline::equation::Style;
use gradeline::hydraulics::regime::Limits;
use gradeline::solution::{Case, plain_text, worked};
use std::fs;
use std::path::Path;

/// Every system that a page of the documentation shows.
fn documented() -> Vec<String> {
    let docs = Path::new(env!("CARGO_MANIFEST_DIR")).join("docs");
    let mut pages: Vec<_> = fs::read_dir(docs).unwrap().map(|e| e.unwrap().path()).collect();
    pages.sort();
    pages
        .iter()
        .flat_map(|page| {
            let text = fs::read_to_string(page).unwrap();
            let systems = text.split("```yaml system\n").skip(1);
            systems
                .map(|rest| rest.split("```").next().unwrap().to_owned())
                .collect::<Vec<_>>()
        })
        .collect()
}

#[test]
fn every_result_has_the_name_and_dimension_that_templates_are_checked_against() {
    let limits = Limits::default();
    for yaml in documented() {
        let system = System::parse(&yaml, "documented.yaml").unwrap_or_else(|f| panic!("{f}\n{yaml}"));
        let case = Case::solve(system.clone(), None, &limits).unwrap_or_else(|f| panic!("{f}\n{yaml}"));
        let found = case.results(&Conventions::default());
        let promised = system.results();
        for (name, bound) in &found.0 {
            let one = promised
                .iter()
                .find(|p| p.name == *name)
                .unwrap_or_else(|| panic!("`{name}` is not promised:\n{yaml}"));
            assert_eq!(one.dimension, bound.quantity.dimension, "{name}:\n{yaml}");
            assert!(bound.quantity.value.is_finite(), "{name}:\n{yaml}");
        }
        let missing: Vec<_> = promised
            .iter()
            .filter(|p| found.get(&p.name).is_none())
            .map(|p| p.name.as_str())
            .collect();
        // A smooth wall has no fully rough limit, a laminar flow no power law; most of what is promised is there.
        assert!(missing.len() * 3 <= promised.len(), "{missing:?} of\n{yaml}");
    }
}

#[test]
fn every_template_has_a_worked_solution_that_ends_in_its_answers() {
    let (policy, conventions) = (Policy::default(), Conventions::default());
    for template in &builtin_bank().templates {
        let (dealt, _) = deal_one(template, &Seed::from_bytes([3; 32]), &policy, &conventions)
            .unwrap_or_else(|f| panic!("{f}"));
        let steps = worked(
            &dealt.case,
            Some((template, &dealt.givens)),
            &policy.limits,
            &conventions,
        )
        .unwrap_or_else(|e| panic!("{}: {}", template.name, e.what));
        assert!(steps.len() >= 3, "{}", template.name);
        let text = plain_text(&steps[steps.len() - 1..], Style::default());
        for part in &template.parts {
            let mut name = part.name.clone();
            name[..1].make_ascii_uppercase();
            assert!(text.contains(&name), "{}: `{name}` in\n{text}", template.name);
        }
        let all = plain_text(&steps, Style::default());
        assert!(
            !all.contains("NaN") && !all.contains("inf "),
            "{}:\n{all}",
            template.name
        );
    }
}
