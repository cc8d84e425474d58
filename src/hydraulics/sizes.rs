//! Nominal sizes of steel pipe: outside diameters and walls by standard, and the next size up from a bore.

/// One size of a series.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Size {
    /// Nominal pipe size in inches, as it is said: `1 1/4`; in EN 10255 the size of the pipe's thread.
    pub inches: &'static str,
    /// Nominal diameter DN.
    pub nominal_diameter: u32,
    /// Outside diameter \[mm\].
    pub outside_mm: f64,
    /// Wall \[mm\].
    pub wall_mm: f64,
    /// By what it goes.
    by: By,
}

/// By what a size is called, and in what its standard measures it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum By {
    /// By its NPS, measured in millimetres.
    Nps,
    /// By its NPS, measured in inches.
    Inches,
    /// By its DN.
    Dn,
}

impl Size {
    /// Inner diameter \[m\].
    pub fn bore(&self) -> f64 {
        // Hundredths of a millimetre or thousandths of an inch are what the standards give; whole numbers of them keep the
        // bore exact.
        let whole = |by: f64| libm::round(by * self.outside_mm) - 2.0 * libm::round(by * self.wall_mm);
        match self.by {
            By::Nps | By::Dn => whole(100.0) / 1e5,
            By::Inches => whole(1000.0 / 25.4) * 0.0254 / 1e3,
        }
    }

    /// What it is called: `NPS 2 (DN 50)`, `NPS 2` or `DN 50`.
    pub fn name(&self) -> String {
        match self.by {
            By::Nps => format!("NPS {} (DN {})", self.inches, self.nominal_diameter),
            By::Inches => format!("NPS {}", self.inches),
            By::Dn => format!("DN {}", self.nominal_diameter),
        }
    }
}

const fn nps(inches: &'static str, nominal_diameter: u32, outside_mm: f64, wall_mm: f64) -> Size {
    Size {
        inches,
        nominal_diameter,
        outside_mm,
        wall_mm,
        by: By::Nps,
    }
}

/// Outside diameter and wall in inches.
const fn inch(inches: &'static str, nominal_diameter: u32, outside: f64, wall: f64) -> Size {
    Size {
        inches,
        nominal_diameter,
        outside_mm: 25.4 * outside,
        wall_mm: 25.4 * wall,
        by: By::Inches,
    }
}

const fn dn(nominal_diameter: u32, inches: &'static str, outside_mm: f64, wall_mm: f64) -> Size {
    Size {
        inches,
        nominal_diameter,
        outside_mm,
        wall_mm,
        by: By::Dn,
    }
}

/// Sizes of one standard and wall, from the smallest.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Series {
    /// Its name, such as `ASME B36.10M schedule 40`.
    pub name: &'static str,
    /// Where the numbers are from.
    pub source: &'static str,
    /// Its sizes.
    pub sizes: &'static [Size],
}

impl Series {
    /// The smallest size whose bore is no less than `bore` \[m\]; none where the series ends below it.
    pub fn next_up(&self, bore: f64) -> Option<&'static Size> {
        // A bore that is a size's own but for rounding is that size.
        self.sizes.iter().find(|size| size.bore() >= bore * (1.0 - 1e-9))
    }
}

/// Every series that is known by name.
pub const SERIES: &[Series] = &[
    Series {
        name: "ASME B36.10M schedule 40",
        source: "ASME B36.10M, as in the Python library fluids 1.3.1",
        sizes: SCHEDULE_40,
    },
    Series {
        name: "ASME B36.10M schedule 40 in inches",
        source: "ASME B36.10M, outside diameters and walls in inches, from memory; each agrees with its millimetres",
        sizes: SCHEDULE_40_INCHES,
    },
    Series {
        name: "ASME B36.10M STD",
        source: "ASME B36.10M, as in the Python library fluids 1.3.1",
        sizes: STANDARD,
    },
    Series {
        name: "ASME B36.10M schedule 80",
        source: "ASME B36.10M, as in the Python library fluids 1.3.1",
        sizes: SCHEDULE_80,
    },
    Series {
        name: "EN 10255 medium",
        source: "EN 10255:2004, medium series, from memory",
        sizes: MEDIUM,
    },
];

/// The series of a name.
pub fn named(name: &str) -> Option<&'static Series> {
    SERIES.iter().find(|series| series.name == name)
}

