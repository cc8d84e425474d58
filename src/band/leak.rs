//! How careful work on a leaking main varies beyond its readings, and its working redone.

use super::sheet::{Medium, Sheet, settled};
use crate::hydraulics::friction::{Reading, darcy};
use crate::hydraulics::leak::Unknown;
use crate::hydraulics::path::{Section, TURBULENT_ALPHA, area};
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::leak::LeakCase;

/// The results that are written down on the way, in the order in which they are found.
pub(super) fn written(case: &LeakCase) -> Vec<String> {
    let names: &[&str] = match case.solved.problem.unknown {
        Unknown::Distance => &[
            "A",
            "V_upstream",
            "Re_upstream",
            "f_upstream",
            "V_downstream",
            "Re_downstream",
            "f_downstream",
            "h_L",
            "S_upstream",
            "S_downstream",
            "x",
            "Q_leak",
        ],
        Unknown::EndFlow => &[
            "A",
            "V_upstream",
            "Re_upstream",
            "f_upstream",
            "h_f_upstream",
            "h_L",
            "h_f_downstream",
            "f_downstream",
            "V_downstream",
            "Re_downstream",
            "Q_2",
            "Q_leak",
        ],
    };
    names.iter().map(|name| (*name).to_owned()).collect()
}

/// The working redone with some results taken for true, SI, and a reading for each reach.
///
/// Above the leak flow gives velocity, Reynolds number, factor and slope. With both flows known the two slopes and the head
/// between the gauges find the place. With the place known, what the reach above leaves of the head drives the flow
/// below; whichever of that flow, its velocity and what the leak takes is taken settles the other two.
pub(super) fn rework(
    case: &LeakCase,
    taken: &[(String, f64)],
    readings: &[Reading],
    limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    let [of_above, of_below] = readings else {
        return None;
    };
    let problem = &case.solved.problem;
    let medium = Medium {
        density: problem.density,
        dynamic_viscosity: problem.dynamic_viscosity,
        gravity: problem.gravity,
    };
    let mut sheet = Sheet::new(case, &medium, taken);
    let s = &mut sheet;
    let (bore, length, g, viscosity) = (s.get("D"), s.get("L"), s.get("g"), s.get("nu"));
    let section = s.line("A", area(bore));
    let ratio = s.line("rr", s.get("eps") / bore);
    let kinetic = |reynolds: f64, velocity: f64| {
        let alpha = if reynolds < limits.laminar_end {
            Section::ROUND.laminar_alpha
        } else {
            TURBULENT_ALPHA
        };
        alpha * velocity * velocity / (2.0 * g)
    };
    let slope = |factor: f64, velocity: f64| factor * velocity * velocity / (2.0 * g * bore);
    // What stands still has no factor.
    let read = |reading: Reading, reynolds: f64| {
        if reynolds > 0.0 {
            darcy(reading, reynolds, ratio, limits)
        } else {
            0.0
        }
    };
    let fall = s.get("z_1") - s.get("z_2");
    let weight = s.get("rho") * g;

    let above = s.line("V_upstream", s.get("Q_1") / section);
    let reynolds = s.line("Re_upstream", above * bore / viscosity);
    let factor = s.line("f_upstream", read(*of_above, reynolds));
    let slope_above = s.line("S_upstream", slope(factor, above));
    // Head between the gauges but for what moves at the end.
    let pushed = (s.get("p_1") - s.get("p_2")) / weight + fall + kinetic(reynolds, above);

    match problem.unknown {
        Unknown::Distance => {
            if s.has_taken("Q_leak") && !s.has_taken("Q_2") {
                s.line("Q_2", s.get("Q_1") - s.get("Q_leak"));
            }
            let below = s.line("V_downstream", s.get("Q_2") / section);
            let reynolds = s.line("Re_downstream", below * bore / viscosity);
            let factor = s.line("f_downstream", read(*of_below, reynolds));
            let slope_below = s.line("S_downstream", slope(factor, below));
            let head = s.line("h_L", pushed - kinetic(reynolds, below));
            let place = s.line("x", (head - slope_below * length) / (slope_above - slope_below));
            s.line("h_f_upstream", slope_above * place);
            s.line("h_f_downstream", slope_below * (length - place));
        }
        Unknown::EndFlow => {
            let place = s.get("x");
            let rest = length - place;
            let lost_above = s.line("h_f_upstream", slope_above * place);
            // What is left for the reach below, where that is known before its flow is.
            let left = if s.has_taken("h_f_downstream") {
                Some(s.get("h_f_downstream"))
            } else if s.has_taken("S_downstream") {
                Some(s.get("S_downstream") * rest)
            } else if s.has_taken("h_L") {
                Some(s.get("h_L") - lost_above)
            } else {
                None
            };
            let driven = |reynolds: f64, factor: f64| {
                let per_factor = factor * rest / bore;
                let head = match left {
                    Some(left) => left / per_factor,
                    None => (pushed - lost_above) / (per_factor + kinetic(reynolds, 1.0) * 2.0 * g),
                };
                (2.0 * g * head).sqrt()
            };
            let known = if s.has_taken("Q_2") {
                Some(s.get("Q_2") / section)
            } else if s.has_taken("Q_leak") && !s.has_taken("V_downstream") {
                Some((s.get("Q_1") - s.get("Q_leak")) / section)
            } else {
                None
            };
            let own_factor = s.has_taken("f_downstream").then(|| s.get("f_downstream"));
            let own_reynolds = s.has_taken("Re_downstream").then(|| s.get("Re_downstream"));
            let start = s.get("V_downstream");
            let below = s.found("V_downstream", || {
                known.unwrap_or_else(|| {
                    settled(start, |velocity| {
                        let reynolds = own_reynolds.unwrap_or(velocity * bore / viscosity);
                        driven(reynolds, own_factor.unwrap_or_else(|| read(*of_below, reynolds)))
                    })
                })
            });
            s.line("Q_2", below * section);
            let reynolds = s.line("Re_downstream", below * bore / viscosity);
            let factor = s.line("f_downstream", read(*of_below, reynolds));
            let slope_below = s.line("S_downstream", slope(factor, below));
            s.line("h_f_downstream", slope_below * rest);
            s.line("h_L", pushed - kinetic(reynolds, below));
        }
    }
    s.line("Q_leak", s.get("Q_1") - s.get("Q_2"));
    let share = s.get("x") / length;
    s.line(
        "p_leak",
        s.get("p_1") + weight * (share * fall - s.get("h_f_upstream")),
    );
    Some(sheet.done())
}

