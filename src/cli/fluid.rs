//! `gradeline fluid NAME`: properties at a temperature.

use super::{Done, print};
use gradeline::constants::physical::STANDARD_ATMOSPHERE;
use gradeline::fault::{Checked, Fault, nearest};
use gradeline::fluid::{Named, US_CUSTOMARY_UNITS};
use gradeline::quantity::{DecimalMark, Dimension, Unit, Written};
use std::fmt::Write;

pub fn run(name: &str, temperature: &str) -> Checked<Done> {
    let known = Named::ALL.map(Named::name);
    let Some(fluid) = Named::ALL.into_iter().find(|f| f.name() == name.to_lowercase()) else {
        let mend = match nearest(name, known) {
            Some(near) => format!("did you mean `{near}`?"),
            None => format!("known are {}", known.join(" and ")),
        };
        return Err(Fault::new(format!("no fluid is called `{name}`"))
            .mend(mend)
            .into());
    };
    let written = Written::parse(temperature).map_err(|e| {
        let fault = Fault::new(format!("the temperature can't be read: {}", e.what));
        match e.mend {
            Some(mend) => fault.mend(mend),
            None => fault.mend("write it as `20 degC`"),
        }
    })?;
    let kelvin = written.quantity();
    if kelvin.dimension != Dimension::TEMPERATURE {
        return Err(Fault::new(format!("`{temperature}` is no temperature"))
            .mend("write it as `20 degC`, `68 degF` or `293.15 K`")
            .into());
    }
    let pressure = STANDARD_ATMOSPHERE.value;
    let found = fluid.properties(kelvin.value, pressure).map_err(|e| {
        let celsius = |k: f64| format!("{:.0} °C", k - 273.15);
        Fault::new(format!(
            "{} at {} lies outside the range {} to {}",
            fluid.name(),
            written.plain(DecimalMark::Point),
            celsius(e.range.0),
            celsius(e.range.1)
        ))
        .mend("ask for a temperature within the range")
    })?;
    let [density, dynamic, kinematic, absolute] = match written.unit.is_us_customary() {
        Some(true) => US_CUSTOMARY_UNITS,
        _ => ["kg/m^3", "Pa.s", "m^2/s", "kPa abs"],
    };
    let mut rows = vec![
        ("density", found.density, density),
        ("dynamic viscosity", found.dynamic_viscosity, dynamic),
        (
            "kinematic viscosity",
            found.dynamic_viscosity / found.density,
            kinematic,
        ),
    ];
    if let Some(vapour) = found.vapour_pressure {
        rows.push(("vapour pressure", vapour, absolute));
    }
    let mut text = format!(
        "{} at {} and {}\n",
        fluid.name(),
        written.plain(DecimalMark::Point),
        Written::from_si(pressure, &unit("kPa"), 6).plain(DecimalMark::Point)
    );
    for (what, si, symbol) in rows {
        let value = Written::from_si(si, &unit(symbol), 5).plain(DecimalMark::Point);
        // Writing to a string can't fail.
        let _ = writeln!(text, "  {what:<20} {value}");
    }
    let _ = writeln!(text, "  {:<20} {}", "source", fluid.source());
    print(&text)?;
    Ok(Done::Wholly)
}

fn unit(symbol: &str) -> Unit {
    Unit::parse(symbol).unwrap_or_else(|_| Unit::none())
}
