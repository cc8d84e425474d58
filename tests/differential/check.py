"""Works out again, with public Python libraries, what the Rust test `differential` wrote.

Systems: the energy equation, written here anew, with friction factors by `fluids`, and every root by
`scipy.optimize.brentq`; agreement to 1e-8. Where the solver says that there is no answer, a scan here must find
none either. Friction factors: `fluids`. Water: `iapws`.

    python check.py FILE        prints counts, and leaves with 1 where anything disagrees
"""

import collections
import json
import math
import sys

import fluids.friction
import iapws._iapws
import iapws.iapws97
import numpy as np
from scipy.optimize import brentq

AGREE = 1e-8
LAMINAR_END = 2300.0
ROUGHEST = 0.05


def swamee_jain(re, rr):
    # As in the paper; `fluids` has (6.97/Re)^0.9 for 5.74/Re^0.9, up to 2e-6 away.
    return 0.25 / math.log10(rr / 3.7 + 5.74 / re**0.9) ** 2


def fully_rough(rr):
    return (-2.0 * math.log10(rr / 3.7)) ** -2


LAWS = {
    "Colebrook": fluids.friction.Colebrook,
    "Haaland": fluids.friction.Haaland,
    "SwameeJain": swamee_jain,
    "Churchill": fluids.friction.Churchill_1977,
    "Serghides": fluids.friction.Serghides_1,
}


class System:
    """One row: a path whose unknown can be set, and what is left of the energy equation."""

    def __init__(self, row):
        self.row = row
        self.pipes = [e for e in row["elements"] if e["kind"] == "pipe"]
        self.losses = [e for e in row["elements"] if e["kind"] == "loss"]
        self.pumps = [e for e in row["elements"] if e["kind"] == "pump"]
        self.turbines = [e for e in row["elements"] if e["kind"] == "turbine"]
        self.flow = row["flow"]

    def set(self, value):
        kind, which = self.row["unknown"], self.row["which"]
        if kind == "flow":
            self.flow = value
        elif kind == "diameter":
            self.pipes[which]["D"] = value
        elif kind == "length":
            self.pipes[which]["L"] = value
        elif kind == "roughness":
            self.pipes[which]["eps"] = value
        elif kind == "loss":
            self.losses[which]["K"] = value
        elif kind in ("pump head", "pump power", "turbine head", "turbine power"):
            machines = self.pumps if kind.startswith("pump") else self.turbines
            machines[which]["by"] = kind.split()[1]
            machines[which]["size"] = value
        else:
            station, what = kind.split()
            self.row[station]["p" if what == "pressure" else "z"] = value

    def reynolds(self, pipe):
        return 4.0 * self.flow * self.row["rho"] / (math.pi * pipe["D"] * self.row["mu"])

    def friction(self, pipe):
        re, rr = self.reynolds(pipe), pipe["eps"] / pipe["D"]
        law = self.row["law"]
        if isinstance(law, float):
            return law * self.row["factor"]
        if re < LAMINAR_END:
            return 64.0 / re
        return LAWS[law](re, rr) * self.row["factor"]

    def velocity(self, pipe):
        return self.flow / (0.25 * math.pi * pipe["D"] ** 2)

    def terms(self):
        """Every head of the equation, with its sign."""
        row = self.row
        g, weight = row["g"], row["rho"] * row["g"]
        for sign, name, pipe in ((1.0, "start", self.pipes[0]), (-1.0, "end", self.pipes[-1])):
            station = row[name]
            alpha = station["alpha"]
            if alpha is None:
                alpha = 2.0 if self.reynolds(pipe) < LAMINAR_END else 1.0
            if station["kind"] == "value":
                velocity = station["value"]
            elif station["kind"] == "pipe":
                velocity = self.velocity(pipe)
            else:
                velocity = self.flow / (0.25 * math.pi * station["value"] ** 2)
            yield sign * station["p"] / weight
            yield sign * station["z"]
            yield sign * alpha * velocity**2 / (2.0 * g)
        for pipe in self.pipes:
            yield -self.friction(pipe) * pipe["L"] / pipe["D"] * self.velocity(pipe) ** 2 / (2.0 * g)
        for loss in self.losses:
            yield -loss["K"] * self.velocity(self.pipes[loss["pipe"]]) ** 2 / (2.0 * g)
        for machine in self.pumps:
            by_power = machine["by"] == "power"
            yield machine["size"] * machine["efficiency"] / (weight * self.flow) if by_power else machine["size"]
        for machine in self.turbines:
            by_power = machine["by"] == "power"
            yield -(machine["size"] / machine["efficiency"] / (weight * self.flow) if by_power else machine["size"])

    def left_over(self, value):
        self.set(value)
        return math.fsum(self.terms())

    def largest(self, value):
        self.set(value)
        return max(abs(t) for t in self.terms())

    def jumps(self):
        """Values of a flow or a diameter at which a pipe turns laminar."""
        viscosity = self.row["mu"] / self.row["rho"]
        if self.row["unknown"] == "flow":
            return [0.25 * math.pi * LAMINAR_END * viscosity * p["D"] for p in self.pipes]
        return [4.0 * self.flow / (math.pi * viscosity * LAMINAR_END)]

    def roots(self, low, high, points):
        """All roots on a scale of logarithms, but for jumps over nought."""
        edges = [low] + sorted(j for j in self.jumps() if low < j < high) + [high]
        found = []
        for a, b in zip(edges, edges[1:]):
            # A hair inside, so as to be on one side of each jump.
            a, b = a * (1 + 1e-13), b * (1 - 1e-13)
            if a >= b:
                continue
            grid = np.geomspace(a, b, max(8, int(points * math.log10(b / a))))
            values = [self.left_over(float(x)) for x in grid]
            for x0, x1, y0, y1 in zip(grid, grid[1:], values, values[1:]):
                if (y0 < 0.0) != (y1 < 0.0):
                    found.append(self.root(float(x0), float(x1)))
        return found

    def root(self, low, high):
        return brentq(self.left_over, low, high, xtol=1e-300, rtol=8.9e-16, maxiter=500)

    def solve(self):
        """All answers."""
        kind = self.row["unknown"]
        if kind == "flow":
            # Up to Re 2e10 in the pipe that turns laminar last; the solver does not look far beyond either.
            return self.roots(1e-10, max(self.jumps()) * 1e7, 40)
        if kind == "diameter":
            roughness = self.pipes[self.row["which"]]["eps"]
            return self.roots(max(roughness / ROUGHEST, 1e-9), 1e6, 40)
        if kind == "roughness":
            pipe = self.pipes[self.row["which"]]
            if isinstance(self.row["law"], float) or self.reynolds(pipe) < LAMINAR_END:
                return []
            low, high = 0.0, ROUGHEST * pipe["D"]
        elif kind.endswith("pressure") or kind.endswith("elevation"):
            low, high = -1e12, 1e12
        else:
            low, high = 0.0, 1e15
        if (self.left_over(low) < 0.0) == (self.left_over(high) < 0.0):
            return []
        return [self.root(low, high)]

    def slack(self, value):
        """How far the answer may be off since heads have but 16 digits, and `fluids` errs by up to 2.5e-11."""
        step = max(1e-6 * abs(value), 1e-12)
        slope = abs(self.left_over(value + step) - self.left_over(value)) / step
        return 1e-12 * self.largest(value) / slope if slope > 0.0 else math.inf


