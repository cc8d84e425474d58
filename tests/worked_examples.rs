//! Numbers that textbooks print (`tests/data/worked_examples.csv`, sources in each row), for one run of pipes.
//!
//! Each is solved twice where the row allows: with the friction factor that the book read, and with
//! Colebrook–White. Both are held against an independent recomputation to its printed digits, and against the
//! book's number by the row's own status: within 1 % (match), within 5 % (close), or beyond (mismatch: a slip
//! in the source, which the row tells).

#![allow(clippy::unwrap_used, reason = "a panic is how a test fails")]

use gradeline::hydraulics::friction::{Law, Reading};
use gradeline::hydraulics::path::{
    Duty, Element, LossLaw, Machine, Path, Pipe, Section, Station, StationVelocity, area,
};
use gradeline::hydraulics::regime::Limits;
use gradeline::hydraulics::solve::{Problem, Solved, Unknown, solve};
use serde_json::Value;

/// A row's inputs, and the way in which its friction factor is had.
struct Row {
    id: String,
    inputs: Value,
    law: Law,
}

impl Row {
    fn get(&self, key: &str) -> f64 {
        self.inputs[key]
            .as_f64()
            .unwrap_or_else(|| panic!("{}: {key}", self.id))
    }

    fn get_or(&self, key: &str, default: f64) -> f64 {
        self.inputs[key].as_f64().unwrap_or(default)
    }

    /// A level path between two surfaces without velocity, at the row's fluid. `gravity` is the source's.
    fn path(&self, gravity: f64, elements: Vec<Element>) -> Path {
        let density = self.get_or("rho", self.get_or("gamma", 1000.0 * gravity) / gravity);
        let dynamic_viscosity = match self.inputs["mu"].as_f64() {
            Some(mu) => mu,
            // Where a factor is fixed, a row may do without viscosity.
            None => self.get_or("nu", 1e-6) * density,
        };
        let surface = Station {
            pressure: 0.0,
            elevation: 0.0,
            velocity: StationVelocity::Value(0.0),
            alpha: None,
        };
        Path {
            density,
            dynamic_viscosity,
            vapour_pressure: None,
            atmosphere: 101_325.0,
            gravity,
            start: surface,
            end: surface,
            elements,
            points: Vec::new(),
        }
    }

    fn pipe(&self) -> Element {
        pipe(
            self.get_or("D", f64::NAN),
            self.get_or("L", 1.0),
            self.get_or("eps", 0.0),
        )
    }

    fn flow(&self) -> f64 {
        self.inputs["Q"]
            .as_f64()
            .unwrap_or_else(|| self.get("V") * area(self.get("D")))
    }

    fn solve(&self, path: Path, flow: f64, unknown: Unknown) -> Solved {
        let pipes = path
            .elements
            .iter()
            .filter(|e| matches!(e, Element::Pipe(_)))
            .count();
        let laws: Vec<Reading> = (0..pipes)
            .map(|i| {
                let law = match (self.law, self.inputs["f"].as_array()) {
                    (_, Some(each)) => Law::Fixed(each[i].as_f64().unwrap()),
                    (law, None) => law,
                };
                Reading { law, factor: 1.0 }
            })
            .collect();
        solve(&Problem { path, flow, unknown }, &laws, &Limits::default())
            .unwrap_or_else(|e| panic!("{}: {e:?}", self.id))
    }

    /// Head lost in the row's pipe at its flow \[m\].
    fn head_loss(&self, gravity: f64) -> f64 {
        let path = self.path(gravity, vec![self.pipe()]);
        self.solve(path, self.flow(), Unknown::StartElevation).value
    }

    fn pressure_drop(&self, gravity: f64) -> f64 {
        let path = self.path(gravity, vec![self.pipe()]);
        self.solve(path, self.flow(), Unknown::StartPressure).value
    }

    /// The head given by the elevation of the start, and the rest as it is.
    fn under_head(&self, gravity: f64, head: f64, elements: Vec<Element>, unknown: Unknown) -> f64 {
        let mut path = self.path(gravity, elements);
        path.start.elevation = head;
        let flow = if unknown == Unknown::Flow {
            f64::NAN
        } else {
            self.flow()
        };
        self.solve(path, flow, unknown).value
    }
}

