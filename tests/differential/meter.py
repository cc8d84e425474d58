"""Works out again, with the library `fluids`, what the Rust test `differential_meter` wrote.

Throttling devices: coefficients, expansibility, permanent loss and the equation of flow are those of
`fluids.flow_meter`; roots are found here by `scipy.optimize.brentq`, and flows by the solver of `fluids` too.
Agreement to 1e-9, but for digits that `fluids` loses.

    python meter.py FILE        prints counts, and leaves with 1 where anything disagrees
"""

import collections
import json
import math
import sys

import fluids.flow_meter as fm
from scipy.optimize import brentq

AGREE = 1e-9
TAPS = ("corner", "D and D/2", "flange")


def near(ours, theirs, slack=0.0):
    return abs(ours - theirs) <= (AGREE + slack) * abs(theirs)


def slack_of(row):
    """What `fluids` loses: it forms the expansibility of nozzles and Venturis from differences of nearly equal
    pressures, so that at a small differential pressure few of its 16 digits are left."""
    return 1e-15 * row["p1"] / row["dp"] if row["p1"] else 0.0


def predicted(row, d, flow, dp):
    """Volume flow of the meter's equation, with C at `flow`."""
    taps = row["device"] if row["device"] in TAPS else None
    p1 = row["p1"] or 1e15
    c, y = fm.differential_pressure_meter_C_epsilon(
        row["D"], d, flow * row["rho"], p1, p1 - dp, row["rho"], row["mu"], row["kappa"] or 1.4,
        fm.ISO_5167_ORIFICE if taps else row["device"], taps=taps, C_specified=row["given_C"],
        epsilon_specified=None if row["p1"] else 1.0,
    )
    return fm.flow_meter_discharge(row["D"], d, dp, 0.0, row["rho"], c, y) / row["rho"], c, y


def check_throttle(row, counts):
    counts[row["device"]] += 1
    counts[row["unknown"]] += 1
    counts["gas" if row["p1"] else "liquid"] += 1
    d, flow, dp, unknown = row["d"], row["Q"], row["dp"], row["unknown"]
    slack = slack_of(row)
    if row["h_m"] is not None:
        counts["manometer"] += 1
        if not near(dp, abs(row["rho_m"] - row["rho"]) * row["g"] * row["h_m"]):
            return "manometer"
    if unknown == "Coefficient":
        # What the coefficient must be, from the equation with C = 1.
        ideal, _, y = predicted({**row, "given_C": 1.0}, d, flow, dp)
        if not near(row["C"], flow / ideal, slack):
            return f"C {row['C']} for {flow / ideal}"
        return None
    at, c, y = predicted(row, d, flow, dp)
    for what, ours, theirs in (("flow", flow, at), ("C", row["C"], c), ("epsilon", row["Y"], y)):
        if not near(ours, theirs, slack):
            return f"{what} {ours} for {theirs}"
    # The root, found here.
    if unknown == "Flow":
        theirs = brentq(lambda q: q - predicted(row, d, q, dp)[0], 0.3 * flow, 3.0 * flow, xtol=1e-300, rtol=1e-14)
        ours = flow
    elif unknown == "ThroatDiameter":
        theirs = brentq(lambda x: predicted(row, x, flow, dp)[0] - flow, 0.9 * d, min(1.1 * d, 0.95 * row["D"]), rtol=1e-14)
        ours = d
    else:
        most = 0.4 * row["p1"] if row["p1"] else 4.0 * dp
        theirs = brentq(lambda p: predicted(row, d, flow, p)[0] - flow, 0.1 * dp, most, rtol=1e-14)
        ours = dp
    if not near(ours, theirs, 2.0 * slack):
        return f"{unknown} {ours} for {theirs}"
    if unknown == "Flow" and row["p1"]:
        taps = row["device"] if row["device"] in TAPS else None
        mass = fm.differential_pressure_meter_solver(
            D=row["D"], D2=d, P1=row["p1"], P2=row["p1"] - dp, rho=row["rho"], mu=row["mu"], k=row["kappa"],
            meter_type=fm.ISO_5167_ORIFICE if taps else row["device"], taps=taps, C_specified=row["given_C"])
        counts["solved by fluids too"] += 1
        if abs(mass / row["rho"] / flow - 1.0) > 1e-6 + slack:
            return f"flow {flow} for {mass / row['rho']}"
    if row["device"] in TAPS or row["device"] in ("ISA 1932 nozzle", "long radius nozzle"):
        counts["permanent losses"] += 1
        theirs = fm.dP_orifice(row["D"], d, dp, 0.0, c)
        # The share is a difference of two numbers near each other.
        if abs(row["loss"] - theirs) > 1e-10 * dp:
            return f"loss {row['loss']} for {theirs}"
    if not near(row["Re"], 4.0 * flow * row["rho"] / (math.pi * row["D"] * row["mu"])):
        return "Re"
    counts["agree"] += 1
    return None


def check_pitot(row, counts):
    counts["pitot " + row["unknown"]] += 1
    for what, ours, theirs in (
        ("velocity", row["u"], row["C"] * math.sqrt(2.0 * row["dp"] / row["rho"])),
        ("mean", row["V"], row["ratio"] * row["u"]),
        ("flow", row["Q"], row["V"] * math.pi / 4.0 * row["D"] ** 2),
        ("Re", row["Re"], row["rho"] * row["V"] * row["D"] / row["mu"]),
    ):
        if not near(ours, theirs):
            return f"{what} {ours} for {theirs}"
    return None


def main():
    counts, faults = collections.Counter(), []
    with open(sys.argv[1], encoding="utf-8") as lines:
        for number, line in enumerate(lines, 1):
            row = json.loads(line)
            fault = {"throttle": check_throttle, "pitot": check_pitot}[row["of"]](row, counts)
            if fault:
                faults.append(f"line {number} ({row.get('device')}, {row['unknown']}): {fault}")
    for what, count in sorted(counts.items()):
        print(f"{count:6} {what}")
    for fault in faults[:20]:
        print(fault)
    print(f"{len(faults)} disagreements")
    # A check that compared nothing has not passed.
    return 0 if counts["agree"] >= 2000 and not faults else 1


sys.exit(main())
