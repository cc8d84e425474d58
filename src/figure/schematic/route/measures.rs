//! What is written beside the line and drawn over it: elevations, the flow, pipes' measures, grade lines.

use super::*;

impl Drawing<'_, '_> {
    /// Datum and dimension lines of elevations.
    pub(super) fn elevations(&mut self, items: &[Item], both: [Ending<'_, '_>; 2], differ: bool) {
        if !differ {
            return;
        }
        let y0 = self.heights.y(0.0);
        let values = end_elevations(self.line);
        let mut reach: (f64, f64) = (f64::INFINITY, f64::NEG_INFINITY);
        let mut dims: Vec<(f64, f64, f64, Words)> = Vec::new();
        for ((end, form, placing), (n, z)) in both.into_iter().zip([("1", values.0), ("2", values.1)]) {
            let value = end.elevation();
            let y = self.heights.y(z);
            let edge = placing.x + placing.out * placing.reach;
            reach = (reach.0.min(edge), reach.1.max(edge));
            if is_nought(value) {
                continue;
            }
            let x = ends::beside(form, placing);
            let symbol = match end {
                End::Tank(moving) => moving.letter().to_owned(),
                End::Station(_) => n.to_owned(),
            };
            let from = if form == Form::Basin || form == Form::Tank {
                edge
            } else {
                placing.x + placing.out * 6.0
            };
            dims.push((x, y, from, self.say.equal("z", &symbol, value)));
        }
        for item in items {
            let (value, says) = match (&item.what, self.line.path.get(item.element)) {
                (What::Point(n), _) => match self.line.points.get(*n) {
                    Some(point) if !is_nought(&point.elevation) => {
                        (&point.elevation, self.say.equal("z", "", &point.elevation))
                    }
                    _ => continue,
                },
                (What::Machine, Some(Element::Pump { details, .. })) => match &details.elevation {
                    Some(value) if !is_nought(value) => (value, self.say.equal("z", "P", value)),
                    _ => continue,
                },
                _ => continue,
            };
            let Some(z) = number(value) else { continue };
            let x = item.x1
                + if matches!(item.what, What::Machine) {
                    2.5
                } else {
                    2.0
                };
            dims.push((x, self.heights.y(z), x, says));
        }
        if dims.is_empty() {
            return;
        }
        let pen = Pen {
            colour: GREY,
            ..Pen::THIN
        };
        for (x, y, from, says) in dims {
            reach = (reach.0.min(x - 1.5), reach.1.max(x + 1.5));
            if (from - x).abs() > 0.1 {
                let way = if x > from { 1.0 } else { -1.0 };
                self.sheet.line(&[(from + way * 0.8, y), (x + way * 1.3, y)], pen);
            }
            self.sheet.upright(x, y0, y, vec![says]);
        }
        // Where the datum runs through an open tank's surface it is the surface.
        self.sheet
            .line(&[(reach.0 - 1.0, y0), (reach.1 + 1.0, y0)], Pen::AXIS);
        let words = vec![Words::plain("").italic("z").upright(" = 0")];
        let mut spots = Vec::new();
        for share in [1.0, 0.0, 0.9, 0.1, 0.8, 0.2, 0.7, 0.3, 0.6, 0.4, 0.5] {
            let x = reach.0 + share * (reach.1 - reach.0);
            let side = if share > 0.5 { -1 } else { 1 };
            spots.extend([spot(x, y0 - 0.7, side, -1), spot(x, y0 + 0.8, side, 1)]);
        }
        self.sheet.label(words, spots, (reach.1, y0));
    }

