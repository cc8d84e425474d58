//! The line itself: ends, pipes, symbols.

use super::*;

impl Drawing<'_, '_> {
    pub(super) fn ends(&mut self, both: [Ending<'_, '_>; 2]) {
        let elevations = end_elevations(self.line);
        for ((end, form, placing), (number, z)) in
            both.into_iter().zip([("1", elevations.0), ("2", elevations.1)])
        {
            match end {
                End::Tank(moving) => ends::tank(self.sheet, moving, self.heights, self.say, placing),
                End::Station(station) => {
                    let open = is_open(&station.pressure, self.line.atmosphere);
                    let surface = self.heights.y(z);
                    let rect = ends::station(self.sheet, form, number, surface, open, placing);
                    let lines = ends::said(station, number, form, open, self.say);
                    let mut spots = Vec::new();
                    let (x, y) = (0.5 * (rect.x0 + rect.x1), rect.y0);
                    // Names of ends keep to the outside, where no pipe is.
                    for away in [1.0, 4.0, 8.0] {
                        spots.push(spot(x, y - away, 0, -1));
                        spots.push(spot(x, rect.y1 + away, 0, 1));
                        let outer = if placing.out < 0.0 { rect.x0 } else { rect.x1 };
                        let side = if placing.out < 0.0 { 1 } else { -1 };
                        spots.push(spot(outer, y - away, side, -1));
                        spots.push(spot(outer, rect.y1 + away, side, 1));
                    }
                    spots.extend(about(rect));
                    self.sheet.label(lines, spots, (x, rect.y0 + 2.0));
                }
            }
        }
    }

    pub(super) fn pipes(&mut self, items: &[Item], dip: Option<f64>, start: &Placing, forms: (Form, Form)) {
        let last = items.len().saturating_sub(1);
        for (i, item) in items.iter().enumerate() {
            let mut way = way(item);
            let bore = item.bore;
            if let (0, Some(x)) = (i, dip) {
                let mut dipped = vec![(x, start.y + 1.5), (x, item.y0)];
                dipped.append(&mut way);
                way = dipped;
            }
            // Ends run into the walls that they meet.
            if i == 0
                && dip.is_none()
                && let Some(first) = way.first_mut()
            {
                first.0 -= if matches!(forms.0, Form::Basin | Form::Tank) {
                    0.25
                } else {
                    0.0
                };
            }
            if i == last
                && let Some(end) = way.last_mut()
            {
                end.0 += if matches!(forms.1, Form::Basin | Form::Tank) {
                    0.25
                } else {
                    0.0
                };
            }
            // Pieces overlap a little, so that no hairline shows between them.
            let before = i.checked_sub(1).and_then(|n| items.get(n));
            if before.is_some_and(|b| (b.bore - bore).abs() < 0.05)
                && let Some(first) = way.first_mut()
            {
                first.0 -= 0.4;
            }
            self.sheet.pipe(&way, bore);
            let next = items.get(i + 1);
            // A step of the bore has a face.
            if let Some(next) = next.filter(|n| (n.bore - bore).abs() > 0.05) {
                let (wide, narrow) = (0.5 * bore.max(next.bore), 0.5 * bore.min(next.bore));
                if !self.is_cone(item, next) {
                    for side in [-1.0, 1.0] {
                        self.sheet.line(
                            &[
                                (item.x1, item.y1 + side * (wide - 0.25)),
                                (item.x1, item.y1 + side * (narrow - 0.25)),
                            ],
                            Pen::THICK,
                        );
                    }
                }
            }
        }
    }

    fn loss(&self, item: &Item) -> Option<&Element> {
        match item.what {
            What::Loss => self.line.path.get(item.element),
            _ => None,
        }
    }

    fn is_cone(&self, item: &Item, next: &Item) -> bool {
        [item, next].iter().any(|i| {
            matches!(
                self.loss(i),
                Some(Element::Loss {
                    by: LossBy::Cone { .. } | LossBy::Taper { .. },
                    ..
                })
            )
        })
    }

