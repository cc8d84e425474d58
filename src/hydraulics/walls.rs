//! How rough the walls of common pipe are.

/// A kind of pipe wall, new and clean.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Wall {
    /// Its name, such as `commercial steel`.
    pub name: &'static str,
    /// Least and greatest roughness \[millionths of a foot\], as the source gives it; the same where it gives one.
    feet: (u32, u32),
}

/// Where the values are from; seen in reprints, which agree.
pub const SOURCE: &str =
    "Moody (1944), Trans. ASME 66(8), 671–684: new, clean pipe; walls of one kind differ by some 30 %";

/// One foot \[m\], exact since 1959.
pub const FOOT: f64 = 0.3048;

impl Wall {
    /// Least and greatest roughness ε \[m\]; the same where the source gives one value.
    pub fn roughness(&self) -> (f64, f64) {
        let metres = |millionths: u32| f64::from(millionths) * 1e-6 * FOOT;
        (metres(self.feet.0), metres(self.feet.1))
    }
}

const fn wall(name: &'static str, least: u32, greatest: u32) -> Wall {
    Wall {
        name,
        feet: (least, greatest),
    }
}

/// Walls from the smoothest.
pub const WALLS: &[Wall] = &[
    wall("drawn tubing", 5, 5),
    wall("commercial steel, wrought iron", 150, 150),
    wall("asphalted cast iron", 400, 400),
    wall("galvanised iron", 500, 500),
    wall("cast iron", 850, 850),
    wall("wood stave", 600, 3000),
    wall("concrete", 1000, 10_000),
    wall("riveted steel", 3000, 30_000),
];

#[cfg(test)]
mod tests {
    use super::*;

    /// In millimetres as metric textbooks print them: 0.0015, 0.046, 0.12, 0.15, 0.26, 0.18 to 0.9, 0.3 to 3, 0.9 to 9.
    #[test]
    fn walls_are_as_metric_books_print_them() {
        let printed = [
            (0.0015, 0.0015),
            (0.046, 0.046),
            (0.12, 0.12),
            (0.15, 0.15),
            (0.26, 0.26),
            (0.18, 0.91),
            (0.30, 3.0),
            (0.91, 9.1),
        ];
        assert_eq!(WALLS.len(), printed.len());
        for (wall, (least, greatest)) in WALLS.iter().zip(printed) {
            let (low, high) = wall.roughness();
            // The books round to one or two figures.
            assert!((low * 1e3 / least - 1.0).abs() < 0.03, "{}: {low}", wall.name);
            assert!(
                (high * 1e3 / greatest - 1.0).abs() < 0.03,
                "{}: {high}",
                wall.name
            );
            assert!(low <= high);
        }
    }
}
