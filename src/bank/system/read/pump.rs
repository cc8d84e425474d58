//! The YAML of curves, and of what is said of a pump or a turbine beside its duty.

use super::Reader;
use crate::bank::system::pump::{
    Curve, EFFICIENCIES, Electric, NPSH, OverFlow, Places, PumpDetails, Quadratic,
};
use crate::bank::system::slot::{Of, Slot};
use crate::bank::system::{Duty, Value};
use crate::bank::yaml::{Cursor, Fields};

/// What a pump may say.
pub(super) const PUMP_FIELDS: &[&str] = &[
    "name",
    "head",
    "power",
    "curve",
    "efficiency",
    "rated speed",
    "speed",
    "full impeller",
    "impeller",
    "parallel",
    "series",
    "npsh required",
    "elevation",
    "motor efficiency",
    "running time",
    "price",
];

/// What a turbine may say.
pub(super) const TURBINE_FIELDS: &[&str] = &[
    "name",
    "head",
    "power",
    "efficiency",
    "generator efficiency",
    "running time",
    "price",
];

/// Most points of a curve.
const MOST_POINTS: usize = 50;

impl Reader<'_> {
    /// A curve: a list of points, `{ points, fit }`, or `{ a, b, c, up to }`.
    pub(super) fn curve(&self, at: &Cursor<'_>, places: Places, of: Of<'_>) -> Option<Curve> {
        let curve = self.try_curve(at, places, of);
        if curve.is_none() {
            self.lost.set(true);
        }
        curve
    }

    fn try_curve(&self, at: &Cursor<'_>, places: Places, of: Of<'_>) -> Option<Curve> {
        if at.is_list() {
            return self.points(at, places, of).map(|points| Curve::Points {
                points,
                parabola: false,
            });
        }
        if !at.is_map() {
            at.fault(
                format!("{} holds one value, but a curve is needed", at.called()),
                format!(
                    "write points, such as `[[0 L/s, {0}], [10 L/s, …]]`, or `{{ a: {0}, c: … }}` for a + b Q + c Q^2",
                    places.value.example()
                ),
            );
            return None;
        }
        let fields = at.fields(&["points", "fit", "a", "b", "c", "up to"])?;
        if fields.has("points") {
            for wrong in ["a", "b", "c", "up to"] {
                if let Some(c) = fields.get(wrong) {
                    c.key_fault(
                        format!("the curve has points, so that `{wrong}` has no use"),
                        "keep the points, or the coefficients of a parabola",
                    );
                }
            }
            let parabola = match fields.get("fit") {
                None => Some(false),
                Some(c) => match c.text()? {
                    "points" => Some(false),
                    "parabola" => Some(true),
                    other => {
                        c.fault(
                            format!("`{other}` is no way to fit a curve"),
                            "write `parabola` for the parabola nearest to the points, or `points` for a curve through them",
                        );
                        None
                    }
                },
            };
            let points = fields.get("points").and_then(|c| self.points(&c, places, of));
            return Some(Curve::Points {
                points: points?,
                parabola: parabola?,
            });
        }
        if let Some(c) = fields.get("fit") {
            c.key_fault("a fit needs points", "add `points: […]`, or take the fit out");
        }
        let a = fields
            .need("a", places.value.example())
            .and_then(|c| self.value(&c, places.value, of));
        let maybe = |name: &str, slot: Slot| match fields.get(name) {
            Some(c) => self.value(&c, slot, of).map(Some),
            None => Some(None),
        };
        let (b, c) = (maybe("b", places.per_flow), maybe("c", places.per_flow_squared));
        let end = maybe("up to", Slot::CurveFlow);
        Some(Curve::Quadratic(Box::new(Quadratic {
            a: a?,
            b: b?,
            c: c?,
            end: end?,
        })))
    }

    fn points(&self, at: &Cursor<'_>, places: Places, of: Of<'_>) -> Option<Vec<(Value, Value)>> {
        let items = at.list()?;
        if items.len() > MOST_POINTS {
            at.fault(
                format!("the curve has {} points", items.len()),
                format!("{MOST_POINTS} are enough"),
            );
            return None;
        }
        let points: Vec<Option<(Value, Value)>> = items
            .iter()
            .map(|item| {
                let pair = item.list()?;
                let [flow, value] = pair.as_slice() else {
                    item.fault(
                        "a point of a curve holds a flow and a value",
                        format!("write it so: `[10 L/s, {}]`", places.value.example()),
                    );
                    return None;
                };
                let flow = self.value(flow, Slot::CurveFlow, of);
                let value = self.value(value, places.value, of);
                Some((flow?, value?))
            })
            .collect();
        points.into_iter().collect()
    }

    fn where_said(&self, fields: &Fields<'_>, name: &str, slot: Slot, of: Of<'_>) -> Option<Option<Value>> {
        match fields.get(name) {
            Some(c) => self.value(&c, slot, of).map(Some),
            None if fields.has(name) => None,
            None => Some(None),
        }
    }

    /// Motor or generator, and what its energy costs.
    pub(super) fn electric(
        &self,
        fields: &Fields<'_>,
        efficiency: &str,
        slot: Slot,
        of: Of<'_>,
    ) -> Option<Electric> {
        let efficiency = self.where_said(fields, efficiency, slot, of);
        let running_time = self.where_said(fields, "running time", Slot::RunningTime, of);
        let price = self.where_said(fields, "price", Slot::Price, of);
        if let Some(c) = fields.get("price")
            && !fields.has("running time")
        {
            c.key_fault(
                "a price of energy needs a running time to give a cost",
                "add `running time: 4000 h`, the hours of a year",
            );
        }
        Some(Electric {
            efficiency: efficiency?,
            running_time: running_time?,
            price: price?,
        })
    }

    pub(super) fn pump_details(
        &self,
        fields: &Fields<'_>,
        of: Of<'_>,
        name: Option<&str>,
        duty: Option<&Duty>,
    ) -> Option<PumpDetails> {
        let efficiency = match fields.get("efficiency") {
            Some(c) if c.is_map() || c.is_list() => self.curve(&c, EFFICIENCIES, of).map(Some),
            _ => Some(None),
        };
        let npsh_required = match fields.get("npsh required") {
            Some(c) if c.is_map() || c.is_list() => {
                self.curve(&c, NPSH, of).map(|curve| Some(OverFlow::Curve(curve)))
            }
            Some(c) => self
                .value(&c, Slot::NpshRequired, of)
                .map(|value| Some(OverFlow::Value(Box::new(value)))),
            None => Some(None),
        };
        let of_curve = |field: &str, slot: Slot| {
            if let Some(c) = fields.get(field)
                && !fields.has("curve")
            {
                c.key_fault(
                    format!("{} of a pump goes with its curve", c.called()),
                    format!("add a `curve`, or take `{field}` out"),
                );
            }
            self.where_said(fields, field, slot, of)
        };
        let rated_speed = of_curve("rated speed", Slot::RatedSpeed);
        let speed = of_curve("speed", Slot::Speed);
        let full_impeller = of_curve("full impeller", Slot::FullImpeller);
        let impeller = of_curve("impeller", Slot::Impeller);
        for (now, whole, example) in [
            ("speed", "rated speed", "1450 rpm"),
            ("impeller", "full impeller", "220 mm"),
        ] {
            if let Some(c) = fields.get(now)
                && !fields.has(whole)
            {
                c.key_fault(
                    format!("`{now}` needs `{whole}`, that of the curve"),
                    format!("add `{whole}: {example}`"),
                );
            }
        }
        let parallel = of_curve("parallel", Slot::Parallel);
        let series = of_curve("series", Slot::Series);
        if let Some(c) = fields.get("npsh required")
            && !fields.has("elevation")
        {
            c.key_fault(
                "the NPSH that a pump needs can't be held against anything without the pump's elevation",
                "add `elevation: 1.5 m`, the height of the pump's inlet",
            );
        }
        let elevation = self.where_said(fields, "elevation", Slot::PumpElevation, of);
        let electric = self.electric(fields, "motor efficiency", Slot::MotorEfficiency, of);
        let details = PumpDetails {
            efficiency: efficiency?,
            rated_speed: rated_speed?,
            speed: speed?,
            full_impeller: full_impeller?,
            impeller: impeller?,
            parallel: parallel?,
            series: series?,
            npsh_required: npsh_required?,
            elevation: elevation?,
            electric: electric?,
        };
        let faults = details.faults(name?, duty?);
        let place = fields.get("curve").unwrap_or_else(|| fields.at.clone());
        for fault in faults.iter().cloned() {
            place.add(fault.at(place.place()));
        }
        faults.is_empty().then_some(details)
    }
}
