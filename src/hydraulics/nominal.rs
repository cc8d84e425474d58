//! A pipe of a nominal size in the place of one whose diameter was solved for.

use super::friction::{Law, Reading, darcy_of};
use super::path::{Path, State};
use super::regime::Limits;
use super::sizes::{Series, Size};
use super::solve::{Problem, SolveError, Unknown, solve, state};

/// The next size up, and what happens in it.
#[derive(Debug, Clone, PartialEq)]
pub struct Nominal {
    /// The size.
    pub size: &'static Size,
    /// The size just below it, which is too narrow; none where it is the series' first.
    pub below: Option<&'static Size>,
    /// Everything along the path with that bore, at the flow that was asked for; its residual is the head
    /// that is left over \[m\].
    pub at_flow: State,
    /// Mean velocity in it at that flow \[m/s\].
    pub velocity: f64,
    /// The flow through that bore between the same stations \[m³/s\].
    pub flow: f64,
}

/// Puts the next size up in the place of a pipe's diameter.
///
/// Darcy friction factors are read as they were for `state`: where its factor misses the law's by a share, so do
/// those in the new bore.
///
/// # Errors
/// [`SolveError::NoSolution`] where no size of the series is wide enough, and where the path can't be solved
/// with the new bore.
pub fn nominal(
    path: &Path,
    at: &State,
    pipe: usize,
    series: &Series,
    limits: &Limits,
) -> Result<Nominal, SolveError> {
    let bore = path.pipe(pipe).map_or(f64::NAN, |p| p.diameter);
    let widest = series.sizes.last().map_or(0.0, Size::bore);
    let size = series.next_up(bore).ok_or(SolveError::NoSolution {
        tried: (0.0, widest),
        why: "no size of the series is wide enough",
    })?;
    let below = series.sizes.iter().take_while(|s| *s != size).last();
    let readings: Vec<Reading> = (at.pipes.iter().enumerate())
        .map(|(i, flowing)| {
            let section = path.pipe(i).map(|p| p.section).unwrap_or_default();
            let exact = darcy_of(
                &section,
                Reading::EXACT,
                flowing.reynolds,
                flowing.relative_roughness,
                limits,
            );
            let factor = flowing.darcy_friction_factor / exact;
            Reading {
                law: Law::Colebrook,
                factor: if factor > 0.0 && factor.is_finite() {
                    factor
                } else {
                    1.0
                },
            }
        })
        .collect();
    let mut wider = path.clone();
    if let Some(pipe) = wider.pipe_mut(pipe) {
        pipe.diameter = size.bore();
    }
    let at_flow = state(&wider, at.flow, &readings, limits)?;
    let problem = Problem {
        path: wider,
        flow: f64::NAN,
        unknown: Unknown::Flow,
    };
    let flow = solve(&problem, &readings, limits)?.value;
    let velocity = at_flow.pipes.get(pipe).map_or(f64::NAN, |p| p.velocity);
    Ok(Nominal {
        size,
        below,
        at_flow,
        velocity,
        flow,
    })
}
