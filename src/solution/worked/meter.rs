//! A flow meter, worked: Bernoulli's equation from pipe to throat, the discharge coefficient (guessed, and read
//! again until it stands), what is lost for good, and the limits of the standard.

use super::working::{capital, listed, m, num, say, sum, sym, t};
use super::{Writer, step};
use crate::bank::course::Conventions;
use crate::bank::prose::{Block, Inline, Table};
use crate::bank::system::Kind as _;
use crate::bank::system::meter::{Instrument, Reading};
use crate::equation::{Bound, EquationError, Expr, Function, Line};
use crate::hydraulics::meter::standard::{
    Device, LOWEST_PRESSURE_RATIO, Limit, Limited, SMALL_PIPE, Taps, discharge_coefficient, expansibility,
    limits,
};
use crate::hydraulics::meter::{Gas, Throttle, ThrottleState, Unknown};
use crate::quantity::{Quantity, Written};
use crate::solution::laws::speed;
use crate::solution::meter::{MeterCase, is_pitot_static, limit_number, limited_words, range};
use crate::solution::results::pure;
use crate::solution::units::{Kind, shown};
use crate::solution::{Case, Solution as _, Step};

/// Most guesses that a table shows.
const GUESSES: usize = 12;

pub(in crate::solution) fn steps(
    case: &MeterCase,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let w = Writer::new(&Case::Meter(Box::new(case.clone())), conventions);
    match case.throttle() {
        Some((throttle, state)) => Throttling {
            case,
            throttle,
            state,
            w,
        }
        .steps(),
        None => pitot(case, w),
    }
}

/// `e` to a power that is no whole number.
fn power(e: Expr, exponent: f64) -> Expr {
    Expr::Power(Box::new(e), Box::new(num(exponent)))
}

fn exp(e: Expr) -> Expr {
    Expr::Call(Function::Exp, vec![e])
}

/// Two densities' difference, the larger first.
fn difference(heavier: bool) -> Expr {
    if heavier {
        sym("rho_m") - sym("rho")
    } else {
        sym("rho") - sym("rho_m")
    }
}

/// Words on how a manometer shows a pressure, and the line for it.
fn manometer(case: &MeterCase, w: &mut Writer<'_>) -> Result<Option<Step>, EquationError> {
    let Reading::Manometer { liquid, .. } = &case.system.reading else {
        return Ok(None);
    };
    let sought = case.unknown() == Unknown::Deflection;
    let liquid = liquid.clone().unwrap_or_else(|| "liquid".to_owned());
    let meter = &case.solved.meter;
    let heavier = match meter.gauge {
        crate::hydraulics::meter::Gauge::Manometer { density, .. } => density > meter.density,
        crate::hydraulics::meter::Gauge::Differential(_) => true,
    };
    let fluid = &case.fluid.name;
    let words = if heavier {
        format!(
            "The lines to the manometer are full of {fluid}. Over its deflection there stands {liquid} in one limb and {fluid} \
             in the other, so only the difference of their densities counts:"
        )
    } else {
        format!(
            "The manometer stands upside down, since its {liquid} is lighter than the {fluid}. Over its deflection there \
             stands {liquid} in one limb and {fluid} in the other, so only the difference of their densities counts:"
        )
    };
    let line = if sought {
        w.line("h_m", &(sym("dp") / (difference(heavier) * sym("g"))), Kind::Bore)?
    } else {
        w.line(
            "dp",
            &(difference(heavier) * sym("g") * sym("h_m")),
            Kind::Pressure,
        )?
    };
    let title = if sought {
        "Find the deflection of the manometer"
    } else {
        "Turn the manometer's reading into a pressure"
    };
    Ok(Some(step(title, vec![say(words), Block::Equation(vec![line])])))
}

/// A throttling device as it is worked.
struct Throttling<'a> {
    case: &'a MeterCase,
    throttle: &'a Throttle,
    state: &'a ThrottleState,
    w: Writer<'a>,
}

