//! Flow across a pipe, worked: the mean velocity, the check of the regime, the shear stress at the wall, and then
//! the profile with what follows from it.

use super::check::enter_chart;
use super::working::{capital, m, num, say, short, sum, sym, t, table};
use super::{Writer, step};
use crate::bank::course::{Conventions, UnitSystem};
use crate::bank::prose::{Block, Inline};
use crate::bank::system::Value;
use crate::bank::system::profile::{ProfileDrive, ProfileMotion};
use crate::constants::policy;
use crate::equation::{Bound, EquationError, Expr, Line, Relation};
use crate::hydraulics::friction::{Reading, darcy};
use crate::hydraulics::profile::{Drive, Exponent, Motion, Unknown, power_law_ratio};
use crate::hydraulics::regime::{Limits, Regime};
use crate::quantity::Unit;
use crate::solution::profile::ProfileCase;
use crate::solution::results::{known, pure};
use crate::solution::units::{Kind, given, shown};
use crate::solution::{Case, ReadOff, Solution as _, Step};

/// Most passes of an iteration that a table shows.
const PASSES: usize = 12;

/// A change that four printed figures do not show \[–\].
const SETTLED: f64 = 1e-5;

struct Work<'a> {
    case: &'a ProfileCase,
    limits: &'a Limits,
    w: Writer<'a>,
}

pub(in crate::solution) fn steps(
    case: &ProfileCase,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let mut work = Work {
        case,
        limits,
        w: Writer::new(&Case::Profile(Box::new(case.clone())), conventions),
    };
    work.bind();
    let mut steps = vec![work.known()];
    if case.is_laminar() {
        steps.push(work.assume_laminar());
        work.laminar(&mut steps)?;
    } else {
        work.turbulent(&mut steps)?;
    }
    steps.push(work.profile()?);
    steps.push(work.entrance()?);
    Ok(steps)
}

