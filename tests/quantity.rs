//! Quantities from outside: printed conversion factors, the ways in which students write, and texts that
//! mean nothing or two things.

use gradeline::quantity::{
    DecimalMark, Dimension, PressureReference, QuantityError, Shown, Unit, Written, round_to_figures,
};
use proptest::prelude::*;

fn read(text: &str) -> Written {
    Written::parse(text).unwrap_or_else(|error| panic!("`{text}` was refused: {error}"))
}

fn refused(text: &str) -> QuantityError {
    match Written::parse(text) {
        Ok(written) => panic!("`{text}` was read as {written:?}"),
        Err(error) => error,
    }
}

fn close(left: f64, right: f64) -> bool {
    (left - right).abs() <= 4.0 * f64::EPSILON * left.abs().max(right.abs())
}

/// NIST SP 811 (2008), appendix B.8: factors as printed there, to seven digits.
#[test]
fn factors_agree_with_the_printed_table() {
    let rows = [
        ("in", 2.54e-2),
        ("ft", 3.048e-1),
        ("yd", 9.144e-1),
        ("mi", 1.609_344e3),
        ("ha", 1.0e4),
        ("ft^2", 9.290_304e-2),
        ("in^2", 6.4516e-4),
        ("ft^3", 2.831_685e-2),
        ("in^3", 1.638_706e-5),
        ("gal", 3.785_412e-3),
        ("imp gal", 4.546_09e-3),
        ("gpm", 6.309_020e-5),
        ("gpd", 4.381_264e-8),
        ("ft^3/s", 2.831_685e-2),
        ("ft^3/min", 4.719_474e-4),
        ("cfs", 2.831_685e-2),
        ("cfm", 4.719_474e-4),
        ("L", 1.0e-3),
        ("lbm", 4.535_924e-1),
        ("slug", 1.459_390e1),
        ("t", 1.0e3),
        ("lbf", 4.448_222),
        ("kgf", 9.806_65),
        ("dyn", 1.0e-5),
        ("psi", 6.894_757e3),
        ("lbf/ft^2", 4.788_026e1),
        ("psf", 4.788_026e1),
        ("bar", 1.0e5),
        ("mbar", 1.0e2),
        ("atm", 1.013_25e5),
        ("Torr", 1.333_224e2),
        ("mmHg", 1.333_224e2),
        ("inHg", 3.386_389e3),
        ("mmH2O", 9.806_65),
        ("cmH2O", 9.806_65e1),
        ("inH2O", 2.490_889e2),
        ("ftH2O", 2.989_067e3),
        ("hp", 7.456_999e2),
        ("metric hp", 7.354_988e2),
        ("ft*lbf", 1.355_818),
        ("ft*lbf/s", 1.355_818),
        ("kWh", 3.6e6),
        ("cP", 1.0e-3),
        ("P", 1.0e-1),
        ("cSt", 1.0e-6),
        ("St", 1.0e-4),
        ("lbf*s/ft^2", 4.788_026e1),
        ("lbm/(ft*s)", 1.488_164),
        ("slug/(ft*s)", 4.788_026e1),
        ("ft^2/s", 9.290_304e-2),
        ("lbm/ft^3", 1.601_846e1),
        ("slug/ft^3", 5.153_788e2),
        ("lbm/s", 4.535_924e-1),
        ("ft/s", 3.048e-1),
        ("ft/min", 5.08e-3),
        ("km/h", 2.777_778e-1),
        ("mph", 4.4704e-1),
        ("kt", 5.144_444e-1),
        ("min", 60.0),
        ("h", 3.6e3),
        ("d", 8.64e4),
        ("deg", 1.745_329e-2),
    ];
    for (text, printed) in rows {
        let unit = Unit::parse(text).unwrap_or_else(|error| panic!("{text}: {error}"));
        assert!(
            (unit.factor - printed).abs() <= 5.1e-7 * printed,
            "{text}: {} is not {printed}",
            unit.factor
        );
    }
}