impl Throttling<'_> {
    fn steps(mut self) -> Result<Vec<Step>, EquationError> {
        if let Some(gas) = self.throttle.gas {
            self.bind("p_1", Kind::Pressure, gas.upstream_pressure);
            self.bind("kappa", Kind::Number, gas.isentropic_exponent);
        }
        if let Some(liquid) = self.throttle.liquid {
            self.bind("p_1", Kind::Pressure, liquid.upstream_pressure);
        }
        let mut steps = vec![known(self.case, &self.w), self.equation()];
        let unknown = self.case.unknown();
        let reads_first = unknown != Unknown::Deflection;
        if reads_first {
            steps.extend(manometer(self.case, &mut self.w)?);
        }
        match unknown {
            Unknown::Flow | Unknown::Coefficient => {
                steps.push(self.geometry()?);
                steps.push(self.ideal()?);
                if unknown == Unknown::Flow {
                    steps.push(self.coefficient(true)?);
                    steps.push(self.flow()?);
                } else {
                    steps.push(self.calibrated()?);
                }
            }
            Unknown::Differential | Unknown::Deflection => {
                steps.push(self.geometry()?);
                steps.push(self.reynolds()?);
                steps.push(self.coefficient(false)?);
                steps.push(self.differential()?);
                if !reads_first {
                    steps.extend(manometer(self.case, &mut self.w)?);
                }
            }
            Unknown::ThroatDiameter | Unknown::Velocity => {
                steps.push(self.reynolds()?);
                steps.push(self.throat()?);
            }
        }
        steps.push(self.loss()?);
        steps.push(self.limits()?);
        Ok(steps)
    }

    fn bind(&mut self, name: &str, kind: Kind, si: f64) {
        let written = shown(kind, si, self.w.conventions);
        let quantity = Quantity::new(si, written.unit.dimension);
        self.w.of.set(name, Bound { quantity, written });
    }

    fn value(&self, kind: Kind, si: f64) -> Vec<Inline> {
        vec![Inline::Value(shown(kind, si, self.w.conventions))]
    }

    fn called(&self) -> String {
        self.case.system.called()
    }

    /// The product of what brings the ideal flow down to the real one.
    fn real(&self) -> Expr {
        match self.throttle.gas {
            Some(_) => sym("C") * sym("Y"),
            None => sym("C"),
        }
    }

    fn reynolds_at(&self, flow: f64) -> f64 {
        self.state.reynolds * flow / self.state.flow
    }

    /// The standard's coefficient.
    fn standard(&self, beta: f64, reynolds: f64) -> f64 {
        discharge_coefficient(self.throttle.device, beta, self.throttle.pipe_diameter, reynolds)
    }

    /// The flow of an ideal fluid, and of the real one.
    fn equation(&self) -> Step {
        let device = self.called();
        let is_plate = matches!(self.throttle.device, Device::Orifice(_));
        let mut body = vec![Block::Paragraph(vec![
            t(format!(
                "Station 1 is in the pipe before {device}, station 2 in its throat. What passes one passes the other, and \
             without friction the pressure falls by what the kinetic energy rises. With "
            )),
            m(sym("beta")),
            t(" for the throat's diameter over that of the pipe:"),
        ])];
        body.push(Block::Equation(vec![
            Line::equal(sym("V"), sym("beta").pow(2) * sym("V_t")),
            Line::equal(
                sym("dp"),
                sym("rho") / num(2.0) * (sym("V_t").pow(2) - sym("V").pow(2)),
            ),
        ]));
        body.push(say(
            "One put into the other gives the velocity in the throat, and times the throat's area the flow of an ideal fluid:",
        ));
        body.push(Block::Equation(vec![
            Line::equal(sym("Q_i"), sym("E") * sym("A_t") * speed()),
            Line::equal(sym("E"), num(1.0) / (num(1.0) - sym("beta").pow(4)).sqrt()),
        ]));
        let why = if is_plate {
            "Behind the plate the jet goes on narrowing, and there is friction, so that much less flows. The discharge \
             coefficient says what share:"
        } else {
            "With friction somewhat less flows. The discharge coefficient says what share:"
        };
        body.push(say(why));
        body.push(Block::Equation(vec![Line::equal(
            sym("Q"),
            self.real() * sym("Q_i"),
        )]));
        if self.throttle.gas.is_some() {
            body.push(Block::Paragraph(vec![
                t("The gas expands on its way into the throat, so that its density is less there; the expansibility factor "),
                m(sym("Y")),
                t(" stands for that. Flow and density are those before the meter."),
            ]));
        }
        step("Write the equation of the meter", body)
    }

    fn geometry(&mut self) -> Result<Step, EquationError> {
        let lines = vec![
            self.w.line("beta", &(sym("d") / sym("D")), Kind::Number)?,
            self.approach()?,
            self.w
                .line("A_t", &(Expr::Pi / num(4.0) * sym("d").pow(2)), Kind::Area)?,
        ];
        Ok(step(
            "Work out what the diameters give",
            vec![
                say(
                    "Diameter ratio, velocity of approach factor (it counts the velocity that the fluid has already) and area of \
                     the throat:",
                ),
                Block::Equation(lines),
            ],
        ))
    }

    fn approach(&mut self) -> Result<Line, EquationError> {
        self.w.line(
            "E",
            &(num(1.0) / (num(1.0) - sym("beta").pow(4)).sqrt()),
            Kind::Number,
        )
    }

    fn ideal(&mut self) -> Result<Step, EquationError> {
        let line = self
            .w
            .line("Q_i", &(sym("E") * sym("A_t") * speed()), Kind::Flow)?;
        let mut body = vec![
            say("Without losses there would flow"),
            Block::Equation(vec![line]),
        ];
        if self.throttle.gas.is_some() {
            body.extend(self.expansion()?);
        }
        Ok(step("Work out the flow of an ideal fluid", body))
    }

    /// The expansibility factor at the differential pressure that is bound.
    fn expansion(&mut self) -> Result<Vec<Block>, EquationError> {
        let tau = || sym("tau");
        let kappa = || sym("kappa");
        let beta4 = || sym("beta").pow(4);
        let formula = match self.throttle.device {
            Device::Orifice(_) => {
                let of_beta = num(0.351) + num(0.256) * beta4() + num(0.93) * sym("beta").pow(8);
                let less = Expr::Power(Box::new(tau()), Box::new(num(1.0) / kappa()));
                num(1.0) - of_beta * (num(1.0) - less)
            }
            _ => {
                let squeezed = || Expr::Power(Box::new(tau()), Box::new(num(2.0) / kappa()));
                let work = Expr::Power(Box::new(tau()), Box::new((kappa() - num(1.0)) / kappa()));
                (kappa() * squeezed() / (kappa() - num(1.0))
                    * ((num(1.0) - beta4()) / (num(1.0) - beta4() * squeezed()))
                    * ((num(1.0) - work) / (num(1.0) - tau())))
                .sqrt()
            }
        };
        let lines = vec![
            self.w
                .line("tau", &(num(1.0) - sym("dp") / sym("p_1")), Kind::Number)?,
            self.w.line("Y", &formula, Kind::Number)?,
        ];
        Ok(vec![
            Block::Paragraph(vec![
                t("The pressure behind over that before the meter, both absolute, is "),
                m(tau()),
                t(format!(
                    ". With it the standard gives the expansibility factor ({}):",
                    self.throttle.device.expansibility_clause()
                )),
            ]),
            Block::Equation(lines),
        ])
    }

    fn reynolds(&mut self) -> Result<Step, EquationError> {
        let through = num(4.0) * sym("Q") / (Expr::Pi * sym("D").pow(2));
        let lines = vec![self.w.line("V", &through, Kind::Velocity)?, self.reynolds_line()?];
        Ok(step(
            "Find the Reynolds number",
            vec![
                say("The flow is known, so the velocity in the pipe and its Reynolds number are:"),
                Block::Equation(lines),
            ],
        ))
    }

    fn reynolds_line(&mut self) -> Result<Line, EquationError> {
        self.w.line(
            "Re",
            &(sym("rho") * sym("V") * sym("D") / sym("mu")),
            Kind::Number,
        )
    }

    /// Where the coefficient is had from, and its value at the Reynolds number that is bound.
    fn coefficient(&mut self, guessed: bool) -> Result<Step, EquationError> {
        let title = "Find the discharge coefficient";
        let device = self.throttle.device;
        if let Some(given) = self.throttle.coefficient {
            let read = pure(given, self.w.conventions.figures.min(3));
            let written = self.w.of.get("C").map_or(read, |bound| bound.written.clone());
            return Ok(step(
                title,
                vec![
                    say("It is given:"),
                    Block::Equation(vec![Line::equal(sym("C"), Expr::Number(written))]),
                ],
            ));
        }
        if !device.is_iterated() {
            let mut body = vec![say(format!(
                "Within its limits it does not depend on the Reynolds number ({}):",
                device.coefficient_clause()
            ))];
            body.push(Block::Equation(self.standard_lines()?));
            return Ok(step(title, body));
        }
        let mut body = Vec::new();
        if guessed {
            body.push(Block::Paragraph(vec![
                t("It depends on the Reynolds number, and so on the flow that is sought. So guess it, work out "),
                m(sym("Q")),
                t(" and "),
                m(sym("Re")),
                t(", take "),
                m(sym("C")),
                t(" from the equation of the standard at that Reynolds number, and begin again with it until it stands:"),
            ]));
            body.push(self.guesses());
            // As it comes out in the end.
            let lines = vec![
                self.w.line(
                    "V",
                    &(num(4.0) * sym("Q") / (Expr::Pi * sym("D").pow(2))),
                    Kind::Velocity,
                )?,
                self.reynolds_line()?,
            ];
            body.push(say(
                "It moves little, so two or three passes are enough. The last one in full:",
            ));
            body.push(Block::Equation(lines));
        } else {
            body.push(say(
                "The Reynolds number is known, so that nothing has to be guessed.",
            ));
        }
        body.extend(self.in_full()?);
        Ok(step(title, body))
    }

    /// The standard's equation, term by term.
    fn in_full(&mut self) -> Result<Vec<Block>, EquationError> {
        let device = self.throttle.device;
        let clause = device.coefficient_clause();
        let words = match device {
            Device::Orifice(taps) => {
                let mut parts = vec![
                    "a part for an infinite Reynolds number".to_owned(),
                    "one for the Reynolds number here".to_owned(),
                ];
                if taps != Taps::Corner {
                    parts.push("one for the place of the taps".to_owned());
                }
                if self.throttle.pipe_diameter < SMALL_PIPE.value {
                    parts.push("one for a small pipe".to_owned());
                }
                format!(
                    "The equation of Reader-Harris and Gallagher ({clause}) has {}",
                    listed(&parts)
                )
            }
            _ => format!("The standard's equation ({clause})"),
        };
        Ok(vec![
            say(format!("{words}:")),
            Block::Equation(self.standard_lines()?),
        ])
    }

    /// Lines that give the standard's coefficient at the β and the Reynolds number that are bound.
    fn standard_lines(&mut self) -> Result<Vec<Line>, EquationError> {
        let beta = || sym("beta");
        let million_over_re = || num(10.0).pow(6) / sym("Re");
        let formula = match self.throttle.device {
            Device::Isa1932Nozzle => {
                num(0.99)
                    - num(0.2262) * power(beta(), 4.1)
                    - (num(0.00175) * beta().pow(2) - num(0.0033) * power(beta(), 4.15))
                        * power(million_over_re(), 1.15)
            }
            Device::LongRadiusNozzle => {
                num(0.9965) - num(0.00653) * (num(10.0).pow(6) * beta() / sym("Re")).sqrt()
            }
            Device::VenturiNozzle => num(0.9858) - num(0.196) * power(beta(), 4.5),
            Device::Venturi(_) => {
                let figures = Expr::Number(pure(self.state.coefficient, 3));
                return Ok(vec![Line::equal(sym("C"), figures)]);
            }
            Device::Orifice(taps) => return self.plate_lines(taps),
        };
        Ok(vec![self.w.line("C", &formula, Kind::Number)?])
    }

    fn plate_lines(&mut self, taps: Taps) -> Result<Vec<Line>, EquationError> {
        let beta = || sym("beta");
        let million = || num(10.0).pow(6);
        let inch = || Expr::Number(Written::parse("25.4 mm").unwrap_or_else(|_| pure(f64::NAN, 1)));
        let mut lines = Vec::new();
        let mut parts = vec![(true, sym("C_1")), (true, sym("C_2"))];
        let infinite = num(0.5961) + num(0.0261) * beta().pow(2) - num(0.216) * beta().pow(8);
        lines.push(self.w.line("C_1", &infinite, Kind::Number)?);
        let a = power(num(19_000.0) * beta() / sym("Re"), 0.8);
        lines.push(self.w.line("a", &a, Kind::Number)?);
        let slope = num(0.000_521) * power(million() * beta() / sym("Re"), 0.7)
            + (num(0.0188) + num(0.0063) * sym("a")) * power(beta(), 3.5) * power(million() / sym("Re"), 0.3);
        lines.push(self.w.line("C_2", &slope, Kind::Number)?);
        if taps != Taps::Corner {
            let (l1, l2) = match taps {
                Taps::Flange => (inch() / sym("D"), inch() / sym("D")),
                _ => (num(1.0), num(0.47)),
            };
            lines.push(self.w.line("L_1", &l1, Kind::Number)?);
            lines.push(
                self.w
                    .line("M_2", &(num(2.0) * l2 / (num(1.0) - beta())), Kind::Number)?,
            );
            let before = (num(0.043) + num(0.08) * exp(-(num(10.0) * sym("L_1")))
                - num(0.123) * exp(-(num(7.0) * sym("L_1"))))
                * (num(1.0) - num(0.11) * sym("a"))
                * (beta().pow(4) / (num(1.0) - beta().pow(4)));
            let behind = num(0.031) * (sym("M_2") - num(0.8) * power(sym("M_2"), 1.1)) * power(beta(), 1.3);
            lines.push(self.w.line("C_3", &(before - behind), Kind::Number)?);
            parts.push((true, sym("C_3")));
        }
        if self.throttle.pipe_diameter < SMALL_PIPE.value {
            let small = num(0.011) * (num(0.75) - beta()) * (num(2.8) - sym("D") / inch());
            lines.push(self.w.line("C_4", &small, Kind::Number)?);
            parts.push((true, sym("C_4")));
        }
        lines.push(self.w.line("C", &sum(parts), Kind::Number)?);
        Ok(lines)
    }

    /// A first guess of the coefficient, as a book would give it.
    fn first_guess(&self) -> f64 {
        match self.throttle.device {
            Device::Orifice(_) => 0.6,
            _ => 0.98,
        }
    }

    /// Whether two coefficients print alike.
    fn stands(&self, a: f64, b: f64) -> bool {
        let print = |c: f64| pure(c, self.w.conventions.figures).shown;
        print(a) == print(b)
    }

    /// Passes from a guess of C to a flow, its Reynolds number, and the C there.
    fn guesses(&self) -> Block {
        let ideal = self.state.expansibility * self.state.ideal_flow;
        let mut rows = Vec::new();
        let mut c = self.first_guess();
        for _ in 0..GUESSES {
            let flow = c * ideal;
            let reynolds = self.reynolds_at(flow);
            let next = self.standard(self.state.beta, reynolds);
            rows.push(vec![
                self.value(Kind::Number, c),
                self.value(Kind::Flow, flow),
                self.value(Kind::Number, reynolds),
                self.value(Kind::Number, next),
            ]);
            if self.stands(c, next) {
                break;
            }
            c = next;
        }
        Block::Table(Table {
            head: vec![
                vec![m(sym("C")), t(" taken")],
                vec![m(sym("Q"))],
                vec![m(sym("Re"))],
                vec![m(sym("C")), t(" then read")],
            ],
            numeric: vec![true; 4],
            rows,
        })
    }

    fn flow(&mut self) -> Result<Step, EquationError> {
        let formula = self.real() * sym("Q_i");
        let mut lines = vec![self.w.line("Q", &formula, Kind::Flow)?];
        if !self.throttle.device.is_iterated() || self.throttle.coefficient.is_some() {
            let through = num(4.0) * sym("Q") / (Expr::Pi * sym("D").pow(2));
            lines.push(self.w.line("V", &through, Kind::Velocity)?);
            lines.push(self.reynolds_line()?);
        }
        if self.throttle.gas.is_some() {
            lines.push(self.w.line("mdot", &(sym("rho") * sym("Q")), Kind::MassFlow)?);
        }
        Ok(step(
            "Work out the flow",
            vec![say("Of the ideal flow there passes"), Block::Equation(lines)],
        ))
    }

    fn calibrated(&mut self) -> Result<Step, EquationError> {
        let formula = match self.throttle.gas {
            Some(_) => sym("Q") / (sym("Y") * sym("Q_i")),
            None => sym("Q") / sym("Q_i"),
        };
        let lines = vec![self.w.line("C", &formula, Kind::Number)?];
        Ok(step(
            "Find the discharge coefficient",
            vec![
                say(
                    "Flow and differential pressure were both measured, so that the coefficient is what is left:",
                ),
                Block::Equation(lines),
            ],
        ))
    }

    fn differential(&mut self) -> Result<Step, EquationError> {
        let mut body = Vec::new();
        if let Some(gas) = self.throttle.gas {
            body.push(Block::Paragraph(vec![
                t("The expansibility factor hangs on the differential pressure that is sought. It is nearly 1, so begin with that, \
                   work out the differential pressure, take the factor there, and begin again until it stands:"),
            ]));
            body.push(self.expansions(gas));
            body.push(say("The last pass in full."));
            body.extend(self.expansion()?);
        }
        let per_area = sym("Q") / (self.real() * sym("E") * sym("A_t"));
        let formula = sym("rho") / num(2.0) * per_area.pow(2);
        body.push(say(
            "Solve the equation of the meter for the differential pressure:",
        ));
        body.push(Block::Equation(vec![self.w.line(
            "dp",
            &formula,
            Kind::Pressure,
        )?]));
        Ok(step("Find the differential pressure", body))
    }

    /// Passes from Y to a differential pressure to Y.
    fn expansions(&self, gas: Gas) -> Block {
        let s = self.state;
        let without = self.case.solved.state.differential * s.expansibility * s.expansibility;
        let mut rows = Vec::new();
        let mut y = 1.0;
        for _ in 0..GUESSES {
            let pressure = without / (y * y);
            let next = expansibility(
                self.throttle.device,
                s.beta,
                1.0 - pressure / gas.upstream_pressure,
                gas.isentropic_exponent,
            );
            rows.push(vec![
                self.value(Kind::Number, y),
                self.value(Kind::Pressure, pressure),
                self.value(Kind::Number, next),
            ]);
            if self.stands(y, next) || !next.is_finite() {
                break;
            }
            y = next;
        }
        Block::Table(Table {
            head: vec![
                vec![m(sym("Y")), t(" taken")],
                vec![m(sym("dp"))],
                vec![m(sym("Y")), t(" then read")],
            ],
            numeric: vec![true; 3],
            rows,
        })
    }

    /// The throat from a known flow and differential pressure.
    fn throat(&mut self) -> Result<Step, EquationError> {
        let mut body = vec![Block::Paragraph(vec![
            t("The area of the throat is "),
            m(sym("beta").pow(2) * sym("A")),
            t(", with "),
            m(sym("A")),
            t(" for that of the pipe. So the equation of the meter, divided by what is known of it, says"),
        ])];
        let side = self.real() * sym("E") * sym("beta").pow(2);
        body.push(Block::Equation(vec![Line::equal(side, sym("N"))]));
        let lines = vec![
            self.w
                .line("A", &(Expr::Pi / num(4.0) * sym("D").pow(2)), Kind::Area)?,
            self.w
                .line("N", &(sym("Q") / (sym("A") * speed())), Kind::Number)?,
        ];
        body.push(Block::Equation(lines));
        let has_gas = self.throttle.gas.is_some();
        let x = sym("N") / self.real();
        body.push(Block::Paragraph(vec![
            t("With "),
            m(sym("x")),
            t(" for "),
            m(x.clone()),
            t(", this is solved by"),
        ]));
        let beta = power(sym("x").pow(2) / (num(1.0) + sym("x").pow(2)), 0.25);
        body.push(Block::Equation(vec![Line::equal(sym("beta"), beta.clone())]));
        let iterated = self.throttle.coefficient.is_none()
            && (self.throttle.device.is_iterated() || self.throttle.device == Device::VenturiNozzle);
        if iterated || has_gas {
            body.push(say(
                "But the coefficient hangs on the diameter ratio in its turn. So guess it, work out the ratio, take the coefficient \
                 there, and begin again until it stands:",
            ));
            body.push(self.throat_guesses());
            body.push(say("The last pass in full:"));
        }
        let lines = vec![
            self.w.line("x", &x, Kind::Number)?,
            self.w.line("beta", &beta, Kind::Number)?,
            self.w.line("d", &(sym("beta") * sym("D")), Kind::Bore)?,
        ];
        body.push(Block::Equation(lines));
        body.push(say("Put in once more, to see that all belongs together:"));
        let mut check = Vec::new();
        check.push(Block::Equation(vec![self.approach()?]));
        if has_gas {
            check.extend(self.expansion()?);
        }
        if self.throttle.coefficient.is_none() {
            check.extend(self.in_full()?);
        }
        body.extend(check);
        Ok(step("Find the throat", body))
    }

    fn throat_guesses(&self) -> Block {
        let s = self.state;
        let n = s.coefficient * s.expansibility * s.approach_factor * s.beta * s.beta;
        let mut rows = Vec::new();
        let mut c = self.throttle.coefficient.unwrap_or_else(|| self.first_guess());
        let mut y = 1.0;
        for _ in 0..GUESSES {
            let x = n / (c * y);
            let beta = libm::pow(x * x / (1.0 + x * x), 0.25);
            let next = self
                .throttle
                .coefficient
                .unwrap_or_else(|| self.standard(beta, s.reynolds));
            let next_y = self.throttle.gas.map_or(1.0, |gas| {
                expansibility(
                    self.throttle.device,
                    beta,
                    1.0 - self.case.solved.state.differential / gas.upstream_pressure,
                    gas.isentropic_exponent,
                )
            });
            let mut row = vec![self.value(Kind::Number, c), self.value(Kind::Number, beta)];
            row.push(self.value(Kind::Number, next));
            if self.throttle.gas.is_some() {
                row.insert(1, self.value(Kind::Number, y));
                row.push(self.value(Kind::Number, next_y));
            }
            rows.push(row);
            if self.stands(c, next) && self.stands(y, next_y) {
                break;
            }
            (c, y) = (next, next_y);
        }
        let mut head = vec![
            vec![m(sym("C")), t(" taken")],
            vec![m(sym("beta"))],
            vec![m(sym("C")), t(" then read")],
        ];
        if self.throttle.gas.is_some() {
            head.insert(1, vec![m(sym("Y")), t(" taken")]);
            head.push(vec![m(sym("Y")), t(" then read")]);
        }
        Block::Table(Table {
            numeric: vec![true; head.len()],
            head,
            rows,
        })
    }

    fn loss(&mut self) -> Result<Step, EquationError> {
        let device = self.throttle.device;
        let mut body = Vec::new();
        let mut lines = Vec::new();
        if device.has_outlet_cone() {
            self.bind("xi", Kind::Number, self.throttle.cone_loss_share);
            let share = pure(self.throttle.cone_loss_share, 3);
            let stated = match &self.case.system.instrument {
                Instrument::Throttle(throttle) => throttle.permanent_loss.is_some(),
                Instrument::Pitot(_) => false,
            };
            body.push(Block::Paragraph(vec![
                t(format!(
                    "The cone behind the throat wins back most of the pressure. What is lost for good is 5 % to 20 % of the \
                     differential pressure ({}). ",
                    device.loss_clause()
                )),
                t(if stated { "Here it is given as " } else { "Here we take " }),
                m(sym("xi")),
                t(" = "),
                Inline::Value(share),
                t(":"),
            ]));
        } else {
            body.push(say(format!(
                "Behind {} the pressure rises again as the jet widens, but only in part. The standard gives the share \
                 that is lost for good ({}):",
                self.called(),
                device.loss_clause()
            )));
            let jet = || sym("C") * sym("beta").pow(2);
            let root = (num(1.0) - sym("beta").pow(4) * (num(1.0) - sym("C").pow(2))).sqrt();
            lines.push(self.w.line("s", &root, Kind::Number)?);
            let share = (sym("s") - jet()) / (sym("s") + jet());
            lines.push(self.w.line("xi", &share, Kind::Number)?);
        }
        lines.push(self.w.line("dp_loss", &(sym("xi") * sym("dp")), Kind::Pressure)?);
        let power = sym("dp_loss") * sym("Q");
        lines.push(self.w.line(
            "h_loss",
            &(sym("dp_loss") / (sym("rho") * sym("g"))),
            Kind::Length,
        )?);
        lines.push(self.w.line("P_loss", &power, Kind::Power)?);
        body.push(Block::Equation(lines));
        body.push(say(
            "The last line is the power that the meter costs as long as the fluid flows.",
        ));
        Ok(step("Find what is lost for good", body))
    }

    /// Each limit of the standard, and whether it is kept.
    fn limits(&mut self) -> Result<Step, EquationError> {
        let title = "Check the limits of the standard";
        let device = self.throttle.device;
        let mut rows = Vec::new();
        let mut broken = false;
        let mut row = |limit: &Limit, kind: Kind, value: f64| {
            let holds = limit.holds(value);
            broken |= !holds;
            rows.push(vec![
                vec![t(capital(limited_words(limit.on)))],
                self.value(kind, value),
                range_inlines(limit),
                vec![t(if holds { "yes" } else { "no" })],
            ]);
        };
        if self.throttle.coefficient.is_none() {
            for limit in limits(device, self.state.beta, self.throttle.pipe_diameter) {
                match limit.on {
                    Limited::PipeDiameter => row(&limit, Kind::Bore, self.throttle.pipe_diameter),
                    Limited::ThroatDiameter => row(&limit, Kind::Bore, self.throttle.throat_diameter),
                    Limited::Beta => row(&limit, Kind::Number, self.state.beta),
                    Limited::Reynolds => row(&limit, Kind::Number, self.state.reynolds),
                    Limited::PressureRatio => {}
                }
            }
        }
        if let Some(gas) = self.throttle.gas {
            let limit = Limit {
                on: Limited::PressureRatio,
                least: LOWEST_PRESSURE_RATIO,
                greatest: 1.0,
                clause: device.expansibility_clause(),
            };
            let ratio = 1.0 - self.case.solved.state.differential / gas.upstream_pressure;
            row(&limit, Kind::Number, ratio);
        }
        let boils = self.boiling()?;
        if rows.is_empty() {
            let mut body = vec![say(
                "The coefficient is the meter's own, so that the standard's limits for its own coefficient do not bear on it. \
                 It holds where it was calibrated.",
            )];
            body.extend(boils);
            return Ok(step(title, body));
        }
        let mut body = vec![
            say(format!(
                "The coefficient holds within limits only ({}):",
                device.limits_clause()
            )),
            Block::Table(Table {
                head: vec![
                    vec![t("what")],
                    vec![t("here")],
                    vec![t("asked")],
                    vec![t("kept")],
                ],
                numeric: vec![false, true, false, false],
                rows,
            }),
        ];
        if broken {
            body.push(Block::Note(vec![t(
                "Beyond a limit the coefficient is a guess: calibrate the meter, or choose another.",
            )]));
        } else {
            body.push(say("All are kept."));
        }
        body.extend(boils);
        Ok(step(title, body))
    }

    /// Whether a liquid boils behind the meter.
    fn boiling(&mut self) -> Result<Vec<Block>, EquationError> {
        let Some(liquid) = self.throttle.liquid else {
            return Ok(Vec::new());
        };
        let line = self.w.line("p_2", &(sym("p_1") - sym("dp")), Kind::Pressure)?;
        let vapour = shown(Kind::Pressure, liquid.vapour_pressure, self.w.conventions);
        let boils = liquid.upstream_pressure - self.case.solved.state.differential < liquid.vapour_pressure;
        let (stands, so) = if boils {
            (
                "below",
                ", so the liquid boils there, and the equation does not hold: raise the pressure or widen the throat.",
            )
        } else {
            ("above", ", so the liquid does not boil there.")
        };
        Ok(vec![
            say("Behind the meter the absolute pressure is"),
            Block::Equation(vec![line]),
            Block::Paragraph(vec![
                t(format!("That is {stands} the vapour pressure of ")),
                Inline::Value(vapour),
                t(so),
            ]),
        ])
    }
}

