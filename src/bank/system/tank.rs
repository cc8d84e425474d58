//! `tank`: a tank that fills or empties through a path, as people write it.

use super::kind::{Kind, ResultName, Surroundings};
use super::problem::{gauge, number, solve_fault};
use super::slot::{Of, Slot};
use super::{Bore, Element, PathSystem, Point, Station, System, Value, Velocity};
use crate::bank::names::pipe_result;
use crate::fault::{Checked, Fault, Faults};
use crate::hydraulics::path;
use crate::hydraulics::solve::SolveError;
use crate::hydraulics::tank::{Asked, Problem, Shape, Stop, TankError, Until, Vessel, orifice};
use crate::quantity::{Dimension, Shown, Written};

/// The inside of a tank.
#[derive(Debug, Clone, PartialEq)]
pub enum TankShape {
    /// `diameter:` upright and round.
    Round(Value),
    /// `area:` the same at every level.
    Area(Value),
    /// `cone:` a round tank that widens or narrows evenly up to its height.
    Cone {
        /// Diameter of its floor; nought for a cone on its apex.
        floor_diameter: Value,
        /// Diameter at its height.
        top_diameter: Value,
        /// Its height.
        height: Value,
    },
    /// `sphere:`
    Sphere(Value),
    /// `bowl:` the lower half of a sphere of this diameter.
    Bowl(Value),
    /// `lying cylinder:` with flat ends.
    LyingCylinder {
        /// Diameter.
        diameter: Value,
        /// Length.
        length: Value,
    },
    /// `table:` levels from 0 up and the areas there.
    Table(Vec<(Value, Value)>),
}

/// When it ends.
#[derive(Debug, Clone, PartialEq)]
pub enum TankUntil {
    /// `until:` a level above the floor.
    Level(Value),
    /// `until difference:` of two tanks' surfaces.
    Difference(Value),
}

impl TankShape {
    /// The level of its top, where it has one.
    fn top(&self) -> Option<Written> {
        let size = match self {
            Self::Round(_) | Self::Area(_) => return None,
            Self::Cone { height, .. } => height,
            Self::Sphere(diameter) | Self::Bowl(diameter) | Self::LyingCylinder { diameter, .. } => diameter,
            Self::Table(points) => &points.last()?.0,
        };
        let size = known(size)?;
        Some(match self {
            Self::Bowl(_) => Written::from_si(0.5 * size.quantity().value, &size.unit, size.figures),
            _ => size.clone(),
        })
    }

    /// Whether it has a top without an opening.
    fn is_closed(&self) -> bool {
        match self {
            Self::Sphere(_) | Self::LyingCylinder { .. } => true,
            Self::Table(points) => points.last().is_some_and(|(_, area)| number(area) == 0.0),
            Self::Round(_) | Self::Area(_) | Self::Cone { .. } | Self::Bowl(_) => false,
        }
    }

    /// What is wrong with a table of levels and areas.
    fn no_table(&self, name: &str) -> Option<Fault> {
        let Self::Table(points) = self else { return None };
        let (Some(first), true) = (points.first(), points.len() > 1) else {
            return Some(
                Fault::new(format!("the table of the {name} needs two levels or more"))
                    .mend("write the level and the area at least at the floor and at the top"),
            );
        };
        let said = |value: &Value| known(value).map_or_else(String::new, Written::ascii);
        if number(&first.0).abs() > 0.0 {
            return Some(
                Fault::new(format!("the table of the {name} begins at {}", said(&first.0)))
                    .mend("begin it at the floor, with `level: 0 m`"),
            );
        }
        if let Some([low, high]) = points
            .array_windows()
            .find(|[low, high]| number(&low.0) >= number(&high.0))
        {
            return Some(
                Fault::new(format!(
                    "in the table of the {name} the level {} stands before {}",
                    said(&low.0),
                    said(&high.0)
                ))
                .mend("write every level once, in rising order"),
            );
        }
        let within = &points[1..points.len() - 1];
        let (level, _) = within.iter().find(|(_, area)| number(area) == 0.0)?;
        Some(
            Fault::new(format!(
                "the {name} has no area at its level {}, between others",
                said(level)
            ))
            .mend("write an area; only the first and the last may be 0"),
        )
    }