def check_system(row, counts):
    """None, or what is wrong."""
    system = System(row)
    answer = row["answer"]
    roots = system.solve()
    if "error" in answer:
        counts["refused, and no root found here"] += 1
        if roots:
            # Rounding alone may move a root across an end of the range or onto a jump.
            return f"{answer['error']}, but {roots} solve it"
        return None
    ours = sorted([answer["value"], *answer["others"]])
    counts[row["unknown"]] += 1
    counts["systems solved"] += 1
    # Every root that is found here is among ours, the smallest first; and each of ours satisfies the equation.
    for value in ours:
        if abs(system.left_over(value)) > 1e-10 * system.largest(value):
            return f"{value} leaves {system.left_over(value)} m"
    for root in roots:
        if not any(abs(v - root) <= AGREE * abs(root) + system.slack(root) for v in ours):
            return f"{root} solves it, and is not among {ours}"
    if not roots and ours != [0.0]:
        counts["found by us alone, and proved by the equation"] += 1
    if answer["value"] != ours[0]:
        return f"{answer['value']} is not the smallest of {ours}"
    if roots and any(abs(v - r) <= AGREE * abs(r) for v in ours for r in roots):
        counts["agree to 1e-8"] += 1
    return None


def near(ours, theirs, tolerance):
    return abs(ours - theirs) <= tolerance * abs(theirs)


def check_friction(row, counts):
    counts["friction factors"] += 6
    re, rr = row["Re"], row["rr"]
    for law, theirs in LAWS.items():
        if not near(row[law], theirs(re, rr), 1e-10):
            return f"{law} at {re}, {rr}: {row[law]} for {theirs(re, rr)}"
    if not near(row["SwameeJain"], fluids.friction.Swamee_Jain_1976(re, rr), 3e-6):
        return "Swamee-Jain"
    if not near(row["FullyRough"], fully_rough(rr), 1e-13):
        return "fully rough"
    # The equation itself, free of how anyone solves it.
    x = row["Colebrook"] ** -0.5
    if abs(x + 2.0 * math.log10(rr / 3.7 + 2.51 * x / re)) > 1e-14 * x:
        return "Colebrook's equation is not satisfied"
    return None


def check_water(row, counts):
    counts["properties of water"] += 3
    t = row["T"]
    density = iapws._iapws._Liquid(t)["rho"]
    for what, ours, theirs in (
        ("density", row["rho"], density),
        ("viscosity", row["mu"], iapws._iapws._Viscosity(density, t)),
        ("vapour pressure", row["p_v"], 1e6 * iapws.iapws97._PSat_T(t)),
    ):
        if not near(ours, theirs, 1e-12):
            return f"{what} at {t} K: {ours} for {theirs}"
    return None


def main():
    counts, faults = collections.Counter(), []
    with open(sys.argv[1], encoding="utf-8") as lines:
        for number, line in enumerate(lines, 1):
            row = json.loads(line)
            fault = {"system": check_system, "friction": check_friction, "water": check_water}[row["of"]](row, counts)
            if fault:
                faults.append(f"line {number} ({row.get('unknown', row['of'])}): {fault}")
    for what, count in sorted(counts.items()):
        print(f"{count:6} {what}")
    for fault in faults[:20]:
        print(fault)
    print(f"{len(faults)} disagreements")
    # A check that compared nothing has not passed.
    enough = counts["agree to 1e-8"] >= 2000 and len([k for k in counts if k]) >= 13
    return 0 if enough and not faults else 1


sys.exit(main())