impl Work<'_> {
    fn line(&mut self, name: &str, formula: &Expr, kind: Kind) -> Result<Line, EquationError> {
        self.w.line(name, formula, kind)
    }

    fn value(&self, kind: Kind, si: f64) -> Inline {
        Inline::Value(shown(kind, si, self.w.conventions))
    }

    /// Binds what the results do not hold.
    fn bind(&mut self) {
        let system = &self.case.system;
        let mut stated: Vec<(&str, &Value)> = Vec::new();
        if let ProfileMotion::Collected { volume, time } = &system.motion {
            stated.push(("V_col", volume));
            stated.push(("t", time));
        }
        for (symbol, value) in [("c_e", &system.end_correction), ("m", &system.kinetic_correction)] {
            if let Some(value) = value {
                stated.push((symbol, value));
            }
        }
        for (symbol, value) in stated {
            if let Some(written) = known(value) {
                self.w.of.set(symbol, Bound::as_written(written.clone()));
            }
        }
    }

    fn has_ends(&self) -> bool {
        self.case.solved.tube.end_correction > 0.0
    }

    fn has_kinetic(&self) -> bool {
        self.case.solved.tube.kinetic_correction > 0.0
    }

    fn by_drop(&self) -> bool {
        !matches!(self.case.system.drive, ProfileDrive::WallShear(_))
    }

    /// The length in which friction acts.
    fn length(&self) -> Expr {
        sym(if self.has_ends() { "L_f" } else { "L" })
    }

    /// The fall of pressure that friction takes.
    fn friction_drop(&self) -> Expr {
        sym(if self.has_kinetic() { "dp_f" } else { "dp" })
    }

    /// What is given, as a table.
    fn known(&self) -> Step {
        let system = &self.case.system;
        let mut rows: Vec<Vec<Vec<Inline>>> = Vec::new();
        let mut add = |symbol: &str, kind: Kind, value: Option<&Value>, what: &str| {
            let Some(value) = value else { return };
            let cell = known(value).map_or_else(
                || vec![t("?")],
                |w| vec![Inline::Value(given(kind, w, self.w.conventions))],
            );
            let asked = if matches!(value, Value::Unknown) {
                ": asked"
            } else {
                ""
            };
            rows.push(vec![
                vec![m(sym(symbol))],
                cell,
                vec![t(format!("{what}{asked}"))],
            ]);
        };
        add("D", Kind::Bore, Some(&system.diameter), "bore");
        add("L", Kind::Length, system.length.as_ref(), "length");
        if !self.case.is_laminar() {
            add("eps", Kind::Bore, system.roughness.as_ref(), "roughness");
        }
        match &system.motion {
            ProfileMotion::Flow(value) => add("Q", Kind::Flow, Some(value), "flow"),
            ProfileMotion::Mean(value) => add("V", Kind::Velocity, Some(value), "mean velocity"),
            ProfileMotion::Centre(value) => {
                add(
                    "u_max",
                    Kind::Velocity,
                    Some(value),
                    "velocity on the centre line",
                );
            }
            ProfileMotion::Collected { volume, time } => {
                add("V_col", Kind::Volume, Some(volume), "volume collected");
                add("t", Kind::Time, Some(time), "time that it took");
            }
        }
        match &system.drive {
            ProfileDrive::PressureDrop(value) => add("dp", Kind::Pressure, Some(value), "fall of pressure"),
            ProfileDrive::Head(value) => add("h", Kind::Length, Some(value), "head that drives the flow"),
            ProfileDrive::WallShear(value) => {
                add("tau_w", Kind::Pressure, Some(value), "shear stress at the wall");
            }
        }
        add(
            "c_e",
            Kind::Number,
            system.end_correction.as_ref(),
            "end correction, in radii of the bore",
        );
        add(
            "m",
            Kind::Number,
            system.kinetic_correction.as_ref(),
            "kinetic correction",
        );
        if !self.case.is_laminar() {
            add(
                "n",
                Kind::Number,
                system.exponent.as_ref(),
                "exponent of the power law",
            );
        }
        add(
            "r",
            Kind::Bore,
            system.radius.as_ref(),
            "distance from the centre line",
        );
        let of = |name: &str| {
            self.w
                .of
                .get(name)
                .map(|b| vec![Inline::Value(b.written.clone())])
                .unwrap_or_default()
        };
        rows.push(vec![vec![m(sym("rho"))], of("rho"), vec![t("density")]]);
        let viscosity = self.case.unknown == Unknown::Viscosity;
        rows.push(vec![
            vec![m(sym("mu"))],
            if viscosity { vec![t("?")] } else { of("mu") },
            vec![t(if viscosity {
                "dynamic viscosity: asked"
            } else {
                "dynamic viscosity"
            })],
        ]);
        let words = format!(
            "Look at the flow in the {} far behind its entrance, where the profile no longer changes. There the pressure \
             that pushes the fluid on and the shear stress at the wall that holds it back are in balance, on the whole \
             pipe and on every core of it:",
            self.case.system.pipe
        );
        let mut body = vec![say(words)];
        if self.by_drop() {
            body.push(Block::Equation(vec![Line::equal(
                self.friction_drop() * (Expr::Pi * sym("D").pow(2) / num(4.0)),
                sym("tau_w") * Expr::Pi * sym("D") * self.length(),
            )]));
        } else {
            body.push(Block::Equation(vec![Line::equal(
                sym("tau_r"),
                sym("tau_w") * (num(2.0) * sym("r") / sym("D")),
            )]));
        }
        body.push(table(
            vec![vec![t("Symbol")], vec![t("Value")], vec![t("What it is")]],
            vec![false, false, false],
            rows,
        ));
        step("See what is known", body)
    }

    fn assume_laminar(&self) -> Step {
        step(
            "Assume laminar flow",
            vec![
                say(
                    "Try laminar flow first; the check comes when there is a Reynolds number. Then shear stress is \
                     viscosity times the slope of the velocity, and the balance of forces gives a parabola, whose mean is \
                     half of its velocity on the centre line:",
                ),
                Block::Equation(vec![
                    Line::equal(
                        sym("u_r"),
                        sym("u_max") * (num(1.0) - (num(2.0) * sym("r") / sym("D")).pow(2)),
                    ),
                    Line::equal(sym("V"), sym("u_max") / num(2.0)),
                    Line::equal(sym("tau_w"), num(8.0) * sym("mu") * sym("V") / sym("D")),
                ]),
            ],
        )
    }

    /// The velocity from the motion that is given.
    fn velocity(&mut self, of_motion: &Motion) -> Result<Vec<Block>, EquationError> {
        let mut lines = Vec::new();
        if let ProfileMotion::Collected { .. } = self.case.system.motion {
            lines.push(self.line("Q", &(sym("V_col") / sym("t")), Kind::Flow)?);
        }
        match of_motion {
            Motion::Flow(_) => {
                let formula = num(4.0) * sym("Q") / (Expr::Pi * sym("D").pow(2));
                lines.push(self.line("V", &formula, Kind::Velocity)?);
            }
            Motion::Centre(_) if self.case.is_laminar() => {
                lines.push(self.line("V", &(sym("u_max") / num(2.0)), Kind::Velocity)?);
            }
            Motion::Mean(_) | Motion::Centre(_) => {}
        }
        Ok(if lines.is_empty() {
            Vec::new()
        } else {
            vec![Block::Equation(lines)]
        })
    }

    fn reynolds(&mut self) -> Result<Line, EquationError> {
        let formula = sym("rho") * sym("V") * sym("D") / sym("mu");
        self.line("Re", &formula, Kind::Number)
    }

    /// Length with the end correction.
    fn ends(&mut self) -> Result<Vec<Block>, EquationError> {
        if !self.has_ends() || !self.by_drop() {
            return Ok(Vec::new());
        }
        let formula = sym("L") + sym("c_e") * (sym("D") / num(2.0));
        Ok(vec![
            say(
                "The fluid is still finding its way at the two ends, which costs as much as some more length would \
                 (Couette's correction):",
            ),
            Block::Equation(vec![self.line("L_f", &formula, Kind::Length)?]),
        ])
    }

    /// What the fluid takes away, from a velocity that is known.
    fn kinetic(&mut self) -> Result<Vec<Block>, EquationError> {
        if !self.has_kinetic() || !self.by_drop() {
            return Ok(Vec::new());
        }
        let formula = sym("m") * sym("rho") * sym("V").pow(2);
        Ok(vec![
            say(
                "The fluid leaves with kinetic energy, which friction does not get (Hagenbach's correction):",
            ),
            Block::Equation(vec![self.line("dp_k", &formula, Kind::Pressure)?]),
        ])
    }

    /// The head that drives the flow as a pressure.
    fn head_to_pressure(&mut self) -> Result<Vec<Line>, EquationError> {
        if let ProfileDrive::Head(_) = self.case.system.drive {
            let formula = sym("rho") * sym("g") * sym("h");
            return Ok(vec![self.line("dp", &formula, Kind::Pressure)?]);
        }
        Ok(Vec::new())
    }

    /// From the pressure drop that is known to the shear stress at the wall.
    fn shear_from_drop(&mut self) -> Result<Vec<Line>, EquationError> {
        let mut lines = Vec::new();
        if self.has_kinetic() {
            lines.push(self.line("dp_f", &(sym("dp") - sym("dp_k")), Kind::Pressure)?);
        }
        let formula = self.friction_drop() * sym("D") / (num(4.0) * self.length());
        lines.push(self.line("tau_w", &formula, Kind::Pressure)?);
        Ok(lines)
    }

    /// From the shear stress at the wall to the pressure drop, and to the head.
    fn drop_from_shear(&mut self) -> Result<Vec<Line>, EquationError> {
        let mut lines = Vec::new();
        if !self.by_drop() && self.case.solved.tube.length.is_none() {
            return Ok(lines);
        }
        let formula = num(4.0) * sym("tau_w") * self.length() / sym("D");
        if self.has_kinetic() {
            lines.push(self.line("dp_f", &formula, Kind::Pressure)?);
            lines.push(self.line("dp", &(sym("dp_f") + sym("dp_k")), Kind::Pressure)?);
        } else {
            lines.push(self.line("dp", &formula, Kind::Pressure)?);
        }
        if let ProfileDrive::Head(_) = self.case.system.drive {
            lines.push(self.line("h", &(sym("dp") / (sym("rho") * sym("g"))), Kind::Length)?);
        }
        Ok(lines)
    }

    fn laminar(&mut self, steps: &mut Vec<Step>) -> Result<(), EquationError> {
        let motion = self.case.solved.tube.motion;
        let mut body = Vec::new();
        let title;
        match self.case.unknown {
            Unknown::Drive => {
                title = "Find velocity and shear stress";
                body.extend(self.velocity(&motion)?);
                let shear = num(8.0) * sym("mu") * sym("V") / sym("D");
                let line = self.line("tau_w", &shear, Kind::Pressure)?;
                body.push(say(
                    "The shear stress at the wall follows from the slope of the parabola there:",
                ));
                body.push(Block::Equation(vec![line]));
                body.extend(self.ends()?);
                body.extend(self.kinetic()?);
                let lines = self.drop_from_shear()?;
                if !lines.is_empty() {
                    body.push(say(
                        "The balance of forces turns it into the fall of pressure along the pipe:",
                    ));
                    body.push(Block::Equation(lines));
                }
            }
            Unknown::Motion => {
                title = "Find the velocity";
                body.extend(self.ends()?);
                if self.has_kinetic() && self.by_drop() {
                    let mut lines = self.head_to_pressure()?;
                    body.push(say(
                        "Friction takes pressure in proportion to the velocity, and the kinetic energy that the fluid takes \
                         away goes with its square. That makes a quadratic equation:",
                    ));
                    body.push(Block::Equation(vec![Line::equal(
                        sym("m") * sym("rho") * sym("V").pow(2) + sym("b") * sym("V"),
                        sym("dp"),
                    )]));
                    let b = num(32.0) * sym("mu") * self.length() / sym("D").pow(2);
                    lines.push(self.other("b", &b, "Pa.s/m", "psi.s/ft")?);
                    let root =
                        (sym("b").pow(2) + num(4.0) * sym("m") * sym("rho") * sym("dp")).sqrt() - sym("b");
                    let formula = root / (num(2.0) * sym("m") * sym("rho"));
                    lines.push(self.line("V", &formula, Kind::Velocity)?);
                    body.push(Block::Equation(lines));
                    let shear = num(8.0) * sym("mu") * sym("V") / sym("D");
                    body.push(Block::Equation(vec![self.line(
                        "tau_w",
                        &shear,
                        Kind::Pressure,
                    )?]));
                } else {
                    let mut lines = self.head_to_pressure()?;
                    if self.by_drop() {
                        lines.extend(self.shear_from_drop()?);
                        body.push(say("The balance of forces gives the shear stress at the wall:"));
                        body.push(Block::Equation(lines));
                    }
                    body.push(say("From it the parabola gives the mean velocity:"));
                    let formula = sym("tau_w") * sym("D") / (num(8.0) * sym("mu"));
                    body.push(Block::Equation(vec![self.line("V", &formula, Kind::Velocity)?]));
                }
            }
            Unknown::Viscosity => {
                title = "Find the viscosity";
                body.push(say("The velocity is known from what flows:"));
                body.extend(self.velocity(&motion)?);
                body.extend(self.ends()?);
                body.extend(self.kinetic()?);
                let mut lines = self.head_to_pressure()?;
                if self.by_drop() {
                    lines.extend(self.shear_from_drop()?);
                    body.push(say(
                        "What is left for friction gives the shear stress at the wall:",
                    ));
                    body.push(Block::Equation(lines));
                }
                body.push(say(
                    "Viscosity is the shear stress at the wall over the slope of the velocity there:",
                ));
                let formula = sym("tau_w") * sym("D") / (num(8.0) * sym("V"));
                let mut lines = vec![self.line("mu", &formula, Kind::DynamicViscosity)?];
                lines.push(self.line("nu", &(sym("mu") / sym("rho")), Kind::KinematicViscosity)?);
                body.push(Block::Equation(lines));
            }
            Unknown::Length => {
                title = "Find the length";
                body.extend(self.velocity(&motion)?);
                body.extend(self.kinetic()?);
                let mut lines = self.head_to_pressure()?;
                let shear = num(8.0) * sym("mu") * sym("V") / sym("D");
                lines.push(self.line("tau_w", &shear, Kind::Pressure)?);
                lines.extend(self.length_lines()?);
                body.push(Block::Equation(lines));
            }
            Unknown::Diameter => {
                title = "Find the bore";
                body.extend(self.bore(&motion)?);
            }
        }
        steps.push(step(title, body));
        let mut body = vec![Block::Equation(vec![self.reynolds()?])];
        body.push(Block::Paragraph(vec![
            m(sym("Re")),
            t(" is below "),
            Inline::Value(short(self.limits.laminar_end)),
            t(", so the flow is laminar, as assumed."),
        ]));
        steps.push(step("Check the assumption", body));
        Ok(())
    }

    fn length_lines(&mut self) -> Result<Vec<Line>, EquationError> {
        let mut lines = Vec::new();
        if self.has_kinetic() {
            lines.push(self.line("dp_f", &(sym("dp") - sym("dp_k")), Kind::Pressure)?);
        }
        let formula = self.friction_drop() * sym("D") / (num(4.0) * sym("tau_w"));
        if self.has_ends() {
            lines.push(self.line("L_f", &formula, Kind::Length)?);
            let formula = sym("L_f") - sym("c_e") * (sym("D") / num(2.0));
            lines.push(self.line("L", &formula, Kind::Length)?);
        } else {
            lines.push(self.line("L", &formula, Kind::Length)?);
        }
        Ok(lines)
    }

    /// The bore of laminar flow: a power where nothing but friction counts, else by trial.
    fn bore(&mut self, motion: &Motion) -> Result<Vec<Block>, EquationError> {
        let d = self.case.solved.tube.diameter;
        let plain = !(self.has_ends() || self.has_kinetic());
        let bore = Line::equal(sym("D"), Expr::Number(shown(Kind::Bore, d, self.w.conventions)));
        let mut lines = self.head_to_pressure()?;
        let mut body = Vec::new();
        if !plain {
            body.push(Block::Paragraph(vec![
                t("The bore stands in every term, so it takes trial, or an equation solver. Trial gives "),
                m(sym("D")),
                t(" = "),
                self.value(Kind::Bore, d),
                t(", for with it the pressures agree:"),
            ]));
            body.extend(self.velocity(motion)?);
            body.extend(self.ends()?);
            body.extend(self.kinetic()?);
            let shear = num(8.0) * sym("mu") * sym("V") / sym("D");
            lines.push(self.line("tau_w", &shear, Kind::Pressure)?);
            lines.extend(self.drop_from_shear()?);
            body.push(Block::Equation(lines));
            return Ok(body);
        }
        if let Motion::Centre(_) = motion {
            lines.push(self.line("V", &(sym("u_max") / num(2.0)), Kind::Velocity)?);
        }
        let (power, formula) = match (motion, self.by_drop()) {
            (Motion::Flow(_), true) => (
                4,
                num(128.0) * sym("mu") * sym("L") * sym("Q") / (Expr::Pi * sym("dp")),
            ),
            (Motion::Flow(_), false) => (3, num(32.0) * sym("mu") * sym("Q") / (Expr::Pi * sym("tau_w"))),
            (_, true) => (2, num(32.0) * sym("mu") * sym("L") * sym("V") / sym("dp")),
            (_, false) => (1, num(8.0) * sym("mu") * sym("V") / sym("tau_w")),
        };
        body.push(say(
            "Put the velocity through the flow into the balance of forces, and the bore is all that is left:",
        ));
        if power == 1 {
            lines.push(self.line("D", &formula, Kind::Bore)?);
        } else {
            let base = match self.w.conventions.units {
                UnitSystem::Si => "m",
                UnitSystem::UsCustomary => "ft",
            };
            let unit = unit_of(&format!("{base}^{power}"))?;
            let figures = self.w.conventions.figures;
            lines.push(Line::worked(sym("D").pow(power), &formula, &self.w.of, &unit, figures)?.0);
            lines.push(bore);
        }
        body.push(Block::Equation(lines));
        if let Motion::Flow(_) = motion {
            body.extend(self.velocity(motion)?);
        }
        let shear = num(8.0) * sym("mu") * sym("V") / sym("D");
        if self.by_drop() {
            body.push(Block::Equation(vec![self.line(
                "tau_w",
                &shear,
                Kind::Pressure,
            )?]));
        }
        Ok(body)
    }

    /// A line whose unit is none of the usual ones.
    fn other(&mut self, name: &str, formula: &Expr, si: &str, us: &str) -> Result<Line, EquationError> {
        let unit = unit_of(match self.w.conventions.units {
            UnitSystem::Si => si,
            UnitSystem::UsCustomary => us,
        })?;
        let figures = self.w.conventions.figures;
        let (line, quantity) = Line::worked(sym(name), formula, &self.w.of, &unit, figures)?;
        self.w.of.set(name, Bound::new(quantity.value, &unit, figures));
        Ok(line)
    }

    // ---- turbulent ----

    fn turbulent(&mut self, steps: &mut Vec<Step>) -> Result<(), EquationError> {
        let case = self.case;
        let state = &case.solved.state;
        let motion = case.solved.tube.motion;
        let by_guess = matches!(case.unknown, Unknown::Motion | Unknown::Diameter)
            || matches!(motion, Motion::Centre(_));
        let mut body = Vec::new();
        if by_guess {
            body.extend(self.guesses());
            body.push(say("With what has settled:"));
        }
        match motion {
            Motion::Flow(_) if case.unknown != Unknown::Motion => body.extend(self.velocity(&motion)?),
            _ => {}
        }
        body.push(Block::Equation(vec![self.reynolds()?]));
        body.push(Block::Paragraph(vec![
            m(sym("Re")),
            t(" is above "),
            Inline::Value(short(self.limits.laminar_end)),
            t(if state.regime == Regime::Critical {
                ", so the flow is not laminar; it lies in the critical zone, where no friction factor is certain, and the \
                 turbulent one is taken."
            } else {
                ", so the flow is not laminar: the parabola does not hold, and the wall's shear stress takes a friction \
                 factor."
            }),
        ]));
        let is_rough = state.relative_roughness > 0.0;
        if is_rough {
            let ratio = sym("eps") / sym("D");
            body.push(Block::Equation(vec![
                Line::single(ratio.clone())
                    .then_numbers(&ratio, &self.w.of, &Unit::none(), self.w.conventions.figures)
                    .then(
                        Relation::Equal,
                        Expr::Number(pure(state.relative_roughness, self.w.conventions.figures)),
                    ),
            ]));
        }
        body.push(Block::Paragraph(enter_chart(
            (sym("Re"), state.reynolds),
            is_rough.then(|| (sym("rr"), state.relative_roughness)),
            (sym("f"), state.darcy_friction_factor),
        )));
        steps.push(
            step(
                if by_guess {
                    if matches!(
                        (motion, case.solved.tube.exponent),
                        (Motion::Centre(_), Exponent::Given(_))
                    ) {
                        "Find the velocity, and read the chart"
                    } else {
                        "Find the velocity by iteration"
                    }
                } else {
                    "Find the velocity, and read the chart"
                },
                body,
            )
            .reading(ReadOff::of(
                state.regime,
                state.reynolds,
                state.relative_roughness,
            )),
        );

        let mut body = vec![say(
            "The friction factor says how much of the dynamic pressure the wall's shear stress is:",
        )];
        let shear = sym("f") / num(8.0) * sym("rho") * sym("V").pow(2);
        let mut lines = vec![self.line("tau_w", &shear, Kind::Pressure)?];
        if case.unknown == Unknown::Length {
            body.push(Block::Equation(std::mem::take(&mut lines)));
            body.extend(self.kinetic()?);
            lines.extend(self.head_to_pressure()?);
            lines.extend(self.length_lines()?);
        } else if case.solved.tube.length.is_some() {
            body.push(Block::Equation(std::mem::take(&mut lines)));
            body.extend(self.ends()?);
            body.extend(self.kinetic()?);
            body.push(say(
                "The balance of forces turns it into the fall of pressure along the pipe:",
            ));
            lines.extend(self.drop_from_shear()?);
        }
        body.push(Block::Equation(lines));
        steps.push(step("Find the shear stress at the wall", body));
        Ok(())
    }

    /// The passes that lead to velocity and friction factor.
    fn guesses(&self) -> Vec<Block> {
        let case = self.case;
        let (tube, state) = (&case.solved.tube, &case.solved.state);
        let number = |si: f64| vec![Inline::Value(pure(si, self.w.conventions.figures))];
        let value = |kind, si| vec![self.value(kind, si)];
        let at = |velocity: f64, diameter: f64| {
            let reynolds = tube.density * velocity * diameter / tube.dynamic_viscosity;
            // On the way a guess may look laminar; the chart is read on its turbulent side all the same.
            let limits = Limits {
                laminar_end: 0.0,
                ..*self.limits
            };
            (
                reynolds,
                darcy(Reading::EXACT, reynolds, tube.roughness / diameter, &limits),
            )
        };
        let mut rows = Vec::new();
        if case.unknown == Unknown::Diameter {
            return vec![Block::Paragraph(vec![
                t("The bore stands in the velocity, in Re and in ε/D, so it takes trial. Trial gives "),
                m(sym("D")),
                t(" = "),
                self.value(Kind::Bore, tube.diameter),
                t(" with a mean velocity of "),
                self.value(Kind::Velocity, state.velocity),
                t(", for with them all that follows agrees with what is given."),
            ])];
        }
        if case.unknown == Unknown::Motion {
            let mut factor = 0.02;
            for _ in 0..PASSES {
                let velocity = match tube.drive {
                    Drive::WallShear(shear) => (8.0 * shear / (tube.density * factor)).sqrt(),
                    Drive::PressureDrop(_) | Drive::Head(_) => {
                        let drop = state.pressure_drop.unwrap_or(f64::NAN);
                        let length = state.friction_length.unwrap_or(f64::NAN);
                        let taken = 0.5 * factor * length / tube.diameter + tube.kinetic_correction;
                        (drop / (tube.density * taken)).sqrt()
                    }
                };
                let (reynolds, read) = at(velocity, tube.diameter);
                rows.push(vec![
                    number(factor),
                    value(Kind::Velocity, velocity),
                    number(reynolds),
                    number(read),
                ]);
                let before = std::mem::replace(&mut factor, read);
                if (read / before - 1.0).abs() < SETTLED {
                    break;
                }
            }
            return vec![
                say(
                    "The shear stress at the wall, and with it the fall of pressure, needs a friction factor, and that needs \
                     the velocity. Take a factor from the middle of the chart, find the velocity that it allows, read the \
                     chart at its Reynolds number, and go on with what it shows:",
                ),
                Block::Equation(vec![if self.by_drop() {
                    let all = if self.has_kinetic() {
                        sum(vec![
                            (true, sym("f") / num(2.0) * (self.length() / sym("D"))),
                            (true, sym("m")),
                        ])
                    } else {
                        sym("f") / num(2.0) * (self.length() / sym("D"))
                    };
                    Line::equal(sym("V"), (sym("dp") / (sym("rho") * all)).sqrt())
                } else {
                    Line::equal(
                        sym("V"),
                        (num(8.0) * sym("tau_w") / (sym("f") * sym("rho"))).sqrt(),
                    )
                }]),
                table(
                    vec![
                        vec![m(sym("f")), t(" taken")],
                        vec![m(sym("V"))],
                        vec![m(sym("Re"))],
                        vec![m(sym("f")), t(" then read")],
                    ],
                    vec![true; 4],
                    rows,
                ),
            ];
        }
        // The centre line is known: the mean follows from the exponent, and that from the friction factor.
        let mut exponent = match tube.exponent {
            Exponent::Given(n) => n,
            Exponent::FromFriction => 7.0,
        };
        for _ in 0..PASSES {
            let velocity = state.centre_velocity * power_law_ratio(exponent);
            let (reynolds, read) = at(velocity, tube.diameter);
            rows.push(vec![
                number(exponent),
                value(Kind::Velocity, velocity),
                number(reynolds),
                number(read),
            ]);
            let before = exponent;
            if tube.exponent == Exponent::FromFriction {
                exponent = 1.0 / read.sqrt();
            }
            if (exponent / before - 1.0).abs() < SETTLED {
                break;
            }
        }
        let mut words = vec![
            t(
                "On the centre line the flow is faster than the mean. By the power law their ratio hangs on the exponent ",
            ),
            m(sym("n")),
        ];
        match tube.exponent {
            Exponent::Given(_) => words.push(t(", which is given:")),
            Exponent::FromFriction => words.extend([
                t(", and that on the friction factor: "),
                m(sym("n")),
                t(" is about one over its root. Begin with "),
                m(Expr::Compare(
                    Box::new(sym("n")),
                    Relation::Equal,
                    Box::new(num(7.0)),
                )),
                t(":"),
            ]),
        }
        vec![
            Block::Paragraph(words),
            Block::Equation(vec![Line::equal(sym("V"), sym("u_max") * ratio())]),
            table(
                vec![
                    vec![m(sym("n"))],
                    vec![m(sym("V"))],
                    vec![m(sym("Re"))],
                    vec![m(sym("f"))],
                ],
                vec![true; 4],
                rows,
            ),
        ]
    }

    // ---- the profile ----

    fn profile(&mut self) -> Result<Step, EquationError> {
        let case = self.case;
        let motion = case.solved.tube.motion;
        let centre_known = matches!(motion, Motion::Centre(_)) && case.unknown != Unknown::Motion;
        let mut body = Vec::new();
        let mut lines = Vec::new();
        if case.is_laminar() {
            if !centre_known {
                lines.push(self.line("u_max", &(num(2.0) * sym("V")), Kind::Velocity)?);
            }
            body.push(say(
                "The velocity on the centre line, and what the profile's shape gives:",
            ));
        } else {
            body.push(say(
                "A turbulent profile is much flatter than a parabola. The power law fits it, but for the wall itself, where its \
                 slope has no limit, and the very centre:",
            ));
            body.push(Block::Equation(vec![Line::equal(
                sym("u_r"),
                Expr::Power(
                    Box::new(num(1.0) - num(2.0) * sym("r") / sym("D")),
                    Box::new(num(1.0) / sym("n")),
                ) * sym("u_max"),
            )]));
            if case.system.exponent.is_none() {
                lines.push(self.line("n", &(num(1.0) / sym("f").sqrt()), Kind::Number)?);
            }
            if !centre_known {
                lines.push(self.line("u_max", &(sym("V") / ratio()), Kind::Velocity)?);
            }
        }
        if !matches!(
            case.system.motion,
            ProfileMotion::Flow(_) | ProfileMotion::Collected { .. }
        ) || case.unknown == Unknown::Motion
        {
            let formula = sym("V") * (Expr::Pi * sym("D").pow(2) / num(4.0));
            lines.push(self.line("Q", &formula, Kind::Flow)?);
        }
        lines.push(self.line("u_tau", &(sym("tau_w") / sym("rho")).sqrt(), Kind::Velocity)?);
        if case.system.radius.is_some() {
            let share = num(2.0) * sym("r") / sym("D");
            let formula = if case.is_laminar() {
                sym("u_max") * (num(1.0) - share.clone().pow(2))
            } else {
                Expr::Power(Box::new(num(1.0) - share.clone()), Box::new(num(1.0) / sym("n"))) * sym("u_max")
            };
            lines.push(self.line("u_r", &formula, Kind::Velocity)?);
            lines.push(self.line("tau_r", &(sym("tau_w") * share), Kind::Pressure)?);
        }
        body.push(Block::Equation(lines));
        body.push(Block::Paragraph(vec![
            t("Here "),
            m(sym("u_tau")),
            t(" is the friction velocity, another way to write the shear stress at the wall. Within the pipe the shear stress falls in a straight line from the wall to nought on the centre line."),
        ]));
        if case.is_laminar() {
            body.push(Block::Paragraph(vec![
                t("Over a parabola the mean of the third power of the velocity gives the kinetic-energy factor "),
                m(sym("alpha")),
                t(" = 2, and that of the square the momentum factor "),
                m(sym("beta")),
                t(" = 4/3."),
            ]));
        } else {
            let n = || sym("n");
            let one = || n() + num(1.0);
            let two = || num(2.0) * n() + num(1.0);
            let alpha = (one() * two()).pow(3)
                / (num(4.0) * n().pow(4) * (n() + num(3.0)) * (num(2.0) * n() + num(3.0)));
            let beta = one() * two().pow(2) / (num(4.0) * n().pow(2) * (n() + num(2.0)));
            body.push(say("The means of its third power and of its square give the kinetic-energy factor and the momentum factor:"));
            let lines = vec![
                self.line("alpha", &alpha, Kind::Number)?,
                self.line("beta", &beta, Kind::Number)?,
            ];
            body.push(Block::Equation(lines));
        }
        Ok(step("Draw the profile", body))
    }

    fn entrance(&mut self) -> Result<Step, EquationError> {
        let case = self.case;
        let (formula, words) = if case.is_laminar() {
            (
                num(policy::LAMINAR_ENTRANCE) * sym("Re") * sym("D"),
                "All this holds where the flow is developed. Behind an entrance laminar flow needs about",
            )
        } else {
            (
                num(policy::TURBULENT_ENTRANCE)
                    * Expr::Power(Box::new(sym("Re")), Box::new(num(1.0) / num(6.0)))
                    * sym("D"),
                "All this holds where the flow is developed. Behind an entrance turbulent flow needs about",
            )
        };
        let line = self.line("L_e", &formula, Kind::Length)?;
        let mut body = vec![say(words), Block::Equation(vec![line])];
        if let Some(length) = case.solved.tube.length {
            let share = case.solved.state.entrance_length / length;
            body.push(Block::Paragraph(vec![
                t("That is "),
                Inline::Value(pure(100.0 * share, 2)),
                t(" per cent of the length of the pipe."),
            ]));
        }
        if !case.is_laminar() {
            body.push(say("In turbulent flow ten diameters are taken to be enough."));
        }
        for remark in case.remarks(self.limits) {
            body.push(Block::Note(vec![t(format!("{}.", capital(&remark.text)))]));
        }
        Ok(step("Check that the flow is developed", body))
    }
}

/// `2n²/((n + 1)(2n + 1))`
fn ratio() -> Expr {
    num(2.0) * sym("n").pow(2) / ((sym("n") + num(1.0)) * (num(2.0) * sym("n") + num(1.0)))
}

fn unit_of(text: &str) -> Result<Unit, EquationError> {
    Unit::parse(text).map_err(|e| EquationError {
        what: e.what,
        span: None,
        mend: e.mend,
    })
}
