//! Practice by one student, in the terminal: hints, what a slip gives away, and the worked solution.
//!
//! [`Drill`] is one problem being practised; it knows nothing of a terminal. [`run`] is the conversation, over
//! any reader and writer, so that it works on piped input as well. Nothing is kept on disk.
//! Depends on: `fault`, `bank`, `draw`, `solution`, `deal`, `handout`, `mark`.

use crate::bank::Bank;
use crate::bank::course::{Conventions, Policy};
use crate::bank::prose::{Block, Inline, text};
use crate::bank::template::{Asked, Part, Template};
use crate::deal::{Dealt, deal_one};
use crate::draw::Seed;
use crate::equation::Style;
use crate::fault::{Checked, Fault, nearest};
use crate::handout;
use crate::mark::{Understood, Verdict, answer_text, follows_text, judge, key_text, slips_text};
use crate::solution::{Answer, Step, plain_blocks, plain_inlines};
use std::fmt::Write as _;
use std::io::{BufRead, Read, Write};
use std::sync::Arc;
use unicode_width::UnicodeWidthStr;

/// Longest line that is read \[bytes\]; what is beyond is dropped.
const LONGEST_LINE: u64 = 4 * 1024;
/// Widest text \[columns\]; longer lines tire the eye.
const WIDEST: usize = 88;
/// Wrong answers to one part after which showing the solution is offered.
const TRIES: usize = 3;

/// One problem being practised.
#[derive(Debug, Clone)]
pub struct Drill {
    dealt: Dealt,
    policy: Policy,
    conventions: Conventions,
    typed: Vec<String>,
    done: Vec<bool>,
    tries: Vec<usize>,
    hints: usize,
}

/// What is said to an answer.
#[derive(Debug, Clone, PartialEq)]
pub struct Reply {
    /// The verdict.
    pub verdict: Verdict,
    /// The answer as it was understood, in the unit asked; `None` where it was not.
    pub understood: Option<String>,
    /// What to tell the student, in whole sentences.
    pub text: String,
}

impl Reply {
    /// Whether the part is done: in the band, or right given the student's own earlier answers.
    pub fn is_right(&self) -> bool {
        matches!(self.verdict, Verdict::InBand | Verdict::FollowsThrough)
    }
}

/// A practice seed from a number and the count of problems before it. Nothing about practice is secret.
pub fn practice_seed(seed: u64, nth: u64) -> Seed {
    let mut hash = blake3::Hasher::new_derive_key("gradeline practice seed");
    hash.update(&seed.to_le_bytes());
    hash.update(&nth.to_le_bytes());
    Seed::from_bytes(*hash.finalize().as_bytes())
}

impl Drill {
    /// Deals a problem to practise.
    ///
    /// # Errors
    /// As [`deal_one`].
    pub fn new(
        template: &Arc<Template>,
        seed: &Seed,
        policy: &Policy,
        conventions: &Conventions,
    ) -> Checked<Self> {
        let (dealt, _) = deal_one(template, seed, policy, conventions)?;
        Ok(Self::of(dealt, policy, conventions))
    }

    /// Practises a problem that is dealt already.
    pub fn of(dealt: Dealt, policy: &Policy, conventions: &Conventions) -> Self {
        let parts = dealt.template.parts.len();
        Self {
            dealt,
            policy: *policy,
            conventions: *conventions,
            typed: vec![String::new(); parts],
            done: vec![false; parts],
            tries: vec![0; parts],
            hints: 0,
        }
    }

    /// The problem.
    pub fn dealt(&self) -> &Dealt {
        &self.dealt
    }

    /// The title.
    pub fn title(&self) -> &str {
        &self.dealt.template.title
    }

    /// The parts, in order.
    pub fn parts(&self) -> &[Part] {
        &self.dealt.template.parts
    }

    /// The statement, with what every solver needs beside it.
    ///
    /// # Errors
    /// A text that can't be filled.
    pub fn statement(&self) -> Checked<Vec<Block>> {
        let mut blocks = handout::statement(&self.dealt)?;
        let properties = handout::properties(&self.dealt);
        if !properties.is_empty() {
            blocks.push(Block::Paragraph(properties));
        }
        Ok(blocks)
    }

    /// The question of a part, with its unit and figures or the words to choose from.
    ///
    /// # Errors
    /// A text that can't be filled.
    pub fn question(&self, part: usize) -> Checked<Vec<Inline>> {
        let Some(asked) = self.parts().get(part) else {
            return Ok(Vec::new());
        };
        let mut question = handout::question(&self.dealt, asked)?;
        question.push(text(format!(
            " ({})",
            handout::asked(asked, self.conventions.decimal_mark)
        )));
        Ok(question)
    }

    /// The first part that is not done.
    pub fn current(&self) -> Option<usize> {
        self.done.iter().position(|done| !done)
    }