    /// Its area, where that is what is stated.
    fn stated_area(&self) -> Option<&Value> {
        match self {
            Self::Area(area) => Some(area),
            _ => None,
        }
    }
}

/// A tank.
#[derive(Debug, Clone, PartialEq)]
pub struct Tank {
    /// What it is called.
    pub name: String,
    /// Its inside.
    pub shape: TankShape,
    /// Level above its floor at the start.
    pub level: Value,
    /// Elevation of its floor.
    pub floor: Value,
    /// Elevation of the pipe's mouth, where that counts.
    pub mouth: Option<Value>,
    /// Gauge pressure above its surface.
    pub pressure: Value,
    /// Constant flow into it from elsewhere; less than nought for a draw-off.
    pub inflow: Option<Value>,
    /// Level at which it runs over, where it is known.
    pub height: Option<Value>,
}

/// An opening in place of a path.
#[derive(Debug, Clone, PartialEq)]
pub struct Orifice {
    /// What it is called.
    pub name: String,
    /// Its diameter.
    pub diameter: Value,
    /// Its discharge coefficient.
    pub coefficient: Value,
}

/// Where the tank stands on the path.
#[derive(Debug, Clone, PartialEq)]
#[expect(
    clippy::large_enum_variant,
    reason = "a system holds one role, and no list of them exists"
)]
pub enum TankRole {
    /// It drains to the end station.
    Drains(Station),
    /// It fills from the start station.
    Fills(Station),
    /// It drains into a second tank.
    Equalises(Tank),
}

/// A tank that fills or empties through a path.
#[derive(Debug, Clone, PartialEq)]
pub struct TankSystem {
    /// What it stands in.
    pub surroundings: Surroundings,
    /// The tank whose level is followed.
    pub tank: Tank,
    /// When it ends.
    pub until: TankUntil,
    /// What is at the other end.
    pub role: TankRole,
    /// The time it takes.
    pub time: Value,
    /// What lies between, in the order of the flow; nothing where there is an orifice.
    pub path: Vec<Element>,
    /// Points of known elevation on the way.
    pub points: Vec<Point>,
    /// The opening, where there is no path.
    pub orifice: Option<Orifice>,
}

/// Where a tank stands.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct TankPlace {
    /// Whether the flow along the path leaves it.
    pub(super) drains: bool,
    /// Whether there is another at the other end.
    pub(super) of_two: bool,
}

impl TankPlace {
    /// Of the second of two.
    pub(super) const SECOND: Self = Self {
        drains: false,
        of_two: true,
    };
}

/// How to mend an unknown in the wrong place of a tank.
pub(super) const TANK_UNKNOWNS: &str = "the unknown may be the time, the level `until` which the tank runs, or the diameter of a pipe or an orifice";

/// What a value is for that only a tank has.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(crate) enum TankSlot {
    Level,
    Until,
    Difference,
    Floor,
    Mouth,
    Height,
    FloorDiameter,
    TopDiameter,
    Area,
    Inflow,
    Discharge,
    Time,
}

