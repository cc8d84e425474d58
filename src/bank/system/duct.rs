//! `section`: the cross-section of a duct that is not round, as people write it.

use super::problem::number;
use super::slot::{Of, Slot};
use super::{Value, Written};
use crate::fault::Fault;
use crate::hydraulics::duct::{Laminar, Section, Shape};

/// What a pipe's size is said by.
#[derive(Debug, Clone, PartialEq)]
pub enum Bore {
    /// `diameter:`
    Round(Value),
    /// `section:`
    Duct(Box<Duct>),
}

/// A duct that is not round.
#[derive(Debug, Clone, PartialEq)]
pub struct Duct {
    /// Its cross-section.
    pub shape: DuctShape,
    /// Whether turbulent flow is reckoned on its effective diameter in place of the hydraulic one.
    pub effective: bool,
}

/// A cross-section by its measures.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "a pipe holds one, in a box, and no list of them exists"
)]
pub enum DuctShape {
    /// `rectangle: [width, height]`
    Rectangle([Value; 2]),
    /// `annulus: [outer diameter, inner diameter]`, concentric.
    Annulus([Value; 2]),
    /// `triangle: side`, of equal sides.
    Triangle(Value),
    /// `plates: [gap, width]`, so wide that their edges do not count.
    Plates([Value; 2]),
    /// Any other, by `area`, `wetted perimeter`, `laminar constant` and laminar `alpha`.
    Other([Value; 4]),
}

impl DuctShape {
    /// Its measures, with what each is for.
    pub(crate) fn values(&self) -> Vec<(Slot, &Value)> {
        let slots = self.slots();
        let values: Vec<&Value> = match self {
            Self::Rectangle(v) | Self::Annulus(v) | Self::Plates(v) => v.iter().collect(),
            Self::Triangle(v) => vec![v],
            Self::Other(v) => v.iter().collect(),
        };
        slots.iter().copied().zip(values).collect()
    }

    fn slots(&self) -> &'static [Slot] {
        match self {
            Self::Rectangle(_) => &[Slot::Width, Slot::DuctHeight],
            Self::Annulus(_) => &[Slot::OuterDiameter, Slot::InnerDiameter],
            Self::Triangle(_) => &[Slot::Side],
            Self::Plates(_) => &[Slot::Gap, Slot::Width],
            Self::Other(_) => &[Slot::Area, Slot::Perimeter, Slot::LaminarConstant, Slot::Alpha],
        }
    }

    /// Its name, as it is written.
    pub fn name(&self) -> &'static str {
        match self {
            Self::Rectangle(_) => "rectangle",
            Self::Annulus(_) => "annulus",
            Self::Triangle(_) => "triangle",
            Self::Plates(_) => "plates",
            Self::Other(_) => "other",
        }
    }

    fn map(&self, f: &mut dyn FnMut(Slot, &Value) -> Value) -> Self {
        let mut new = self.clone();
        let slots = self.slots();
        let values: &mut [Value] = match &mut new {
            Self::Rectangle(v) | Self::Annulus(v) | Self::Plates(v) => v,
            Self::Triangle(v) => std::slice::from_mut(v),
            Self::Other(v) => v,
        };
        for (slot, value) in slots.iter().zip(values) {
            *value = f(*slot, value);
        }
        new
    }

    /// In SI numbers; none for [`DuctShape::Other`].
    pub fn shape(&self) -> Option<Shape> {
        Some(match self {
            Self::Rectangle([width, height]) => Shape::Rectangle {
                width: number(width),
                height: number(height),
            },
            Self::Annulus([outer, inner]) => Shape::Annulus {
                outer: number(outer),
                inner: number(inner),
            },
            Self::Triangle(side) => Shape::Triangle { side: number(side) },
            Self::Plates([gap, width]) => Shape::Plates {
                gap: number(gap),
                width: number(width),
            },
            Self::Other(_) => return None,
        })
    }
}