/// The range of a limit: `0.1 to 0.75`, `at least 5000`.
fn range_inlines(limit: &Limit) -> Vec<Inline> {
    let value = |number: f64| Inline::Value(limit_number(number));
    match range(limit) {
        (least, Some(greatest), unit) => vec![value(least), t(" to "), value(greatest), t(unit)],
        (least, None, unit) => vec![t("at least "), value(least), t(unit)],
    }
}

/// What is known, one line each, as it is printed from here on.
fn known(case: &MeterCase, w: &Writer<'_>) -> Step {
    let temperature = match &case.fluid.temperature {
        Some(temperature) => vec![t(" at "), Inline::Value(temperature.clone())],
        None => Vec::new(),
    };
    let mut words = vec![t(capital(&case.fluid.name))];
    words.extend(temperature);
    words.push(t(" flows. Known are"));
    let sought = case.answers().into_iter().next().map(|(name, _)| name);
    let mut lines = Vec::new();
    for name in [
        "rho", "mu", "g", "D", "d", "k_u", "Q", "u", "dp", "rho_m", "h_m", "p_1", "kappa", "C",
    ] {
        let given = match name {
            "rho" | "mu" | "g" | "p_1" | "kappa" => true,
            _ => case.system.stated(name).is_some(),
        };
        if given
            && sought.as_deref() != Some(name)
            && let Some(bound) = w.of.get(name)
        {
            lines.push(Line::equal(sym(name), Expr::Number(bound.written.clone())));
        }
    }
    let mut body = vec![Block::Paragraph(words), Block::Equation(lines)];
    if let Some((name, called)) = case.answers().into_iter().next() {
        body.push(Block::Paragraph(vec![
            t(format!("Sought is {called}, ")),
            m(sym(name)),
            t("."),
        ]));
    }
    step("List what is known", body)
}