#[cfg(test)]
mod tests {
    use super::super::sheet::tests::{agrees, are_results, moved, near, of, solved};
    use super::*;
    use crate::hydraulics::friction::{Law, darcy_colebrook};
    use crate::solution::{Case, Solution as _};

    const LIMITS: Limits = Limits::DEFAULT;
    const G: f64 = 9.81;
    const NU: f64 = 1.2e-6;
    const AREA: f64 = std::f64::consts::PI / 4.0 * 0.09;

    fn case(end: &str, distance: &str) -> (Case, LeakCase) {
        let yaml = format!(
            "fluid: {{ density: 1000 kg/m^3, dynamic viscosity: 1.2e-3 Pa.s }}\n\
             gauges:\n  start: {{ pressure: 412 kPa, elevation: 31 m, flow: 96 L/s }}\n  \
             end: {{ pressure: 352 kPa, elevation: 24 m, flow: {end} }}\n\
             pipe: {{ name: main, diameter: 300 mm, length: 2400 m, roughness: 0.3 mm }}\n\
             leak: {{ distance: {distance} }}\n"
        );
        let case = solved(&yaml);
        let Case::Leak(leak) = &case else {
            panic!("no leak")
        };
        (case.clone(), (**leak).clone())
    }

    fn taking(leak: &LeakCase, name: &str, value: f64) -> Vec<(String, Quantity)> {
        let taken = [(name.to_owned(), value)];
        rework(leak, &taken, &[Reading::EXACT; 2], &LIMITS).unwrap_or_else(|| panic!("no `{name}`"))
    }

    fn slope(f: f64, v: f64) -> f64 {
        f * v * v / (2.0 * G * 0.3)
    }

    fn factor(re: f64) -> f64 {
        darcy_colebrook(re, 1e-3).unwrap()
    }

    #[test]
    fn nothing_taken_gives_what_was_solved() {
        for (case, leak) in [case("81 L/s", "unknown"), case("unknown", "960 m")] {
            agrees(
                &rework(&leak, &[], &[Reading::EXACT; 2], &LIMITS).unwrap(),
                &case,
                1e-12,
            );
            for law in [Law::Colebrook, Law::Haaland, Law::FullyRough] {
                let readings = [Reading { law, factor: 1.003 }, Reading { law, factor: 0.998 }];
                let again = leak.again(&readings, &LIMITS).unwrap();
                agrees(&rework(&leak, &[], &readings, &LIMITS).unwrap(), &again, 1e-10);
            }
            are_results(&written(&leak), &case);
        }
    }