impl TankSlot {
    /// Its name in a sentence.
    pub(super) fn noun(self) -> &'static str {
        match self {
            Self::Level => "level",
            Self::Until => "level at the end",
            Self::Difference => "difference of levels at the end",
            Self::Floor => "floor",
            Self::Mouth => "mouth of the pipe",
            Self::Height => "height",
            Self::FloorDiameter => "floor diameter",
            Self::TopDiameter => "top diameter",
            Self::Area => "area",
            Self::Inflow => "inflow",
            Self::Discharge => "Cd",
            Self::Time => "time",
        }
    }

    /// How its owner's name follows it.
    pub(super) fn preposition(self) -> &'static str {
        match self {
            Self::Level | Self::Until | Self::Mouth => "in",
            Self::Inflow => "into",
            _ => "of",
        }
    }

    pub(super) fn dimension(self) -> Dimension {
        match self {
            Self::Area => Dimension::AREA,
            Self::Inflow => Dimension::FLOW,
            Self::Discharge => Dimension::NONE,
            Self::Time => Dimension::TIME,
            _ => Dimension::LENGTH,
        }
    }

    /// What is needed, in words.
    pub(super) fn needed(self) -> &'static str {
        match self {
            Self::Area => "an area",
            Self::Inflow => "a volume flow",
            Self::Discharge => "a pure number",
            Self::Time => "a time",
            _ => "a length",
        }
    }

    /// A value such as could stand here.
    pub(super) fn example(self) -> &'static str {
        match self {
            Self::Level => "4 m",
            Self::Until => "2 m",
            Self::Difference | Self::FloorDiameter => "0.3 m",
            Self::Floor | Self::Mouth => "12 m",
            Self::Height => "5 m",
            Self::TopDiameter => "3 m",
            Self::Area => "3 m^2",
            Self::Inflow => "2 L/s",
            Self::Discharge => "0.61",
            Self::Time => "20 min",
        }
    }

    /// Units that would do, for a mend.
    pub(super) fn units(self) -> &'static str {
        match self {
            Self::Area => "a unit of area, such as `m^2`",
            Self::Inflow => "a unit of volume flow, such as `L/s`",
            Self::Discharge => "no unit",
            Self::Time => "a unit of time, such as `s` or `min`",
            _ => "a unit of length, such as `m`",
        }
    }

    /// The symbol of its unit of SI.
    pub(super) fn symbol(self) -> &'static str {
        match self {
            Self::Area => "m²",
            Self::Inflow => "m³/s",
            Self::Discharge => "",
            Self::Time => "s",
            _ => "m",
        }
    }

    /// Whether an SI value can stand here, and what is wrong where it can't.
    pub(super) fn possible(self, si: f64) -> (bool, &'static str) {
        match self {
            Self::Level | Self::Until | Self::Difference | Self::FloorDiameter | Self::Area => {
                (si >= 0.0, "it can't be less than 0")
            }
            Self::Height | Self::TopDiameter | Self::Time => (si > 0.0, "it must be greater than 0"),
            Self::Discharge => (si > 0.0 && si <= 1.0, "it must be greater than 0 and at most 1"),
            Self::Floor | Self::Mouth | Self::Inflow => (true, ""),
        }
    }
}

fn known(value: &Value) -> Option<&Written> {
    match value {
        Value::Known(written) => Some(written),
        Value::Unknown | Value::Formula(_) => None,
    }
}

/// A value that the program itself fills in.
fn filled(si: f64, symbol: &str, dimension: Dimension) -> Value {
    Value::Known(Written::from_si(si, &super::si_unit(symbol, dimension), 6))
}

impl Tank {
    fn values(&mut self, until: Option<&mut TankUntil>, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        let of = Of::Element(&self.name);
        match &mut self.shape {
            TankShape::Round(d) | TankShape::Sphere(d) | TankShape::Bowl(d) => f(Slot::Diameter, of, d),
            TankShape::Area(area) => f(Slot::Tank(TankSlot::Area), of, area),
            TankShape::Cone {
                floor_diameter,
                top_diameter,
                height,
            } => {
                f(Slot::Tank(TankSlot::FloorDiameter), of, floor_diameter);
                f(Slot::Tank(TankSlot::TopDiameter), of, top_diameter);
                f(Slot::Tank(TankSlot::Height), of, height);
            }
            TankShape::LyingCylinder { diameter, length } => {
                f(Slot::Diameter, of, diameter);
                f(Slot::Length, of, length);
            }
            TankShape::Table(points) => {
                for (level, area) in points {
                    f(Slot::Tank(TankSlot::Level), of, level);
                    f(Slot::Tank(TankSlot::Area), of, area);
                }
            }
        }
        f(Slot::Tank(TankSlot::Level), of, &mut self.level);
        match until {
            Some(TankUntil::Level(value)) => f(Slot::Tank(TankSlot::Until), of, value),
            Some(TankUntil::Difference(value)) => f(Slot::Tank(TankSlot::Difference), Of::System, value),
            None => {}
        }
        f(Slot::Tank(TankSlot::Floor), of, &mut self.floor);
        if let Some(value) = &mut self.mouth {
            f(Slot::Tank(TankSlot::Mouth), of, value);
        }
        f(Slot::Pressure, of, &mut self.pressure);
        if let Some(value) = &mut self.inflow {
            f(Slot::Tank(TankSlot::Inflow), of, value);
        }
        if let Some(value) = &mut self.height {
            f(Slot::Tank(TankSlot::Height), of, value);
        }
    }

