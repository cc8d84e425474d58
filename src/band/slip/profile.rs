//! Slips with a profile.

use crate::hydraulics::friction::Reading;
use crate::hydraulics::profile::{Drive, Motion, Tube, Unknown, solve};
use crate::hydraulics::regime::Limits;
use crate::solution::Case;
use crate::solution::profile::ProfileCase;

/// Slips with a profile.
pub(super) fn slips(case: &ProfileCase, limits: &Limits) -> Vec<(&'static str, Case)> {
    let mut all = Vec::new();
    let tube = case.solved.tube;
    let mut add = |name: &'static str, change: &dyn Fn(&mut Tube)| {
        let mut problem = case.problem();
        change(&mut problem.tube);
        if let Ok(solved) = solve(&problem, Reading::EXACT, limits) {
            all.push((name, Case::Profile(Box::new(case.with(solved)))));
        }
    };
    if let (Motion::Centre(centre), true) = (tube.motion, case.unknown != Unknown::Motion) {
        add("centre-line velocity taken for the mean", &|t| {
            t.motion = Motion::Mean(centre);
        });
    }
    if tube.end_correction > 0.0 || tube.kinetic_correction > 0.0 {
        add("corrections of the capillary left out", &|t| {
            t.end_correction = 0.0;
            t.kinetic_correction = 0.0;
        });
    }
    if tube.radius.is_some() {
        add("diameter for radius in the profile", &|t| {
            t.radius = t.radius.map(|r| 0.5 * r);
        });
    }
    if case.unknown != Unknown::Diameter {
        add("radius for diameter", &|t| {
            t.diameter *= 0.5;
            t.radius = t.radius.filter(|r| *r <= 0.5 * t.diameter);
        });
    }
    if !matches!(tube.drive, Drive::WallShear(_)) {
        // The stress alone is wrong: τ = Δp D/L with the quarter left at a half.
        let mut solved = case.solved.clone();
        solved.state.wall_shear *= 2.0;
        solved.state.friction_velocity *= std::f64::consts::SQRT_2;
        if let Some(local) = &mut solved.state.local {
            local.shear *= 2.0;
        }
        all.push((
            "shear stress with the diameter for the radius",
            Case::Profile(Box::new(case.with(solved))),
        ));
    }
    all
}