impl Duct {
    /// Hydraulic diameter \[m\]; NaN where a measure is not known.
    pub fn hydraulic_diameter(&self) -> f64 {
        match (&self.shape, self.shape.shape()) {
            (_, Some(shape)) => shape.hydraulic_diameter(),
            (DuctShape::Other([area, perimeter, ..]), None) => 4.0 * number(area) / number(perimeter),
            (_, None) => f64::NAN,
        }
    }

    /// What `hydraulics` needs of its cross-section.
    pub fn section(&self) -> Section {
        let section = match (&self.shape, self.shape.shape()) {
            (DuctShape::Other([area, perimeter, constant, alpha]), _) => Section::of(
                number(area),
                number(perimeter),
                Laminar {
                    constant: number(constant),
                    alpha: number(alpha),
                    beta: f64::NAN,
                },
            ),
            (_, Some(shape)) => shape.section(),
            (_, None) => Section::ROUND,
        };
        if self.effective {
            section.on_effective_diameter()
        } else {
            section
        }
    }

    /// What is wrong between measures that are each possible.
    pub(crate) fn fault(&self, name: &str) -> Option<Fault> {
        match &self.shape {
            DuctShape::Annulus([Value::Known(outer), Value::Known(inner)])
                if inner.quantity().value >= outer.quantity().value =>
            {
                Some(
                    Fault::new(format!(
                        "the inner tube of `{name}` is {} wide, but the outer one only {}",
                        inner.ascii(),
                        outer.ascii()
                    ))
                    .mend("write the outer diameter first, as in `annulus: [60 mm, 30 mm]`"),
                )
            }
            DuctShape::Plates([Value::Known(gap), Value::Known(width)])
                if width.quantity().value < PLATES_LEAST * gap.quantity().value =>
            {
                Some(
                    Fault::new(format!(
                        "the plates of `{name}` are {} wide at a gap of {}, too narrow to leave their edges out",
                        width.ascii(),
                        gap.ascii()
                    ))
                    .mend("write the gap first, as in `plates: [2 mm, 300 mm]`; or make it a `rectangle`"),
                )
            }
            DuctShape::Other([Value::Known(area), Value::Known(perimeter), ..])
                if too_short(area, perimeter) =>
            {
                Some(
                    Fault::new(format!(
                        "no section of {} has a wetted perimeter of only {}: that of a circle is the shortest",
                        area.ascii(),
                        perimeter.ascii()
                    ))
                    .mend("check the two and their units"),
                )
            }
            _ => None,
        }
    }
}

/// Plates narrower than this many gaps are a rectangle.
const PLATES_LEAST: f64 = 10.0;

fn too_short(area: &Written, perimeter: &Written) -> bool {
    let (area, perimeter) = (area.quantity().value, perimeter.quantity().value);
    // What rounding does to a circle's own is let pass.
    perimeter * perimeter < 4.0 * std::f64::consts::PI * area * (1.0 - 1e-3)
}

impl Bore {
    /// The same with every value replaced by what `f` makes of it.
    pub(super) fn map(&self, name: &str, f: &mut dyn FnMut(Slot, Of<'_>, &Value) -> Value) -> Self {
        match self {
            Self::Round(value) => Self::Round(f(Slot::Diameter, Of::Element(name), value)),
            Self::Duct(duct) => Self::Duct(Box::new(Duct {
                shape: duct
                    .shape
                    .map(&mut |slot, value| f(slot, Of::Element(name), value)),
                effective: duct.effective,
            })),
        }
    }

    /// The diameter of a round pipe.
    pub fn diameter(&self) -> Option<&Value> {
        match self {
            Self::Round(value) => Some(value),
            Self::Duct(_) => None,
        }
    }

    /// The duct, where it is not round.
    pub fn duct(&self) -> Option<&Duct> {
        match self {
            Self::Round(_) => None,
            Self::Duct(duct) => Some(duct),
        }
    }

    /// Diameter, or hydraulic diameter \[m\]; NaN where it is not known.
    pub fn hydraulic_diameter(&self) -> f64 {
        match self {
            Self::Round(value) => number(value),
            Self::Duct(duct) => duct.hydraulic_diameter(),
        }
    }
}