    /// The level at which it is full, where that is known.
    fn full(&self) -> Option<Written> {
        let height = self.height.as_ref().and_then(known).cloned();
        let all = [self.shape.top(), height].into_iter().flatten();
        all.min_by(|a, b| a.quantity().value.total_cmp(&b.quantity().value))
    }

    /// The level of its lid: a pipe can come in over the rim of an open tank, but not through a lid. Under a pressure that is not
    /// the air's every tank has one.
    fn lid(&self, atmosphere: f64) -> Option<Written> {
        if self.shape.is_closed() {
            return self.shape.top();
        }
        let pressed = gauge(&self.pressure, atmosphere).abs() > 0.0;
        if pressed { self.full() } else { None }
    }

    /// What does not go together, with the field where it is mended. What is not known yet is passed over.
    pub(super) fn misfits(
        &self,
        until: Option<&TankUntil>,
        place: TankPlace,
        atmosphere: f64,
    ) -> Vec<(&'static str, Fault)> {
        let name = &self.name;
        // Beyond what rounding a length to another unit does.
        let above = |one: f64, other: f64| one - other > 1e-9 * one.abs().max(other.abs());
        let mut faults = Vec::new();
        faults.extend(self.shape.no_table(name).map(|fault| ("table", fault)));
        if place.of_two && self.inflow.as_ref().is_some_and(|flow| number(flow).abs() > 0.0) {
            faults.push((
                "inflow",
                Fault::new(format!(
                    "a flow into the {name} is given, but of two tanks both levels follow from what runs between them"
                ))
                .mend("leave out `inflow`, or one of the tanks"),
            ));
        }
        let at_end = match until {
            Some(TankUntil::Level(level)) => Some(level),
            _ => None,
        };
        let levels = [
            ("level", TankSlot::Level, Some(&self.level)),
            ("until", TankSlot::Until, at_end),
        ];
        if let Some(full) = self.full() {
            for (field, slot, level) in levels {
                let Some(level) = level.and_then(known) else {
                    continue;
                };
                if above(level.quantity().value, full.quantity().value) {
                    let fault = Fault::new(format!(
                        "the {} the {name} is {}, but the tank is full at {}",
                        [slot.noun(), slot.preposition()].join(" "),
                        level.ascii(),
                        full.ascii()
                    ));
                    let mend = format!(
                        "write a level of at most {}, or give the tank another size",
                        full.ascii()
                    );
                    faults.push((field, fault.mend(mend)));
                }
            }
        }
        if let (Some(mouth), Some(floor)) = (self.mouth.as_ref().and_then(known), known(&self.floor)) {
            let over = |level: &Written| {
                let level = level.quantity().value;
                above(mouth.quantity().value, floor.quantity().value + level)
            };
            let high = |what: &str, level: &Written| {
                Fault::new(format!(
                    "the mouth of the pipe in the {name} is at {}, above {what}: {} over a floor at {}",
                    mouth.ascii(),
                    level.ascii(),
                    floor.ascii()
                ))
            };
            let surface = known(&self.level).filter(|_| place.drains);
            if let Some(lid) = self.lid(atmosphere).filter(over) {
                let mend = "write a lower `mouth`, which is an elevation as `floor` is, or leave it out where it is at the floor";
                faults.push(("mouth", high("the tank's top", &lid).mend(mend)));
            } else if let Some(level) = surface.filter(|level| over(level)) {
                let mend = "write a lower `mouth`, which is an elevation as `floor` is, or a higher `level`";
                faults.push(("mouth", high("the surface at the start", level).mend(mend)));
            }
        }
        faults
    }