    /// Leaves a part, so that the next one is current.
    pub fn skip(&mut self, part: usize) {
        if let Some(done) = self.done.get_mut(part) {
            *done = true;
        }
    }

    /// How often a part was answered and not right.
    pub fn tries(&self, part: usize) -> usize {
        self.tries.get(part).copied().unwrap_or(0)
    }

    /// Answers a part. Earlier answers are remembered, so that a later one can follow from them.
    pub fn answer(&mut self, part: usize, typed: &str) -> Reply {
        if part >= self.typed.len() {
            return Reply {
                verdict: Verdict::Unclear,
                understood: None,
                text: format!("The problem has no part {}.", part + 1),
            };
        }
        self.typed[part] = typed.to_owned();
        let typed: Vec<&str> = self.typed.iter().map(String::as_str).collect();
        let judged = judge(&self.dealt, &typed, &self.policy, &self.conventions).swap_remove(part);
        let asked = &self.dealt.template.parts[part].asked;
        let mark = self.conventions.decimal_mark;
        let understood = match &judged.understood {
            Understood::Answer(answer, figures) => Some(answer_text(answer, asked, *figures, mark)),
            _ => None,
        };
        let said = understood.as_deref().unwrap_or_default();
        let text = match judged.verdict {
            Verdict::InBand if matches!(asked, Asked::Number { .. }) => {
                format!(
                    "In the band: {said}. The reference is {}.",
                    key_text(&self.dealt, part, mark)
                )
            }
            Verdict::InBand => format!("Right: {said}."),
            Verdict::FollowsThrough => {
                let is_number = matches!(asked, Asked::Number { .. });
                let follows = follows_text(&self.dealt.template.parts, &judged.follows, is_number);
                format!("{said}: {}", lower_first(&follows))
            }
            Verdict::KnownSlip => format!("{said} is not right. {}", slips_text(&judged.slips)),
            Verdict::Unclear => format!("That can't be understood: {}.", judged.why),
            Verdict::Wrong => match (judged.understood.answer(), &self.dealt.answers[part]) {
                (Some(Answer::Number(q)), Answer::Number(right)) => {
                    let side = if q.value < right.value { "below" } else { "above" };
                    format!("{said} is {side} the band.")
                }
                _ => format!("{said} is not right."),
            },
            Verdict::Blank => "Nothing was answered.".to_owned(),
        };
        let text = match &judged.hint {
            Some(hint) => format!("{text} {}", hint.sentence()),
            None => text,
        };
        let reply = Reply {
            verdict: judged.verdict,
            understood,
            text,
        };
        if reply.is_right() {
            self.done[part] = true;
        } else if matches!(judged.verdict, Verdict::Wrong | Verdict::KnownSlip) {
            self.tries[part] += 1;
        }
        reply
    }

    /// The next hint, from the gentlest to the plainest; `None` when there are no more.
    pub fn hint(&mut self) -> Option<Vec<Block>> {
        let hint = self.dealt.template.hints.get(self.hints)?.clone();
        self.hints += 1;
        Some(hint)
    }

    /// Hints that are left.
    pub fn hints_left(&self) -> usize {
        self.dealt.template.hints.len().saturating_sub(self.hints)
    }

    /// The worked solution.
    ///
    /// # Errors
    /// A formula that can't be evaluated.
    pub fn worked(&self) -> Checked<Vec<Step>> {
        handout::steps(&self.dealt, &self.policy, &self.conventions)
    }
}

/// What a conversation practises, and how it is printed.
#[derive(Debug, Clone, PartialEq)]
pub struct Settings<'a> {
    /// Problems of this topic only; `None` for every topic.
    pub topic: Option<&'a str>,
    /// Which numbers are drawn: the same seed gives the same problems.
    pub seed: u64,
    /// How answers are taken.
    pub policy: Policy,
    /// How numbers are written.
    pub conventions: Conventions,
    /// Columns of the terminal.
    pub width: usize,
}

/// The topics of a bank, each once, in order.
pub fn topics(bank: &Bank) -> Vec<&str> {
    let mut topics: Vec<&str> = bank.templates.iter().map(|t| t.topic.as_str()).collect();
    topics.sort_unstable();
    topics.dedup();
    topics
}