    #[test]
    fn a_place_follows_from_wrong_flows_and_factors() {
        let (case, leak) = case("81 L/s", "unknown");
        let right = case.numbers();
        let (v1, v2) = (0.096 / AREA, 0.081 / AREA);
        let head = |v1: f64, v2: f64| 60e3 / (1000.0 * G) + 7.0 + (v1 * v1 - v2 * v2) / (2.0 * G);
        let place = |h: f64, s1: f64, s2: f64| (h - s2 * 2400.0) / (s1 - s2);
        let (f1, f2) = (factor(v1 * 0.3 / NU), factor(v2 * 0.3 / NU));
        near(
            of(&right, "x"),
            place(head(v1, v2), slope(f1, v1), slope(f2, v2)),
            1e-11,
            "x",
        );
        let x = |name: &str, by: f64| {
            let ours = taking(&leak, name, by * of(&right, name));
            let x = of(&ours, "x");
            let falls = 1e3 * G * (7.0 * x / 2400.0 - of(&ours, "S_upstream") * x);
            near(of(&ours, "p_leak"), 412e3 + falls, 1e-12, name);
            x
        };
        let v = 1.3 * v1;
        let by_velocity = place(head(v, v2), slope(factor(v * 0.3 / NU), v), slope(f2, v2));
        near(x("V_upstream", 1.3), by_velocity, 1e-10, "V_upstream");
        let by_reynolds = place(
            head(v1, v2),
            slope(factor(1.3 * v1 * 0.3 / NU), v1),
            slope(f2, v2),
        );
        near(x("Re_upstream", 1.3), by_reynolds, 1e-10, "Re_upstream");
        near(
            x("f_upstream", 1.3),
            place(head(v1, v2), slope(1.3 * f1, v1), slope(f2, v2)),
            1e-10,
            "f",
        );
        near(
            x("f_downstream", 0.9),
            place(head(v1, v2), slope(f1, v1), slope(0.9 * f2, v2)),
            1e-10,
            "f",
        );
        near(
            x("h_L", 1.3),
            place(1.3 * head(v1, v2), slope(f1, v1), slope(f2, v2)),
            1e-10,
            "h_L",
        );
        near(
            x("S_downstream", 0.9),
            place(head(v1, v2), slope(f1, v1), 0.9 * slope(f2, v2)),
            1e-10,
            "S",
        );
        let ours = moved(&taking(&leak, "Q_leak", 0.02), &case);
        assert!(!ours.contains(&"Re_upstream".to_owned()) && ours.contains(&"Q_2".to_owned()));
    }

    #[test]
    fn the_flow_behind_follows_from_the_loss_before() {
        let (case, leak) = case("unknown", "960 m");
        let right = case.numbers();
        // The flow below by bisection, at a factor of its own or the chart's.
        let below = |left: &dyn Fn(f64) -> f64, own: Option<f64>| {
            let (mut low, mut high) = (0.0, 5.0);
            for _ in 0..100 {
                let v: f64 = 0.5 * (low + high);
                let f = own.unwrap_or_else(|| factor(v * 0.3 / NU));
                if slope(f, v) * 1440.0 > left(v) {
                    high = v;
                } else {
                    low = v;
                }
            }
            low * AREA
        };
        let kinetic = |v: f64| v * v / (2.0 * G);
        let v1 = 0.096 / AREA;
        let pushed = |v1: f64| 60e3 / (1000.0 * G) + 7.0 + kinetic(v1);
        let lost = |v1: f64| slope(factor(v1 * 0.3 / NU), v1) * 960.0;
        let q2 = |name: &str, by: f64| {
            let ours = taking(&leak, name, by * of(&right, name));
            near(of(&ours, "Q_leak"), 0.096 - of(&ours, "Q_2"), 1e-12, name);
            near(of(&ours, "V_downstream"), of(&ours, "Q_2") / AREA, 1e-12, name);
            of(&ours, "Q_2")
        };
        let left = |v: f64| pushed(v1) - lost(v1) - kinetic(v);
        near(of(&right, "Q_2"), below(&left, None), 1e-9, "right");
        let v = 1.3 * v1;
        near(
            q2("V_upstream", 1.3),
            below(&|v2| pushed(v) - lost(v) - kinetic(v2), None),
            1e-9,
            "V",
        );
        near(
            q2("f_upstream", 1.3),
            below(&|v| pushed(v1) - 1.3 * lost(v1) - kinetic(v), None),
            1e-9,
            "f",
        );
        near(
            q2("h_f_upstream", 1.3),
            below(&|v| pushed(v1) - 1.3 * lost(v1) - kinetic(v), None),
            1e-9,
            "h",
        );
        let own = 1.3 * of(&right, "f_downstream");
        near(q2("f_downstream", 1.3), below(&left, Some(own)), 1e-9, "f below");
        let h = 1.3 * of(&right, "h_L");
        near(q2("h_L", 1.3), below(&|_| h - lost(v1), None), 1e-9, "h_L");
        near(q2("V_downstream", 1.3), 1.3 * of(&right, "Q_2"), 1e-12, "V below");
        near(
            taking(&leak, "Q_leak", 0.02)
                .iter()
                .find(|(n, _)| n == "Q_2")
                .unwrap()
                .1
                .value,
            0.076,
            1e-12,
            "Q",
        );
        // Who takes a flow for true has its slope and loss from it.
        let ours = taking(&leak, "Q_2", 0.08);
        let v2 = 0.08 / AREA;
        near(
            of(&ours, "h_f_downstream"),
            slope(factor(v2 * 0.3 / NU), v2) * 1440.0,
            1e-12,
            "h below",
        );
    }
}
