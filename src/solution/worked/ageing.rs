//! A pipe that grows rougher, worked: the test read backwards, the growth, the later day.

use super::check::{over_bore, read_off};
use super::working::{m, num, say, sym, t};
use super::{Writer, step};
use crate::bank::course::Conventions;
use crate::bank::prose::{Block, Inline, Table};
use crate::equation::{EquationError, Expr, Line, Relation};
use crate::hydraulics::ageing::Unknown;
use crate::hydraulics::friction::{Reading, darcy};
use crate::hydraulics::path::{PipeState, area};
use crate::hydraulics::regime::Limits;
use crate::quantity::Unit;
use crate::solution::ageing::AgeingCase;
use crate::solution::results::pure;
use crate::solution::units::{Kind, shown};
use crate::solution::{Case, ReadOff, Step};

/// Most passes that the table of the later flow shows.
const PASSES: usize = 12;

/// A change of a factor that four printed figures do not show \[–\].
const SETTLED: f64 = 1e-5;

pub(in crate::solution) fn steps(
    case: &AgeingCase,
    limits: &Limits,
    conventions: &Conventions,
) -> Result<Vec<Step>, EquationError> {
    let mut w = Writer::new(&Case::Ageing(Box::new(case.clone())), conventions);
    let grown = |day: &str| sym("eps_new") + sym("growth") * sym(format!("t_{day}"));
    let mut steps = vec![step(
        "See what is known",
        vec![
            say(format!(
                "The wall of the {} grows rougher with the years, and evenly so:",
                case.system.pipe
            )),
            Block::Equation(vec![Line::equal(
                sym("eps"),
                sym("eps_new") + sym("growth") * sym("t"),
            )]),
            say("A test measured a flow and the head that friction took. Bore and length stay as they are."),
        ],
    )];
    let v = num(4.0) * sym("Q") / (Expr::Pi * sym("D").pow(2));
    let mut lines = vec![
        w.line("V", &v, Kind::Velocity)?,
        w.line(
            "Re",
            &(sym("rho") * sym("V") * sym("D") / sym("mu")),
            Kind::Number,
        )?,
    ];
    let loss =
        |day: &str| sym(format!("f_{day}")) * sym("L") / sym("D") * (sym("V").pow(2) / (num(2.0) * sym("g")));
    let reading = |day: &str, state: &PipeState| {
        read_off(
            (sym("Re"), state.reynolds),
            Some((sym(format!("eps_{day}")) / sym("D"), state.relative_roughness)),
            (sym(format!("f_{day}")), state.darcy_friction_factor),
            conventions.figures,
        )
    };
    if case.unknown() == Unknown::HeadLoss {
        lines.push(w.line("eps_test", &grown("test"), Kind::Bore)?);
        lines.push(over_bore(&w, "eps_test", case.solved.test.relative_roughness));
        let lost = w.line("h_f_test", &loss("test"), Kind::Length)?;
        steps.push(step(
            "Work out the test",
            vec![
                say("At the test the age gives the roughness; the chart gives the friction factor, and that the loss:"),
                Block::Equation(lines),
                reading("test", &case.solved.test),
                Block::Equation(vec![lost]),
            ],
        ));
    } else {
        let factor = num(2.0) * sym("g") * sym("D") * sym("h_f_test") / (sym("L") * sym("V").pow(2));
        lines.push(w.line("f_test", &factor, Kind::Number)?);
        let ten = Expr::Power(
            Box::new(num(10.0)),
            Box::new(-(num(1.0) / (num(2.0) * sym("f_test").sqrt()))),
        );
        let solved_for = num(3.7) * (ten - num(2.51) / (sym("Re") * sym("f_test").sqrt()));
        let found = Expr::Number(pure(case.solved.test.relative_roughness, 3));
        // The name of the ratio is the ratio, so its line is written without binding one.
        let ratio = Line::equal(sym("eps_test") / sym("D"), solved_for.clone())
            .then_numbers(&solved_for, &w.of, &Unit::none(), conventions.figures)
            .then(
                Relation::Equal,
                Expr::Number(pure(case.solved.test.relative_roughness, conventions.figures)),
            );
        let roughness = shown(Kind::Bore, case.solved.roughness, conventions);
        let read = Expr::Number(pure(case.solved.test.relative_roughness, conventions.figures));
        steps.push(step(
            "Read the test backwards",
            vec![
                say("The test gives the friction factor, since everything else in the equation of the loss is known:"),
                Block::Equation(lines),
                Block::Paragraph(vec![
                    t("Now the chart is entered at this Reynolds number and this friction factor. The curve that passes there \
                       belongs to about "),
                    m(sym("eps_test")),
                    t("/"),
                    m(sym("D")),
                    t(" = "),
                    m(found),
                    t(". Colebrook and White's law, by which the curves are drawn, can be solved for it:"),
                ]),
                Block::Equation(vec![
                    ratio,
                    Line::single(sym("eps_test"))
                        .then_numbers(&(read * sym("D")), &w.of, &roughness.unit, conventions.figures)
                        .then(Relation::Equal, Expr::Number(roughness)),
                ]),
            ],
        ));
        let (name, formula, kind, words) = match case.unknown() {
            Unknown::New => (
                "eps_new",
                sym("eps_test") - sym("growth") * sym("t_test"),
                Kind::Bore,
                "What did not grow in these years was there when the pipe was new:",
            ),
            Unknown::Age => (
                "t_test",
                (sym("eps_test") - sym("eps_new")) / sym("growth"),
                Kind::Age,
                "The growth says how long it took:",
            ),
            _ => (
                "growth",
                (sym("eps_test") - sym("eps_new")) / sym("t_test"),
                Kind::Growth,
                "What has grown in these years gives the growth in one:",
            ),
        };
        steps.push(step(
            "Find what was asked",
            vec![say(words), Block::Equation(vec![w.line(name, &formula, kind)?])],
        ));
    }
    let lines = vec![
        w.line("eps_later", &grown("later"), Kind::Bore)?,
        over_bore(&w, "eps_later", case.solved.later.relative_roughness),
    ];
    let lost = w.line("h_f_later", &loss("later"), Kind::Length)?;
    steps.push(
        step(
            "Look at the later day, with the same flow",
            vec![
                say("The same flow has the same velocity and the same Reynolds number, but a rougher wall:"),
                Block::Equation(lines),
                reading("later", &case.solved.later),
                Block::Equation(vec![lost]),
            ],
        )
        .reading(
            [&case.solved.test, &case.solved.later]
                .into_iter()
                .filter_map(|state| ReadOff::of(state.regime, state.reynolds, state.relative_roughness)),
        ),
    );
    steps.push(step(
        "Look at the later day, with the same head",
        same_head(case, limits, conventions),
    ));
    Ok(steps)
}

