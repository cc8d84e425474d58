//! Friction factors against values computed outside: 40-digit solutions of Colebrook–White, and the library
//! `fluids` for the explicit formulas (`tests/data/friction.csv`, sources in `tests/data/README.md`).

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::hydraulics::friction::{
    CHURCHILL_REYNOLDS, COLEBROOK_REYNOLDS, COLEBROOK_ROUGHNESS, HAALAND_REYNOLDS, HAALAND_ROUGHNESS, Law,
    OutOfRange, Reading, SERGHIDES_REYNOLDS, SWAMEE_JAIN_REYNOLDS, darcy, darcy_churchill, darcy_colebrook,
    darcy_fully_rough, darcy_haaland, darcy_laminar, darcy_serghides, darcy_swamee_jain,
    relative_roughness_colebrook,
};
use gradeline::hydraulics::regime::{Limits, Regime, classify};
use proptest::prelude::*;

struct Row {
    id: String,
    reynolds: f64,
    roughness: f64,
    factor: f64,
    note: String,
}

fn rows(kind: &str) -> Vec<Row> {
    let mut reader = csv::Reader::from_reader(include_bytes!("data/friction.csv").as_slice());
    reader
        .records()
        .map(Result::unwrap)
        .filter(|r| &r[1] == kind)
        .map(|r| Row {
            id: r[0].to_owned(),
            reynolds: r[2].parse().unwrap(),
            roughness: r[3].parse().unwrap(),
            factor: r[4].parse().unwrap(),
            note: r[7].to_owned(),
        })
        .collect()
}

fn all_agree(kind: &str, count: usize, tolerance: f64, law: impl Fn(&Row) -> f64) {
    let rows = rows(kind);
    assert_eq!(rows.len(), count, "{kind}");
    for row in rows {
        let found = law(&row);
        let off = (found / row.factor - 1.0).abs();
        assert!(
            off < tolerance,
            "{}: {found} for {}, off by {off:e}",
            row.id,
            row.factor
        );
    }
}

fn by(law: Law) -> impl Fn(&Row) -> f64 {
    // The rows of the formulas go a little beyond their published ranges; `darcy` takes them there.
    move |row| {
        darcy(
            Reading { law, factor: 1.0 },
            row.reynolds,
            row.roughness,
            &Limits::default(),
        )
    }
}

#[test]
fn colebrook_is_solved_to_the_last_digits() {
    // The values have 15 digits, so that some 5e-15 is theirs.
    all_agree("colebrook", 462, 1e-14, |r| {
        darcy_colebrook(r.reynolds, r.roughness).unwrap()
    });
}

#[test]
fn laminar_is_64_over_re() {
    all_agree("laminar", 15, 1e-14, |r| {
        // Some rows lie beyond laminar flow, where only a slip uses the formula.
        darcy_laminar(r.reynolds).unwrap_or_else(|_| by(Law::LaminarEverywhere)(r))
    });
}

#[test]
fn the_explicit_formulas_are_as_published() {
    all_agree("haaland", 36, 1e-13, by(Law::Haaland));
    // `fluids` writes (6.97/Re)^0.9 where the paper has 5.74/Re^0.9; 6.97^0.9 is 5.7400 to five figures only.
    all_agree("swamee_jain", 36, 3e-6, by(Law::SwameeJain));
    all_agree("churchill_1977", 48, 1e-12, |r| {
        darcy_churchill(r.reynolds, r.roughness).unwrap()
    });
    all_agree("serghides", 36, 1e-12, by(Law::Serghides));
    all_agree("fully_rough", 21, 1e-14, |r| {
        darcy_fully_rough(r.roughness).unwrap()
    });
}

