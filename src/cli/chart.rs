//! `gradeline chart`: the friction chart.

use super::{Done, print};
use gradeline::constants::policy;
use gradeline::fault::{Checked, Fault, Faults};
use gradeline::figure::{Mark, friction_chart};
use gradeline::store;
use std::path::Path;

pub fn run(at: Option<&[f64]>, output: Option<&Path>) -> Checked<Done> {
    let mark = match at {
        Some([reynolds, relative_roughness]) => Some(checked(*reynolds, *relative_roughness)?),
        _ => None,
    };
    let svg = friction_chart(mark);
    match output {
        Some(path) => store::write(path, svg.as_bytes())?,
        None => print(&svg)?,
    }
    Ok(Done::Wholly)
}

fn checked(reynolds: f64, relative_roughness: f64) -> Checked<Mark> {
    let mut faults = Vec::new();
    if !(700.0..=policy::REYNOLDS_END).contains(&reynolds) {
        faults.push(
            Fault::new(format!("a Reynolds number of {reynolds} is off the chart"))
                .mend("give one from 700 to 1e8"),
        );
    }
    if !(0.0..=policy::RELATIVE_ROUGHNESS_END).contains(&relative_roughness) {
        faults.push(
            Fault::new(format!(
                "a relative roughness of {relative_roughness} is off the chart"
            ))
            .mend("give one from 0 to 0.05"),
        );
    }
    if faults.is_empty() {
        Ok(Mark {
            reynolds,
            relative_roughness,
        })
    } else {
        Err(Faults(faults))
    }
}