    /// An arrow in the first pipe, and the flow beside it; arrows alone in the others.
    pub(super) fn flow(&mut self, items: &[Item]) {
        let mut first = true;
        for item in items {
            let What::Pipe { piece: 0, .. } = &item.what else {
                continue;
            };
            let way = way(item);
            let (from, to) = (way[0], way[1]);
            let room = to.0 - from.0;
            let long = 6.0_f64.min(0.7 * room);
            if room < 4.0 {
                continue;
            }
            let x = from.0 + if room > 14.0 { 3.0 } else { 0.5 * (room - long) };
            let pen = Pen {
                width: 0.4,
                ..Pen::THIN
            };
            self.sheet
                .arrow((x, from.1), (x + long, from.1), pen, 2.2_f64.min(item.bore));
            if first && let Some(flow) = self.line.flow {
                let half = 0.5 * item.bore;
                let rect = Rect::new(x, from.1 - half, x + long, from.1 + half);
                let label = vec![self.say.equal("Q", "", flow)];
                let mut spots = about(rect);
                let y = from.1;
                for at in [to.0 - 8.0, 0.5 * (from.0 + to.0)] {
                    spots.extend([spot(at, y - half - 1.0, 0, -1), spot(at, y + half + 1.0, 0, 1)]);
                }
                self.sheet.label(label, spots, (x + 0.5 * long, from.1));
            }
            first = false;
        }
    }

    pub(super) fn pipe_labels(&mut self, items: &[Item]) {
        for (i, item) in items.iter().enumerate() {
            let What::Pipe { piece: 0, pieces } = &item.what else {
                continue;
            };
            let Some(element) = self.line.path.get(item.element) else {
                continue;
            };
            let lines = pipe_says(element, self.say);
            let half = 0.5 * item.bore;
            let mut spots = Vec::new();
            // All pieces of the pipe and their legs; the last piece of several is as good as the first.
            let pieces: Vec<&Item> = (items.iter().skip(i))
                .filter(|p| p.element == item.element && matches!(p.what, What::Pipe { .. }))
                .take(*pieces)
                .collect();
            for away in [1.2, 4.0, 8.0] {
                for piece in &pieces {
                    for pair in way(piece).windows(2) {
                        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
                        if (y1 - y0).abs() < 0.05 {
                            for share in [0.5, 0.4, 0.6, 0.25, 0.75] {
                                let x = x0 + share * (x1 - x0);
                                spots.push(spot(x, y0 - half - away, 0, -1));
                                spots.push(spot(x, y0 + half + away, 0, 1));
                            }
                        } else {
                            for share in [0.5, 0.35, 0.65, 0.2, 0.8] {
                                let (x, y) = (x0 + share * (x1 - x0), y0 + share * (y1 - y0));
                                let aside = half + away + 2.5;
                                spots.push(spot(x + aside, y, 1, 0));
                                spots.push(spot(x - aside, y, -1, 0));
                            }
                        }
                    }
                }
            }
            let mut targets = Vec::new();
            for piece in &pieces {
                for pair in way(piece).windows(2) {
                    for share in [0.5, 0.3, 0.7, 0.15, 0.85] {
                        let x = pair[0].0 + share * (pair[1].0 - pair[0].0);
                        let y = pair[0].1 + share * (pair[1].1 - pair[0].1);
                        targets.push((x, y));
                    }
                }
            }
            self.sheet.label_of(lines, spots, targets);
            if let Element::Pipe {
                bore: Bore::Duct(duct),
                ..
            } = element
            {
                self.cross_section(&duct.shape, item);
            }
        }
    }

    /// The cross-section of a duct that is not round, drawn beside it with its measures.
    fn cross_section(&mut self, shape: &DuctShape, item: &Item) {
        let middle = 0.5 * (item.x0 + item.x1);
        let low = item.y0.max(item.y1) + 22.0;
        section::draw(self.sheet, shape, (middle, low), self.say);
    }

