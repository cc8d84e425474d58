"""Works out again, with scipy, the curves and operating points that the Rust test `differential_pumps` wrote.

Curves: `PchipInterpolator` through points, `numpy.polyfit` for the parabola. Operating points: the system's head and the
pumps', written here anew, scanned finely and closed in on by `brentq`, with friction factors by `fluids`. Where
the solver says that there is no answer, the scan must find none.

    python pumps.py FILE        prints counts, and leaves with 1 where anything disagrees
"""

import collections
import json
import math
import sys

import fluids.friction
import numpy as np
from scipy.interpolate import PchipInterpolator
from scipy.optimize import brentq

AGREE = 1e-8
LAMINAR_END = 2300.0


class Curve:
    def __init__(self, made):
        if made["kind"] == "through":
            q, h = zip(*made["points"])
            self.head = PchipInterpolator(q, h)
            self.slope = self.head.derivative()
            self.end = q[-1]
        elif made["kind"] == "fitted":
            q, h = (np.array(side) for side in zip(*made["points"]))
            c, b, a = np.polyfit(q / q[-1], h, 2)
            self.quadratic(a, b / q[-1], c / q[-1] ** 2)
            self.end = q[-1]
        else:
            self.quadratic(made["a"], made["b"], made["c"])
            roots = np.roots([made["c"], made["b"], made["a"]])
            self.end = min(r.real for r in roots if abs(r.imag) < 1e-12 and r.real > 0)

    def quadratic(self, a, b, c):
        self.head = lambda q: a + b * q + c * q * q
        self.slope = lambda q: b + 2 * c * q


def check_curve(row):
    curve = Curve(row["curve"])
    _, first, _ = row["at"][0]
    scale = max(abs(first), max(abs(h) for _, h, _ in row["at"]))
    reach = row["at"][-1][0]
    for q, head, slope in row["at"]:
        # A quadratic that has a wide range is written beyond no end.
        if abs(curve.head(q) - head) > 1e-10 * scale:
            return f"head {head} for {curve.head(q)} at {q}"
        if abs(curve.slope(q) - slope) > 1e-9 * scale / reach:
            return f"slope {slope} for {curve.slope(q)} at {q}"
    return None


def taken(row, flow, laminar=None):
    """Head that lift and losses take; `laminar` says for each pipe whether it counts as such."""
    pipes = [e for e in row["elements"] if "D" in e]
    head = row["lift"]
    for i, pipe in enumerate(pipes):
        v = 4 * flow / (math.pi * pipe["D"] ** 2)
        re = v * pipe["D"] * row["rho"] / row["mu"]
        is_laminar = re < LAMINAR_END if laminar is None else laminar[i]
        f = 64 / re if is_laminar else fluids.friction.Colebrook(re, pipe["eps"] / pipe["D"])
        k = f * pipe["L"] / pipe["D"] + sum(e["K"] for e in row["elements"] if "K" in e and e["pipe"] == i)
        head += k * v * v / (2 * row["g"])
    return head


def crossings(row):
    """All operating points, each with whether it holds by itself; and what is left over at the curve's end."""
    curve = Curve(row["curve"])
    ratio = row["speed"] * row["trim"]
    width, height = ratio * row["parallel"], ratio**2 * row["series"]
    end = curve.end * width
    pipes = [e for e in row["elements"] if "D" in e]
    jumps = [LAMINAR_END * row["mu"] / row["rho"] * math.pi * p["D"] / 4 for p in pipes]
    edges = sorted([j for j in jumps if j < end] + [0.0, end])
    found = []
    for low, high in zip(edges, edges[1:]):
        middle = 0.5 * (low + high)
        laminar = [middle < j for j in jumps]
        gap = lambda q: height * float(curve.head(q / width)) - taken(row, q, laminar)
        grid = np.concatenate([np.geomspace(max(low, 1e-7 * end), high, 60), np.linspace(max(low, 1e-7 * end), high, 110)])
        grid = np.unique(np.clip(grid, None, high))
        values = [gap(q) for q in grid]
        for a, b, fa, fb in zip(grid, grid[1:], values, values[1:]):
            if (fa > 0) != (fb > 0):
                found.append((brentq(gap, a, b, xtol=1e-16, rtol=1e-14), fa > 0))
        last = values[-1]
    return found, last


def check_pump(row):
    answer = row["answer"]
    if row["unknown"] == "speed":
        curve = Curve(row["curve"])
        needed = taken(row, row["flow"])
        # Pumps at a flow: the same equation, solved for the speed.
        each = row["flow"] / row["parallel"] / row["trim"]
        gap = lambda s: row["series"] * (s * row["trim"]) ** 2 * float(curve.head(each / s)) - needed
        slowest = each / curve.end
        grid = np.geomspace(slowest, slowest * 1e3, 1200)
        values = [gap(s) for s in grid]
        found = [
            brentq(gap, a, b, xtol=1e-16, rtol=1e-14)
            for a, b, fa, fb in zip(grid, grid[1:], values, values[1:])
            if (fa > 0) != (fb > 0)
        ]
        if "error" in answer:
            return f"{answer['error']}, but {found} do" if found else None
        ours = [answer["value"], *answer["others"]]
        if len(ours) != len(found) or any(min(abs(o / f - 1) for f in found) > AGREE for o in ours):
            return f"{ours} for {found}"
        return None
    found, last = crossings(row)
    if "error" in answer:
        if found:
            return f"{answer['error']}, but {found} do"
        if (answer["error"] == "off the curve") != (last > 0) and answer["error"] != "only at jump":
            return f"{answer['error']}, but {last} is left over at the end of the curve"
        return None
    ours = [answer["value"], *answer["others"]]
    if len(ours) != len(found) or any(min(abs(o / f - 1) for f, _ in found) > AGREE for o in ours):
        return f"{ours} for {found}"
    if not min(found, key=lambda f: abs(f[0] / ours[0] - 1))[1]:
        return f"{ours[0]} does not hold by itself, of {found}"
    return None


def main(file):
    counts, wrong = collections.Counter(), 0
    with open(file) as lines:
        for line in lines:
            row = json.loads(line)
            trouble = check_curve(row) if row["of"] == "curve" else check_pump(row)
            what = row["curve"]["kind"] if row["of"] == "curve" else row["unknown"]
            said = row.get("answer", {}).get("error", "agrees")
            if row.get("answer", {}).get("others"):
                said = "several agree"
            counts[f"{row['of']}, {what}: {said}"] += 1
            if trouble:
                wrong += 1
                print(trouble, line.strip()[:600])
    for what, count in sorted(counts.items()):
        print(f"{count:6} {what}")
    print(f"{wrong} disagree")
    return 1 if wrong else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