/// The same factors from their definitions, beyond the digits that are printed.
/// SP 811 B.8: 1 lb = 0.45359237 kg, 1 in = 0.0254 m, g_n = 9.80665 m/s², 1 gal = 231 in³.
#[test]
fn factors_are_exact() {
    // psi: 44482216152605e-13 N / 64516e-8 m², by long division.
    assert_eq!(Unit::parse("psi").unwrap().factor, 6_894.757_293_168_362);
    // gpm: 3785411784e-12 m³ / 60 s is a finite decimal.
    assert_eq!(Unit::parse("gpm").unwrap().factor, 6.309_019_64e-5);
    assert_eq!(Unit::parse("gal/min").unwrap().factor, 6.309_019_64e-5);
    assert_eq!(Unit::parse("gal").unwrap().factor, 3.785_411_784e-3);
    assert_eq!(Unit::parse("cfs").unwrap().factor, 0.028_316_846_592);
    assert_eq!(Unit::parse("lbf").unwrap().factor, 4.448_221_615_260_5);
    assert!(close(Unit::parse("hp").unwrap().factor, 745.699_871_582_270_2));
    assert_eq!(Unit::parse("metric hp").unwrap().factor, 735.498_75);
    assert_eq!(Unit::parse("mmHg").unwrap().factor, 133.322_387_415);
    assert_eq!(Unit::parse("mH2O").unwrap().factor, 9806.65);
    // With the one foot that is left since 2023: 43 560 * 0.3048³ m³.
    assert!(close(Unit::parse("ac-ft").unwrap().factor, 1_233.481_837_547_52));
    assert_eq!(Unit::parse("L/s").unwrap().factor, 1e-3);
    assert_eq!(Unit::parse("mm^3/s").unwrap().factor, 1e-9);
    assert_eq!(Unit::parse("um").unwrap().factor, 1e-6);
}

#[test]
fn temperatures_have_their_zero() {
    assert_eq!(read("20 degC").quantity().value, 293.15);
    assert!(close(read("32 °F").quantity().value, 273.15));
    assert!(close(
        read("-40 degF").quantity().value,
        read("-40 °C").quantity().value
    ));
    assert!(close(read("527.67 degR").quantity().value, 293.15));
    assert_eq!(read("293.15 K").quantity().value, 293.15);
    assert_eq!(read("20 deg C").unit, read("20°C").unit);
    assert_eq!(read("20 ℃").unit, read("20 degrees Celsius").unit);
    assert!(refused("3 W/(m degC)").mend.unwrap().contains("`K`"));
}

#[test]
fn gauge_and_absolute_are_tags() {
    use PressureReference::{Absolute, Gauge};
    let plain = read("350 kPa").unit;
    assert_eq!(plain.reference, None);
    for (text, reference) in [
        ("350 kPa gauge", Gauge),
        ("350 kPa (gauge)", Gauge),
        ("350 kPa gage", Gauge),
        ("350 kPa(g)", Gauge),
        ("350 kPag", Gauge),
        ("350 kPa abs", Absolute),
        ("350 kPa abs.", Absolute),
        ("350 kPa (abs)", Absolute),
        ("350 kPa absolute", Absolute),
        ("350 kPaa", Absolute),
        ("3.5 bar(g)", Gauge),
        ("3.5 barg", Gauge),
        ("3.5 bar g", Gauge),
        ("3.5 bara", Absolute),
        ("50 psig", Gauge),
        ("50 psi gauge", Gauge),
        ("50 psia", Absolute),
        ("50 lbf/in^2 abs", Absolute),
    ] {
        let written = read(text);
        assert_eq!(written.unit.reference, Some(reference), "{text}");
        assert_eq!(written.unit.offset, 0.0, "{text}");
        assert_eq!(
            Unit::parse(&written.unit.ascii()).unwrap(),
            written.unit,
            "{text}"
        );
    }
    assert_eq!(read("350 kPa gauge").unit.factor, plain.factor);
    assert_eq!(read("350 kPag").unit, read("350 kPa(g)").unit);
    assert_eq!(read("50 psig").unit, read("50 psi(g)").unit);
    assert!(refused("3 m abs").what.contains("only a pressure"));
    assert!(refused("3 psig abs").what.contains("both"));
    assert!(refused("3 psig/m").what.contains("alone"));
}

