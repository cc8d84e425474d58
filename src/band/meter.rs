//! How careful work on a flow meter varies beyond reading its coefficient, and its working redone.

use super::general::worst_rounding;
use super::sheet::{Medium, Sheet, settled};
use crate::hydraulics::friction::Reading;
use crate::hydraulics::meter::standard::{discharge_coefficient, expansibility};
use crate::hydraulics::meter::{Element, Gauge, Throttle, Unknown};
use crate::hydraulics::path::area;
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::Solution as _;
use crate::solution::meter::MeterCase;

/// The results that are written down on the way, in the order in which they are found.
pub(super) fn written(case: &MeterCase) -> Vec<String> {
    let sizes = ["beta", "E", "A_t"];
    let flows = ["A", "V", "Re"];
    let measured = ["rho_d", "dp"];
    let mut all: Vec<&str> = Vec::new();
    match case.unknown() {
        Unknown::Flow => {
            all.extend(measured);
            all.extend(sizes);
            all.extend(["u_i", "Q_i", "Y", "C", "Q"]);
            all.extend(flows);
        }
        Unknown::Coefficient if case.throttle().is_some() => {
            all.extend(measured);
            all.extend(sizes);
            all.extend(["u_i", "Q_i", "Y", "C"]);
            all.extend(flows);
        }
        Unknown::ThroatDiameter => {
            all.extend(measured);
            all.extend(flows);
            all.push("u_i");
            all.extend(["C", "Y", "beta", "d", "E", "A_t"]);
        }
        Unknown::Differential | Unknown::Deflection if case.throttle().is_some() => {
            all.extend(flows);
            all.extend(sizes);
            all.extend(["C", "Y", "u_i", "dp", "rho_d", "h_m"]);
        }
        // A Pitot tube.
        Unknown::Differential | Unknown::Deflection => {
            all.extend(["u_i", "dp", "rho_d", "h_m", "V", "A", "Q", "Re"])
        }
        Unknown::Coefficient | Unknown::Velocity => {
            all.extend(["rho_d", "dp", "u_i", "C", "u", "V", "A", "Q", "Re"])
        }
    }
    all.push("mdot");
    if case.throttle().is_some() {
        all.extend(["s_loss", "s_jet", "xi", "dp_loss", "h_loss", "K_loss", "P_loss"]);
    }
    let found = case.found();
    let is_worked_out = |name: &&str| found.iter().any(|f| f.name == *name && f.stated.is_none());
    let all = all.into_iter().filter(is_worked_out);
    all.map(str::to_owned).collect()
}

/// The difference of a manometer's two densities, for who leaves the fluid out of it: a gas beside a liquid, which weighs no
/// more than the worst that rounding to three figures does to the liquid.
pub(super) fn fluid_left_out(case: &MeterCase) -> Option<(String, f64)> {
    let meter = &case.solved.meter;
    match meter.gauge {
        Gauge::Manometer { density, .. } if meter.density <= worst_rounding() * density => {
            Some(("rho_d".to_owned(), density))
        }
        _ => None,
    }
}

/// The working redone with some results taken for true, SI, and a reading that stands for that of the coefficient.
///
/// A manometer gives the differential pressure, the diameters what the equation of the meter needs of them; flow, velocity
/// and Reynolds number the coefficient, which is read at the Reynolds number that is taken, if one is; the equation
/// then what is sought. What is lost for good follows from coefficient and differential pressure. Of a flow and its velocity,
/// a throat and its ratio, a differential pressure and its deflection, the one that is sought first follows from the other
/// where that alone is taken.
pub(super) fn rework(
    case: &MeterCase,
    taken: &[(String, f64)],
    readings: &[Reading],
    _limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    let meter = &case.solved.meter;
    let medium = Medium {
        density: meter.density,
        dynamic_viscosity: meter.dynamic_viscosity,
        gravity: meter.gravity,
    };
    let mut redo = Redo {
        case,
        s: Sheet::new(case, &medium, taken),
        misread: case.misread(readings),
    };
    let difference = redo.get("rho_m") - redo.get("rho");
    redo.s.line("rho_d", difference.abs());
    match &meter.element {
        Element::Throttle(throttle) => redo.throttle(throttle),
        Element::Pitot(pitot) => redo.pitot(pitot.duct.is_some()),
    }
    redo.s
        .line("h", redo.get("dp") / (redo.get("rho") * redo.get("g")));
    Some(redo.s.done())
}

