//! The inside of a tank: surface and volume at a level.

use crate::hydraulics::root::crossing;
use std::f64::consts::{FRAC_PI_4, PI};

/// The inside of a tank, upright unless it says otherwise. Levels are measured from the floor, its lowest point.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// The same area at every level \[m²\].
    Constant {
        /// That area \[m²\].
        area: f64,
    },
    /// A round tank whose diameter grows or shrinks evenly: a cone on its apex has no floor.
    Cone {
        /// Diameter of the floor \[m\]; 0 for an apex.
        floor_diameter: f64,
        /// By how much the diameter grows for each metre of level \[–\]: twice the tangent of the half angle.
        /// Negative where the walls lean inwards.
        widening: f64,
    },
    /// A ball; a bowl is its lower half.
    Sphere {
        /// Diameter \[m\].
        diameter: f64,
    },
    /// A cylinder with flat ends, lying.
    LyingCylinder {
        /// Diameter \[m\].
        diameter: f64,
        /// Length \[m\].
        length: f64,
    },
    /// Levels \[m\] from 0 up with the areas there \[m²\], straight between them.
    Table(Vec<(f64, f64)>),
}

impl Shape {
    /// Area of the surface at a level \[m²\]; 0 outside the tank.
    pub fn area(&self, level: f64) -> f64 {
        let area = match self {
            Self::Constant { area } => *area,
            Self::Cone {
                floor_diameter,
                widening,
            } => {
                let diameter = (floor_diameter + widening * level).max(0.0);
                FRAC_PI_4 * diameter * diameter
            }
            Self::Sphere { diameter } => PI * level * (diameter - level),
            Self::LyingCylinder { diameter, length } => {
                2.0 * length * (level * (diameter - level)).max(0.0).sqrt()
            }
            Self::Table(points) => match span(points, level) {
                Some([low, high]) => low.1 + (high.1 - low.1) * (level - low.0) / (high.0 - low.0),
                None => 0.0,
            },
        };
        area.max(0.0)
    }

    /// Volume below a level \[m³\].
    pub fn volume(&self, level: f64) -> f64 {
        match self {
            Self::Constant { area } => area * level,
            Self::Cone {
                floor_diameter,
                widening,
            } => {
                let diameter = floor_diameter + widening * level;
                let squares =
                    floor_diameter * floor_diameter + floor_diameter * diameter + diameter * diameter;
                FRAC_PI_4 * level * squares / 3.0
            }
            Self::Sphere { diameter } => PI * level * level * (0.5 * diameter - level / 3.0),
            Self::LyingCylinder { diameter, length } => {
                let radius = 0.5 * diameter;
                let depth = radius - level;
                let half_chord = (level * (diameter - level)).max(0.0).sqrt();
                // The angle by both its sides keeps its digits near the floor and the crown.
                let angle = libm::atan2(half_chord, depth);
                length * (radius * radius * angle - depth * half_chord)
            }
            Self::Table(points) => points
                .windows(2)
                .take_while(|ends| ends[0].0 < level)
                .map(|ends| {
                    let top = ends[1].0.min(level);
                    0.5 * (top - ends[0].0) * (ends[0].1 + self.area_in(ends, top))
                })
                .sum(),
        }
    }

    fn area_in(&self, ends: &[(f64, f64)], level: f64) -> f64 {
        ends[0].1 + (ends[1].1 - ends[0].1) * (level - ends[0].0) / (ends[1].0 - ends[0].0)
    }

    /// The level above which there is no tank \[m\], where its shape has one.
    pub fn top(&self) -> Option<f64> {
        match self {
            Self::Constant { .. } => None,
            Self::Cone {
                floor_diameter,
                widening,
            } => (*widening < 0.0).then(|| -floor_diameter / widening),
            Self::Sphere { diameter } | Self::LyingCylinder { diameter, .. } => Some(*diameter),
            Self::Table(points) => points.last().map(|p| p.0),
        }
    }

    /// The level below which there is this volume \[m\]; None where the tank does not hold it.
    pub fn level(&self, volume: f64) -> Option<f64> {
        if let Self::Constant { area } = self {
            let level = volume / area;
            return (level >= 0.0 && level.is_finite()).then_some(level);
        }
        if !(volume >= 0.0 && volume.is_finite()) {
            return None;
        }
        let high = match self.top() {
            // Rounding may put the brim's own volume a hair above it.
            Some(top) => {
                let full = self.volume(top);
                if volume > full {
                    return (volume <= full * (1.0 + 1e-12)).then_some(top);
                }
                top
            }
            None => {
                let mut high = 1.0;
                while self.volume(high) < volume {
                    high *= 2.0;
                    if !f64::is_finite(high) {
                        return None;
                    }
                }
                high
            }
        };
        Some(crossing(|level| self.volume(level) - volume, 0.0, high))
    }

    /// Levels within the tank at which the area bends \[m\], in order.
    pub(super) fn bends(&self) -> Vec<f64> {
        match self {
            Self::Table(points) => points.iter().map(|p| p.0).collect(),
            _ => Vec::new(),
        }
    }