/// Each text, its SI value, its figures.
#[test]
fn the_ways_in_which_people_write() {
    let gpm = 231.0 * 0.0254 * 0.0254 * 0.0254 / 60.0;
    let psi = 6_894.757_293_168_362;
    let rows: &[(&str, f64, u32)] = &[
        ("2.5 L/s", 2.5e-3, 2),
        ("2.50 L/s", 2.5e-3, 3),
        ("40 gpm", 40.0 * gpm, 2),
        ("1.62e-3 m^3/s", 1.62e-3, 3),
        ("1.62E-03 m^3/s", 1.62e-3, 3),
        ("0,0016 m³/s", 1.6e-3, 2),
        ("1.6×10⁻³ m3/s", 1.6e-3, 2),
        ("1.6 × 10⁻³ m3/s", 1.6e-3, 2),
        ("1.6x10^-3 m3/s", 1.6e-3, 2),
        ("1,6 x 10^-3 m3/s", 1.6e-3, 2),
        ("1.6*10^-3 m3/s", 1.6e-3, 2),
        ("1.6*10**-3 m**3/s", 1.6e-3, 2),
        ("1.6·10^(-3) m^3/s", 1.6e-3, 2),
        ("1.6\\times 10^{-3} m^{3}/s", 1.6e-3, 2),
        ("1.6x10-3 m3/s", 1.6e-3, 2),
        ("1.6×10−3 m3/s", 1.6e-3, 2),
        ("10^-3 m^3/s", 1e-3, 1),
        ("10⁻³ m³/s", 1e-3, 1),
        ("10 m", 10.0, 2),
        ("1.6x10 m", 16.0, 2),
        ("12 psi", 12.0 * psi, 2),
        ("350 kPa", 350e3, 3),
        ("75 mm", 0.075, 2),
        ("1 1/2 in", 0.0381, 3),
        ("1-1/2 in", 0.0381, 3),
        ("1½ in", 0.0381, 3),
        ("1 ½ in", 0.0381, 3),
        ("1 9/16 in", 0.0396875, 5),
        ("3/4 in", 0.01905, 3),
        ("3⁄4 in", 0.01905, 3),
        ("¾\"", 0.01905, 3),
        ("2/3 m", 2.0 / 3.0, 3),
        ("-1 1/2 in", -0.0381, 3),
        ("-3.2 m", -3.2, 2),
        ("−3.2 m", -3.2, 2),
        ("– 3.2 m", -3.2, 2),
        ("+3.2 m", 3.2, 2),
        ("1 200 kPa", 1.2e6, 4),
        ("1\u{a0}200 kPa", 1.2e6, 4),
        ("1\u{202f}200\u{2009}kPa", 1.2e6, 4),
        ("1,200.5 kPa", 1_200_500.0, 5),
        ("1.200,5 kPa", 1_200_500.0, 5),
        ("1 200,5 kPa", 1_200_500.0, 5),
        ("1,200,000 Pa", 1.2e6, 7),
        ("1.200.000 Pa", 1.2e6, 7),
        ("12'000 Pa", 12e3, 5),
        ("12’000 Pa", 12e3, 5),
        ("0,016 m", 0.016, 2),
        ("0.001 620 m3/s", 1.62e-3, 4),
        ("1.200 m", 1.2, 4),
        ("1234,567 m", 1234.567, 7),
        ("12,5 m", 12.5, 3),
        (".5 m", 0.5, 1),
        (",5 m", 0.5, 1),
        ("5. m", 5.0, 1),
        ("007 m", 7.0, 1),
        ("2.5L/s", 2.5e-3, 2),
        ("1.62e-3m^3/s", 1.62e-3, 3),
        ("Q = 2.5 L/s", 2.5e-3, 2),
        ("Q=2.5 L/s.", 2.5e-3, 2),
        ("V_2 = Q/A = 5.4 m/s", 5.4, 2),
        ("flow: 2.5 L/s", 2.5e-3, 2),
        ("= 2.5 L/s", 2.5e-3, 2),
        ("≈2.5 L/s", 2.5e-3, 2),
        ("Q ≈ 2.5 L/s", 2.5e-3, 2),
        ("~ 2.5 L/s", 2.5e-3, 2),
        ("about 2.5 L/s", 2.5e-3, 2),
        ("Approx. 2.5 L/s", 2.5e-3, 2),
        ("ca. 2.5 L/s", 2.5e-3, 2),
        ("  2.5\tL/s \n", 2.5e-3, 2),
        ("5 ft 6 in", 1.6764, 3),
        ("5 ft 6 1/2 in", 1.6891, 3),
        ("-5 ft 6 in", -1.6764, 3),
        ("0 ft 6 in", 0.1524, 3),
        ("5' 6\"", 1.6764, 3),
        ("5'6\"", 1.6764, 3),
        ("1 h 30 min", 5400.0, 3),
        ("0.02", 0.02, 1),
        ("0.0200", 0.02, 3),
        ("1e5", 1e5, 1),
        ("1.2E+05", 1.2e5, 2),
        ("62 %", 0.62, 2),
        ("62%", 0.62, 2),
        ("0 m", 0.0, 1),
        ("0.00 m", 0.0, 3),
        ("-0 m", 0.0, 1),
        ("30°", 30.0 * std::f64::consts::PI / 180.0, 2),
        ("0.02 -", 0.02, 1),
        ("5 1/s", 5.0, 1),
        ("5/s", 5.0, 1),
    ];
    for (text, si, figures) in rows {
        let written = read(text);
        let value = written.quantity().value;
        assert!(close(value, *si), "`{text}` gave {value}, not {si}");
        assert_eq!(written.figures, *figures, "figures of `{text}`");
        assert!(
            close(written.shown.value(), written.number),
            "`{text}` prints {} for {}",
            written.shown.ascii(),
            written.number
        );
        assert_eq!(
            read(&written.ascii()).quantity(),
            written.quantity(),
            "`{text}` printed"
        );
        assert_eq!(
            read(&written.plain(DecimalMark::Point)).quantity(),
            written.quantity(),
            "`{text}` printed"
        );
    }
}