    fn vessel(&self, atmosphere: f64) -> Vessel {
        let (shape, top) = match &self.shape {
            TankShape::Round(d) => (
                Shape::Constant {
                    area: path::area(number(d)),
                },
                None,
            ),
            TankShape::Area(area) => (Shape::Constant { area: number(area) }, None),
            TankShape::Cone {
                floor_diameter,
                top_diameter,
                height,
            } => {
                let floor_diameter = number(floor_diameter);
                let height = number(height);
                let shape = Shape::Cone {
                    floor_diameter,
                    widening: (number(top_diameter) - floor_diameter) / height,
                };
                (shape, Some(height))
            }
            TankShape::Sphere(d) => (Shape::Sphere { diameter: number(d) }, None),
            TankShape::Bowl(d) => (Shape::Sphere { diameter: number(d) }, Some(0.5 * number(d))),
            TankShape::LyingCylinder { diameter, length } => (
                Shape::LyingCylinder {
                    diameter: number(diameter),
                    length: number(length),
                },
                None,
            ),
            TankShape::Table(points) => (
                Shape::Table(
                    points
                        .iter()
                        .map(|(level, area)| (number(level), number(area)))
                        .collect(),
                ),
                None,
            ),
        };
        let height = self.height.as_ref().map(number);
        Vessel {
            shape,
            floor: number(&self.floor),
            level: number(&self.level),
            pressure: gauge(&self.pressure, atmosphere),
            brim: match (height, top) {
                (Some(height), Some(top)) => Some(height.min(top)),
                (height, top) => height.or(top),
            },
            mouth: self.mouth.as_ref().map(number),
            inflow: self.inflow.as_ref().map_or(0.0, number),
        }
    }

    /// As a station: what a path needs of it before its level is known.
    fn station(&self) -> Station {
        Station {
            name: Some(format!("surface in the {}", self.name)),
            pressure: self.pressure.clone(),
            elevation: filled(0.0, "m", Dimension::LENGTH),
            velocity: Velocity::Value(filled(0.0, "m/s", Dimension::VELOCITY)),
            alpha: None,
        }
    }
}

impl Kind for TankSystem {
    fn surroundings(&self) -> &Surroundings {
        &self.surroundings
    }

    fn surroundings_mut(&mut self) -> &mut Surroundings {
        &mut self.surroundings
    }