/// ASME B36.10M, schedule 40.
const SCHEDULE_40: &[Size] = &[
    nps("1/8", 6, 10.3, 1.73),
    nps("1/4", 8, 13.7, 2.24),
    nps("3/8", 10, 17.1, 2.31),
    nps("1/2", 15, 21.3, 2.77),
    nps("3/4", 20, 26.7, 2.87),
    nps("1", 25, 33.4, 3.38),
    nps("1 1/4", 32, 42.2, 3.56),
    nps("1 1/2", 40, 48.3, 3.68),
    nps("2", 50, 60.3, 3.91),
    nps("2 1/2", 65, 73.0, 5.16),
    nps("3", 80, 88.9, 5.49),
    nps("3 1/2", 90, 101.6, 5.74),
    nps("4", 100, 114.3, 6.02),
    nps("5", 125, 141.3, 6.55),
    nps("6", 150, 168.3, 7.11),
    nps("8", 200, 219.1, 8.18),
    nps("10", 250, 273.0, 9.27),
    nps("12", 300, 323.8, 10.31),
    nps("14", 350, 355.6, 11.13),
    nps("16", 400, 406.4, 12.7),
    nps("18", 450, 457.0, 14.27),
    nps("20", 500, 508.0, 15.09),
    nps("24", 600, 610.0, 17.48),
    nps("32", 800, 813.0, 17.48),
    nps("34", 850, 864.0, 17.48),
    nps("36", 900, 914.0, 19.05),
];

/// ASME B36.10M, schedule 40, in inches. Its millimetres are these, rounded, so that a bore is another by up to 0.2 %.
const SCHEDULE_40_INCHES: &[Size] = &[
    inch("1/8", 6, 0.405, 0.068),
    inch("1/4", 8, 0.540, 0.088),
    inch("3/8", 10, 0.675, 0.091),
    inch("1/2", 15, 0.840, 0.109),
    inch("3/4", 20, 1.050, 0.113),
    inch("1", 25, 1.315, 0.133),
    inch("1 1/4", 32, 1.660, 0.140),
    inch("1 1/2", 40, 1.900, 0.145),
    inch("2", 50, 2.375, 0.154),
    inch("2 1/2", 65, 2.875, 0.203),
    inch("3", 80, 3.500, 0.216),
    inch("3 1/2", 90, 4.000, 0.226),
    inch("4", 100, 4.500, 0.237),
    inch("5", 125, 5.563, 0.258),
    inch("6", 150, 6.625, 0.280),
    inch("8", 200, 8.625, 0.322),
    inch("10", 250, 10.750, 0.365),
    inch("12", 300, 12.750, 0.406),
    inch("14", 350, 14.000, 0.438),
    inch("16", 400, 16.000, 0.500),
    inch("18", 450, 18.000, 0.562),
    inch("20", 500, 20.000, 0.594),
    inch("24", 600, 24.000, 0.688),
];

/// ASME B36.10M, standard weight (STD).
const STANDARD: &[Size] = &[
    nps("1/8", 6, 10.3, 1.73),
    nps("1/4", 8, 13.7, 2.24),
    nps("3/8", 10, 17.1, 2.31),
    nps("1/2", 15, 21.3, 2.77),
    nps("3/4", 20, 26.7, 2.87),
    nps("1", 25, 33.4, 3.38),
    nps("1 1/4", 32, 42.2, 3.56),
    nps("1 1/2", 40, 48.3, 3.68),
    nps("2", 50, 60.3, 3.91),
    nps("2 1/2", 65, 73.0, 5.16),
    nps("3", 80, 88.9, 5.49),
    nps("3 1/2", 90, 101.6, 5.74),
    nps("4", 100, 114.3, 6.02),
    nps("5", 125, 141.3, 6.55),
    nps("6", 150, 168.3, 7.11),
    nps("8", 200, 219.1, 8.18),
    nps("10", 250, 273.0, 9.27),
    nps("12", 300, 323.8, 9.53),
    nps("14", 350, 355.6, 9.53),
    nps("16", 400, 406.4, 9.53),
    nps("18", 450, 457.0, 9.53),
    nps("20", 500, 508.0, 9.53),
    nps("22", 550, 559.0, 9.53),
    nps("24", 600, 610.0, 9.53),
    nps("26", 650, 660.0, 9.53),
    nps("28", 700, 711.0, 9.53),
    nps("30", 750, 762.0, 9.53),
    nps("32", 800, 813.0, 9.53),
    nps("34", 850, 864.0, 9.53),
    nps("36", 900, 914.0, 9.53),
    nps("38", 950, 965.0, 9.53),
    nps("40", 1000, 1016.0, 9.53),
    nps("42", 1050, 1067.0, 9.53),
    nps("44", 1100, 1118.0, 9.53),
    nps("46", 1150, 1168.0, 9.53),
    nps("48", 1200, 1219.0, 9.53),
];