struct Redo<'a> {
    case: &'a MeterCase,
    s: Sheet<'a>,
    /// What a coefficient that is read is multiplied with.
    misread: f64,
}

impl Redo<'_> {
    fn get(&self, name: &str) -> f64 {
        self.s.get(name)
    }

    /// What `name` is taken for, if it is.
    fn taken(&self, name: &str) -> Option<f64> {
        self.s.has_taken(name).then(|| self.get(name))
    }

    /// `√(2 Δp/ρ)`
    fn speed(&self) -> f64 {
        (2.0 * self.get("dp") / self.get("rho")).sqrt()
    }

    /// Pressure that a deflection of 1 m shows; NaN without a manometer.
    fn per_deflection(&self) -> f64 {
        self.get("rho_d") * self.get("g")
    }

    /// The differential pressure, where it was measured.
    fn measured(&mut self) {
        if let Gauge::Manometer { .. } = self.case.solved.meter.gauge {
            self.s.line("dp", self.per_deflection() * self.get("h_m"));
        }
    }

    /// The differential pressure that is sought, and the deflection that shows it.
    fn sought(&mut self, by_equation: f64) {
        let by_deflection = self
            .taken("h_m")
            .map(|deflection| self.per_deflection() * deflection);
        let by_head = (self.taken("h")).map(|head| self.get("rho") * self.get("g") * head);
        self.s
            .line("dp", by_deflection.or(by_head).unwrap_or(by_equation));
        self.s.line("h_m", self.get("dp") / self.per_deflection());
        self.s.line("u_i", self.speed());
    }

    fn sizes(&mut self) {
        let ratio = self.s.line("beta", self.get("d") / self.get("D"));
        let fourth = ratio * ratio * ratio * ratio;
        self.s.line("E", 1.0 / (1.0 - fourth).sqrt());
        self.s.line("A_t", area(self.get("d")));
    }

    fn reynolds(&self, velocity: f64) -> f64 {
        velocity * self.get("D") * self.get("rho") / self.get("mu")
    }

    /// Velocity and Reynolds number of the pipe from its flow.
    fn flows(&mut self) {
        let velocity = self.s.line("V", self.get("Q") / self.get("A"));
        self.s.line("Re", self.reynolds(velocity));
    }

    /// The coefficient as it is given, or as it is read at a ratio and a Reynolds number.
    fn coefficient(&self, throttle: &Throttle, ratio: f64, reynolds: f64) -> f64 {
        if throttle.coefficient.is_some() {
            return self.get("C");
        }
        self.misread * discharge_coefficient(throttle.device, ratio, self.get("D"), reynolds)
    }

    /// The expansibility factor at a ratio and a differential pressure.
    fn expansion(&self, throttle: &Throttle, ratio: f64, differential: f64) -> f64 {
        match throttle.gas {
            _ if self.s.has_taken("Y") => self.get("Y"),
            None => 1.0,
            Some(gas) => {
                let left = 1.0 - differential / gas.upstream_pressure;
                expansibility(throttle.device, ratio, left, gas.isentropic_exponent)
            }
        }
    }

    fn throttle(&mut self, throttle: &Throttle) {
        self.s.line("A", area(self.get("D")));
        match self.case.unknown() {
            Unknown::Differential | Unknown::Deflection => {
                self.flows();
                self.sizes();
                let ratio = self.get("beta");
                let coefficient = self.coefficient(throttle, ratio, self.get("Re"));
                let coefficient = self.s.line("C", coefficient);
                let through = self.get("Q") / (coefficient * self.get("E") * self.get("A_t"));
                // What a liquid takes; a gas takes more.
                let liquid = 0.5 * self.get("rho") * through * through;
                let pressure = settled(liquid, |pressure| {
                    let expansion = self.expansion(throttle, ratio, pressure);
                    liquid / (expansion * expansion)
                });
                let ideal = (2.0 * pressure / self.get("rho")).sqrt();
                let ideal = self.s.line("u_i", ideal);
                self.sought(0.5 * self.get("rho") * ideal * ideal);
            }
            Unknown::ThroatDiameter => {
                self.measured();
                self.s.line("u_i", self.speed());
                self.flows();
                self.throat(throttle);
                self.sizes();
                let coefficient = self.coefficient(throttle, self.get("beta"), self.get("Re"));
                self.s.line("C", coefficient);
            }
            _ => {
                self.measured();
                self.sizes();
                self.s.line("u_i", self.speed());
            }
        }
        let ideal = self
            .s
            .line("Q_i", self.get("E") * self.get("A_t") * self.get("u_i"));
        let expansion = self.expansion(throttle, self.get("beta"), self.get("dp"));
        let most = ideal * self.s.line("Y", expansion);
        match self.case.unknown() {
            Unknown::Flow => self.metered(throttle, most),
            Unknown::Coefficient => {
                self.s.line("C", self.get("Q") / most);
                self.flows();
            }
            _ => {}
        }
        self.s.line("mdot", self.get("rho") * self.get("Q"));
        self.lost(throttle);
    }

    /// The flow, where `most` would pass with a coefficient of 1.
    fn metered(&mut self, throttle: &Throttle, most: f64) {
        let section = self.get("A");
        let by_velocity = self.taken("V").map(|velocity| velocity * section);
        let by_mass = self.taken("mdot").map(|mass| mass / self.get("rho"));
        let flow = self.taken("Q").or(by_velocity).or(by_mass);
        let reynolds = |flow: f64| self.taken("Re").unwrap_or_else(|| self.reynolds(flow / section));
        let read = |flow: f64| self.coefficient(throttle, self.get("beta"), reynolds(flow));
        let coefficient = match (self.taken("C"), flow) {
            (Some(taken), _) => taken,
            (None, Some(flow)) => read(flow),
            (None, None) => settled(self.get("C"), |coefficient| read(coefficient * most)),
        };
        self.s.line("C", coefficient);
        self.s.line("Q", flow.unwrap_or(coefficient * most));
        self.flows();
    }

    /// The throat that lets a known flow through.
    fn throat(&mut self, throttle: &Throttle) {
        let bore = self.get("D");
        let through = self.get("Q") / (self.get("A") * self.get("u_i"));
        let by_area = || {
            self.taken("A_t")
                .map(|section| (4.0 / std::f64::consts::PI * section).sqrt())
        };
        let throat = self.taken("d").or_else(by_area);
        let ratio = throat.map_or_else(
            || {
                settled(self.get("beta"), |ratio| {
                    let read = || self.coefficient(throttle, ratio, self.get("Re"));
                    let coefficient = self.taken("C").unwrap_or_else(read);
                    let x = through / (coefficient * self.expansion(throttle, ratio, self.get("dp")));
                    libm::pow(x * x / (1.0 + x * x), 0.25)
                })
            },
            |throat| throat / bore,
        );
        let ratio = self.s.line("beta", ratio);
        self.s.line("d", ratio * bore);
    }

    /// What is lost for good.
    fn lost(&mut self, throttle: &Throttle) {
        if !throttle.device.has_outlet_cone() {
            let (coefficient, square) = (self.get("C"), self.get("beta") * self.get("beta"));
            let root = 1.0 - square * square * (1.0 - coefficient * coefficient);
            let root = self.s.line("s_loss", root.sqrt());
            let jet = self.s.line("s_jet", coefficient * square);
            self.s.line("xi", (root - jet) / (root + jet));
        }
        let loss = self.s.line("dp_loss", self.get("xi") * self.get("dp"));
        self.s.line("h_loss", loss / (self.get("rho") * self.get("g")));
        let velocity = self.get("V");
        let dynamic = self.get("rho") * velocity * velocity;
        self.s
            .line("K_loss", if dynamic == 0.0 { 0.0 } else { 2.0 * loss / dynamic });
        self.s.line("P_loss", loss * self.get("Q"));
    }

    fn pitot(&mut self, has_duct: bool) {
        match self.case.unknown() {
            Unknown::Differential | Unknown::Deflection => {
                let ideal = self.s.line("u_i", self.get("u") / self.get("C"));
                self.sought(0.5 * self.get("rho") * ideal * ideal);
            }
            Unknown::Coefficient => {
                self.measured();
                let ideal = self.s.line("u_i", self.speed());
                self.s.line("C", self.get("u") / ideal);
            }
            _ => {
                self.measured();
                let ideal = self.s.line("u_i", self.speed());
                self.s.line("u", self.get("C") * ideal);
            }
        }
        if has_duct {
            let velocity = self.s.line("V", self.get("k_u") * self.get("u"));
            let section = self.s.line("A", area(self.get("D")));
            let flow = self.s.line("Q", velocity * section);
            self.s.line("Re", self.reynolds(velocity));
            self.s.line("mdot", self.get("rho") * flow);
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::sheet::tests::{agrees, are_results, moved, near, of, solved};
    use super::*;
    use crate::hydraulics::meter::standard::{Device, Taps};
    use crate::solution::Case;

    const LIMITS: Limits = Limits::DEFAULT;
    const PI: f64 = std::f64::consts::PI;

    fn metered(yaml: &str) -> (Case, MeterCase) {
        let case = solved(yaml);
        let Case::Meter(meter) = &case else {
            panic!("no meter")
        };
        (case.clone(), (**meter).clone())
    }

    fn water(flow: &str, meter: &str) -> (Case, MeterCase) {
        metered(&format!(
            "fluid: {{ density: 1000 kg/m^3, dynamic viscosity: 1.0e-3 Pa.s }}\n{flow}\nmeter: {{ {meter} }}\n"
        ))
    }

    fn taking(meter: &MeterCase, name: &str, value: f64) -> Vec<(String, Quantity)> {
        let taken = [(name.to_owned(), value)];
        rework(meter, &taken, &[Reading::EXACT], &LIMITS).unwrap_or_else(|| panic!("no `{name}`"))
    }

    #[test]
    fn nothing_taken_gives_what_was_solved() {
        let mut all = Vec::new();
        let gas = "upstream pressure: 200 kPa";
        let air = |flow: &str, meter: &str| {
            metered(&format!(
                "fluid: {{ name: air, temperature: 35 degC }}\n{flow}\nmeter: {{ {meter}, {gas} }}\n"
            ))
        };
        for device in [
            "orifice: flange taps",
            "nozzle: ISA 1932",
            "nozzle: Venturi nozzle",
            "venturi: machined",
        ] {
            let known = format!("{device}, pipe diameter: 150 mm");
            let throat = "throat diameter: 90 mm";
            for (flow, rest) in [
                ("flow: unknown", format!("{throat}, differential: 25 kPa")),
                (
                    "flow: unknown",
                    format!("{throat}, manometer: {{ density: 13550 kg/m^3, deflection: 200 mm }}"),
                ),
                ("flow: 40 L/s", format!("{throat}, differential: unknown")),
                (
                    "flow: 40 L/s",
                    format!("{throat}, manometer: {{ density: 13550 kg/m^3, deflection: unknown }}"),
                ),
                (
                    "flow: 40 L/s",
                    "throat diameter: unknown, differential: 25 kPa".to_owned(),
                ),
                (
                    "flow: 40 L/s",
                    format!("{throat}, differential: 25 kPa, coefficient: unknown"),
                ),
                (
                    "flow: unknown",
                    format!("{throat}, differential: 25 kPa, coefficient: 0.9"),
                ),
            ] {
                all.push(water(flow, &format!("{known}, {rest}")));
            }
            all.push(air(
                "flow: unknown",
                &format!("{known}, {throat}, differential: 25 kPa"),
            ));
            all.push(air(
                "flow: 0.7 m^3/s",
                &format!("{known}, {throat}, differential: unknown"),
            ));
            all.push(air(
                "flow: 0.7 m^3/s",
                &format!("{known}, throat diameter: unknown, differential: 25 kPa"),
            ));
        }
        for (velocity, rest) in [
            ("unknown", "manometer: { density: 790 kg/m^3, deflection: 35 mm }"),
            ("25 m/s", "differential: unknown"),
            (
                "25 m/s",
                "manometer: { density: 790 kg/m^3, deflection: unknown }",
            ),
        ] {
            all.push(metered(&format!(
                "fluid: {{ name: air, temperature: 20 degC }}\nmeter: {{ pitot: static holes, coefficient: 0.99, velocity: {velocity}, \
                 {rest}, pipe diameter: 400 mm, velocity ratio: 0.82 }}\n"
            )));
        }
        for (case, meter) in all {
            agrees(
                &rework(&meter, &[], &[Reading::EXACT], &LIMITS).unwrap(),
                &case,
                1e-12,
            );
            let reading = Reading {
                factor: 1.05,
                ..Reading::EXACT
            };
            let again = meter.again(&[reading], &LIMITS).unwrap();
            agrees(&rework(&meter, &[], &[reading], &LIMITS).unwrap(), &again, 1e-10);
            are_results(&written(&meter), &case);
        }
    }

    #[test]
    fn a_plate_is_followed_to_what_it_costs() {
        let plate = "orifice: corner taps, pipe diameter: 100 mm, throat diameter: 65 mm, \
                     manometer: { density: 13550 kg/m^3, deflection: 200 mm }";
        let (case, meter) = water("flow: unknown", plate);
        let right = case.numbers();
        let value = |name: &str| of(&right, name);
        let ratio: f64 = 0.65;
        let b4 = libm::pow(ratio, 4.0);
        let area = PI / 4.0 * 0.01;
        let share = |c: f64| {
            let root = (1.0 - b4 * (1.0 - c * c)).sqrt();
            (root - c * ratio * ratio) / (root + c * ratio * ratio)
        };
        // Name, what it is taken for, and the differential pressure, coefficient and flow that follow.
        let corner =
            |q: f64| discharge_coefficient(Device::Orifice(Taps::Corner), ratio, 0.1, q / area * 0.1 * 1e6);
        let (dp, c, q, ideal) = (value("dp"), value("C"), value("Q"), value("Q_i"));
        near(12_550.0 * 9.81 * 0.2, dp, 1e-12, "dp");
        let flow = |ideal: f64| (0..40).fold(q, |q, _| corner(q) * ideal);
        let more = 1.3_f64.sqrt() * ideal;
        for (name, dp, c, q) in [
            ("dp", 1.3 * dp, corner(flow(more)), flow(more)),
            ("Q_i", dp, corner(flow(1.3 * ideal)), flow(1.3 * ideal)),
            ("C", dp, 1.3 * c, 1.3 * c * ideal),
            ("Q", dp, corner(1.3 * q), 1.3 * q),
            ("V", dp, corner(1.3 * q), 1.3 * q),
            ("Re", dp, corner(1.3 * q), corner(1.3 * q) * ideal),
        ] {
            let ours = taking(&meter, name, 1.3 * value(name));
            let xi = share(c);
            for (result, theirs) in [
                ("dp", dp),
                ("C", c),
                ("Q", q),
                ("V", q / area),
                ("xi", xi),
                ("dp_loss", xi * dp),
                ("P_loss", xi * dp * q),
                ("h_loss", xi * dp / 9810.0),
            ] {
                near(of(&ours, result), theirs, 1e-11, &format!("{result} from {name}"));
            }
        }
        assert_eq!(
            moved(&taking(&meter, "dp_loss", 9e3), &case),
            ["dp_loss", "h_loss", "K_loss", "P_loss"]
        );
        assert_eq!(moved(&taking(&meter, "P_loss", 9e3), &case), ["P_loss"]);
    }

    #[test]
    fn what_is_sought_at_a_known_flow_follows() {
        let tube =
            "orifice: corner taps, pipe diameter: 100 mm, throat diameter: 65 mm, differential: unknown";
        let (case, meter) = water("flow: 15 L/s", tube);
        let right = case.numbers();
        let area = |d: f64| PI / 4.0 * d * d;
        let re = |v: f64| v * 0.1 * 1e6;
        let c = |re: f64| discharge_coefficient(Device::Orifice(Taps::Corner), 0.65, 0.1, re);
        let e = 1.0 / (1.0_f64 - libm::pow(0.65, 4.0)).sqrt();
        let dp = |c: f64, e: f64, a: f64| 500.0 * libm::pow(0.015 / (c * e * a), 2.0);
        let v = 0.015 / area(0.1);
        let (c0, a) = (c(re(v)), area(0.065));
        near(of(&right, "dp"), dp(c0, e, a), 1e-12, "right");
        for (name, theirs) in [
            ("V", dp(c(re(1.3 * v)), e, a)),
            ("Re", dp(c(re(1.3 * v)), e, a)),
            ("C", dp(1.3 * c0, e, a)),
            ("E", dp(c0, 1.3 * e, a)),
            ("A_t", dp(c0, e, 1.3 * a)),
        ] {
            let ours = taking(&meter, name, 1.3 * of(&right, name));
            near(of(&ours, "dp"), theirs, 1e-11, name);
            near(of(&ours, "P_loss"), of(&ours, "xi") * theirs * 0.015, 1e-11, name);
        }
        near(of(&taking(&meter, "h", 2.0), "dp"), 2.0 * 9810.0, 1e-12, "h");

        let tube = "venturi: machined, pipe diameter: 100 mm, throat diameter: unknown, differential: 20 kPa";
        let (case, meter) = water("flow: 15 L/s", tube);
        let ours = taking(&meter, "C", 0.9);
        let beta = of(&ours, "beta");
        let q = 0.9 * area(0.1 * beta) * (40.0_f64).sqrt() / (1.0 - libm::pow(beta, 4.0)).sqrt();
        near(q, 0.015, 1e-11, "the throat lets the flow through");
        near(of(&ours, "d"), 0.1 * beta, 1e-12, "d");
        let ours = taking(&meter, "A_t", 1.3 * of(&case.numbers(), "A_t"));
        near(
            of(&ours, "d"),
            1.3_f64.sqrt() * of(&case.numbers(), "d"),
            1e-12,
            "d",
        );
    }

    #[test]
    fn a_tube_in_a_tunnel_is_followed() {
        let (case, meter) = metered(
            "fluid: { density: 1.2 kg/m^3, dynamic viscosity: 1.8e-5 Pa.s }\nmeter: { pitot: static holes, coefficient: 0.99, \
             velocity: unknown, manometer: { density: 790 kg/m^3, deflection: 35 mm }, pipe diameter: 400 mm, velocity ratio: 0.82 }\n",
        );
        let right = case.numbers();
        let follow = |u: f64, v: f64, name: &str| {
            let ours = taking(&meter, name, 1.3 * of(&right, name));
            near(of(&ours, "u"), u, 1e-12, name);
            near(of(&ours, "V"), v, 1e-12, name);
            near(of(&ours, "Q"), v * PI * 0.04, 1e-12, name);
            near(of(&ours, "Re"), v * 0.4 * 1.2 / 1.8e-5, 1e-12, name);
        };
        let u = 0.99 * (2.0 * 788.8 * 9.81 * 0.035 / 1.2_f64).sqrt();
        follow(1.3_f64.sqrt() * u, 0.82 * 1.3_f64.sqrt() * u, "dp");
        follow(1.3 * u, 0.82 * 1.3 * u, "u");
        follow(u, 0.82 * 1.3 * u, "V");
    }
}