#[test]
fn fully_rough_begins_where_moody_draws_it() {
    let limits = Limits::default();
    let from_note = |row: &Row| -> f64 {
        let text = row.note.split("Re=").nth(1).unwrap();
        text.split(';').next().unwrap().trim().parse().unwrap()
    };
    for (kind, law) in [
        ("rough_boundary_colebrook_f", Law::Colebrook),
        ("rough_boundary_rough_f", Law::FullyRough),
    ] {
        let rows = rows(kind);
        assert_eq!(rows.len(), 11);
        for row in rows {
            let at = from_note(&row);
            for (share, regime) in [
                (1.0 - 1e-9, Regime::TransitionallyRough),
                (1.0 + 1e-9, Regime::FullyRough),
            ] {
                let reynolds = at * share;
                let f = darcy(Reading { law, factor: 1.0 }, reynolds, row.roughness, &limits);
                assert!((f / row.factor - 1.0).abs() < 1e-9, "{}: {f}", row.id);
                let rough_number = reynolds * f.sqrt() * row.roughness;
                // Where the wall is so rough that this happens below Re 4000, the critical zone goes first.
                let expected = if reynolds < limits.turbulent_start {
                    Regime::Critical
                } else {
                    regime
                };
                assert_eq!(classify(reynolds, rough_number, &limits), expected, "{}", row.id);
            }
        }
    }
    all_agree("rough_boundary_3500", 11, 1e-13, by(Law::Colebrook));
}

/// How far the explicit formulas are from Colebrook–White within the ranges that they name; the figures are
/// those found with 40-digit arithmetic on the same grid.
#[test]
fn the_explicit_formulas_stay_near_colebrook() {
    for row in rows("colebrook") {
        let off = |f: Result<f64, OutOfRange>| f.map_or(0.0, |f| f / row.factor - 1.0);
        let (reynolds, roughness) = (row.reynolds, row.roughness);
        let haaland = off(darcy_haaland(reynolds, roughness));
        assert!(haaland.abs() < 0.0145, "{}: {haaland}", row.id);
        let swamee_jain = off(darcy_swamee_jain(reynolds, roughness));
        assert!(
            (-0.0075..0.034).contains(&swamee_jain),
            "{}: {swamee_jain}",
            row.id
        );
        let churchill = off(darcy_churchill(reynolds, roughness));
        assert!((-0.0065..0.0315).contains(&churchill), "{}: {churchill}", row.id);
        let serghides = off(darcy_serghides(reynolds, roughness));
        assert!(serghides.abs() < 3.2e-5, "{}: {serghides}", row.id);
    }
}

/// Common practice, no source: at ε/D = 0.0262 readings of 0.052 and 0.054 are both good.
#[test]
fn both_customary_readings_lie_about_the_fully_rough_factor() {
    let f = darcy_fully_rough(0.0262).unwrap();
    for reading in [0.052, 0.054] {
        assert!((reading / f - 1.0_f64).abs() < 0.05, "{reading} for {f}");
    }
}

#[test]
fn a_formula_refuses_what_its_range_leaves_out() {
    type Formula = fn(f64, f64) -> Result<f64, OutOfRange>;
    type Range = (f64, f64);
    let formulas: [(Formula, Range, Range); 5] = [
        (darcy_colebrook, COLEBROOK_REYNOLDS, COLEBROOK_ROUGHNESS),
        (darcy_haaland, HAALAND_REYNOLDS, HAALAND_ROUGHNESS),
        (darcy_swamee_jain, SWAMEE_JAIN_REYNOLDS, HAALAND_ROUGHNESS),
        (darcy_churchill, CHURCHILL_REYNOLDS, COLEBROOK_ROUGHNESS),
        (darcy_serghides, SERGHIDES_REYNOLDS, COLEBROOK_ROUGHNESS),
    ];
    for (formula, reynolds, roughness) in formulas {
        for (re, rr) in [
            (reynolds.0, roughness.0),
            (reynolds.1, roughness.0),
            (reynolds.0, roughness.1),
            (reynolds.1, roughness.1),
        ] {
            let f = formula(re, rr).unwrap();
            assert!(f > 0.0 && f.is_finite(), "{re} {rr}: {f}");
        }
        for re in [
            0.99 * reynolds.0,
            1.01 * reynolds.1,
            f64::NAN,
            -1.0,
            f64::INFINITY,
        ] {
            let error = formula(re, 0.001).unwrap_err();
            assert_eq!((error.what, error.range), ("Reynolds number", reynolds));
        }
        for rr in [-1e-9, 1.01 * roughness.1, f64::NAN, f64::INFINITY] {
            let error = formula(1e5, rr).unwrap_err();
            assert_eq!((error.what, error.range), ("relative roughness", roughness));
        }
    }
    assert!(
        darcy_laminar(2301.0).is_err() && darcy_laminar(0.0).is_err() && darcy_laminar(f64::NAN).is_err()
    );
    assert!(darcy_fully_rough(0.0).is_err() && darcy_fully_rough(0.051).is_err());
}