#[test]
fn unit_texts_that_mean_the_same() {
    let groups: &[(&str, Dimension, &[&str])] = &[
        (
            "m³/s",
            Dimension::FLOW,
            &[
                "m^3/s",
                "m3/s",
                "m**3/s",
                "m³·s⁻¹",
                "m3 s-1",
                "m^3 s^-1",
                "m3.s-1",
                "m^{3}/s",
                "[m³/s]",
                "(m^3)/s",
                "cubic meters per second",
                "cubic metre/second",
                "m³/sec",
                "m^3 / s",
                "m³∕s",
                "meters cubed per second",
                "cu m/s",
            ],
        ),
        (
            "L/s",
            Dimension::FLOW,
            &[
                "l/s",
                "lps",
                "LPS",
                "litres/second",
                "liters per second",
                "Litres per second",
                "L s^-1",
                "ℓ/s",
                "dm^3/s",
                "L/sec",
            ],
        ),
        (
            "gpm",
            Dimension::FLOW,
            &[
                "GPM",
                "gal/min",
                "gallons per minute",
                "US gpm",
                "US gal/min",
                "gal./min.",
            ],
        ),
        (
            "imp gpm",
            Dimension::FLOW,
            &["imp gal/min", "imperial gallons per minute", "Imp. gal/min"],
        ),
        (
            "m³/h",
            Dimension::FLOW,
            &["m3/h", "m^3/hr", "cubic metres per hour", "m³ h⁻¹"],
        ),
        (
            "cfs",
            Dimension::FLOW,
            &["ft3/s", "ft^3/s", "cu ft/s", "cubic feet per second", "CFS"],
        ),
        (
            "Pa·s",
            Dimension::DYNAMIC_VISCOSITY,
            &[
                "Pa*s",
                "Pa.s",
                "Pa s",
                "Pa-s",
                "N s/m^2",
                "N·s/m²",
                "kg/(m s)",
                "kg/(m·s)",
                "kg/m/s",
                "kg m^-1 s^-1",
                "Pas",
            ],
        ),
        ("N·m", Dimension::ENERGY, &["N.m", "N m", "Nm", "N*m", "J", "N-m"]),
        (
            "psi",
            Dimension::PRESSURE,
            &["PSI", "lbf/in^2", "lbf/in2", "lbf/in.^2", "lbf/sq in"],
        ),
        ("mmHg", Dimension::PRESSURE, &["mm Hg", "mm of mercury"]),
        (
            "inHg",
            Dimension::PRESSURE,
            &["in Hg", "in. Hg", "inches of mercury"],
        ),
        ("mmH₂O", Dimension::PRESSURE, &["mmH2O", "mm H2O", "kgf/m^2"]),
        (
            "ftH₂O",
            Dimension::PRESSURE,
            &["ft H2O", "feet of water", "ft of water"],
        ),
        (
            "µm",
            Dimension::LENGTH,
            &["um", "\u{3bc}m", "\u{b5}m", "micrometers", "micrometre"],
        ),
        ("in", Dimension::LENGTH, &["inch", "inches", "in.", "\"", "″"]),
        (
            "m/s²",
            Dimension::ACCELERATION,
            &[
                "m/s^2",
                "m/s2",
                "m/s/s",
                "m s-2",
                "meters per second squared",
                "N/kg",
            ],
        ),
        (
            "1/s",
            Dimension::RATE,
            &["s^-1", "s⁻¹", "/s", "Hz", "per second", "1/(s)"],
        ),
        ("rpm", Dimension::RATE, &["RPM", "rev/min", "1/min"]),
        (
            "ft·lbf/s",
            Dimension::POWER,
            &["ft lbf/s", "ft-lbf/s", "ft*lbf/s"],
        ),
        ("lbm/ft³", Dimension::DENSITY, &["lbm/ft^3", "lb_m/cu ft"]),
        (
            "",
            Dimension::NONE,
            &["", "-", "[-]", "1", "m/m", "dimensionless"],
        ),
        (
            "ac·ft",
            Dimension::VOLUME,
            &["ac-ft", "acre-ft", "acre-feet", "acre feet"],
        ),
    ];
    for (symbol, dimension, texts) in groups {
        let first = Unit::parse(symbol).unwrap_or_else(|error| panic!("`{symbol}`: {error}"));
        assert_eq!(first.symbol, *symbol);
        assert_eq!(first.dimension, *dimension, "{symbol}");
        for text in *texts {
            let unit = Unit::parse(text).unwrap_or_else(|error| panic!("`{text}`: {error}"));
            assert_eq!(unit.dimension, *dimension, "{text}");
            assert!(close(unit.factor, first.factor), "{text}: {}", unit.factor);
        }
    }
}