    pub(super) fn symbols(&mut self, items: &[Item], dip: Option<f64>, start: &Placing) {
        let first_pipe = first_pipe(items);
        for (i, item) in items.iter().enumerate() {
            let (x, y) = (0.5 * (item.x0 + item.x1), item.y0);
            match &item.what {
                What::Pipe { .. } | What::Joint => {}
                What::Opening => self.opening(item),
                What::Point(n) => self.point(*n, (x, y), item.bore),
                What::Machine => self.machine(item, (x, y)),
                What::Loss => {
                    let Some(Element::Loss {
                        name,
                        coefficient,
                        by,
                        ..
                    }) = self.line.path.get(item.element)
                    else {
                        continue;
                    };
                    let all = symbols::symbols(name, *by);
                    let lines = loss_says(name, *by, coefficient, self.say);
                    // At the foot of a line that hangs over a rim stands what the water meets first.
                    let at_foot = dip.filter(|_| i < first_pipe);
                    let rect = match at_foot {
                        Some(foot) => self.foot(&all, (foot, start.y + 1.5), item.bore),
                        None => self.in_line(&all, items, i),
                    };
                    let target = (0.5 * (rect.x0 + rect.x1), 0.5 * (rect.y0 + rect.y1));
                    let mut spots = about(rect);
                    if at_foot.is_some() {
                        // Under the tank, out of the water.
                        let under = start.y + 8.5;
                        spots = vec![spot(target.0, under, 0, 1), spot(target.0 + 12.0, under, 0, 1)];
                        spots.extend(about(rect));
                    }
                    self.sheet.label(lines, spots, target);
                }
            }
        }
    }

    /// Symbols side by side in the middle of a slot; gives the rectangle about them.
    fn in_line(&mut self, all: &[Symbol], items: &[Item], i: usize) -> Rect {
        let Some(item) = items.get(i) else {
            return Rect::new(0.0, 0.0, 1.0, 1.0);
        };
        let (y, bore) = (item.y0, item.bore);
        let middle = 0.5 * (item.x0 + item.x1);
        let half = 0.5 * bore;
        let mut reach = (middle, middle);
        for (n, symbol) in all.iter().enumerate() {
            let x = middle + 7.6 * (n as f64 - 0.5 * (all.len() as f64 - 1.0));
            match symbol {
                Symbol::Entrance | Symbol::RoundedEntrance | Symbol::ReentrantEntrance | Symbol::Exit => {
                    let at_start = *symbol != Symbol::Exit;
                    let wall = if at_start { item.x0 } else { item.x1 };
                    if (i == 0 && at_start) || (i + 1 == items.len() && !at_start) {
                        self.edge(*symbol, (wall, y), bore);
                        reach = (wall - 1.5, wall + 1.5);
                    }
                }
                Symbol::Widening | Symbol::Narrowing => {
                    let next = items.get(i + 1).map_or(bore, |n| n.bore);
                    let cone = items.get(i + 1).is_some_and(|n| self.is_cone(item, n));
                    if cone {
                        self.cone(item, next);
                        reach = (middle - 3.0, item.x1);
                    } else {
                        reach = (item.x1 - 1.5, item.x1 + 1.5);
                    }
                }
                other => {
                    symbols::draw(self.sheet, *other, (x, y), bore);
                    reach = if n == 0 {
                        (x - HALF, x + HALF)
                    } else {
                        (reach.0, x + HALF)
                    };
                }
            }
        }
        Rect::new(reach.0, y - half.max(2.6) - 0.6, reach.1, y + half.max(2.6) + 0.6)
    }

    /// A cone over the second half of a slot, in the place of a step.
    fn cone(&mut self, item: &Item, next: f64) {
        let (x0, x1, y) = (item.x1 - 5.0, item.x1, item.y1);
        let (a, b) = (0.5 * item.bore, 0.5 * next);
        let outer = [(x0, y - a), (x1, y - b), (x1, y + b), (x0, y + a)];
        let pen = Pen {
            width: 0.0,
            ..Pen::THIN
        };
        self.sheet
            .outline(Layer::Line, &outer, pen.filled(self.sheet.inside), true);
        for side in [-1.0, 1.0] {
            let shift = side * 0.5 * THICK;
            self.sheet.line(
                &[(x0, y + side * a - shift), (x1, y + side * b - shift)],
                Pen::THICK,
            );
        }
    }

    /// The edge where a line leaves or enters a tank.
    fn edge(&mut self, symbol: Symbol, (x, y): At, bore: f64) {
        let half = 0.5 * bore;
        match symbol {
            Symbol::RoundedEntrance => {
                for side in [-1.0, 1.0] {
                    let curve: Vec<At> = (0..=6)
                        .map(|i| std::f64::consts::FRAC_PI_2 * f64::from(i) / 6.0)
                        .map(|a| {
                            let r = 1.6;
                            (
                                x + r - r * libm::cos(a),
                                y + side * (half - 0.25 + r - r * libm::sin(a)),
                            )
                        })
                        .collect();
                    self.sheet.outline(
                        Layer::Line,
                        &[curve.as_slice(), &[(x, y + side * (half + 1.4))]].concat(),
                        Pen::THIN.filled(BLACK),
                        true,
                    );
                }
            }
            Symbol::ReentrantEntrance => self.sheet.pipe(&[(x - 4.0, y), (x + 0.5, y)], bore),
            Symbol::Exit => {
                let pen = Pen {
                    width: 0.35,
                    ..Pen::THIN
                };
                self.sheet.arrow((x + 1.0, y), (x + 6.0, y), pen, 2.0);
            }
            _ => {}
        }
    }

