"""Works out again, with public Python libraries, what the Rust test `differential_tank` wrote.

The flow at a level is the root of the energy equation, written here anew, with friction factors by `fluids`
(`scipy.optimize.brentq`; where the friction factor jumps the root is the jump). Times are integrals by
`scipy.integrate.quad`; levels after a time are integrated through time by `scipy.integrate.solve_ivp`. Where the
solver says that the level stops on its way, nothing may drive it there.

    python tank.py FILE         prints counts, and leaves with 1 where anything disagrees
"""

import collections
import json
import math
import sys
import warnings

import fluids.friction
from scipy.integrate import IntegrationWarning, quad, solve_ivp
from scipy.optimize import brentq

AGREE_TIME = 1e-7
AGREE_LEVEL = 1e-6
LAMINAR_END = 2300.0

warnings.simplefilter("ignore", IntegrationWarning)


class Shape:
    def __init__(self, row):
        self.row = row

    def area(self, h):
        row = self.row
        if row["kind"] == "constant":
            return row["area"]
        if row["kind"] == "cone":
            return 0.25 * math.pi * (row["floor"] + row["widening"] * h) ** 2
        if row["kind"] == "sphere":
            return math.pi * h * (row["diameter"] - h)
        if row["kind"] == "lying":
            return 2.0 * row["length"] * math.sqrt(max(h * (row["diameter"] - h), 0.0))
        points = row["points"]
        for (x0, y0), (x1, y1) in zip(points, points[1:]):
            if h <= x1:
                return y0 + (y1 - y0) * (h - x0) / (x1 - x0)
        raise ValueError(h)

    def bends(self):
        return [p[0] for p in self.row["points"]] if self.row["kind"] == "table" else []

    def volume(self, h):
        edges = [0.0] + [b for b in self.bends() if 0.0 < b < h] + [h]
        return sum(quad(self.area, a, b, epsabs=0.0, epsrel=1e-12)[0] for a, b in zip(edges, edges[1:]))


class Tank:
    def __init__(self, row):
        self.row = row
        self.shape = Shape(row["shape"])
        self.nu = row["mu"] / row["rho"]
        self.a = 0.25 * math.pi * row["D"] ** 2
        self.moved = {}

    def needed(self, v):
        """Head that a velocity takes."""
        row = self.row
        re = v * row["D"] / self.nu
        laminar = re < LAMINAR_END
        f = 64.0 / re if laminar else fluids.friction.Colebrook(re, row["eps"] / row["D"])
        taken = row["K"] + f * row["L"] / row["D"]
        if row["jet"]:
            taken += row["alpha"] if row["alpha"] is not None else (2.0 if laminar else 1.0)
        return taken * v * v / (2.0 * row["g"])

    def other(self, h):
        """The second tank's level, from the volume that left the first."""
        row = self.row
        second = Shape(row["shape_2"])
        if row["shape"]["kind"] == "constant":
            left = row["shape"]["area"] * (row["level"] - h)
        else:
            left = self.shape.volume(row["level"]) - self.shape.volume(h)
        if row["shape_2"]["kind"] == "constant":
            return row["level_2"] + left / row["shape_2"]["area"]
        high = 20.0
        if row["shape_2"]["kind"] in ("sphere", "lying"):
            high = row["shape_2"]["diameter"]
        elif row["shape_2"]["kind"] == "table":
            high = row["shape_2"]["points"][-1][0]
        at_first = second.volume(row["level_2"])
        return brentq(lambda x: second.volume(x) - at_first - left, 0.0, high, xtol=1e-14, rtol=1e-14)

    def head(self, h):
        row = self.row
        if row["kind"] == "drain":
            return h - row["z"][1]
        if row["kind"] == "fill":
            return row["z"][0] + row["pump"] - h
        return row["floor"] + h - self.other(h)

    def flow(self, h):
        head = self.head(h)
        if head <= 0.0:
            return 0.0
        high = math.sqrt(2.0 * self.row["g"] * head / self.row["K"]) + 1e-9
        # Of two roots, which a station's alpha may make, the smaller.
        jump = LAMINAR_END * self.nu / self.row["D"]
        below = jump * (1.0 - 1e-14)
        if self.needed(below) >= head:
            high = below
        root = brentq(lambda v: self.needed(v) - head, 1e-12, high, xtol=1e-300, rtol=8.9e-16, maxiter=300)
        return self.a * root

    def gain(self, h):
        flow = self.flow(h)
        return self.row["inflow"] + (flow if self.row["kind"] == "fill" else -flow)

    def breaks(self, low, high):
        """Levels at which friction jumps or a shape bends."""
        found = self.shape.bends()
        jump = LAMINAR_END * self.nu / self.row["D"]
        for v in (jump * (1.0 - 1e-14), jump * (1.0 + 1e-14)):
            at = [self.head(h) - self.needed(v) for h in (low, high)]
            if at[0] * at[1] < 0.0:
                found.append(brentq(lambda h: self.head(h) - self.needed(v), low, high, xtol=1e-15, rtol=1e-14))
        if self.row["kind"] == "two":
            for bend in Shape(self.row["shape_2"]).bends():
                at = [self.other(h) - bend for h in (low, high)]
                if at[0] * at[1] < 0.0:
                    found.append(brentq(lambda h: self.other(h) - bend, low, high, xtol=1e-15, rtol=1e-14))
        return sorted(b for b in found if low < b < high)

    def time(self, until):
        low, high = sorted((self.row["level"], until))
        edges = [low, *self.breaks(low, high), high]
        slowness = lambda h: self.shape.area(h) / abs(self.gain(h))
        return sum(quad(slowness, a, b, epsabs=0.0, epsrel=1e-9, limit=400)[0] for a, b in zip(edges, edges[1:]))

    def level_after(self, time):
        def slope(_, h):
            return [self.gain(float(h[0])) / self.shape.area(float(h[0]))]

        solved = solve_ivp(slope, (0.0, time), [self.row["level"]], method="DOP853", rtol=1e-9, atol=1e-12)
        if not solved.success:
            raise ArithmeticError(solved.message)
        return float(solved.y[0, -1])