#[test]
fn a_factor_below_the_smooth_wall_has_no_roughness() {
    let smooth = darcy_colebrook(1e5, 0.0).unwrap();
    assert!(relative_roughness_colebrook(smooth, 1e5).unwrap() < 1e-16);
    assert!(
        relative_roughness_colebrook(0.99 * smooth, 1e5)
            .unwrap_err()
            .value
            < 0.0
    );
    assert!(relative_roughness_colebrook(0.09, 1e5).unwrap_err().value > 0.05);
    assert!(relative_roughness_colebrook(0.02, 1000.0).is_err());
    assert!(relative_roughness_colebrook(f64::NAN, 1e5).is_err());
}

fn roughness() -> impl Strategy<Value = f64> {
    prop_oneof![1 => Just(0.0), 6 => (-7.0..-1.302_f64).prop_map(|e| libm::pow(10.0, e)), 1 => Just(0.05)]
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(20_000))]

    /// The residual, on the scale of 1/√f, is a few units in the last place over the whole chart.
    #[test]
    fn colebrook_satisfies_its_equation(log_re in 3.361_728..8.0_f64, rr in roughness()) {
        let re = libm::pow(10.0, log_re).clamp(2300.0, 1e8);
        let f = darcy_colebrook(re, rr).unwrap();
        let x = 1.0 / f.sqrt();
        let residual = x + 2.0 * libm::log10(rr / 3.7 + 2.51 * x / re);
        prop_assert!(residual.abs() < 1e-14 * x, "{re} {rr}: {residual:e}");
    }

    #[test]
    fn roughness_comes_back_from_the_factor(log_re in 3.4..8.0_f64, log_rr in -5.0..-1.302_f64) {
        let (re, rr) = (libm::pow(10.0, log_re), libm::pow(10.0, log_rr));
        let f = darcy_colebrook(re, rr).unwrap();
        let back = relative_roughness_colebrook(f, re).unwrap();
        // The factor has 16 digits, and at low Re the roughness is the small difference of two terms.
        let terms = 3.7 * libm::pow(10.0, -0.5 / f.sqrt());
        prop_assert!((back - rr).abs() < 1e-13 * terms, "{re} {rr}: {back}");
    }

    /// A rougher wall or a slower flow never has a smaller factor, by any law within its range.
    #[test]
    fn the_factor_rises_with_roughness_and_falls_with_re(
        log_re in 3.7..7.9_f64, rr in roughness(), more in 1.01..2.0_f64,
    ) {
        let re = libm::pow(10.0, log_re);
        for law in [Law::Colebrook, Law::Haaland, Law::SwameeJain, Law::Churchill, Law::Serghides] {
            let reading = Reading { law, factor: 1.0 };
            let f = darcy(reading, re, rr, &Limits::default());
            prop_assert!(darcy(reading, re, rr * more, &Limits::default()) >= f * (1.0 - 1e-5));
            prop_assert!(darcy(reading, re * more, rr, &Limits::default()) <= f * (1.0 + 1e-5));
        }
    }

    #[test]
    fn nothing_panics(re in any::<f64>(), rr in any::<f64>(), f in any::<f64>(), factor in any::<f64>()) {
        for law in [
            Law::Colebrook, Law::Haaland, Law::SwameeJain, Law::Churchill, Law::Serghides, Law::FullyRough,
            Law::LaminarEverywhere, Law::Fixed(f),
        ] {
            let _ = darcy(Reading { law, factor }, re, rr, &Limits::default());
        }
        let _ = relative_roughness_colebrook(f, re);
    }
}