fn pipe(diameter: f64, length: f64, roughness: f64) -> Element {
    Element::Pipe(Pipe {
        diameter,
        length,
        roughness,
        section: Section::ROUND,
    })
}

fn loss(coefficient: f64) -> Element {
    Element::Loss {
        coefficient,
        law: LossLaw::Fixed,
        pipe: 0,
    }
}

/// The source's gravity where it is a US one: 32.2 ft/s².
const US: f64 = 32.2 * 0.3048;

/// Roughness of commercial steel, where a row takes it without saying so \[m\]: 0.00015 ft, Moody (1944).
const COMMERCIAL_STEEL: f64 = 4.572e-5;

/// The row's quantity as the solver has it, None for rows of another kind than one run of round pipes.
fn ours(row: &Row) -> Option<f64> {
    let g = 9.81;
    let outlet_by = |mut path: Path| {
        path.end.velocity = StationVelocity::Pipe;
        path.end.alpha = Some(1.0);
        path
    };
    Some(match row.id.as_str() {
        "E01a" | "E10" | "E11a" | "E11b" | "E50" => row.pressure_drop(g),
        "E01b" | "E02b" => row.pressure_drop(g) * row.flow(),
        "E02a" | "E23" => row.head_loss(g),
        "E41" | "E55b" | "E55d" => row.head_loss(US),
        "E13" => {
            // The row's velocity is rounded, and its head loss stands on that.
            let flow = row.get("V") * area(row.get("D"));
            let path = row.path(US, vec![row.pipe()]);
            row.solve(path, flow, Unknown::StartPressure).value * row.get("Q")
        }
        "E04a" => row.under_head(g, row.get("h_L"), vec![row.pipe()], Unknown::Diameter(0)),
        "E05" => row.get("Q_old") - row.under_head(g, row.get("h_L"), vec![row.pipe()], Unknown::Flow),
        "E07" => {
            let mut path = row.path(g, vec![row.pipe(), loss(row.get("K_sum"))]);
            path.end.elevation = row.get("z2");
            row.solve(path, row.flow(), Unknown::StartElevation).value
        }
        "E14" => {
            let mut path = outlet_by(row.path(US, vec![row.pipe(), loss(row.get("K_sum"))]));
            path.start.pressure = row.get("dp");
            row.solve(path, f64::NAN, Unknown::Flow).value
        }
        "E16" => {
            let mut path = row.path(g, vec![row.pipe()]);
            path.start.pressure = row.get("dp");
            row.solve(path, row.flow(), Unknown::Diameter(0)).value
        }
        "E17" => row.under_head(
            US,
            row.get("z"),
            vec![row.pipe(), loss(row.get("K_sum"))],
            Unknown::Diameter(0),
        ),
        "E19" => {
            let path = outlet_by(row.path(row.get("g"), vec![loss(row.get("K")), row.pipe()]));
            row.solve(path, row.flow(), Unknown::StartElevation).value
        }
        "E20a" => {
            let mut path = row.path(g, vec![pipe(row.get("D"), f64::NAN, COMMERCIAL_STEEL)]);
            path.start.pressure = row.get("dp");
            row.solve(path, row.flow(), Unknown::Length(0)).value
        }
        "E20b" => {
            let machine = Machine::new(Duty::Power(f64::NAN), row.get("eta"));
            let mut path = row.path(g, vec![pipe(row.get("D"), 0.0, 0.0), Element::Pump(machine)]);
            path.end.pressure = row.get("dp");
            row.solve(path, row.flow(), Unknown::PumpPower(0)).value
        }
        "E25" => row.under_head(g, row.get("h_f"), vec![row.pipe()], Unknown::Diameter(0)),
        "E31a" => row.under_head(g, row.get("gradient"), vec![row.pipe()], Unknown::Flow),
        "E31b" => {
            let flow = row.under_head(g, row.get("gradient"), vec![row.pipe()], Unknown::Flow);
            9790.0 * flow * 100.0 * row.get("gradient")
        }
        "E32" | "E59" => row.under_head(g, row.get("h_f"), vec![row.pipe()], Unknown::Diameter(0)),
        "E35" => {
            let mut path = outlet_by(row.path(US, vec![loss(row.get("K")), row.pipe()]));
            path.start.elevation = row.get("dz");
            row.solve(path, f64::NAN, Unknown::Flow).value
        }
        "E37" | "E62" => {
            let list = |key: &str, i: usize| row.inputs[key][i].as_f64().unwrap_or(0.0);
            let pipes = (0..3)
                .map(|i| pipe(list("D", i), list("L", i), list("eps", i)))
                .collect();
            row.under_head(g, row.get("h"), pipes, Unknown::Flow)
        }
        "E49a" => row.state_of_pipe().0,
        "E49b" | "E55a" | "E55c" => row.state_of_pipe().1,
        "E52" => {
            let machine = Machine::new(Duty::Head(f64::NAN), 1.0);
            let steel = pipe(row.get("D"), row.get("L"), COMMERCIAL_STEEL);
            let mut path = row.path(
                9.806_65,
                vec![steel, loss(row.get("K_sum")), Element::Pump(machine)],
            );
            path.end.elevation = row.get("dz");
            // Both ends are gauges on the same pipe.
            path.start.velocity = StationVelocity::Pipe;
            path.end.velocity = StationVelocity::Pipe;
            row.solve(path, row.flow(), Unknown::PumpHead(0)).value
        }
        "E58" => row.under_head(g, row.get("h_f"), vec![row.pipe()], Unknown::Flow),
        _ => return None,
    })
}

