//! Practice, driven as a state machine and as a conversation on piped input.

#![allow(clippy::unwrap_used)]

use gradeline::bank::course::{Conventions, Policy, UnitSystem};
use gradeline::bank::template::Asked;
use gradeline::bank::{Bank, builtin_bank};
use gradeline::drill::{Drill, Settings, practice_seed, run, templates_of, topics};
use gradeline::hydraulics::regime::Limits;
use gradeline::mark::Verdict;
use gradeline::quantity::{DecimalMark, Written};
use gradeline::solution::Answer;
use std::io::Cursor;
use std::sync::OnceLock;
use unicode_width::UnicodeWidthStr;

const POLICY: Policy = Policy {
    reading_error: 0.05,
    limits: Limits {
        laminar_end: 2300.0,
        turbulent_start: 4000.0,
        fully_rough_start: 200.0,
        smooth_end: 5.0,
    },
    follow_through_share: 1.0,
    slip_share: 0.5,
    review_margin: 0.25,
    accept_missing_unit: true,
    ..Policy::DEFAULT
};

const CONVENTIONS: Conventions = Conventions {
    units: UnitSystem::Si,
    decimal_mark: DecimalMark::Point,
    figures: 4,
    property_figures: 4,
};

fn bank() -> &'static Bank {
    static BANK: OnceLock<Bank> = OnceLock::new();
    BANK.get_or_init(builtin_bank)
}

fn settings(topic: Option<&str>, width: usize) -> Settings<'_> {
    Settings {
        topic,
        seed: 3,
        policy: POLICY,
        conventions: CONVENTIONS,
        width,
    }
}

fn drill(template: &str) -> Drill {
    let template = bank().get(template).expect("the bank has this template");
    Drill::new(template, &practice_seed(3, 0), &POLICY, &CONVENTIONS).unwrap()
}

fn right(drill: &Drill, part: usize, factor: f64) -> String {
    match (&drill.dealt().answers[part], &drill.parts()[part].asked) {
        (Answer::Number(q), Asked::Number { unit, figures, .. }) => {
            Written::from_si(factor * q.value, unit, *figures).ascii()
        }
        (Answer::Regime(regime), _) => regime.name().into(),
        (Answer::Choice(word), _) => word.clone(),
        _ => unreachable!("answers fit what is asked"),
    }
}

fn talk(typed: &str, topic: Option<&str>, width: usize) -> String {
    let mut out = Vec::new();
    run(
        &mut Cursor::new(typed.to_owned()),
        &mut out,
        bank(),
        &settings(topic, width),
    )
    .unwrap();
    String::from_utf8(out).unwrap()
}

#[test]
fn right_answers_finish_every_problem() {
    for template in &bank().templates {
        let mut drill = drill(&template.name);
        for part in 0..drill.parts().len() {
            assert_eq!(drill.current(), Some(part));
            let text = right(&drill, part, 1.0);
            let reply = drill.answer(part, &text);
            assert!(reply.is_right(), "{}: {text}: {}", template.name, reply.text);
        }
        assert_eq!(drill.current(), None);
        assert!(!drill.worked().unwrap().is_empty());
    }
}

#[test]
fn a_wrong_answer_stays_and_a_later_one_follows_from_it() {
    let mut drill = drill("bearing-oil-line");
    let place = |name: &str| drill.parts().iter().position(|p| p.name == name).unwrap();
    let (velocity, flow) = (place("velocity"), place("flow"));
    let text = right(&drill, velocity, 1.37);
    let reply = drill.answer(velocity, &text);
    assert!(!reply.is_right());
    assert_eq!(drill.tries(velocity), 1);
    let text = right(&drill, flow, 1.37);
    assert_eq!(drill.answer(flow, &text).verdict, Verdict::FollowsThrough);
    // Corrected, the first is in the band.
    let text = right(&drill, velocity, 1.0);
    assert_eq!(drill.answer(velocity, &text).verdict, Verdict::InBand);
}