/// The templates that a topic names: a topic's, or the one template of that name.
///
/// # Errors
/// A topic that the bank does not have; the fault names those that it has.
pub fn templates_of<'a>(bank: &'a Bank, topic: Option<&str>) -> Checked<Vec<&'a Arc<Template>>> {
    let Some(topic) = topic else {
        if bank.templates.is_empty() {
            return Err(Fault::new("the bank is empty").into());
        }
        return Ok(bank.templates.iter().collect());
    };
    let wanted = topic.trim().to_lowercase();
    let found: Vec<_> = bank
        .templates
        .iter()
        .filter(|t| t.topic.to_lowercase() == wanted || t.name.to_lowercase() == wanted)
        .collect();
    if !found.is_empty() {
        return Ok(found);
    }
    let known = topics(bank);
    let mend = match nearest(topic, known.iter().copied()) {
        Some(near) => format!("did you mean `{near}`? Topics are: {}", known.join(", ")),
        None => format!("topics are: {}", known.join(", ")),
    };
    Err(Fault::new(format!("the bank has no topic `{topic}`"))
        .mend(mend)
        .into())
}

/// How a problem ended.
enum End {
    Next,
    Quit,
}

/// A sentence that stands behind a colon.
fn lower_first(sentence: &str) -> String {
    let mut chars = sentence.chars();
    match chars.next() {
        Some(first) => first.to_lowercase().chain(chars).collect(),
        None => String::new(),
    }
}

/// Practises problem after problem until `quit` or the end of the input.
///
/// # Errors
/// A topic that the bank does not have, a problem that can't be dealt, a reader or writer that fails.
pub fn run(
    input: &mut dyn BufRead,
    out: &mut dyn Write,
    bank: &Bank,
    settings: &Settings<'_>,
) -> Checked<()> {
    let templates = templates_of(bank, settings.topic)?;
    let mut talk = Talk {
        input,
        out,
        closed: false,
        width: settings.width.clamp(20, WIDEST),
        style: Style {
            mark: settings.conventions.decimal_mark,
        },
    };
    match talk.problems(&templates, settings) {
        // Nobody is left who could be told of it.
        Err(_) if talk.closed => Ok(()),
        ended => ended,
    }
}

const HELP: &str = "An answer is a number with its unit, such as `2.5 m/s`, or one of the words asked for. \
                    Or type: `hint` for the next hint, `show` for the worked solution, `skip` for the next part, \
                    `next` for another problem, `again` to read the problem once more, `quit` to stop.";

/// The conversation's two ends.
struct Talk<'a> {
    input: &'a mut dyn BufRead,
    out: &'a mut dyn Write,
    /// Whether the other end has stopped listening.
    closed: bool,
    width: usize,
    style: Style,
}