/// The flow that the head of the test drives through the rougher pipe: friction factor and velocity in turn.
fn same_head(case: &AgeingCase, limits: &Limits, conventions: &Conventions) -> Vec<Block> {
    let solved = &case.solved;
    let problem = &solved.problem;
    let mut factor = solved.later.darcy_friction_factor;
    let mut rows = Vec::new();
    let value = |kind, si| vec![Inline::Value(shown(kind, si, conventions))];
    for _ in 0..PASSES {
        let velocity =
            (2.0 * problem.gravity * problem.diameter * problem.head_loss / (factor * problem.length)).sqrt();
        let reynolds = problem.density * velocity * problem.diameter / problem.dynamic_viscosity;
        rows.push(vec![
            value(Kind::Number, factor),
            value(Kind::Velocity, velocity),
            value(Kind::Number, reynolds),
            value(Kind::Flow, velocity * area(problem.diameter)),
        ]);
        let before = factor;
        factor = darcy(Reading::EXACT, reynolds, solved.driven.relative_roughness, limits);
        if (factor / before - 1.0).abs() < SETTLED {
            break;
        }
    }
    vec![
        say(
            "The head of the test now drives less. The flow is not known, so a friction factor is taken, at first that \
             of the step before, and corrected until it stands:",
        ),
        Block::Equation(vec![Line::equal(
            sym("V"),
            Expr::Call(
                crate::equation::Function::Sqrt,
                vec![num(2.0) * sym("g") * sym("D") * sym("h_f_test") / (sym("f") * sym("L"))],
            ),
        )]),
        Block::Table(Table {
            head: vec![
                vec![m(sym("f"))],
                vec![m(sym("V"))],
                vec![m(sym("Re"))],
                vec![m(sym("Q"))],
            ],
            numeric: vec![true; 4],
            rows,
        }),
        Block::Paragraph(vec![
            t("So on the later day the flow is "),
            m(sym("Q_later")),
            t(" = "),
            Inline::Value(shown(Kind::Flow, solved.later_flow, conventions)),
            t("."),
        ]),
    ]
}
