//! Values that the program takes as given, each once: physical ones with their source, and our own
//! choices with their reason.
//!
//! Depends on: nothing.

/// A physical value and where it comes from.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Constant {
    /// The value, in `unit`.
    pub value: f64,
    /// Its unit.
    pub unit: &'static str,
    /// Who says so.
    pub source: &'static str,
}

/// Physical values.
pub mod physical {
    use super::Constant;

    /// Standard acceleration of gravity.
    pub const STANDARD_GRAVITY: Constant = Constant {
        value: 9.806_65,
        unit: "m/s^2",
        source: "3rd CGPM (1901), conventional value of g_n",
    };

    /// Standard atmosphere, taken for the air outside when a system names none.
    pub const STANDARD_ATMOSPHERE: Constant = Constant {
        value: 101_325.0,
        unit: "Pa",
        source: "10th CGPM (1954), resolution 4",
    };
}

/// Our own choices; a course may set those that its policy names.
pub mod policy {
    /// Laminar flow ends here. Reynolds number; taught as 2000, 2100 or 2300, and 2300 is the commonest.
    pub const LAMINAR_END: f64 = 2300.0;
    /// Turbulent flow is settled from here; between the two no friction factor is certain.
    pub const TURBULENT_START: f64 = 4000.0;
    /// `Re √f (ε/D)` from which flow counts as fully rough. Moody (1944), Trans. ASME 66(8), p. 676.
    pub const FULLY_ROUGH_START: f64 = 200.0;
    /// Roughness Reynolds number `u* ε/ν` below which a wall counts as smooth. Nikuradse (1933).
    pub const SMOOTH_END: f64 = 5.0;
    /// Share by which a careful reader may miss the friction factor on the chart, either way.
    ///
    /// Factors read in nine published worked examples differ from Colebrook–White by -3.8 % to +3.6 %,
    /// mostly under 2 %; Huang (2022), Sci. Rep. 12:6587, finds up to about 4 % for interpolated readings.
    pub const READING_ERROR: f64 = 0.05;
    /// The part of a reading error by which a careful reader may miss a discharge coefficient. Its charts span some
    /// tenths where a friction chart spans two decades, and books differ by about 1 %: 0.60 to 0.61 for a plate.
    pub const COEFFICIENT_READING_SHARE: f64 = 0.2;
    /// A slip's answer less than this share of the reference is printed as nought: a flow through nothing comes out as what the
    /// arithmetic leaves of it. Nine figures below what anybody writes.
    pub const NOUGHT_SHARE: f64 = 1e-12;
    /// Fewest significant figures that careful work carries from line to line. Common practice, no source.
    pub const CARRIED_FIGURES: u32 = 3;
    /// How many standard deviations of many roundings together a band holds: 99.9 % of a normal distribution lies
    /// within 3.29 of them.
    pub const ROUNDING_DEVIATIONS: f64 = 3.29;
    /// Share of careful students who always keep three figures on the way; [`ALWAYS_FOUR`] always keep four, and [`MIXED`]
    /// keep now three, now four, now all. Our choice, as all that is said here of how many do what: nobody has
    /// counted, and a band leans little on it, since it holds all but a few of the rarest.
    pub const ALWAYS_THREE: f64 = 0.5;
    /// See [`ALWAYS_THREE`].
    pub const ALWAYS_FOUR: f64 = 0.25;
    /// See [`ALWAYS_THREE`].
    pub const MIXED: f64 = 0.25;
    /// Share who read factors off the chart; the others use a formula, each of the five as often. Our choice.
    pub const READ_THE_CHART: f64 = 0.6;
    /// Share of readers who are off by as much as may be, one way or the other; the others are off by anything less,
    /// each error as often. Our choice.
    pub const AT_THE_END: f64 = 0.2;
    /// Share of readers who misread every pipe's factor alike, since the chart or the eye is to blame. Our choice.
    pub const READ_ALIKE: f64 = 0.5;
    /// Share who leave it at fully rough flow where their check allows it. Our choice.
    pub const STOP_WHEN_ROUGH: f64 = 0.5;
    /// Share who take a named fluid's properties from a table. Our choice.
    pub const FROM_A_TABLE: f64 = 0.4;
    /// Share who take another usual value of gravity than the stated one, each of them. Our choice.
    pub const ANOTHER_GRAVITY: f64 = 1.0 / 6.0;
    /// Share of answers that are handed in in the unit asked; the others are in a unit of any size. Our choice.
    pub const IN_THE_UNIT_ASKED: f64 = 0.5;
    /// Share who write down a number that the next formula could swallow as well. Our choice.
    pub const WRITE_DOWN: f64 = 0.5;
    /// Share of careful answers beyond either end of a band. Twice this many are refused, below the one in a thousand
    /// that is aimed at.
    pub const BEYOND: f64 = 3e-4;
    /// The same where a word hangs on a number: hardly any.
    pub const BEYOND_FOR_WORDS: f64 = 1e-6;
    /// Significant figures to which tables of course books print densities and viscosities. Common practice, no source.
    pub const TABLE_FIGURES: u32 = 4;
    /// Values that courses take for gravity \[m/s²\], beside the standard one. In feet 32.2 and 32.17 ft/s² are 9.815 and
    /// 9.805 m/s², each within 0.05 % of one of these. Common practice, no source.
    pub const USUAL_GRAVITIES: [f64; 2] = [9.8, 9.81];
    /// Gravity further than this share from the standard one is another planet's or place's, and no other value is
    /// usual for it. Our choice: on Earth it differs by as much as 0.3 %, but courses round what they take to 0.1 %.
    pub const USUAL_GRAVITY_SHARE: f64 = 0.002;
    /// Velocities of liquids outside this range \[m/s\] are worth a second look. Common practice, no source.
    pub const ORDINARY_VELOCITY: (f64, f64) = (0.05, 15.0);
    /// The same for gases \[m/s\]: above it compressibility begins to count (Mach 0.3 in air at room
    /// temperature, the customary limit of incompressible flow).
    pub const ORDINARY_GAS_VELOCITY: (f64, f64) = (0.1, 100.0);
    /// A fluid lighter than this \[kg/m³\] is taken for a gas when its velocity is judged.
    pub const GAS_DENSITY: f64 = 100.0;
    /// Relative roughness beyond this is outside the friction chart: it draws a warning, and none such is found.
    pub const RELATIVE_ROUGHNESS_END: f64 = 0.05;
    /// Reynolds numbers beyond this are outside the friction chart and draw a warning.
    pub const REYNOLDS_END: f64 = 1.0e8;
    /// A tank's surface, or the liquid in its pipe, may take this share of the driving head before its flow is no
    /// longer that of a steady one: half of it goes into the time. Our choice.
    pub const QUASI_STEADY_SHARE: f64 = 0.01;
    /// The hydraulic diameter alone serves turbulent flow where the effective diameter differs from it by no more
    /// than this share; beyond, an answer says that friction may be some 10 to 15 % off. It is that of a rectangle
    /// of 4 to 1, up to which textbooks let the rule stand (Fox and McDonald, Introduction to Fluid Mechanics, on
    /// noncircular ducts: from memory; the 10 to 15 % are White's, Fluid Mechanics, from memory too).
    pub const HYDRAULIC_DIAMETER_SPREAD: f64 = 0.125;
    /// Laminar flow develops within this times Re D. White, Fluid Mechanics, and others (from memory).
    pub const LAMINAR_ENTRANCE: f64 = 0.06;
    /// Turbulent flow develops within this times Re^(1/6) D. White, Fluid Mechanics, and others (from memory).
    pub const TURBULENT_ENTRANCE: f64 = 4.4;
    /// Turbulent flow is often taken as developed from this many diameters on. Common practice, no source.
    pub const TURBULENT_ENTRANCE_DIAMETERS: f64 = 10.0;
    /// An entrance longer than this share of its pipe is worth a warning. Our choice.
    pub const ENTRANCE_SHARE: f64 = 0.2;
    /// Exponents that the power law of turbulent flow is known to take: 6 at Re 4e3 to 10 at Re 3e6 (Nikuradse
    /// 1932, as in Schlichting, Boundary-Layer Theory: from memory); rough walls bring it down to some 4.
    pub const POWER_LAW_EXPONENT: (f64, f64) = (4.0, 11.0);
    /// Significant figures that worked solutions print on the way: one more than answers are usually asked to.
    pub const FIGURES: u32 = 4;
    /// Significant figures to which papers print a named fluid's properties; tables give four.
    pub const PROPERTY_FIGURES: u32 = 4;
    /// Share of a part's marks for an answer that is right given the student's own earlier ones: all of them,
    /// since the earlier part has already been marked down.
    pub const FOLLOW_THROUGH_SHARE: f64 = 1.0;
    /// Share of a part's marks for an answer that a known slip explains. Common practice, no source.
    pub const SLIP_SHARE: f64 = 0.5;
    /// An answer out of its band by less than this share of half its width is put before a person. Our choice:
    /// wide enough for an unlucky reader, narrow enough to keep the list short.
    pub const REVIEW_MARGIN: f64 = 0.25;
    /// How much longer a decade of the friction factor is drawn on the chart than a decade of the Reynolds number:
    /// 5.2 decades of the one stand over 1.1 of the other on a sheet of about 7 to 5 (Moody 1944, as commonly
    /// reprinted: from memory).
    pub const CHART_DECADES: f64 = 3.4;
    /// By how many the hand iterations of two students' draws may differ. Our choice.
    pub const ITERATION_SPREAD: u32 = 1;
    /// How many times as hard to read one student's place on the chart may be as another's. Our choice.
    pub const READING_SPREAD: f64 = 1.25;
    /// How many times as wide one student's band may be as another's, relative to the answer. Our choice. Left to themselves, over
    /// 200 draws of each built-in template, the widest is up to 8 times as wide as the narrowest, for half of what is
    /// asked 1.7 times or more. With 1.5 a class is still dealt 56 % of the sound draws, of every template 23 % at
    /// least; with 1.3 that would be 34 and 9 %, with 2 it would be 81 and 45 %.
    pub const BAND_SPREAD: f64 = 1.5;
    /// How probable each slip is, of wrong workings whose numbers were not looked at yet. Some twenty slips apply to a
    /// problem, so that they make four wrong workings in five, and each as likely as the other. Our choice.
    pub const SLIP_PRIOR: f64 = 0.04;
    /// How probable some other error is then: the fifth wrong working. Our choice.
    pub const OTHER_ERROR_PRIOR: f64 = 0.2;
    /// Another error may lead anywhere within so many decades: from a thousandth of the right number, which a wrong
    /// prefix makes, to a thousand times it. Our choice.
    pub const OTHER_ERROR_DECADES: f64 = 6.0;
    /// Of students who make a slip, the share who make it in some parts only; and of wrong numbers beyond the slip and one other error,
    /// the share that have yet another. Our choice.
    pub const SLIP_NOT_THROUGHOUT: f64 = 0.02;
    /// A slip is named when it is at least so probable. Our choice: wrong once in twenty is little for a hint.
    pub const SLIP_CERTAINTY: f64 = 0.95;
    /// Fewest wrong numbers from which two slips together are named. Some 500 pairs apply to a problem, so that two numbers lie
    /// where some pair leads by chance. Our choice, by the measure in `docs/diagnosis.md`.
    pub const PAIR_NUMBERS: usize = 3;
    /// A pair of slips is worked out only where each number lies within this factor of what the two make of it each alone,
    /// multiplied. Our choice: of pairs that moved three numbers, it passes over hardly one.
    pub const PAIR_GUESS: f64 = 2.0;
    /// How far a pair reaches is worked out only where each number lies within this share of its own. Our choice: no careful
    /// working goes as far.
    pub const PAIR_REACH: f64 = 0.4;
    /// No span is taken as narrower than this share of its number: answers are written with three or four figures.
    pub const FINEST_SPAN: f64 = 0.001;
    /// Draws over which a template is proved where nothing else is said: what happens once in 500 draws is then seen by
    /// 98 of 100 proofs. Our choice.
    pub const PROOF_DRAWS: usize = 2000;
    /// Fewest of a template's candidates that may be dealt: dealing takes the time of those that are not, and
    /// where hardly any is left, ranges and constraints contradict one another. Our choice.
    pub const LEAST_ACCEPTANCE: f64 = 0.05;
    /// Fewest different draws that a template may give: with 1,000, about one pair of students in a class of 45 has the
    /// same numbers, as with birthdays. Our choice.
    pub const LEAST_DIFFERENT: f64 = 1000.0;
    /// The greatest chance that two students' answers are all alike as printed; in a class of 100, one student in ten
    /// then has a double. Our choice.
    pub const MOST_DOUBLES: f64 = 0.001;
    /// Widest band that a part's middle draw may have, over its answer. A wall's roughness that is had from a measured loss,
    /// by reading the chart backwards, is left open by some 60 %; a number that is left more open than that tells little of
    /// who worked carefully. Our choice.
    pub const WIDEST_BAND: f64 = 0.75;
    /// Share of draws in which two listed slips may lead to the same numbers in every part. Our choice.
    pub const MOST_INSEPARABLE: f64 = 0.5;
    /// The line that every paper carries.
    pub const CAUTION: &str =
        "Values are for coursework only. Real work follows local codes and licensed practice.";
}
