//! What the policy finds wrong with a proved template, and how to mend it.

use super::Proof;
use super::text::{count, per_cent, short};
use crate::constants::policy::{
    LEAST_ACCEPTANCE, LEAST_DIFFERENT, MOST_DOUBLES, MOST_INSEPARABLE, WIDEST_BAND,
};
use crate::deal::difficulty::ANOTHER_DIFFICULTY;
use crate::fault::{Fault, Place};

/// Pairs of draws with the same answers from which their share means something.
const ENOUGH_PAIRS: usize = 5;

/// Everything that is wrong, the gravest first.
pub(super) fn faults(proof: &Proof) -> Vec<Fault> {
    let mut all = Vec::new();
    let mut fault = |what: String, mend: &str| {
        all.push(Fault::new(what).at(Place::file(&proof.template.name)).mend(mend));
    };
    let leading = leading_refusal(proof);
    if proof.accepted == 0 {
        let why = leading.map_or_else(String::new, |(why, times)| {
            format!(
                "; {} of {} for: {why}",
                count(times),
                count(proof.refused.total())
            )
        });
        let slip = leading.is_some_and(|(why, _)| why.starts_with("slip `"));
        fault(
            format!("no candidate is accepted{why}"),
            if slip {
                "list the slip for another part, take it off the list, or draw numbers that make it count for more"
            } else {
                "widen the givens' ranges, or loosen what refuses most"
            },
        );
        return all;
    }
    if proof.accepted < proof.draws {
        fault(
            format!(
                "{} of {} draws could not be had from 2000 candidates",
                proof.draws - proof.accepted,
                proof.draws
            ),
            "widen the givens' ranges, or loosen what refuses most",
        );
    }
    if proof.dealt_share() < LEAST_ACCEPTANCE {
        let alike = proof.spread.as_ref().map_or(0.0, |s| s.alike.0);
        let why = match leading {
            Some((why, _)) if proof.acceptance() < alike => format!("; most are refused for: {why}"),
            _ => String::new(),
        };
        fault(
            format!(
                "{} of the candidates are sound and {} of these as hard as one another, so that {} can be dealt, fewer \
                 than {}{why}",
                per_cent(proof.acceptance()),
                per_cent(alike),
                per_cent(proof.dealt_share()),
                per_cent(LEAST_ACCEPTANCE)
            ),
            if proof.acceptance() < alike {
                "narrow the givens' ranges to where the constraints hold, or loosen what refuses most"
            } else {
                "narrow the givens that change how hard the problem is, or constrain its regime"
            },
        );
    }
    if proof.different() < LEAST_DIFFERENT {
        fault(
            format!(
                "a class can be dealt some {} different draws, fewer than {}",
                short(proof.different()),
                short(LEAST_DIFFERENT)
            ),
            "give more values to some givens",
        );
    }
    let (chance, pairs, _) = proof.doubles;
    if chance > MOST_DOUBLES && pairs >= ENOUGH_PAIRS {
        fault(
            format!(
                "two students have all answers alike once in {} pairs; it must be no more than once in {}",
                short(1.0 / chance),
                short(1.0 / MOST_DOUBLES)
            ),
            "give more values to the givens that the answers depend on",
        );
    }
    for (what, times) in &proof.nonsense {
        fault(
            format!("{what} in {} of {} draws", times, proof.accepted),
            "set ranges or constraints that keep it where it makes sense",
        );
    }
    for width in &proof.widths {
        if width.five.middle > WIDEST_BAND {
            let cause = width.causes.first().map_or("", |(cause, _)| cause.name());
            fault(
                format!(
                    "half of the bands of `{}` are wider than {} of the answer, most by: {cause}",
                    width.part,
                    per_cent(WIDEST_BAND)
                ),
                "ask for something that careful work leaves less open, or draw numbers that make it count for more",
            );
        }
    }
    for (a, b, times) in &proof.inseparable {
        if *times as f64 > MOST_INSEPARABLE * proof.accepted as f64 {
            fault(
                format!(
                    "the listed slips `{a}` and `{b}` can't be told apart in {times} of {} draws",
                    proof.accepted
                ),
                "ask for another part in which they differ, or list one of them only",
            );
        }
    }
    all
}

/// What refuses most candidates.
fn leading_refusal(proof: &Proof) -> Option<(&str, u32)> {
    (proof.refused.0.iter())
        .filter(|(why, _)| !why.starts_with(ANOTHER_DIFFICULTY))
        .max_by(|a, b| a.1.cmp(b.1).then(b.0.cmp(a.0)))
        .map(|(why, times)| (why.as_str(), *times))
}
