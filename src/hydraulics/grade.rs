//! Grade lines: the energy head and the hydraulic head from station to station, on both sides of every fitting.
//!
//! The energy line holds all the head that the fluid has, `H = p/(ρ g) + z + α V²/(2g)`; the hydraulic line lies
//! a velocity head below it, as high as the fluid would stand in an open tube. Depends on: `path`.

use super::path::{Element, LossLaw, Path, State, StationVelocity, TURBULENT_ALPHA, square};
use super::regime::Regime;

/// A point of the way between the stations whose elevation is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Point {
    /// How many elements of the path lie behind it in full.
    pub after: usize,
    /// How far it lies into the pipe that comes next \[m\]; 0 where it stands at the pipe's beginning, or
    /// where no pipe comes next.
    pub along: f64,
    /// Its elevation \[m\].
    pub elevation: f64,
}

/// What a point of the grade line is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Place {
    /// The station at the start.
    Start,
    /// Just before this element of the path.
    Before(usize),
    /// Just behind this element of the path.
    Behind(usize),
    /// This one of the path's points.
    Point(usize),
    /// The station at the end.
    End,
}

/// One point of the grade line.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct GradePoint {
    /// What it is.
    pub place: Place,
    /// Distance from the start, along the pipes \[m\].
    pub distance: f64,
    /// Elevation \[m\].
    pub elevation: f64,
    /// Whether the elevation is stated; else it lies on the straight line between the stated ones on either side.
    pub stated: bool,
    /// Velocity head \[m\].
    pub velocity_head: f64,
    /// Energy head \[m\].
    pub energy_head: f64,
    /// Hydraulic (piezometric) head: the energy head less the velocity head \[m\].
    pub hydraulic_head: f64,
    /// Gauge pressure \[Pa\].
    pub pressure: f64,
}

/// The grade line of a path in a state that solves it, from the start to the end.
///
/// Between stated elevations (those of the stations and of the path's points) the pipe climbs or falls
/// evenly along its length. Where several fittings stand between two pipes, the velocity changes at the first one
/// that is a change of area or counts on the second pipe, else at the second pipe. Before the end station it changes
/// at the last loss, unless a point stands behind that. In a pipe the
/// kinetic-energy factor is that of its regime; a station has its own.
pub fn grade_line(path: &Path, state: &State) -> Vec<GradePoint> {
    let twice_g = 2.0 * path.gravity;
    let weight = path.density * path.gravity;
    let mut line = Walk::new(path, state).line;
    let (start, end) = (&state.start, &state.end);
    let head_of = |s: &super::path::StationState| s.alpha * square(s.velocity) / twice_g;
    let at_start = line_point(
        Place::Start,
        0.0,
        start.pressure / weight + start.elevation + head_of(start),
        head_of(start),
    );
    let last = line.last().map_or(0.0, |p| p.distance);
    let at_end = line_point(
        Place::End,
        last,
        end.pressure / weight + end.elevation + head_of(end),
        head_of(end),
    );
    line.insert(0, at_start);
    line.push(at_end);
    elevate(path, state, &mut line);
    for point in &mut line {
        point.pressure = (point.hydraulic_head - point.elevation) * weight;
    }
    // The stations' own pressures are exact; going through heads and back would round them.
    if let [first, .., last] = line.as_mut_slice() {
        (first.pressure, last.pressure) = (start.pressure, end.pressure);
    }
    line.dedup_by(|b, a| {
        let fitting = |place| matches!(place, Place::Before(_) | Place::Behind(_));
        fitting(b.place)
            && fitting(a.place)
            && b.distance == a.distance
            && b.energy_head == a.energy_head
            && b.hydraulic_head == a.hydraulic_head
    });
    line
}

/// The point of a grade line with the lowest pressure; of several, a named point of the path or else the first.
pub fn lowest(line: &[GradePoint]) -> Option<&GradePoint> {
    let least = (line.iter()).reduce(|least, point| {
        if point.pressure < least.pressure {
            point
        } else {
            least
        }
    })?;
    // The end of a pipe at a named point has its pressure but for rounding.
    let here = |p: &&GradePoint| {
        matches!(p.place, Place::Point(_))
            && p.distance == least.distance
            && p.energy_head == least.energy_head
            && p.hydraulic_head == least.hydraulic_head
    };
    Some(line.iter().find(here).unwrap_or(least))
}

fn line_point(place: Place, distance: f64, energy_head: f64, velocity_head: f64) -> GradePoint {
    GradePoint {
        place,
        distance,
        elevation: 0.0,
        stated: matches!(place, Place::Start | Place::End),
        velocity_head,
        energy_head,
        hydraulic_head: energy_head - velocity_head,
        pressure: 0.0,
    }
}

/// The way from the first element to the last.
struct Walk<'a> {
    path: &'a Path,
    state: &'a State,
    line: Vec<GradePoint>,
    distance: f64,
    energy_head: f64,
    velocity_head: f64,
}