    fn values(&mut self, f: &mut dyn FnMut(Slot, Of<'_>, &mut Value)) {
        self.tank.values(Some(&mut self.until), f);
        if let TankRole::Equalises(second) = &mut self.role {
            second.values(None, f);
        }
        f(Slot::Tank(TankSlot::Time), Of::System, &mut self.time);
        if let Some(orifice) = &mut self.orifice {
            let of = Of::Element(&orifice.name);
            f(Slot::Diameter, of, &mut orifice.diameter);
            f(Slot::Tank(TankSlot::Discharge), of, &mut orifice.coefficient);
        }
        let own = match &self.role {
            TankRole::Drains(_) => Some(Of::End),
            TankRole::Fills(_) => Some(Of::Start),
            TankRole::Equalises(_) => None,
        };
        let mapped = self.path_system().map(&mut |slot, of, value| {
            let mut value = value.clone();
            if matches!(of, Of::Element(_)) || own == Some(of) {
                f(slot, of, &mut value);
            }
            value
        });
        self.path = mapped.path;
        self.points = mapped.points;
        match &mut self.role {
            TankRole::Drains(station) => *station = mapped.end,
            TankRole::Fills(station) => *station = mapped.start,
            TankRole::Equalises(_) => {}
        }
    }

    fn pipe_names(&self) -> Vec<&str> {
        self.path
            .iter()
            .filter_map(|e| match e {
                Element::Pipe { name, .. } => Some(name.as_str()),
                _ => None,
            })
            .collect()
    }

    fn results(&self) -> Vec<ResultName> {
        let mut all = Vec::new();
        let mut add = |name: &str, meaning: &str, dimension| {
            all.push(ResultName::plain(name, meaning, dimension));
        };
        add("t", "time", Dimension::TIME);
        if self.asks_level() {
            add(
                "h_closed",
                "level at the end, had friction stayed as at the start",
                Dimension::LENGTH,
            );
        } else {
            add(
                "t_closed",
                "time, had friction stayed as at the start",
                Dimension::TIME,
            );
        }
        add("h_1", "level in the tank at the start", Dimension::LENGTH);
        add("h_2", "level in the tank at the end", Dimension::LENGTH);
        if let TankRole::Equalises(_) = self.role {
            add("h_1s", "level in the second tank at the start", Dimension::LENGTH);
            add("h_2s", "level in the second tank at the end", Dimension::LENGTH);
            add(
                "A_s",
                "area of the second tank's surface at the start",
                Dimension::AREA,
            );
        }
        add("A_t", "area of the tank's surface at the start", Dimension::AREA);
        add("H_1", "head that drives the flow at the start", Dimension::LENGTH);
        add("H_2", "head that drives the flow at the end", Dimension::LENGTH);
        add(
            "Q_1",
            "volume flow through the pipe at the start",
            Dimension::FLOW,
        );
        add("Q_2", "volume flow through the pipe at the end", Dimension::FLOW);
        add("Vol", "volume that passes through the pipe", Dimension::VOLUME);
        if self.orifice.is_some() {
            add("d", "diameter of the orifice", Dimension::LENGTH);
            add("C_d", "discharge coefficient", Dimension::NONE);
            add("A", "area of the orifice", Dimension::AREA);
        }
        let pipes = self.pipe_names();
        for (base, meaning, dimension) in [
            ("D", "inner diameter", Dimension::LENGTH),
            ("L", "length", Dimension::LENGTH),
            ("eps", "roughness", Dimension::LENGTH),
            ("A", "area of the cross-section", Dimension::AREA),
            ("rr", "relative roughness ε/D", Dimension::NONE),
            ("V_1", "mean velocity at the start", Dimension::VELOCITY),
            ("V_2", "mean velocity at the end", Dimension::VELOCITY),
            ("Re_1", "Reynolds number at the start", Dimension::NONE),
            ("Re_2", "Reynolds number at the end", Dimension::NONE),
            ("f_1", "Darcy friction factor at the start", Dimension::NONE),
            ("f_2", "Darcy friction factor at the end", Dimension::NONE),
        ] {
            all.extend(ResultName::of_pipes(base, meaning, dimension, &pipes));
        }
        all
    }

    fn check_together(&self, faults: &mut Vec<Fault>) {
        let atmosphere = number(&self.surroundings.atmosphere);
        let mut found = self.tank.misfits(Some(&self.until), self.place(), atmosphere);
        if let TankRole::Equalises(second) = &self.role {
            found.extend(second.misfits(None, TankPlace::SECOND, atmosphere));
        }
        faults.extend(found.into_iter().map(|(_, fault)| fault));
    }

    fn stated(&self, result: &str) -> Option<&Value> {
        match (result, &self.until, &self.role) {
            ("t", _, _) => return Some(&self.time),
            ("h_1", _, _) => return Some(&self.tank.level),
            ("h_2", TankUntil::Level(level), _) => return Some(level),
            ("h_1s", _, TankRole::Equalises(second)) => return Some(&second.level),
            ("A_t", _, _) => return self.tank.shape.stated_area(),
            ("A_s", _, TankRole::Equalises(second)) => return second.shape.stated_area(),
            _ => {}
        }
        if let Some(orifice) = &self.orifice {
            return match result {
                "d" => Some(&orifice.diameter),
                "C_d" => Some(&orifice.coefficient),
                _ => None,
            };
        }
        let pipes = self.pipe_names().len();
        self.path.iter().find_map(|element| match element {
            Element::Pipe {
                name,
                bore,
                length,
                roughness,
                ..
            } => [
                ("D", bore.diameter()),
                ("L", Some(length)),
                ("eps", Some(roughness)),
            ]
            .into_iter()
            .find(|(base, _)| pipe_result(base, name, pipes) == result)
            .and_then(|(_, value)| value),
            _ => None,
        })
    }
}

impl TankSystem {
    /// Where the followed tank stands.
    fn place(&self) -> TankPlace {
        TankPlace {
            drains: !matches!(self.role, TankRole::Fills(_)),
            of_two: matches!(self.role, TankRole::Equalises(_)),
        }
    }