#[test]
fn roots_in_units_stay_exact() {
    let manning = Unit::parse("s/m^(1/3)").unwrap();
    assert_eq!(
        manning.dimension,
        Dimension::TIME / Dimension::LENGTH.power(1, 3).unwrap()
    );
    assert_eq!(Unit::parse(&manning.ascii()).unwrap(), manning);
    assert_eq!(manning.latex(), "\\mathrm{s/m^{1/3}}");
    assert_eq!(
        Unit::parse("m^0.5/s").unwrap().dimension,
        Unit::parse("m^(1/2)/s").unwrap().dimension
    );
    assert!(Unit::parse("m^0.3").is_err());
}

/// Two readings: both are told, none is taken.
#[test]
fn two_readings_are_refused() {
    let error = refused("1,200 kPa");
    assert!(error.what.contains("1200") && error.what.contains("two ways"));
    assert_eq!(error.mend.unwrap(), "write `1200` or `1.200`");
    assert!(refused("12,500 m").what.contains("two ways"));
    let error = refused("3 kg/m s");
    assert!(error.what.contains("two ways"));
    assert_eq!(
        error.mend.unwrap(),
        "write `kg/(m s)` if `s` stands below the line, or `kg s/m`"
    );
    // What is no unit has no place in it.
    assert_eq!(
        refused("3 m/s – rather fast").what,
        "`– rather fast` in `m/s – rather fast` is not a unit"
    );
    assert_eq!(
        refused("3 m/s quick").what,
        "`quick` in `m/s quick` is not a unit"
    );
    assert!(refused("3 J/kg.K").what.contains("two ways"));
    assert!(refused("3 J/kg·K").what.contains("two ways"));
    assert!(refused("1.6x103 m").what.contains("two ways"));
    assert!(refused("2 lb").what.contains("mass or a force"));
    assert!(refused("2 lb/ft^3").what.contains("mass or a force"));
    assert!(refused("2 ton").what.contains("several"));
    assert!(refused("2 = 3 m").what.contains("more than one"));
    assert!(
        refused("Q = 2.5 L/s = 0.0025 m^3/s")
            .what
            .contains("more than one")
    );
}

#[test]
fn those_who_write_commas_are_understood() {
    let comma = |text: &str| Written::parse_in(text, DecimalMark::Comma);
    assert_eq!(comma("1,200 kPa").unwrap().number, 1.2);
    assert_eq!(comma("1,200 kPa").unwrap().figures, 4);
    assert_eq!(comma("2,5 L/s").unwrap().number, 2.5);
    assert_eq!(comma("1.200,5 kPa").unwrap().number, 1200.5);
    assert_eq!(comma("2.5 L/s").unwrap().number, 2.5);
    assert_eq!(comma("0.016 m").unwrap().number, 0.016);
    let error = comma("1.200 kPa").unwrap_err();
    assert!(error.what.contains("two ways"));
    assert_eq!(error.mend.unwrap(), "write `1200` or `1,200`");
}

/// A slip of the finger gets an offer, never a guess.
#[test]
fn near_misses_are_offered() {
    for (text, offer) in [
        ("3 gmp", "`gpm`"),
        ("3 mpa", "`MPa` or `mPa`"),
        ("3 kpa", "`kPa`"),
        ("3 KW", "`kW`"),
        ("3 M", "`m`"),
        ("3 M3/s", "`m`"),
        ("3 m3/S", "`s`"),
        ("3 litrs/s", "`liters`"),
    ] {
        let mend = refused(text).mend.unwrap_or_default();
        assert!(mend.contains(offer), "`{text}`: {mend}");
    }
}

