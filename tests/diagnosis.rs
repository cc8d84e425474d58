//! Slips told from the numbers of simulated students, on the built-in bank.

#![allow(clippy::unwrap_used)]

use gradeline::bank::builtin_bank;
use gradeline::bank::course::{Conventions, Policy};
use gradeline::prove::diagnosis::{self, Blame, OfTemplate};
use std::sync::OnceLock;

/// Draws of each template.
const DRAWS: usize = 20;

fn measured() -> &'static [OfTemplate] {
    static ALL: OnceLock<Vec<OfTemplate>> = OnceLock::new();
    ALL.get_or_init(|| {
        let (policy, conventions) = (Policy::default(), Conventions::default());
        diagnosis::measure(&builtin_bank().templates, DRAWS, &policy, &conventions, &|| ()).unwrap()
    })
}

#[test]
fn of_twenty_slips_nineteen_are_named() {
    let (mut made, mut rightly, mut unclear) = (0, 0, 0);
    for of in measured() {
        let (m, r, u) = of.slip_students();
        (made, rightly, unclear) = (made + m, rightly + r, unclear + u);
    }
    println!("{}", diagnosis::table(measured()));
    println!("{}", diagnosis::pairs_table(measured()));
    println!("{}", diagnosis::confusion(measured()));
    println!("{}", diagnosis::groups(measured()));
    assert!(made > 5_000, "only {made} slips were tried");
    assert!(rightly * 100 >= made * 95, "{rightly} of {made} were named");
    // Of the others nearly all are unclear: another slip is hardly ever named in the right one's place.
    assert!(
        (made - rightly - unclear) * 200 <= made,
        "{made}, {rightly}, {unclear}"
    );
}

#[test]
fn who_made_no_slip_is_not_blamed_for_one() {
    type Kind = (&'static str, fn(&OfTemplate) -> Blame);
    let kinds: [Kind; 3] = [
        ("careful", |of| of.careful),
        ("random", |of| of.random),
        ("one random", |of| of.one_random),
    ];
    for (kind, of) in kinds {
        let (mut numbers, mut blamed) = (0, 0);
        for blame in measured().iter().map(of) {
            (numbers, blamed) = (numbers + blame.numbers, blamed + blame.blamed);
        }
        assert!(numbers > 1_000, "{kind}: only {numbers} numbers were tried");
        assert!(
            blamed * 100 <= numbers,
            "{kind}: {blamed} of {numbers} were blamed"
        );
    }
}

/// Two slips in one working, where three numbers or more are wrong and none of them merely follows.
#[test]
fn two_slips_at_once_are_named_together_or_not_at_all() {
    let (mut made, mut both, mut others) = (0, 0, 0);
    for of in measured() {
        made += of.pairs.made;
        both += of.pairs.both;
        others += of.pairs.others();
    }
    assert!(made > 500, "only {made} pairs were tried");
    assert!(both * 100 >= made * 85, "{both} of {made} were named");
    assert!(others * 100 <= 2 * made, "{others} of {made} were told of others");
}