    /// What can't be: the name of the value and the value.
    pub(super) fn fault(&self) -> Option<(&'static str, f64)> {
        let positive = |what, value: f64| (!(value > 0.0 && value.is_finite())).then_some((what, value));
        match self {
            Self::Constant { area } => positive("area of a tank", *area),
            Self::Cone {
                floor_diameter,
                widening,
            } => {
                if !(*floor_diameter >= 0.0 && floor_diameter.is_finite()) {
                    Some(("diameter of a tank's floor", *floor_diameter))
                } else if !widening.is_finite() || (*floor_diameter == 0.0 && *widening <= 0.0) {
                    Some(("widening of a tank", *widening))
                } else {
                    None
                }
            }
            Self::Sphere { diameter } => positive("diameter of a tank", *diameter),
            Self::LyingCylinder { diameter, length } => {
                positive("diameter of a tank", *diameter).or(positive("length of a tank", *length))
            }
            Self::Table(points) => {
                if points.len() < 2 {
                    return Some(("number of levels in a tank's table", points.len() as f64));
                }
                if points[0].0 != 0.0 {
                    return Some(("first level in a tank's table", points[0].0));
                }
                let falls = points
                    .windows(2)
                    .find(|ends| !(ends[1].0 > ends[0].0 && ends[1].0.is_finite()));
                if let Some(ends) = falls {
                    return Some(("level in a tank's table", ends[1].0));
                }
                let last = points.len() - 1;
                points
                    .iter()
                    .enumerate()
                    .find(|(i, p)| {
                        let good = p.1 > 0.0 || (p.1 == 0.0 && (*i == 0 || *i == last));
                        !(good && p.1.is_finite())
                    })
                    .map(|(_, p)| ("area in a tank's table", p.1))
            }
        }
    }
}

/// The two points of a table between which a level lies.
fn span(points: &[(f64, f64)], level: f64) -> Option<[(f64, f64); 2]> {
    points
        .windows(2)
        .find(|ends| ends[0].0 <= level && level <= ends[1].0)
        .map(|ends| [ends[0], ends[1]])
}

#[cfg(test)]
mod tests {
    use super::*;

    fn shapes() -> Vec<Shape> {
        vec![
            Shape::Constant { area: 3.0 },
            Shape::Cone {
                floor_diameter: 0.0,
                widening: 1.1,
            },
            Shape::Cone {
                floor_diameter: 1.5,
                widening: -0.2,
            },
            Shape::Sphere { diameter: 4.0 },
            Shape::LyingCylinder {
                diameter: 4.0,
                length: 2.5,
            },
            Shape::Table(vec![(0.0, 0.0), (1.0, 2.0), (1.5, 2.0), (4.0, 1.0)]),
        ]
    }

    #[test]
    fn area_is_the_slope_of_volume_and_level_its_inverse() {
        for shape in shapes() {
            assert_eq!(shape.fault(), None);
            for i in 1..40 {
                let level = 0.097 * f64::from(i);
                let step = 1e-5;
                let slope = (shape.volume(level + step) - shape.volume(level - step)) / (2.0 * step);
                assert!(
                    (slope - shape.area(level)).abs() < 1e-5,
                    "{shape:?} {level}: {slope}"
                );
                let back = shape.level(shape.volume(level)).unwrap_or(f64::NAN);
                assert!((back - level).abs() < 1e-9, "{shape:?} {level}: {back}");
            }
        }
    }

    #[test]
    fn full_tanks_hold_what_geometry_says() {
        let near = |a: f64, b: f64| (a - b).abs() < 1e-13 * b;
        assert!(near(Shape::Sphere { diameter: 2.0 }.volume(2.0), 4.0 / 3.0 * PI));
        assert!(near(
            Shape::LyingCylinder {
                diameter: 2.0,
                length: 3.0
            }
            .volume(2.0),
            3.0 * PI
        ));
        assert!(near(
            Shape::LyingCylinder {
                diameter: 2.0,
                length: 3.0
            }
            .volume(1.0),
            1.5 * PI
        ));
        assert!(near(
            Shape::Cone {
                floor_diameter: 0.0,
                widening: 2.0
            }
            .volume(3.0),
            9.0 * PI
        ));
        assert!(near(Shape::Table(vec![(0.0, 1.0), (2.0, 3.0)]).volume(2.0), 4.0));
        assert_eq!(Shape::Sphere { diameter: 2.0 }.level(5.0), None);
        assert_eq!(Shape::Constant { area: 2.0 }.level(-1.0), None);
    }

    #[test]
    fn what_is_no_tank_is_named() {
        for (shape, what) in [
            (Shape::Constant { area: 0.0 }, "area of a tank"),
            (
                Shape::Cone {
                    floor_diameter: 0.0,
                    widening: 0.0,
                },
                "widening of a tank",
            ),
            (
                Shape::Table(vec![(0.0, 1.0)]),
                "number of levels in a tank's table",
            ),
            (
                Shape::Table(vec![(0.5, 1.0), (1.0, 1.0)]),
                "first level in a tank's table",
            ),
            (
                Shape::Table(vec![(0.0, 1.0), (0.0, 1.0)]),
                "level in a tank's table",
            ),
            (
                Shape::Table(vec![(0.0, 1.0), (1.0, 0.0), (2.0, 1.0)]),
                "area in a tank's table",
            ),
            (
                Shape::LyingCylinder {
                    diameter: 1.0,
                    length: f64::NAN,
                },
                "length of a tank",
            ),
        ] {
            assert_eq!(shape.fault().map(|f| f.0), Some(what));
        }
    }
}
