//! How a minor loss is told, and points of known elevation on the way.

use super::slot::Slot;
use super::{PathSystem, Value};
use crate::hydraulics::fittings::{self, Fitting};
use crate::hydraulics::path::LossLaw;

/// How a minor loss is told: what the number of its `coefficient` is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum LossBy {
    /// `K:`, the loss coefficient itself.
    K,
    /// `fitting:`, a name whose coefficient a handbook knows.
    Fitting(&'static Fitting),
    /// `rounding:`, the radius of an entrance's edge over the bore.
    Rounding,
    /// `equivalent length:`, the length of pipe that takes as much head.
    EquivalentLength,
    /// `equivalent diameters:`, that length in diameters.
    EquivalentDiameters,
    /// `expansion: sudden`, from the loss's own pipe into a wider one.
    SuddenExpansion {
        /// The wider pipe, as its index among the pipes.
        into: usize,
    },
    /// `expansion: { angle: 12 deg }`, a cone of this full angle.
    Cone {
        /// The wider pipe, as its index among the pipes.
        into: usize,
    },
    /// `contraction: sudden`, from a wider pipe into the loss's own.
    SuddenContraction {
        /// The wider pipe, as its index among the pipes.
        from: usize,
    },
    /// `contraction: { angle: 30 deg }`, a cone of this full angle.
    Taper {
        /// The wider pipe, as its index among the pipes.
        from: usize,
    },
}

impl LossBy {
    /// What the number is for; nothing where it is not written in the system.
    pub(super) fn slot(self) -> Option<Slot> {
        match self {
            Self::K => Some(Slot::Coefficient),
            Self::Rounding => Some(Slot::Rounding),
            Self::EquivalentLength => Some(Slot::EquivalentLength),
            Self::EquivalentDiameters => Some(Slot::EquivalentDiameters),
            Self::Cone { .. } | Self::Taper { .. } => Some(Slot::Angle),
            Self::Fitting(_) | Self::SuddenExpansion { .. } | Self::SuddenContraction { .. } => None,
        }
    }

    /// How K follows, for `hydraulics`.
    pub(super) fn law(self) -> LossLaw {
        match self {
            Self::K | Self::Fitting(_) | Self::Rounding => LossLaw::Fixed,
            Self::EquivalentLength => LossLaw::EquivalentLength,
            Self::EquivalentDiameters => LossLaw::EquivalentDiameters,
            Self::SuddenExpansion { into } | Self::Cone { into } => LossLaw::Expansion { into },
            Self::SuddenContraction { from } | Self::Taper { from } => LossLaw::Contraction { from },
        }
    }

    /// The number that the law takes, from the number written.
    pub fn number(self, written: f64) -> f64 {
        match self {
            Self::K | Self::EquivalentLength | Self::EquivalentDiameters => written,
            Self::Fitting(fitting) => fitting.coefficient,
            Self::Rounding => fittings::rounded_entrance(written),
            Self::SuddenExpansion { .. } => 1.0,
            Self::Cone { .. } => fittings::expansion_share(written),
            Self::SuddenContraction { .. } => fittings::SUDDEN_CONTRACTION,
            Self::Taper { .. } => fittings::contraction_share(written),
        }
    }

    /// The handbook that K is from, where the program knows it.
    pub fn source(self) -> Option<&'static str> {
        match self {
            Self::K | Self::EquivalentLength | Self::EquivalentDiameters => None,
            Self::Fitting(fitting) => Some(fitting.source),
            Self::SuddenExpansion { .. } => Some(fittings::BORDA_CARNOT),
            Self::Rounding | Self::Cone { .. } | Self::SuddenContraction { .. } | Self::Taper { .. } => {
                Some(fittings::CRANE)
            }
        }
    }

    /// The wider pipe of a change of area.
    pub fn wider_pipe(self) -> Option<usize> {
        self.law().wider_pipe()
    }

    /// Whether K is known without the flow and without another pipe.
    pub fn is_fixed(self) -> bool {
        self.law() == LossLaw::Fixed
    }
}

/// A point of the way whose elevation is known.
#[derive(Debug, Clone, PartialEq)]
pub struct Point {
    /// Its name; its results carry it, as in `p_summit`.
    pub name: String,
    /// Its elevation.
    pub elevation: Value,
    /// How far it lies along the pipe that it is in; `None` where it stands between two elements.
    pub along: Option<Value>,
    /// How many elements of the path lie behind it in full.
    pub after: usize,
}

/// Names that no point may have, since results of other meanings have them.
pub(super) const NO_POINT: [&str; 2] = ["min", "v"];

impl PathSystem {
    /// The names of the points, in order.
    pub fn point_names(&self) -> Vec<&str> {
        self.points.iter().map(|point| point.name.as_str()).collect()
    }

    /// The names of the losses, in order.
    pub fn loss_names(&self) -> Vec<&str> {
        self.path
            .iter()
            .filter_map(|e| match e {
                super::Element::Loss { name, .. } => Some(name.as_str()),
                _ => None,
            })
            .collect()
    }
}