impl Row {
    /// Reynolds number and Darcy friction factor of the row's pipe at its flow.
    fn state_of_pipe(&self) -> (f64, f64) {
        let path = self.path(9.81, vec![self.pipe()]);
        let at = self.solve(path, self.flow(), Unknown::StartElevation).state.pipes[0];
        (at.reynolds, at.darcy_friction_factor)
    }
}

#[test]
fn printed_numbers_come_out() {
    let mut reader = csv::Reader::from_reader(include_bytes!("data/worked_examples.csv").as_slice());
    let mut solved = 0;
    let mut compared = 0;
    for record in reader.records().map(Result::unwrap) {
        let id = record[0].to_owned();
        let inputs: Value = serde_json::from_str(&record[5]).unwrap();
        let published: f64 = record[9].parse().unwrap();
        let as_stated: Option<f64> = record[10].parse().ok();
        let by_colebrook: Option<f64> = record[12].parse().ok();
        let status = record[14].to_owned();

        // The friction factor as the source has it; Massey's is Fanning's, a quarter of Darcy's.
        let stated_law = if id == "E11a" {
            Law::LaminarEverywhere
        } else if let Some(f) = inputs["f_used"].as_f64().or_else(|| inputs["f"].as_f64()) {
            Law::Fixed(f)
        } else if let Some(f) = inputs["f_fanning"].as_f64() {
            Law::Fixed(4.0 * f)
        } else {
            Law::Colebrook
        };
        let row = |law| Row {
            id: id.clone(),
            inputs: inputs.clone(),
            law,
        };
        let Some(stated) = ours(&row(stated_law)) else {
            continue;
        };
        solved += 1;
        let mut holds = |what: &str, found: f64, recomputed: f64, tolerance: f64| {
            let off = (found / recomputed - 1.0).abs();
            assert!(
                off <= tolerance,
                "{id} {what}: {found} for {recomputed}, off by {off:e}"
            );
            compared += 1;
        };
        match (id.as_str(), as_stated) {
            // The source takes an explicit formula for the flow, which the program does not have.
            ("E05", _) | (_, None) => {}
            // The source rounds its velocity to 4.53 ft/s, from 4.539.
            ("E41", Some(value)) => holds("as stated", stated, value, 2.1e-3),
            (_, Some(value)) => holds("as stated", stated, value, 1e-6),
        }
        if let Some(value) = by_colebrook {
            holds("by Colebrook", ours(&row(Law::Colebrook)).unwrap(), value, 1e-6);
        }
        let off = (stated / published - 1.0).abs();
        let allowed = match status.as_str() {
            "match" => off <= 0.01,
            "close" => off <= 0.05,
            "mismatch" => off > 0.05,
            other => panic!("{id}: status {other}"),
        };
        assert!(
            allowed,
            "{id}: {stated} for the printed {published}, said to be a {status}"
        );
    }
    assert_eq!(solved, 36);
    assert_eq!(compared, 51);
}
