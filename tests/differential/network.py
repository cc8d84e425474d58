"""Works out again, with public Python libraries, what the Rust test `differential_network` wrote.

Each network is solved by loop flows: flows that balance at every node are found first, one unknown is added for
each loop and for each way from one reservoir to another, and the heads round each must add up to nothing
(`scipy.optimize.root`), with friction factors by `fluids`. No heads at nodes are sought. The start is a network whose
links take head in proportion to flow. Agreement to 1e-8 of the largest flow.

The law of each link rises with its flow, so there is one answer at most. Where the solver says that the equations are met
only at the jump of the friction factor, the jump is made a slope here, and the answer must lie on it. Where it says that
a pump would run backwards, it must do so here.

    python network.py FILE        prints counts, and leaves with 1 where anything disagrees
"""

import collections
import json
import math
import sys
import warnings

import fluids.friction
import numpy as np
from scipy.optimize import root

# At Reynolds numbers beyond all pipes, which steps may pass through, `fluids` overflows and takes another way.
warnings.filterwarnings("ignore", category=RuntimeWarning, module="fluids")

AGREE = 1e-8
JUMP = 2300.0
SLOPE = 1e-5  # the share of its flow over which a jump is climbed, where it has to be


class Pipe:
    def __init__(self, element, row):
        area = 0.25 * math.pi * element["D"] ** 2
        self.re_per_flow = element["D"] / area * row["rho"] / row["mu"]
        self.rr = element["eps"] / element["D"]
        self.friction = element["L"] / element["D"] / area**2 / (2.0 * row["g"])
        self.per_k = 1.0 / area**2 / (2.0 * row["g"])
        self.k = 0.0

    def factor(self, re, climb):
        if re < JUMP * (1.0 - (SLOPE if climb else 0.0)):
            return 64.0 / re
        if re >= JUMP:
            return fluids.friction.Colebrook(re, self.rr)
        low, high = 64.0 / re, fluids.friction.Colebrook(JUMP, self.rr)
        return high - (high - low) * (JUMP - re) / (JUMP * SLOPE)

    def takes(self, flow, climb):
        if flow == 0.0:
            return 0.0
        f = self.factor(self.re_per_flow * flow, climb)
        return (f * self.friction + self.k * self.per_k) * flow * flow


class Net:
    def __init__(self, row):
        self.row = row
        self.ends = [(link["from"], link["to"]) for link in row["links"]]
        self.links = []
        weight = row["rho"] * row["g"]
        for link in row["links"]:
            pipes = [Pipe(e, row) for e in link["elements"] if e["kind"] == "pipe"]
            head, power = 0.0, 0.0
            for e in link["elements"]:
                if e["kind"] == "loss":
                    pipes[e["pipe"]].k += e["K"]
                elif e["kind"] == "pump":
                    head += e.get("head", 0.0)
                    power += e.get("power", 0.0) * e.get("efficiency", 0.0) / weight
            self.links.append((pipes, head, power))
        self.heads = [n["level"] + n["p"] / weight if "level" in n else None for n in row["nodes"]]
        self.loops()

    def drop(self, link, flow, climb=False):
        pipes, head, power = self.links[link]
        taken = math.copysign(sum(p.takes(abs(flow), climb) for p in pipes), flow) - head
        if power:
            # Straight on below a flow at which the head is beyond all others, so that steps may pass through.
            least = power / 1e4
            taken -= power / flow if flow > least else 1e4 * (2.0 - flow / least)
        return taken

    def loops(self):
        """Flows that balance, and the loops: a matrix of 1, -1 and 0, and the head between their ends."""
        count = len(self.heads)
        fixed = [i for i in range(count) if self.heads[i] is not None] or [0]
        hung = {i: None for i in fixed}
        order = list(fixed)
        tree = set()
        for node in order:
            for j, (a, b) in enumerate(self.ends):
                if node in (a, b):
                    other = a + b - node
                    if other not in hung:
                        hung[other] = (j, node)
                        tree.add(j)
                        order.append(other)
        assert len(order) == count
        start = np.zeros(len(self.ends))
        need = [n.get("demand", 0.0) for n in self.row["nodes"]]
        for node in reversed(order):
            if hung[node]:
                j, parent = hung[node]
                start[j] = need[node] if self.ends[j][1] == node else -need[node]
                need[parent] += need[node]
        rows, between = [], []

        def climb(node, sign, loop):
            while hung[node]:
                j, parent = hung[node]
                loop[j] += sign if self.ends[j][0] == node else -sign
                node = parent
            return self.heads[node] or 0.0

        for j, (a, b) in enumerate(self.ends):
            if j not in tree:
                loop = np.zeros(len(self.ends))
                loop[j] = 1.0
                last = climb(b, 1.0, loop)
                first = climb(a, -1.0, loop)
                rows.append(loop)
                between.append(first - last)
        self.start, self.matrix, self.between = start, np.array(rows), np.array(between)

    def linear(self):
        """The flows, were head in proportion to flow: as much as is taken at 1 m/s in the narrowest pipe."""
        slopes, gains = [], []
        for pipes, head, power in self.links:
            flow = min(math.sqrt(1.0 / (2.0 * self.row["g"] * p.per_k)) for p in pipes)
            slopes.append(sum(p.takes(flow, False) for p in pipes) / flow)
            gains.append(head + power / flow)
        slopes, gains = np.array(slopes), np.array(gains)
        b = self.matrix
        right = self.between - b @ (slopes * self.start - gains)
        return np.linalg.solve(b @ (slopes[:, None] * b.T), right)

    def solve(self, climb=False, guess=None):
        """Flows, or None where the search does not settle."""
        if len(self.matrix) == 0:
            return self.start
        b = self.matrix
        size = max(abs(self.start).max(), 1e-6)
        largest = max(1.0, abs(self.between).max())

        def off(q):
            flows = self.start + b.T @ (q * size)
            drops = np.array([self.drop(j, flow, climb) for j, flow in enumerate(flows)])
            return (b @ drops - self.between) / largest

        first = self.linear() if guess is None else np.array([guess[list(np.flatnonzero(r))[0]] for r in b])
        for q in (first / size, 0.5 * first / size, 2.0 * first / size):
            for method in ("hybr", "lm"):
                found = root(off, q, method=method, options={"xtol": 1e-13})
                if abs(off(found.x)).max() < 1e-10:
                    return self.start + b.T @ (found.x * size)
        return None

    def is_met_by(self, flows):
        """Whether flows balance and the heads round every loop add up."""
        largest = max(abs(f) for f in flows)
        for i, node in enumerate(self.row["nodes"]):
            if "demand" in node:
                into = sum(f for f, (a, b) in zip(flows, self.ends) if b == i)
                out = sum(f for f, (a, b) in zip(flows, self.ends) if a == i)
                if abs(into - out - node["demand"]) > 1e-10 * largest:
                    return False
        if len(self.matrix) == 0:
            return True
        drops = np.array([self.drop(j, flow) for j, flow in enumerate(flows)])
        return abs(self.matrix @ drops - self.between).max() <= 1e-8 * max(abs(drops).max(), 1e-3)