    /// Symbols at the foot of a line that hangs into a tank.
    fn foot(&mut self, all: &[Symbol], (x, y): At, bore: f64) -> Rect {
        let half = 0.5 * bore + 0.9;
        if all
            .iter()
            .any(|s| matches!(s, Symbol::FootValve | Symbol::Strainer))
        {
            // A basket below the mouth, and the flap of the valve in it.
            let pen = Pen {
                dash: "0.8 0.6",
                ..Pen::THICK
            };
            let basket = [
                (x - half, y - 0.6),
                (x - half, y + 3.4),
                (x + half, y + 3.4),
                (x + half, y - 0.6),
            ];
            self.sheet.line(&basket, pen);
            self.sheet
                .line(&[(x - half, y - 0.6), (x + half, y - 0.6)], Pen::THICK);
            if all.contains(&Symbol::FootValve) {
                self.sheet.line(
                    &[(x - 0.8 * half, y + 1.8), (x + 0.4 * half, y - 0.4)],
                    Pen::THICK,
                );
            }
            return Rect::new(x - half, y - 1.0, x + half, y + 3.6);
        }
        if all.iter().any(|s| {
            !matches!(
                s,
                Symbol::Entrance | Symbol::RoundedEntrance | Symbol::ReentrantEntrance
            )
        }) {
            self.sheet
                .line(&[(x - half, y - 3.0), (x + half, y - 3.0)], Pen::THICK);
        }
        Rect::new(x - half, y - 1.5, x + half, y + 0.5)
    }

    fn machine(&mut self, item: &Item, (x, y): At) {
        let Some(element) = self.line.path.get(item.element) else {
            return;
        };
        let mut reach = (ROUND, ROUND);
        match element {
            Element::Turbine { .. } => symbols::machine(self.sheet, Machine::Turbine, (x, y)),
            Element::Pump { name, details, .. } => {
                let said = name.to_lowercase();
                let fan = self.line.is_gas || said.contains("fan") || said.contains("blower");
                let kind = if fan { Machine::Fan } else { Machine::Pump };
                let several =
                    |value: &Option<Value>| value.as_ref().and_then(number).is_some_and(|n| n > 1.0);
                if several(&details.parallel) {
                    // Two of them stand for however many there are.
                    let (off, thin) = (5.4, 0.6 * item.bore);
                    for side in [-off, off] {
                        let (a, b) = (x - 8.6, x + 8.6);
                        let branch = [(a, y), (a, y + side), (b, y + side), (b, y)];
                        self.sheet.pipe(&branch, thin);
                    }
                    self.sheet.line_in(
                        Layer::Inside,
                        &[(x - 8.4 + 0.5 * thin, y), (x + 8.4 - 0.5 * thin, y)],
                        Pen {
                            width: item.bore + 0.2,
                            colour: crate::figure::schematic::sheet::WHITE,
                            ..Pen::THICK
                        },
                    );
                    // The branches' inner walls, which the line's inside has covered.
                    for wall in [x - 8.6 + 0.5 * thin - 0.25, x + 8.6 - 0.5 * thin + 0.25] {
                        let half = 0.5 * item.bore - 0.2;
                        self.sheet.line(&[(wall, y - half), (wall, y + half)], Pen::THICK);
                    }
                    for side in [-off, off] {
                        symbols::machine(self.sheet, kind, (x, y + side));
                    }
                    reach = (off + ROUND, 9.0);
                } else if several(&details.series) {
                    for side in [-4.9, 4.9] {
                        symbols::machine(self.sheet, kind, (x + side, y));
                    }
                    reach = (ROUND, 4.9 + ROUND);
                } else {
                    symbols::machine(self.sheet, kind, (x, y));
                }
            }
            _ => return,
        }
        let lines = machine_says(element, self.say);
        let rect = Rect::new(x - reach.1, y - reach.0 - 0.4, x + reach.1, y + reach.0 + 0.4);
        self.sheet.label(lines, about(rect), (x, y - reach.0));
    }

