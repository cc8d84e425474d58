//! How careful work on an ageing pipe varies beyond its readings, and its working redone.

use super::sheet::{Medium, Sheet, settled};
use crate::hydraulics::ageing::Unknown;
use crate::hydraulics::friction::{Law, Reading, darcy, relative_roughness_colebrook};
use crate::hydraulics::path::area;
use crate::hydraulics::regime::Limits;
use crate::quantity::Quantity;
use crate::solution::ageing::AgeingCase;

/// The results that are written down on the way, in the order in which they are found.
pub(super) fn written(case: &AgeingCase) -> Vec<String> {
    let names: &[&str] = match case.solved.problem.unknown {
        Unknown::HeadLoss => &["A", "V", "Re", "eps_test", "f_test", "h_f_test"],
        Unknown::New => &["A", "V", "Re", "f_test", "eps_test", "eps_new"],
        Unknown::Growth => &["A", "V", "Re", "f_test", "eps_test", "growth"],
        Unknown::Age => &["A", "V", "Re", "f_test", "eps_test", "t_test"],
    };
    let later = ["eps_later", "f_later", "h_f_later", "Q_later"];
    names
        .iter()
        .chain(&later)
        .map(|name| (*name).to_owned())
        .collect()
}

/// The working redone with some results taken for true, SI, and a reading for the test and one for the later day.
///
/// The test is read backwards (flow, factor, roughness, growth) or forwards, and the later day forwards. A factor of
/// the later day that is taken tells how its reader reads that curve: at the flow that the head of the test drives
/// it is read as much too high or too low.
pub(super) fn rework(
    case: &AgeingCase,
    taken: &[(String, f64)],
    readings: &[Reading],
    limits: &Limits,
) -> Option<Vec<(String, Quantity)>> {
    let [of_test, of_later] = readings else {
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
    let velocity = s.line("V", s.get("Q") / section);
    let reynolds = s.line("Re", velocity * bore / viscosity);
    // Head that a friction factor of 1 takes.
    let head = length / bore * velocity * velocity / (2.0 * g);
    if problem.unknown == Unknown::HeadLoss {
        let roughness = s.line("eps_test", s.get("eps_new") + s.get("growth") * s.get("t_test"));
        let factor = s.line("f_test", darcy(*of_test, reynolds, roughness / bore, limits));
        s.line("h_f_test", factor * head);
    } else {
        let factor = s.line("f_test", s.get("h_f_test") / head);
        let roughness = s.found("eps_test", || {
            bore * roughness_at(*of_test, reynolds, factor, limits)
        });
        match problem.unknown {
            Unknown::New => s.line("eps_new", roughness - s.get("growth") * s.get("t_test")),
            Unknown::Age => s.line("t_test", (roughness - s.get("eps_new")) / s.get("growth")),
            _ => s.line("growth", (roughness - s.get("eps_new")) / s.get("t_test")),
        };
    }
    let roughness = s.line("eps_later", s.get("eps_new") + s.get("growth") * s.get("t_later"));
    let on_chart = |reynolds: f64| darcy(*of_later, reynolds, roughness / bore, limits);
    let factor = s.line("f_later", on_chart(reynolds));
    s.line("h_f_later", factor * head);
    let misread = factor / on_chart(reynolds);
    let driving = s.get("h_f_test");
    s.found("Q_later", || {
        let velocity = |factor: f64| (2.0 * g * bore * driving / (factor * length)).sqrt();
        let factor = settled(factor, |factor| {
            misread * on_chart(velocity(factor) * bore / viscosity)
        });
        velocity(factor) * section
    });
    Some(sheet.done())
}

/// The ε/D \[–\] on whose curve a reader finds a factor; NaN where no curve of the chart passes there.
fn roughness_at(reading: Reading, reynolds: f64, factor: f64, limits: &Limits) -> f64 {
    if reynolds < limits.laminar_end || matches!(reading.law, Law::Fixed(_) | Law::LaminarEverywhere) {
        return f64::NAN;
    }
    let by_colebrook = |factor: f64| relative_roughness_colebrook(factor, reynolds).unwrap_or(f64::NAN);
    let wanted = by_colebrook(factor / reading.factor);
    if reading.law == Law::Colebrook {
        return wanted;
    }
    // The other laws lie close to Colebrook's: what one misses on it is put right there.
    let exact = Reading {
        law: reading.law,
        factor: 1.0,
    };
    settled(wanted, |ratio| {
        ratio + wanted - by_colebrook(darcy(exact, reynolds, ratio, limits))
    })
}

#[cfg(test)]
mod tests {
    use super::super::sheet::tests::{agrees, are_results, moved, near, of, solved};
    use super::*;
    use crate::hydraulics::friction::darcy_colebrook;
    use crate::solution::{Case, Solution as _};

    const LIMITS: Limits = Limits::DEFAULT;
    const G: f64 = 9.81;

    fn case(known: &str) -> (Case, AgeingCase) {
        let yaml = format!(
            "fluid: {{ density: 1000 kg/m^3, dynamic viscosity: 1.3e-3 Pa.s }}\n\
             pipe: {{ name: main, diameter: 300 mm, length: 1850 m }}\n\
             {known}\nlater: {{ age: 36 year }}\n"
        );
        let case = solved(&yaml);
        let Case::Ageing(ageing) = &case else {
            panic!("no ageing pipe")
        };
        (case.clone(), (**ageing).clone())
    }

    /// The same pipe with each of the four values unknown.
    fn all() -> [(Case, AgeingCase); 4] {
        [
            "ageing: { new: unknown, growth: 0.03 mm/yr }\ntest: { age: 18 year, flow: 95 L/s, head loss: 14.2 m }",
            "ageing: { new: 0.25 mm, growth: unknown }\ntest: { age: 18 year, flow: 95 L/s, head loss: 14.2 m }",
            "ageing: { new: 0.25 mm, growth: 0.03 mm/yr }\ntest: { age: unknown, flow: 95 L/s, head loss: 14.2 m }",
            "ageing: { new: 0.25 mm, growth: 0.03 mm/yr }\ntest: { age: 18 year, flow: 95 L/s, head loss: unknown }",
        ]
        .map(case)
    }

    fn taking(ageing: &AgeingCase, name: &str, value: f64) -> Vec<(String, Quantity)> {
        let taken = [(name.to_owned(), value)];
        rework(ageing, &taken, &[Reading::EXACT; 2], &LIMITS).unwrap_or_else(|| panic!("no `{name}`"))
    }

    #[test]
    fn nothing_taken_gives_what_was_solved() {
        for (case, ageing) in all() {
            agrees(
                &rework(&ageing, &[], &[Reading::EXACT; 2], &LIMITS).unwrap(),
                &case,
                1e-12,
            );
            for law in [
                Law::Colebrook,
                Law::Haaland,
                Law::SwameeJain,
                Law::Churchill,
                Law::Serghides,
                Law::FullyRough,
            ] {
                let readings = [Reading { law, factor: 1.02 }, Reading { law, factor: 0.97 }];
                let again = ageing.again(&readings, &LIMITS).unwrap();
                agrees(&rework(&ageing, &[], &readings, &LIMITS).unwrap(), &again, 1e-9);
            }
            are_results(&written(&ageing), &case);
        }
    }

    /// Flow that a head drives, by bisection.
    fn driven(head: f64, ratio: f64) -> f64 {
        let (mut low, mut high) = (0.01, 1.0);
        for _ in 0..100 {
            let flow = 0.5 * (low + high);
            let v = flow / (std::f64::consts::PI / 4.0 * 0.09);
            let f = darcy_colebrook(v * 0.3 / 1.3e-6, ratio).unwrap();
            if f * 1850.0 / 0.3 * v * v / (2.0 * G) > head {
                high = flow;
            } else {
                low = flow;
            }
        }
        low
    }

    #[test]
    fn a_velocity_that_is_wrong_is_followed_to_the_last_flow() {
        let year = 365.25 * 86_400.0;
        let [_, (case, ageing), _, (forwards, of_forwards)] = all();
        let v = 1.3 * of(&case.numbers(), "V");
        let re = v * 0.3 / 1.3e-6;
        let f = 14.2 * 0.3 / 1850.0 * 2.0 * G / (v * v);
        // A wall that grows smoother has no later day, but the years before it.
        let ours = taking(&ageing, "V", v);
        near(of(&ours, "f_test"), f, 1e-12, "f_test");
        assert!(of(&ours, "growth") < 0.0 && darcy_colebrook(re, 0.0).unwrap() < f);
        assert!(ours.iter().all(|(name, _)| name != "f_later"));
        let v = 0.9 * of(&case.numbers(), "V");
        let re = v * 0.3 / 1.3e-6;
        let f = 14.2 * 0.3 / 1850.0 * 2.0 * G / (v * v);
        let eps = 0.3 * 3.7 * (libm::exp10(-0.5 / f.sqrt()) - 2.51 / (re * f.sqrt()));
        let growth = (eps - 0.25e-3) / 18.0;
        let later = 0.25e-3 + 36.0 * growth;
        let f_later = darcy_colebrook(re, later / 0.3).unwrap();
        let ours = taking(&ageing, "V", v);
        for (name, theirs) in [
            ("Re", re),
            ("f_test", f),
            ("eps_test", eps),
            ("growth", growth / year),
            ("eps_later", later),
            ("f_later", f_later),
            ("h_f_later", f_later * 1850.0 / 0.3 * v * v / (2.0 * G)),
            ("Q_later", driven(14.2, later / 0.3)),
        ] {
            near(of(&ours, name), theirs, 1e-9, name);
        }
        // Forwards the test's loss follows as well, and what it drives later.
        let ours = taking(&of_forwards, "V", v);
        let right = forwards.numbers();
        let f = darcy_colebrook(re, of(&right, "eps_test") / 0.3).unwrap();
        let lost = f * 1850.0 / 0.3 * v * v / (2.0 * G);
        near(of(&ours, "h_f_test"), lost, 1e-12, "h_f_test");
        near(
            of(&ours, "Q_later"),
            driven(lost, of(&right, "eps_later") / 0.3),
            1e-9,
            "Q_later",
        );
    }

    #[test]
    fn each_later_result_moves_nothing_before_it() {
        let [_, (case, ageing), ..] = all();
        for (name, follows) in [
            (
                "Re",
                vec![
                    "Re",
                    "eps_test",
                    "growth",
                    "eps_later",
                    "f_later",
                    "h_f_later",
                    "Q_later",
                ],
            ),
            (
                "f_test",
                vec![
                    "f_test",
                    "eps_test",
                    "growth",
                    "eps_later",
                    "f_later",
                    "h_f_later",
                    "Q_later",
                ],
            ),
            (
                "eps_test",
                vec![
                    "eps_test",
                    "growth",
                    "eps_later",
                    "f_later",
                    "h_f_later",
                    "Q_later",
                ],
            ),
            (
                "growth",
                vec!["growth", "eps_later", "f_later", "h_f_later", "Q_later"],
            ),
            ("eps_later", vec!["eps_later", "f_later", "h_f_later", "Q_later"]),
            ("f_later", vec!["f_later", "h_f_later", "Q_later"]),
            ("h_f_later", vec!["h_f_later"]),
            ("Q_later", vec!["Q_later"]),
        ] {
            let right = of(&case.numbers(), name);
            let mut ours = moved(&taking(&ageing, name, 1.3 * right), &case);
            let mut theirs: Vec<_> = follows.iter().map(|name| (*name).to_owned()).collect();
            ours.sort();
            theirs.sort();
            assert_eq!(ours, theirs, "{name}");
        }
        // Who reads the later curve too high reads it too high at the other flow.
        let right = of(&case.numbers(), "f_later");
        let ours = taking(&ageing, "f_later", 1.05 * right);
        let read = Reading {
            law: Law::Colebrook,
            factor: 1.05,
        };
        let again = ageing.again(&[Reading::EXACT, read], &LIMITS).unwrap();
        near(
            of(&ours, "Q_later"),
            of(&again.numbers(), "Q_later"),
            1e-9,
            "Q_later",
        );
    }
}