impl<'a> Walk<'a> {
    fn new(path: &'a Path, state: &'a State) -> Self {
        let twice_g = 2.0 * path.gravity;
        let start = &state.start;
        let velocity_head = start.alpha * square(start.velocity) / twice_g;
        let mut walk = Self {
            path,
            state,
            line: Vec::with_capacity(2 * path.elements.len() + path.points.len() + 2),
            distance: 0.0,
            energy_head: start.pressure / (path.density * path.gravity) + start.elevation + velocity_head,
            velocity_head,
        };
        if start_is_pipe(path) {
            walk.velocity_head = walk.pipe_head(0);
        }
        walk.elements();
        walk
    }

    /// Velocity head in a pipe \[m\].
    fn pipe_head(&self, pipe: usize) -> f64 {
        let at = &self.state.pipes[pipe];
        let alpha = if at.regime == Regime::Laminar {
            self.path
                .pipe(pipe)
                .map_or(TURBULENT_ALPHA, |p| p.section.laminar_alpha)
        } else {
            TURBULENT_ALPHA
        };
        alpha * square(at.velocity) / (2.0 * self.path.gravity)
    }

    fn mark(&mut self, place: Place) {
        self.line.push(line_point(
            place,
            self.distance,
            self.energy_head,
            self.velocity_head,
        ));
    }

    fn elements(&mut self) {
        let (mut pipes, mut losses, mut pumps, mut turbines) = (0, 0, 0, 0);
        let end = self.state.end;
        let end_head = end.alpha * square(end.velocity) / (2.0 * self.path.gravity);
        for (i, element) in self.path.elements.iter().enumerate() {
            if !matches!(element, Element::Pipe(_)) {
                self.points(i, None);
            }
            match element {
                Element::Pipe(pipe) => {
                    self.velocity_head = self.pipe_head(pipes);
                    self.mark(Place::Before(i));
                    let (from, head) = (self.distance, self.energy_head);
                    let loss = self.state.pipes[pipes].major_head_loss;
                    self.points(i, Some((pipe.length, loss)));
                    self.distance = from + pipe.length;
                    self.energy_head = head - loss;
                    pipes += 1;
                }
                Element::Loss { law, pipe, .. } => {
                    self.mark(Place::Before(i));
                    self.energy_head -= self.state.minor_head_losses[losses];
                    losses += 1;
                    let widens = matches!(law, LossLaw::Expansion { .. } | LossLaw::Contraction { .. });
                    if pipes < self.state.pipes.len() && (widens || *pipe >= pipes) {
                        self.velocity_head = self.pipe_head(pipes);
                    } else if pipes == self.state.pipes.len()
                        && self.is_last_loss(i)
                        && !end_is_pipe(self.path)
                    {
                        self.velocity_head = end_head;
                    }
                }
                Element::Pump(_) => {
                    self.mark(Place::Before(i));
                    self.energy_head += self.state.pump_heads[pumps];
                    pumps += 1;
                }
                Element::Turbine(_) => {
                    self.mark(Place::Before(i));
                    self.energy_head -= self.state.turbine_heads[turbines];
                    turbines += 1;
                }
            }
            self.mark(Place::Behind(i));
        }
        self.points(self.path.elements.len(), None);
    }

    /// Whether no loss and no point of the way stands behind a loss.
    fn is_last_loss(&self, element: usize) -> bool {
        !self.path.elements[element + 1..]
            .iter()
            .any(|e| matches!(e, Element::Loss { .. }))
            && self.path.points.iter().all(|point| point.after <= element)
    }

    /// Marks the points that stand before an element or, in a pipe of a length and a head loss, along it.
    fn points(&mut self, element: usize, pipe: Option<(f64, f64)>) {
        let mut here: Vec<(usize, f64)> = Vec::new();
        for (n, point) in self.path.points.iter().enumerate() {
            if point.after == element {
                here.push((n, point.along));
            }
        }
        here.sort_by(|a, b| a.1.total_cmp(&b.1));
        let (from, head) = (self.distance, self.energy_head);
        for (n, along) in here {
            if let Some((length, loss)) = pipe {
                self.distance = from + along;
                self.energy_head = if length == 0.0 {
                    head
                } else {
                    head - loss * along / length
                };
            }
            self.mark(Place::Point(n));
        }
    }
}

fn start_is_pipe(path: &Path) -> bool {
    path.start.velocity == StationVelocity::Pipe
}

fn end_is_pipe(path: &Path) -> bool {
    path.end.velocity == StationVelocity::Pipe
}

/// Puts elevations on the line: stated ones, and between them even slopes.
fn elevate(path: &Path, state: &State, line: &mut [GradePoint]) {
    let mut stated: Vec<(usize, f64)> = Vec::with_capacity(path.points.len() + 2);
    for (i, point) in line.iter_mut().enumerate() {
        let elevation = match point.place {
            Place::Start => state.start.elevation,
            Place::End => state.end.elevation,
            Place::Point(n) => path.points[n].elevation,
            Place::Before(_) | Place::Behind(_) => continue,
        };
        point.elevation = elevation;
        point.stated = true;
        stated.push((i, elevation));
    }
    for ends in stated.windows(2) {
        let ((from, low), (to, high)) = (ends[0], ends[1]);
        let (s0, s1) = (line[from].distance, line[to].distance);
        for point in &mut line[from + 1..to] {
            // A run without length climbs at its end.
            let share = if s1 > s0 {
                (point.distance - s0) / (s1 - s0)
            } else {
                0.0
            };
            point.elevation = low + (high - low) * share;
        }
    }
}