#[test]
fn what_is_no_quantity_is_refused() {
    for text in [
        "",
        "   ",
        "m",
        "L/s",
        "nan",
        "NaN m",
        "inf",
        "∞ m",
        "-",
        "=",
        "Q =",
        "e5",
        "x",
        "2.5 2.5",
        "2.5 L/s 3",
        "1e400 m",
        "1e-400 m",
        "1e99999999999 m",
        "1/0 in",
        "1 1/0 in",
        "1 3/2 in",
        "2 ± 1 m",
        "2 - 3 m",
        "2 to 3 m",
        "2–3 m",
        "2..3 m",
        "1,2.5 m",
        "1.2.3 m",
        "12,34,567 m",
        "1,2,3 m",
        "0,200,000 m",
        "2,, m",
        "2.5 L//s",
        "2.5 L/",
        "2.5 /",
        "2.5 (m",
        "2.5 m)",
        "2.5 [m)",
        "2.5 m^",
        "2.5 m^x",
        "2.5 m^99999999999",
        "2.5 m^(1/0)",
        "2.5 m^-",
        "2.5 ²",
        "2.5 m²²²²²²²²²²²²",
        "<5 m",
        "> 5 m",
        "5 ft 13 in",
        "5.5 ft 6 in",
        "-0 ft 6 in",
        "5 ft 6 s",
        "5 kg 6 g",
        "#",
        "$5",
        "2.5 L/s?",
        "2.5 or 3",
        "=1+1",
        "2.5 m 3",
        "1'00 m",
        "((((((((((m",
    ] {
        let error = refused(text);
        assert!(!error.what.is_empty(), "{text}");
    }
    let long = format!("2.5 {}", "m".repeat(300));
    assert!(refused(&long).what.contains("longer"));
    assert!(Unit::parse(&"m".repeat(300)).is_err());
    assert!(Unit::parse(&"m ".repeat(30)).is_err());
    assert!(Unit::parse("GPa^12 GPa^12 GPa^12 GPa^12").is_err());
}

#[test]
fn printing() {
    let flow = Unit::parse("m3/s").unwrap();
    let written = Written::from_si(0.0016, &flow, 3);
    assert_eq!(written.plain(DecimalMark::Comma), "0,00160 m³/s");
    assert_eq!(written.latex(DecimalMark::Point), "0.00160\\,\\mathrm{m^{3}/s}");
    assert_eq!(written.ascii(), "0.00160 m^3/s");
    let written = Written::from_si(2.5e-4, &flow, 3);
    assert_eq!(written.plain(DecimalMark::Point), "2.50×10⁻⁴ m³/s");
    assert_eq!(
        written.latex(DecimalMark::Comma),
        "2{,}50\\times 10^{-4}\\,\\mathrm{m^{3}/s}"
    );
    assert_eq!(written.ascii(), "2.50e-4 m^3/s");
    let latex = |text: &str| read(text).latex(DecimalMark::Point);
    assert_eq!(latex("2.50 L/s"), "2.50\\,\\mathrm{L/s}");
    assert_eq!(latex("20 degC"), "20\\,^{\\circ}\\mathrm{C}");
    assert_eq!(latex("62 %"), "62\\,\\mathrm{\\%}");
    assert_eq!(latex("30 deg"), "30^{\\circ}");
    assert_eq!(latex("45 um"), "45\\,\\mathrm{\\mu{}m}");
    assert_eq!(latex("1.0e-3 Pa.s"), "1.0\\times 10^{-3}\\,\\mathrm{Pa{\\cdot}s}");
    assert_eq!(latex("5 mmH2O"), "5\\,\\mathrm{mmH_{2}O}");
    assert_eq!(latex("5 s^-1"), "5\\,\\mathrm{s^{-1}}");
    assert_eq!(latex("5 kPa abs"), "5\\,\\mathrm{kPa\\ abs}");
    assert_eq!(latex("-3.2"), "-3.2");
    assert_eq!(read("-3.2 m").plain(DecimalMark::Point), "−3.2 m");
    assert_eq!(read("-3.2 m").ascii(), "-3.2 m");
    assert_eq!(read("30 deg").plain(DecimalMark::Point), "30°");
}

#[test]
fn a_printed_number_is_the_number_kept() {
    let unit = Unit::parse("gpm").unwrap();
    let written = Written::from_si(0.002_531_7, &unit, 3);
    assert_eq!(written.number, 40.1);
    assert_eq!(written.ascii(), "40.1 gpm");
    let warm = Written::from_si(293.15 + 0.04, &Unit::parse("degC").unwrap(), 3);
    assert_eq!(warm.number, 20.0);
    assert_eq!(warm.ascii(), "20.0 degC");
}