/// A Pitot tube.
fn pitot(case: &MeterCase, mut w: Writer<'_>) -> Result<Vec<Step>, EquationError> {
    let unknown = case.unknown();
    let mut steps = vec![known(case, &w)];
    let place = if is_pitot_static(&case.system) {
        "the holes in its side feel the pressure that goes past"
    } else {
        "a tapping in the wall feels the pressure of the fluid that goes past"
    };
    steps.push(step(
        "Write Bernoulli's equation up to the tip",
        vec![
            Block::Paragraph(vec![
                t(format!(
                    "Right at the tip of {} the fluid stands still, and ",
                    case.system.called()
                )),
                t(place),
                t(". So the differential pressure is what the velocity "),
                m(sym("u")),
                t(" was worth:"),
            ]),
            Block::Equation(vec![Line::equal(
                sym("dp"),
                sym("rho") * sym("u").pow(2) / num(2.0),
            )]),
            Block::Paragraph(vec![t(
                "A real tube is off by a little, which its coefficient puts right:",
            )]),
            Block::Equation(vec![Line::equal(sym("u"), sym("C") * speed())]),
        ],
    ));
    if unknown != Unknown::Deflection {
        steps.extend(manometer(case, &mut w)?);
    }
    let (title, words, line) = match unknown {
        Unknown::Differential | Unknown::Deflection => {
            let formula = sym("rho") / num(2.0) * (sym("u") / sym("C")).pow(2);
            (
                "Find the differential pressure",
                "Solved for the differential pressure:",
                w.line("dp", &formula, Kind::Pressure)?,
            )
        }
        Unknown::Coefficient => (
            "Find the coefficient",
            "Velocity and differential pressure were both measured, so that the coefficient is what is left:",
            w.line("C", &(sym("u") / speed()), Kind::Number)?,
        ),
        _ => (
            "Find the velocity",
            "With the numbers:",
            w.line("u", &(sym("C") * speed()), Kind::Velocity)?,
        ),
    };
    steps.push(step(title, vec![say(words), Block::Equation(vec![line])]));
    if unknown == Unknown::Deflection {
        steps.extend(manometer(case, &mut w)?);
    }
    if let Instrument::Pitot(tube) = &case.system.instrument
        && tube.pipe.is_some()
    {
        let lines = vec![
            w.line("V", &(sym("k_u") * sym("u")), Kind::Velocity)?,
            w.line(
                "Q",
                &(Expr::Pi / num(4.0) * sym("D").pow(2) * sym("V")),
                Kind::Flow,
            )?,
            w.line(
                "Re",
                &(sym("rho") * sym("V") * sym("D") / sym("mu")),
                Kind::Number,
            )?,
        ];
        steps.push(step(
            "Find the flow in the pipe",
            vec![
                Block::Paragraph(vec![
                    t("The tube shows the velocity at one place only. The mean over the cross-section is "),
                    m(sym("k_u")),
                    t(" of it:"),
                ]),
                Block::Equation(lines),
            ],
        ));
    }
    Ok(steps)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::bank::system::System;
    use crate::hydraulics::regime::Limits;
    use crate::quantity::DecimalMark;

    /// Every line of the working gives what the solver found.
    #[test]
    fn the_terms_of_the_standard_make_up_the_solvers_coefficient() {
        let conventions = Conventions {
            units: crate::bank::course::UnitSystem::Si,
            decimal_mark: DecimalMark::Point,
            figures: 4,
            property_figures: 4,
        };
        for (kind, pipe, throat) in [
            ("orifice: corner taps", "100 mm", "50 mm"),
            ("orifice: D and D/2 taps", "150 mm", "100 mm"),
            ("orifice: flange taps", "52.5 mm", "30 mm"),
            ("nozzle: ISA 1932", "100 mm", "55 mm"),
            ("nozzle: long radius", "100 mm", "55 mm"),
            ("nozzle: Venturi nozzle", "100 mm", "55 mm"),
        ] {
            let yaml = format!(
                "fluid: {{ name: water, temperature: 20 degC }}\nflow: unknown\nmeter: {{ {kind}, pipe diameter: {pipe}, \
                 throat diameter: {throat}, differential: 25 kPa }}\n"
            );
            let system = System::parse(&yaml, "meter.yaml").unwrap();
            let case = Case::solve(system, None, &Limits::default()).unwrap();
            let Case::Meter(meter) = &case else {
                panic!("no meter")
            };
            let (throttle, state) = meter.throttle().unwrap();
            let mut working = Throttling {
                case: meter,
                throttle,
                state,
                w: Writer::new(&case, &conventions),
            };
            working.w.of.0.remove("C");
            working.standard_lines().unwrap();
            let printed = working.w.of.get("C").unwrap().quantity.value;
            assert!(
                (printed / state.coefficient - 1.0).abs() < 1e-12,
                "{kind}: {printed} for {}",
                state.coefficient
            );
            // And so do the lines of the whole working.
            assert!(steps(meter, &conventions).unwrap().len() >= 6);
        }
    }
}