    /// A tank that drains through an opening in its floor.
    pub(super) fn drain(&mut self, start: &Placing, end: &Placing) {
        let (End::Tank(moving), End::Station(station), Some(orifice)) =
            (&self.line.start, &self.line.end, self.line.orifice)
        else {
            return;
        };
        let closed = Placing { bore: 0.0, ..*start };
        ends::tank(self.sheet, moving, self.heights, self.say, &closed);
        let (x, y) = (ends::middle(start), self.heights.y(ends::levels(moving).floor));
        // The floor is open there.
        let open = Pen {
            colour: self.sheet.inside,
            width: 0.8,
            ..Pen::THICK
        };
        self.sheet.line(&[(x - 1.6, y), (x + 1.6, y)], open);
        for (side, out) in [(-1.0, 3.4), (1.0, 3.4)] {
            let pen = Pen {
                width: 1.1,
                ..Pen::THICK
            };
            self.sheet.line(&[(x + side * 1.6, y), (x + side * out, y)], pen);
        }
        let jet = [
            (x - 1.4, y - 0.8),
            (x + 1.4, y - 0.8),
            (x + 1.0, y + 4.0),
            (x + 1.0, y + 13.0),
            (x - 1.0, y + 13.0),
            (x - 1.0, y + 4.0),
        ];
        let inside = self.sheet.inside;
        self.sheet.wash(&jet, inside);
        for side in [-1.0, 1.0] {
            self.sheet.line(
                &[
                    (x + side * 1.5, y + 0.4),
                    (x + side, y + 4.0),
                    (x + side, y + 13.0),
                ],
                Pen::THIN,
            );
        }
        self.sheet.station((x - 6.0, y + 6.0), "2");
        let mut lines = ends::said(station, "2", Form::Mouth, true, self.say);
        let mut own = name_within(&orifice.name, 30.0);
        if own.first().map(Words::bare) == lines.first().map(Words::bare) {
            lines.clear();
        }
        own.push(side_by_side(
            self.say.equal("d", "", &orifice.diameter),
            &self.say.equal("C", "d", &orifice.coefficient),
        ));
        self.sheet
            .label(own, vec![spot(x + 4.5, y + 2.6, 1, 1)], (x + 2.0, y));
        let spots = vec![spot(x - 9.5, y + 6.0, -1, 0), spot(x, y + 15.0, 0, 1)];
        self.sheet.label(lines, spots, (x, y + 10.0));
        let end = Placing {
            x: x + 30.0,
            y: end.y,
            ..*end
        };
        let differ = self.heights.differ();
        self.elevations(
            &[],
            [
                (&self.line.start, Form::Tank, start),
                (&self.line.end, Form::Mouth, &end),
            ],
            differ,
        );
    }

    fn opening(&mut self, item: &Item) {
        let Some(orifice) = self.line.orifice else {
            return;
        };
        let (x, y) = (item.x0, item.y0);
        for side in [-1.0, 1.0] {
            self.sheet.line(
                &[
                    (x, y + side * 0.5 * item.bore),
                    (x, y + side * (0.5 * item.bore + 2.0)),
                ],
                Pen {
                    width: 1.1,
                    ..Pen::THICK
                },
            );
        }
        let mut lines = name_within(&orifice.name, 26.0);
        lines.push(self.say.equal("d", "", &orifice.diameter));
        lines.push(self.say.equal("C", "d", &orifice.coefficient));
        let rect = Rect::new(
            x - 0.6,
            y - 0.5 * item.bore - 2.0,
            item.x1,
            y + 0.5 * item.bore + 2.0,
        );
        self.sheet.label(lines, about(rect), (x, y));
    }

    fn point(&mut self, n: usize, (x, y): At, bore: f64) {
        let Some(point) = self.line.points.get(n) else {
            return;
        };
        self.sheet
            .circle((x, y), 0.9, Layer::Over, Pen::THIN.filled(BLACK));
        let mut lines = name_within(&point.name, 26.0);
        if let Some(along) = &point.along {
            lines.push(Words::plain(format!("{} along the pipe", self.say.value(along))));
        }
        let rect = Rect::new(x - 1.0, y - 0.5 * bore, x + 1.0, y + 0.5 * bore);
        self.sheet.label(lines, about(rect), (x, y));
    }
}

/// Whether the air outside presses on a surface.
fn is_open(pressure: &Value, atmosphere: &Value) -> bool {
    if is_nought(pressure) {
        return true;
    }
    match (pressure, atmosphere) {
        (Value::Known(p), Value::Known(a)) => {
            p.unit.reference == Some(crate::quantity::PressureReference::Absolute)
                && (p.quantity().value - a.quantity().value).abs() < 1.0
        }
        _ => false,
    }
}