/// Rows: value, figures, plain text.
#[test]
fn figures_and_powers_of_ten() {
    for (value, figures, text) in [
        (2.675, 3, "2.68"),
        (-2.675, 3, "−2.68"),
        (1.005, 3, "1.01"),
        (0.5, 1, "0.5"),
        (2.5, 1, "3"),
        (1.0 - 1e-16, 3, "1.00"),
        (9.996, 3, "10.0"),
        (99_996.0, 4, "1.000×10⁵"),
        (350.0, 3, "350"),
        (350.0, 2, "3.5×10²"),
        (350.0, 4, "350.0"),
        (101_325.0, 4, "1.013×10⁵"),
        (12_345.0, 5, "12345"),
        (12_345.0, 3, "1.23×10⁴"),
        (99_999.0, 5, "99999"),
        (100_000.0, 6, "1.00000×10⁵"),
        (0.001, 3, "0.00100"),
        (0.000_999_6, 3, "0.00100"),
        (0.000_999_4, 3, "9.99×10⁻⁴"),
        (0.0234, 2, "0.023"),
        (1e-300, 2, "1.0×10⁻³⁰⁰"),
        (0.0, 3, "0"),
        (-0.0, 3, "0"),
        (0.1 + 0.2, 17, "0.30000000000000004"),
        (7.0, 0, "7"),
        (7.0, 99, "7.0000000000000000"),
    ] {
        assert_eq!(
            Shown::new(value, figures).plain(DecimalMark::Point),
            text,
            "{value} with {figures} figures"
        );
    }
    assert_eq!(round_to_figures(2.675, 3), 2.68);
    assert_eq!(round_to_figures(-0.012_345, 4), -0.012_35);
    // Rounding up would leave the range of numbers.
    assert_eq!(round_to_figures(f64::MAX, 2), f64::MAX);
    assert!(round_to_figures(f64::NAN, 3).is_nan());
    assert_eq!(Shown::new(f64::INFINITY, 3).plain(DecimalMark::Comma), "inf");
}

const COMMON: &[&str] = &[
    "m",
    "mm",
    "in",
    "ft",
    "L/s",
    "gpm",
    "m^3/s",
    "m3/h",
    "cfs",
    "cfm",
    "kPa",
    "psi",
    "psig",
    "psia",
    "bar",
    "barg",
    "kPa abs",
    "mmHg",
    "inHg",
    "mmH2O",
    "degC",
    "degF",
    "degR",
    "K",
    "kg/m^3",
    "lbm/ft^3",
    "slug/ft^3",
    "Pa.s",
    "cP",
    "cSt",
    "m^2/s",
    "kW",
    "hp",
    "metric hp",
    "kWh",
    "m/s",
    "ft/s",
    "m/s^2",
    "ac-ft",
    "imp gal/min",
    "rpm",
    "%",
    "deg",
    "s/m^(1/3)",
    "kg/(m s)",
    "lps",
    "Nm",
    "1/(s K)",
    "um",
    "",
];

proptest! {
    /// What is printed reads back as the same number in the same unit.
    #[test]
    fn printed_text_reads_back(
        mantissa in -1.0..1.0f64, ten in -12i32..12, figures in 1u32..17, unit in 0..COMMON.len(),
    ) {
        let unit = Unit::parse(COMMON[unit]).unwrap();
        let si = unit.to_si(mantissa * libm::pow(10.0, f64::from(ten)));
        let written = Written::from_si(si, &unit, figures);
        for text in [
            written.ascii(),
            written.plain(DecimalMark::Point),
        ] {
            let back = Written::parse(&text);
            prop_assert!(back.is_ok(), "`{}`: {:?}", text, back);
            let back = back.unwrap();
            prop_assert_eq!(back.number, written.number, "`{}`", text);
            prop_assert_eq!(&back.unit, &written.unit, "`{}`", text);
            prop_assert_eq!(&back.shown, &written.shown, "`{}`", text);
        }
        // With a comma it reads back for those who write commas, and never as another number.
        let text = written.plain(DecimalMark::Comma);
        let back = Written::parse_in(&text, DecimalMark::Comma);
        prop_assert!(back.is_ok(), "`{}`: {:?}", text, back);
        prop_assert_eq!(back.unwrap().number, written.number, "`{}`", text);
        if let Ok(back) = Written::parse(&text) {
            prop_assert_eq!(back.number, written.number);
        }
    }

    /// Rounding moves a value by no more than half of the last figure, and only once.
    #[test]
    fn rounding_is_near_and_settles(mantissa in 1.0..10.0f64, ten in -30i32..30, figures in 1u32..15) {
        let value = mantissa * libm::pow(10.0, f64::from(ten));
        let rounded = round_to_figures(value, figures);
        let last = libm::pow(10.0, f64::from(ten + 1 - figures as i32));
        prop_assert!((rounded - value).abs() <= 0.500_001 * last + 1e-14 * value);
        prop_assert_eq!(round_to_figures(rounded, figures), rounded);
        prop_assert_eq!(Shown::new(value, figures).value(), rounded);
        prop_assert_eq!(round_to_figures(-value, figures), -rounded);
    }

    #[test]
    fn no_text_panics(text in "\\PC*") {
        let _ = Written::parse(&text);
        let _ = Unit::parse(&text);
    }

    /// Texts made of what the reader looks for reach deeper than random ones.
    #[test]
    fn no_likely_text_panics(text in proptest::collection::vec(
        prop_oneof![
            Just("1"), Just("0"), Just("200"), Just("10"), Just("."), Just(","), Just(" "), Just("'"), Just("/"), Just("e"),
            Just("-"), Just("−"), Just("×"), Just("x"), Just("10^"), Just("⁻³"), Just("½"), Just("m"), Just("L"), Just("s"),
            Just("kPa"), Just("("), Just(")"), Just("g"), Just("a"), Just("abs"), Just("^"), Just("**"), Just("*"), Just("·"),
            Just("°"), Just("C"), Just("in"), Just("Hg"), Just("per"), Just("cubic"), Just("squared"), Just("%"), Just("="),
            Just("≈"), Just("\u{a0}"), Just("H"), Just("2O"), Just("of"), Just("{"), Just("}"), Just("\\times"), Just("ft"),
        ], 0..14))
    {
        let text = text.concat();
        if let Ok(written) = Written::parse(&text) {
            prop_assert!(written.number.is_finite());
            let back = Written::parse(&written.ascii());
            prop_assert!(back.is_ok(), "`{}` printed as `{}`: {:?}", text, written.ascii(), back);
            let back = back.unwrap();
            prop_assert_eq!(back.number, written.number, "`{}` printed as `{}`", text, written.ascii());
            prop_assert_eq!(back.unit.dimension, written.unit.dimension);
            prop_assert!(close(back.unit.factor, written.unit.factor));
        }
    }
}