    /// Energy and hydraulic grade line over the drawing.
    pub(super) fn heads(
        &mut self,
        heads: &Heads<'_>,
        items: &[Item],
        (forms, start, end): ((Form, Form), &Placing, &Placing),
    ) {
        let hung = first_pipe(items);
        let x_of = |at: Along| -> f64 {
            let of_element = |i: usize| {
                items.iter().filter(move |item| {
                    item.element == i && !matches!(item.what, What::Point(_) | What::Joint)
                })
            };
            match at {
                Along::Start => match forms.0 {
                    Form::Basin if start.over_rim => start.x - 1.5 * DIP,
                    Form::Basin | Form::Tank | Form::Room => start.x - 8.0,
                    _ => start.x,
                },
                Along::End => match forms.1 {
                    Form::Basin | Form::Tank | Form::Room => end.x + 8.0,
                    Form::Nozzle => end.x + 8.0,
                    _ => end.x,
                },
                // What hangs in the tank stands at the foot of the line.
                Along::Before(i) | Along::Behind(i) if start.over_rim && i < hung => start.x - DIP,
                Along::Before(i) => of_element(i).map(|item| item.x0).fold(f64::INFINITY, f64::min),
                Along::Behind(i) => of_element(i)
                    .map(|item| item.x1)
                    .fold(f64::NEG_INFINITY, f64::max),
                Along::Point(n) => (items.iter())
                    .find(|item| matches!(item.what, What::Point(m) if m == n))
                    .map_or(start.x, |item| 0.5 * (item.x0 + item.x1)),
            }
        };
        let mut energy: Vec<At> = Vec::new();
        let mut hydraulic: Vec<At> = Vec::new();
        for mark in heads.marks {
            let x = x_of(mark.at);
            if x.is_finite() {
                energy.push((x, self.heights.y(mark.energy)));
                hydraulic.push((x, self.heights.y(mark.hydraulic)));
            }
        }
        let pen = Pen {
            width: 0.4,
            ..Pen::THICK
        };
        self.sheet.line_in(Layer::Over, &energy, pen);
        let blue = Pen {
            dash: "2.2 1.1",
            colour: DARK_WATER,
            ..pen
        };
        self.sheet.line_in(Layer::Over, &hydraulic, blue);
        for (line, words, above) in [
            (&energy, "energy grade line", true),
            (&hydraulic, "hydraulic grade line", false),
        ] {
            let mut spots = Vec::new();
            let (Some(first), Some(last)) = (line.first(), line.last()) else {
                continue;
            };
            for away in [0.9, 2.0, 4.0, 7.0] {
                for share in [0.5, 0.4, 0.6, 0.3, 0.7, 0.2, 0.8] {
                    let x = first.0 + share * (last.0 - first.0);
                    let y = on(line, x);
                    let up = spot(x, y - away, 0, -1);
                    let down = spot(x, y + away, 0, 1);
                    spots.extend(if above { [up, down] } else { [down, up] });
                    spots.push(spot(
                        x,
                        y + if above { -away } else { away },
                        1,
                        if above { -1 } else { 1 },
                    ));
                    spots.push(spot(
                        x,
                        y + if above { -away } else { away },
                        -1,
                        if above { -1 } else { 1 },
                    ));
                }
            }
            let x = 0.5 * (first.0 + last.0);
            self.sheet
                .label(vec![Words::plain(words)], spots, (x, on(line, x)));
        }
        for (mark, (e, h)) in heads.marks.iter().zip(energy.iter().zip(&hydraulic)) {
            if let Some((energy, hydraulic)) = &mark.label {
                let dot = Pen {
                    width: 0.0,
                    ..Pen::THIN
                };
                self.sheet.circle(*e, 0.6, Layer::Over, dot.filled(BLACK));
                self.sheet.label(
                    vec![energy.clone()],
                    about(Rect::new(e.0 - 0.5, e.1 - 0.5, e.0 + 0.5, e.1 + 0.5)),
                    *e,
                );
                if (h.1 - e.1).abs() > 0.05 {
                    self.sheet.circle(*h, 0.6, Layer::Over, dot.filled(BLACK));
                    self.sheet.label(
                        vec![hydraulic.clone()],
                        about(Rect::new(h.0 - 0.5, h.1 - 0.5, h.0 + 0.5, h.1 + 0.5)),
                        *h,
                    );
                }
            }
        }
    }
}

/// The y of a broken line at an x.
fn on(line: &[At], x: f64) -> f64 {
    for pair in line.windows(2) {
        let ((x0, y0), (x1, y1)) = (pair[0], pair[1]);
        if x >= x0 && x <= x1 && x1 > x0 {
            return y0 + (y1 - y0) * (x - x0) / (x1 - x0);
        }
    }
    line.last().map_or(0.0, |p| p.1)
}