/// ASME B36.10M, schedule 80.
const SCHEDULE_80: &[Size] = &[
    nps("1/8", 6, 10.3, 2.41),
    nps("1/4", 8, 13.7, 3.02),
    nps("3/8", 10, 17.1, 3.2),
    nps("1/2", 15, 21.3, 3.73),
    nps("3/4", 20, 26.7, 3.91),
    nps("1", 25, 33.4, 4.55),
    nps("1 1/4", 32, 42.2, 4.85),
    nps("1 1/2", 40, 48.3, 5.08),
    nps("2", 50, 60.3, 5.54),
    nps("2 1/2", 65, 73.0, 7.01),
    nps("3", 80, 88.9, 7.62),
    nps("3 1/2", 90, 101.6, 8.08),
    nps("4", 100, 114.3, 8.56),
    nps("5", 125, 141.3, 9.53),
    nps("6", 150, 168.3, 10.97),
    nps("8", 200, 219.1, 12.7),
    nps("10", 250, 273.0, 15.09),
    nps("12", 300, 323.8, 17.48),
    nps("14", 350, 355.6, 19.05),
    nps("16", 400, 406.4, 21.44),
    nps("18", 450, 457.0, 23.83),
    nps("20", 500, 508.0, 26.19),
    nps("22", 550, 559.0, 28.58),
    nps("24", 600, 610.0, 30.96),
];

/// EN 10255, medium series (M).
const MEDIUM: &[Size] = &[
    dn(6, "1/8", 10.2, 2.0),
    dn(8, "1/4", 13.5, 2.3),
    dn(10, "3/8", 17.2, 2.3),
    dn(15, "1/2", 21.3, 2.6),
    dn(20, "3/4", 26.9, 2.6),
    dn(25, "1", 33.7, 3.2),
    dn(32, "1 1/4", 42.4, 3.2),
    dn(40, "1 1/2", 48.3, 3.2),
    dn(50, "2", 60.3, 3.6),
    dn(65, "2 1/2", 76.1, 3.6),
    dn(80, "3", 88.9, 4.0),
    dn(100, "4", 114.3, 4.5),
    dn(125, "5", 139.7, 5.0),
    dn(150, "6", 165.1, 5.0),
];

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sizes_grow_along_each_series() {
        for series in SERIES {
            assert_eq!(named(series.name), Some(series));
            for pair in series.sizes.windows(2) {
                assert!(
                    pair[0].bore() < pair[1].bore(),
                    "{} {}",
                    series.name,
                    pair[1].name()
                );
                assert!(
                    pair[0].nominal_diameter < pair[1].nominal_diameter,
                    "{}",
                    pair[1].name()
                );
            }
            assert!(series.sizes.iter().all(|size| size.bore() > 0.0));
        }
    }

    #[test]
    fn inches_and_millimetres_are_of_the_same_pipe() {
        for size in SCHEDULE_40_INCHES {
            let metric = (SCHEDULE_40.iter())
                .find(|metric| metric.inches == size.inches)
                .expect("a size of the other list");
            assert_eq!(metric.nominal_diameter, size.nominal_diameter, "{}", size.name());
            // Above 400 mm outside diameters are whole millimetres.
            let rounding = if size.outside_mm > 410.0 { 0.5 } else { 0.055 };
            assert!(
                (metric.outside_mm - size.outside_mm).abs() < rounding,
                "{}",
                size.name()
            );
            assert!((metric.wall_mm - size.wall_mm).abs() < 0.0051, "{}", size.name());
        }
        let four = named("ASME B36.10M schedule 40 in inches").and_then(|series| series.next_up(0.1));
        assert_eq!(four.map(Size::name).as_deref(), Some("NPS 4"));
        assert!(four.is_some_and(|four| (four.bore() - 4.026 * 0.0254).abs() < 1e-15));
    }

    #[test]
    fn the_next_size_up_is_no_narrower_and_the_one_before_is() {
        let series = named("ASME B36.10M schedule 40").expect("it is listed");
        assert_eq!(
            series.next_up(0.050).map(Size::name).as_deref(),
            Some("NPS 2 (DN 50)")
        );
        assert_eq!(series.next_up(0.052_48).map(|size| size.bore()), Some(0.052_48));
        assert_eq!(
            series.next_up(0.052_49).map(Size::name).as_deref(),
            Some("NPS 2 1/2 (DN 65)")
        );
        assert_eq!(series.next_up(2.0), None);
    }
}