#[test]
fn a_slip_is_told_with_advice() {
    let (mut told, mut made) = (0, 0);
    for template in &bank().templates {
        let drill = drill(&template.name);
        for listed in &template.slips {
            let Some(slip) = drill.dealt().slips.iter().find(|a| a.slip.name == listed.name) else {
                continue;
            };
            let advice = format!("{}. {}", slip.slip.name, slip.slip.advice);
            // Part after part is worked with the slip in it.
            let mut drill = drill.clone();
            let mut replies = Vec::new();
            for (part, answer) in slip.answers.iter().enumerate() {
                let text = match (answer, &drill.parts()[part].asked) {
                    (Some(Answer::Number(q)), Asked::Number { unit, figures, .. }) => {
                        Written::from_si(q.value, unit, *figures).ascii()
                    }
                    _ => continue,
                };
                let reply = drill.answer(part, &text);
                assert!(
                    !(listed.shows_in.contains(&part) && reply.verdict == Verdict::InBand),
                    "{}: {}: {text}",
                    template.name,
                    listed.name
                );
                replies.push(reply);
            }
            made += 1;
            told += usize::from(replies.iter().any(|reply| reply.text.contains(&advice)));
        }
    }
    assert!(made > 50, "only {made} slips were tried");
    assert!(told * 10 >= made * 9, "{told} of {made} were told");
}

#[test]
fn hints_come_one_by_one_and_end() {
    let mut drill = drill("bearing-oil-line");
    let hints = drill.dealt().template.hints.len();
    assert!(hints > 0);
    for left in (0..hints).rev() {
        assert!(drill.hint().is_some());
        assert_eq!(drill.hints_left(), left);
    }
    assert!(drill.hint().is_none());
}

#[test]
fn a_part_that_is_not_there_is_answered_kindly() {
    assert_eq!(
        drill("bearing-oil-line").answer(99, "1 m").verdict,
        Verdict::Unclear
    );
}

#[test]
fn a_conversation_works_on_piped_input() {
    let text = talk(
        "help\nhint\nbanana\n0.00001\nskip\nshow\n\nquit\n",
        Some("laminar flow"),
        80,
    );
    assert!(text.contains("Problem 1: Laminar flow in an oil line"), "{text}");
    assert!(text.contains("thick"), "the first hint: {text}");
    assert!(text.contains("can't be understood"), "{text}");
    assert!(
        text.contains("below the band") || text.contains("not right"),
        "{text}"
    );
    assert!(text.contains("Problem 2: "), "{text}");
}

#[test]
fn the_same_seed_gives_the_same_conversation_and_the_end_of_input_ends_it() {
    let once = talk("show\n\nshow\n", None, 72);
    assert_eq!(once, talk("show\n\nshow\n", None, 72));
    assert_eq!(talk("", None, 72).matches("Problem").count(), 1);
}

#[test]
fn lines_fit_the_terminal() {
    for width in [60, 80] {
        let text = talk("hint\n2 m\nquit\n", Some("laminar flow"), width);
        for line in text.lines() {
            assert!(line.width() <= width, "{} columns: {line}", line.width());
        }
    }
}

#[test]
fn an_endless_line_and_broken_text_do_no_harm() {
    let mut typed = vec![b'9'; 100_000];
    typed.extend(b"\n\xFF\xFE\nquit\n");
    let mut out = Vec::new();
    run(&mut Cursor::new(typed), &mut out, bank(), &settings(None, 80)).unwrap();
    let text = String::from_utf8(out).unwrap();
    assert_eq!(text.matches("can't be understood").count(), 2, "{text}");
}

#[test]
fn topics_are_found_by_name_and_a_near_one_is_offered() {
    assert!(topics(bank()).len() > 3);
    assert_eq!(templates_of(bank(), Some("Laminar Flow")).unwrap().len(), 2);
    assert_eq!(templates_of(bank(), Some("bearing-oil-line")).unwrap().len(), 1);
    let faults = templates_of(bank(), Some("laminar flo")).unwrap_err();
    assert!(
        faults.0[0]
            .mend
            .as_ref()
            .unwrap()
            .contains("did you mean `laminar flow`")
    );
    assert!(templates_of(&Bank::default(), None).is_err());
}

/// A reader that hangs up after some bytes, as `head` does.
struct HangsUp(usize);

impl std::io::Write for HangsUp {
    fn write(&mut self, bytes: &[u8]) -> std::io::Result<usize> {
        match self.0 {
            0 => Err(std::io::ErrorKind::BrokenPipe.into()),
            left => {
                let taken = left.min(bytes.len());
                self.0 -= taken;
                Ok(taken)
            }
        }
    }

    fn flush(&mut self) -> std::io::Result<()> {
        Ok(())
    }
}

#[test]
fn an_output_that_is_closed_ends_the_drill_quietly() {
    for bytes in [0, 100, 1000] {
        let mut input = Cursor::new(b"hint\nshow\n\nquit\n".to_vec());
        assert_eq!(
            run(&mut input, &mut HangsUp(bytes), bank(), &settings(None, 80)),
            Ok(())
        );
    }
}