def near(ours, theirs, tolerance):
    return abs(ours - theirs) <= tolerance * abs(theirs)


def check(row, counts):
    tank = Tank(row)
    answer = row["answer"]
    counts["tanks"] += 1
    if "error" in answer:
        counts[f"refused: {answer['error']}"] += 1
        if answer["error"] == "other way":
            return None if (tank.gain(row["level"]) > 0.0) == answer["rises"] else "goes that way after all"
        if answer["error"] == "ends before":
            theirs = tank.time(answer["at"])
            return None if near(answer["time"], theirs, AGREE_TIME) else f"ends at {theirs}"
        if answer["error"] != "stops before":
            return answer["error"]
        at = answer["at"]
        if answer["stop"] == "in balance":
            scale = abs(row["inflow"])
            return None if abs(tank.gain(at)) <= 1e-8 * scale else f"moves on at {at}"
        if answer["stop"] == "at rest":
            return None if abs(tank.head(at)) <= 1e-9 else f"is driven on at {at}"
        return None
    if not near(answer["Q_1"], tank.flow(row["level"]), 1e-8):
        return f"first flow {answer['Q_1']} for {tank.flow(row['level'])}"
    if answer["settled"]:
        counts["settled"] += 1
        way = abs(row["level"] - answer["value"])
        still = abs(tank.gain(answer["value"])) <= 1e-8 if row["inflow"] else abs(tank.head(answer["value"])) <= 1e-5 * way
        return None if still else f"moves on at {answer['value']}"
    if row["asked"] == "time":
        theirs = tank.time(row["until"])
        if not near(answer["value"], theirs, AGREE_TIME):
            return f"time {answer['value']} for {theirs}"
        counts[f"times agree to 1e-7: {row['kind']}"] += 1
    elif row["kind"] == "two" and (row["shape"]["kind"], row["shape_2"]["kind"]) != ("constant", "constant"):
        # Through time it would take too long; the time to our level must be the time asked for.
        theirs = tank.time(answer["value"])
        off = abs(theirs - row["time"]) * abs(tank.gain(answer["value"])) / tank.shape.area(answer["value"])
        if not near(row["time"], theirs, AGREE_TIME) and off > 1e-8:
            return f"level {answer['value']} takes {theirs} instead of {row['time']}"
        counts["levels give back their time to 1e-7"] += 1
    else:
        theirs = tank.level_after(row["time"])
        if not near(answer["value"], theirs, AGREE_LEVEL):
            return f"level {answer['value']} for {theirs}"
        counts[f"levels agree to 1e-6: {row['kind']}"] += 1
    return None


def main():
    counts, faults = collections.Counter(), []
    with open(sys.argv[1], encoding="utf-8") as lines:
        for number, line in enumerate(lines, 1):
            fault = check(json.loads(line), counts)
            if fault:
                faults.append(f"line {number}: {fault}")
    for what, count in sorted(counts.items()):
        print(f"{count:6} {what}")
    for fault in faults[:20]:
        print(fault)
    print(f"{len(faults)} disagreements")
    # A check that compared nothing has not passed.
    agreed = sum(count for what, count in counts.items() if "agree" in what or "give back" in what)
    return 0 if agreed >= 500 and not faults else 1


sys.exit(main())