def check(row, counts):
    answer = row["answer"]
    net = Net(row)
    if answer.get("error") == "backwards":
        counts["a pump would run backwards"] += 1
        flows = net.solve(climb=True)
        if flows is None:
            counts["not settled here"] += 1
            return None
        return None if flows[answer["link"]] <= 0.0 else "the pump runs forwards"
    if answer.get("error") == "without flow":
        counts["no flow through a pump of given power"] += 1
        link = answer["link"]
        by_power = net.links[link][2] > 0.0
        in_loop = len(net.matrix) and net.matrix[:, link].any()
        return None if by_power and net.start[link] == 0.0 and not in_loop else "there is flow"
    if answer.get("error") == "only at jump":
        counts["only at the jump"] += 1
        flows = net.solve(climb=True)
        if flows is None:
            counts["not settled here"] += 1
            return None
        pipe = net.links[answer["link"]][0][answer["pipe"]]
        re = pipe.re_per_flow * abs(flows[answer["link"]])
        return None if abs(re / JUMP - 1.0) <= 1.1 * SLOPE else f"Re {re} is not at the jump"
    flows = answer["flows"]
    if not net.is_met_by(flows):
        return "the equations are not met"
    counts["equations met"] += 1
    for j, (a, b) in enumerate(net.ends):
        fall = answer["heads"][a] - answer["heads"][b]
        if abs(fall - net.drop(j, flows[j])) > 1e-8 * max(1.0, abs(fall)):
            return f"heads along link {j}"
    theirs = net.solve()
    if theirs is None:
        counts["not settled here"] += 1
        return None
    off = abs(theirs - flows).max() / (abs(np.array(flows)).max() or 1e-12)
    if off > AGREE:
        return f"flows differ by {off:.2e}"
    counts["flows agree to 1e-8"] += 1
    counts[f"  of kind {row['kind']}"] += 1
    counts["steps, at most"] = max(counts["steps, at most"], answer["steps"])
    return None


def main():
    counts, faults = collections.Counter(), []
    with open(sys.argv[1], encoding="utf-8") as lines:
        for number, line in enumerate(lines, 1):
            row = json.loads(line)
            fault = check(row, counts)
            if fault:
                faults.append(f"line {number} ({row['kind']}): {fault}")
    for what, count in sorted(counts.items()):
        print(f"{count:6} {what}")
    for fault in faults[:20]:
        print(fault)
    print(f"{len(faults)} disagreements among networks")
    # A check that compared nothing has not passed.
    return 0 if counts["flows agree to 1e-8"] >= 600 and not faults else 1


sys.exit(main())