    /// Whether the level after a time is asked.
    pub fn asks_level(&self) -> bool {
        matches!(&self.until, TankUntil::Level(Value::Unknown))
    }

    /// The pipe whose diameter is asked, as its index.
    pub fn asked_diameter(&self) -> Option<usize> {
        if let Some(orifice) = &self.orifice {
            return matches!(orifice.diameter, Value::Unknown).then_some(0);
        }
        self.path
            .iter()
            .filter_map(|e| match e {
                Element::Pipe { bore, .. } => Some(bore),
                _ => None,
            })
            .position(|bore| matches!(bore, Bore::Round(Value::Unknown)))
    }

    /// The path with its stations, for what a path can do by itself.
    pub(crate) fn path_system(&self) -> PathSystem {
        let tank = || self.tank.station();
        let (start, end) = match &self.role {
            TankRole::Drains(end) => (tank(), end.clone()),
            TankRole::Fills(start) => (start.clone(), tank()),
            TankRole::Equalises(second) => (tank(), second.station()),
        };
        PathSystem {
            fluid: self.surroundings.fluid.clone(),
            gravity: self.surroundings.gravity.clone(),
            atmosphere: self.surroundings.atmosphere.clone(),
            flow: Value::Unknown,
            start,
            end,
            path: self.path.clone(),
            points: self.points.clone(),
            sizes: None,
        }
    }

    /// The problem in SI numbers, its fluid's properties rounded to `figures` figures.
    ///
    /// # Errors
    /// Everything that keeps it from being solved.
    pub fn problem(&self, figures: Option<u32>) -> Checked<Problem> {
        let whole = System::Tank(Box::new(self.clone()));
        let mut faults = whole.faults_before_solving(1..=1);
        let pipe = self.asked_diameter();
        let asks_time = matches!(self.time, Value::Unknown);
        if faults.is_empty() && !asks_time && !self.asks_level() && pipe.is_none() {
            faults.push(
                Fault::new(format!("a tank can't be solved for the {}", whole.unknown_name()))
                    .mend(TANK_UNKNOWNS),
            );
        }
        if !faults.is_empty() {
            return Err(Faults(faults));
        }
        // For the path a diameter that is asked may be anything, and an opening is a pipe without length.
        let mut along = self.path_system();
        let anything = || filled(1.0, "m", Dimension::LENGTH);
        for element in &mut along.path {
            if let Element::Pipe {
                bore: Bore::Round(diameter),
                ..
            } = element
                && *diameter == Value::Unknown
            {
                *diameter = anything();
            }
        }
        if self.orifice.is_some() {
            along.path = vec![Element::Pipe {
                name: "orifice".to_owned(),
                bore: Bore::Round(anything()),
                length: anything(),
                roughness: filled(0.0, "m", Dimension::LENGTH),
            }];
        }
        let mut path = along.problem(figures)?.path;
        if let Some(opening) = &self.orifice {
            let under_water = path.end.velocity == path::StationVelocity::Value(0.0);
            let diameter = if pipe.is_some() {
                1.0
            } else {
                number(&opening.diameter)
            };
            path.elements = orifice(diameter, number(&opening.coefficient), under_water, 0).to_vec();
            path.start.alpha = Some(1.0);
            path.end.alpha = Some(1.0);
        }
        let atmosphere = number(&self.surroundings.atmosphere);
        let until = match &self.until {
            TankUntil::Level(level) => Until::Level(number(level)),
            TankUntil::Difference(difference) => Until::Difference(number(difference)),
        };
        let time = number(&self.time);
        let tank = Some(self.tank.vessel(atmosphere));
        let (start, end) = match &self.role {
            TankRole::Drains(_) => (tank, None),
            TankRole::Fills(_) => (None, tank),
            TankRole::Equalises(second) => (tank, Some(second.vessel(atmosphere))),
        };
        Ok(Problem {
            path,
            start,
            end,
            asked: match pipe {
                Some(pipe) => Asked::Diameter { pipe, until, time },
                None if asks_time => Asked::Time(until),
                None => Asked::Level(time),
            },
        })
    }