/// What the guide promises is so.
#[test]
fn every_unit_and_number_of_the_guide_is_read() {
    let guide = include_str!("../docs/units.md");
    let (numbers, units) = guide.split_once("## Units").unwrap();
    let cells = |part: &'static str, column: usize| {
        part.lines()
            .filter(|line| {
                line.starts_with("| ") && !line.starts_with("| for") && !line.starts_with("| written")
            })
            .flat_map(move |line| {
                let cell = line.split('|').nth(column).unwrap();
                cell.split('`').skip(1).step_by(2)
            })
    };
    let mut count = 0;
    for number in cells(numbers, 1) {
        read(number);
        count += 1;
    }
    assert!(count > 20, "the table of numbers was not found: {count}");
    for unit in cells(units, 2) {
        Unit::parse(unit).unwrap_or_else(|error| panic!("`{unit}`: {error}"));
        count += 1;
    }
    assert!(count > 80, "the table of units was not found: {count}");
    for refused_text in ["1,200 m", "1 lb", "1 ton", "1 kg/m s"] {
        refused(refused_text);
    }
}

#[test]
fn a_price_for_each_unit_is_written_as_one_and_read_back() {
    for text in ["0.12/kWh", "0.12 1/kWh", "0.12 /kWh"] {
        let price = Written::parse(text).unwrap();
        assert_eq!(price.plain(DecimalMark::Point), "0.12/kWh", "{text}");
        assert_eq!(price.latex(DecimalMark::Point), r"0.12\mathrm{/kWh}", "{text}");
        assert!(
            (price.quantity().value * 3.6e6 / 0.12 - 1.0).abs() < 1e-15,
            "{text}"
        );
        assert_eq!(
            Written::parse(&price.ascii()).unwrap().quantity(),
            price.quantity()
        );
    }
    assert!(Written::parse("3/4/5").is_err());
    assert!(Written::parse("3 /").is_err());
}

/// Rounding what is printed must not come to another number than rounding the value itself.
#[test]
fn a_number_that_is_to_be_rounded_again_has_the_figures_for_it() {
    let kilo = Unit::parse("kPa").unwrap();
    for (si, text) in [
        (19_948.0, "19.948 kPa"),
        (19_952.0, "19.95 kPa"),
        (19_943.0, "19.94 kPa"),
        (160_460.0, "160.46 kPa"),
        (19_496.0, "19.496 kPa"),
        (-19_948.0, "-19.948 kPa"),
    ] {
        let written = Written::to_be_rounded(si, &kilo, 4);
        assert_eq!(written.ascii(), text);
        let third = |number: f64| gradeline::quantity::round_to_figures(number, 3);
        assert_eq!(third(written.number), third(si / 1000.0), "{text}");
    }
}