impl Talk<'_> {
    fn problems(&mut self, templates: &[&Arc<Template>], settings: &Settings<'_>) -> Checked<()> {
        self.say("Answer with a number and its unit, or a word. Type `help` for what else can be typed.")?;
        for nth in 0_u64.. {
            let template = templates[(nth % templates.len() as u64) as usize];
            let seed = practice_seed(settings.seed, nth);
            let mut drill = Drill::new(template, &seed, &settings.policy, &settings.conventions)?;
            if let End::Quit = self.problem(&mut drill, nth + 1)? {
                break;
            }
        }
        Ok(())
    }

    fn problem(&mut self, drill: &mut Drill, number: u64) -> Checked<End> {
        self.statement(drill, number)?;
        let mut asked = None;
        while let Some(part) = drill.current() {
            if asked.replace(part) != Some(part) {
                self.question(drill, part)?;
            }
            let Some(line) = self.line()? else {
                self.raw("\n")?;
                return Ok(End::Quit);
            };
            match line.trim().to_lowercase().as_str() {
                "" => {}
                "quit" | "exit" | "q" => return Ok(End::Quit),
                "help" | "?" => self.say(HELP)?,
                "hint" => match drill.hint() {
                    Some(hint) => self.blocks("Hint", &hint)?,
                    None => self.say("There are no more hints; `show` prints the worked solution.")?,
                },
                "show" => {
                    self.steps(&drill.worked()?)?;
                    return self.another();
                }
                "skip" => drill.skip(part),
                "next" => return Ok(End::Next),
                "again" => {
                    self.statement(drill, number)?;
                    self.question(drill, part)?;
                }
                _ => {
                    let reply = drill.answer(part, &line);
                    self.say(&reply.text)?;
                    if drill.current() == Some(part) && drill.tries(part) >= TRIES {
                        let help = if drill.hints_left() > 0 {
                            "`hint` may help, or `show`."
                        } else {
                            "`show` may help."
                        };
                        self.say(help)?;
                    }
                }
            }
        }
        self.say("That was the last part. Here is the worked solution.")?;
        self.steps(&drill.worked()?)?;
        self.another()
    }

    fn another(&mut self) -> Checked<End> {
        self.say("Press Enter for another problem, or type `quit`.")?;
        Ok(match self.line()? {
            Some(line) if !matches!(line.trim().to_lowercase().as_str(), "quit" | "exit" | "q") => End::Next,
            _ => End::Quit,
        })
    }

    fn statement(&mut self, drill: &Drill, number: u64) -> Checked<()> {
        let statement = drill.statement()?;
        self.blocks(&format!("Problem {number}: {}", drill.title()), &statement)
    }

    fn question(&mut self, drill: &Drill, part: usize) -> Checked<()> {
        let question = drill.question(part)?;
        let name = format!("{}. {}", part + 1, drill.parts()[part].name);
        self.blocks(&name, &[Block::Paragraph(question)])
    }

    fn blocks(&mut self, title: &str, blocks: &[Block]) -> Checked<()> {
        let mut out = format!("\n{}\n", wrap(title, self.width));
        let _ = writeln!(out, "{}", "-".repeat(title.width().min(self.width)));
        for (i, block) in blocks.iter().enumerate() {
            if i > 0 {
                out.push('\n');
            }
            match block {
                // Running text is filled to the terminal; what is set out in columns is only kept inside it.
                Block::Paragraph(words) => {
                    for line in plain_inlines(words, self.style).split('\n') {
                        let _ = writeln!(out, "{}", wrap(line, self.width));
                    }
                }
                other => {
                    for line in plain_blocks(std::slice::from_ref(other), self.style).lines() {
                        let _ = writeln!(out, "{}", wrap(line, self.width));
                    }
                }
            }
        }
        self.raw(&out)
    }

    fn steps(&mut self, steps: &[Step]) -> Checked<()> {
        for (i, step) in steps.iter().enumerate() {
            self.blocks(&format!("{}. {}", i + 1, step.title), &step.body)?;
        }
        Ok(())
    }

    fn say(&mut self, words: &str) -> Checked<()> {
        let wrapped = wrap(words, self.width);
        self.raw(&format!("{wrapped}\n"))
    }

    fn raw(&mut self, text: &str) -> Checked<()> {
        let written = self.out.write_all(text.as_bytes());
        self.checked(written)
    }

    /// Remembers a reader that has gone away: `gradeline drill | head` ends without a fault.
    fn checked(&mut self, written: std::io::Result<()>) -> Checked<()> {
        written.map_err(|error| {
            self.closed |= error.kind() == std::io::ErrorKind::BrokenPipe;
            Fault::new(format!("the terminal can't be written to: {error}")).into()
        })
    }

    /// A line without its end, or `None` at the end of the input.
    fn line(&mut self) -> Checked<Option<String>> {
        self.raw("> ")?;
        let flushed = self.out.flush();
        self.checked(flushed)?;
        let failed = |e| Fault::new(format!("the answer can't be read: {e}"));
        let mut bytes = Vec::new();
        (&mut *self.input)
            .take(LONGEST_LINE)
            .read_until(b'\n', &mut bytes)
            .map_err(failed)?;
        if bytes.is_empty() {
            return Ok(None);
        }
        if bytes.last() != Some(&b'\n') && bytes.len() as u64 == LONGEST_LINE {
            // The rest of an endless line is let go, a buffer at a time.
            loop {
                let buffer = self.input.fill_buf().map_err(failed)?;
                let end = buffer.iter().position(|b| *b == b'\n');
                let (used, over) = (
                    end.map_or(buffer.len(), |e| e + 1),
                    end.is_some() || buffer.is_empty(),
                );
                self.input.consume(used);
                if over {
                    break;
                }
            }
        }
        Ok(Some(
            String::from_utf8_lossy(&bytes)
                .trim_end_matches(['\n', '\r'])
                .to_owned(),
        ))
    }
}

/// A line broken at blanks so that none is wider than `width` columns; what follows keeps the first one's indent.
/// Blanks that must not break become plain ones.
fn wrap(line: &str, width: usize) -> String {
    if line.width() <= width {
        return line.replace('\u{a0}', " ");
    }
    let indent = &line[..line.len() - line.trim_start_matches(' ').len()];
    let mut out = indent.to_owned();
    let mut column = indent.width();
    let mut first = true;
    for word in line.split(' ').filter(|w| !w.is_empty()) {
        if !first && column + 1 + word.width() > width {
            out.push('\n');
            out.push_str(indent);
            column = indent.width();
        } else if !first {
            out.push(' ');
            column += 1;
        }
        first = false;
        out.push_str(word);
        column += word.width();
    }
    out.replace('\u{a0}', " ")
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lines_are_wrapped_with_their_indent() {
        assert_eq!(wrap("  one two three", 9), "  one two\n  three");
        assert_eq!(wrap("short", 9), "short");
        assert_eq!(wrap("unbreakable-word next", 9), "unbreakable-word\nnext");
    }

    #[test]
    fn practice_seeds_differ() {
        assert!(practice_seed(1, 0) != practice_seed(1, 1));
        assert!(practice_seed(1, 0) != practice_seed(2, 0));
        assert!(practice_seed(1, 0) == practice_seed(1, 0));
    }
}