    /// Why a level goes no further, after `since`.
    pub fn stop_words(&self, stop: Stop) -> String {
        let name = &self.tank.name;
        match stop {
            Stop::Full => format!("the {name} is full"),
            Stop::Empty if self.tank.mouth.is_some() => {
                format!("the {name} is empty down to the mouth of its pipe")
            }
            Stop::Empty => format!("the {name} is empty"),
            Stop::OtherFull => match &self.role {
                TankRole::Equalises(second) => format!("the {} is full", second.name),
                _ => "the other tank is full".to_owned(),
            },
            Stop::AtRest => "nothing drives the flow any more".to_owned(),
            Stop::InBalance => "as much flows in as flows out".to_owned(),
        }
    }

    /// Why there is no answer, for the person who wrote the system.
    pub fn fault(&self, error: &TankError) -> Fault {
        let short = |value: f64| Shown::new(value, 4).ascii();
        let name = &self.tank.name;
        let way = |rises: bool| if rises { "rises" } else { "falls" };
        match error {
            TankError::Flow { level, error } => {
                let inner = solve_fault(error, &self.path_system());
                let mend = match error {
                    SolveError::NoFlow { .. } => {
                        "check levels, elevations of floors and of the other end, and pressures".to_owned()
                    }
                    _ => inner.mend.unwrap_or_default(),
                };
                Fault::new(format!("with {} m in the {name}: {}", short(*level), inner.what)).mend(mend)
            }
            TankError::OtherWay { rises } => Fault::new(format!(
                "the level in the {name} {} from the start, away from the one that is asked for",
                way(*rises)
            ))
            .mend("check both levels, and what flows in beside the pipe"),
            TankError::StandsStill => Fault::new(format!(
                "the level in the {name} does not move: as much flows in as flows out"
            ))
            .mend("change the inflow or the level at the start"),
            TankError::StopsBefore { level, stop, .. } => {
                let never = match self.until {
                    TankUntil::Level(_) => "the level that is asked for",
                    TankUntil::Difference(_) => "the difference that is asked for",
                };
                Fault::new(format!(
                    "{never} is never reached: at {} m in the {name} {}",
                    short(*level),
                    self.stop_words(*stop)
                ))
                .mend(match stop {
                    Stop::InBalance => {
                        "ask for a level before that, or change the inflow, so that it settles elsewhere"
                    }
                    Stop::AtRest => "ask for a level before that, or lower the end that the liquid flows to",
                    _ => "ask for a level before that, or check the heights and sizes of the tanks",
                })
            }
            TankError::OnlyNeared { level, stop } => Fault::new(format!(
                "{} m in the {name} is only neared and never quite reached, since there {}",
                short(*level),
                self.stop_words(*stop)
            ))
            .mend(match stop {
                Stop::InBalance => "ask for a level a little before that",
                _ => "ask for a level a little before that: where hardly anything drives the flow it is laminar, and dies away ever more slowly",
            }),
            TankError::EndsBefore { time, level, stop } => Fault::new(format!(
                "the time is longer than it lasts: after {} s, at {} m in the {name}, {}",
                short(*time),
                short(*level),
                self.stop_words(*stop)
            ))
            .mend("give a shorter time"),
            TankError::NoDiameter { tried: (low, high), times: (slow, fast) } => Fault::new(format!(
                "no diameter between {} m and {} m makes it in that time: the first takes {} s, the last {} s",
                short(*low),
                short(*high),
                if slow.is_finite() { short(*slow) } else { "for ever, more than any number of".to_owned() },
                short(*fast)
            ))
            .mend("check the time, and what else on the way holds the flow back"),
            TankError::NotSettled => {
                Fault::new("the time can't be found to eight figures: the flow is too near to nothing, or jumps")
                    .mend("ask for a level where something still flows")
            }
            TankError::Impossible { what, value } => {
                Fault::new(format!("the {what} can't be {}", short(*value))).mend("check the value and its unit")
            }
        }
    }
}
