"""Works out again, with `fluids` and `scipy`, the leaks and ageing pipes that `differential_inverse` wrote.

    python inverse.py FILE        prints counts, and leaves with 1 where anything disagrees
"""

import collections
import json
import math
import sys

import fluids.friction
from scipy.optimize import brentq


def slope(row, flow, roughness):
    """Head lost on each metre, and the velocity."""
    velocity = 4.0 * flow / (math.pi * row["D"] ** 2)
    if flow == 0.0:
        return 0.0, 0.0
    re = row["rho"] * velocity * row["D"] / row["mu"]
    f = 64.0 / re if re < 2300.0 else fluids.friction.Colebrook(re, roughness / row["D"])
    return f * velocity**2 / (2.0 * row["g"] * row["D"]), velocity


def leak(row):
    weight, g, length = row["rho"] * row["g"], row["g"], row["L"]
    (p1, z1, flow), (p2, z2) = row["start"], row["end"]
    s1, v1 = slope(row, flow, row["eps"])

    def alpha(v):
        return 2.0 if row["rho"] * v * row["D"] / row["mu"] < 2300.0 else 1.0

    def left_over(x, out):
        s2, v2 = slope(row, out, row["eps"])
        heads = (p1 - p2) / weight + z1 - z2 + (alpha(v1) * v1**2 - alpha(v2) * v2**2) / (2.0 * g)
        return heads - s1 * x - s2 * (length - x)

    x, out = row["distance"], row["end_flow"]
    if x is None:
        x = brentq(lambda x: left_over(x, out), -length, 2.0 * length, xtol=1e-10, rtol=1e-14)
    else:
        out = brentq(lambda q: left_over(x, q), 0.0, flow, xtol=1e-16, rtol=1e-14)
    pressure = p1 + weight * ((z1 - z2) * x / length - s1 * x)
    scale = abs(p1) + abs(p2) + weight * (abs(z1) + abs(z2))
    # The place hangs on a small difference of slopes, and is as sure as that allows.
    sure = scale / weight / abs(s1 - slope(row, out, row["eps"])[0])
    return [("distance", x, length + sure), ("end_flow", out, flow), ("pressure", pressure, scale)]


def ageing(row):
    length = row["L"]
    new, growth, age, lost = row["new"], row["growth"], row["age"], row["head_loss"]
    if lost is None:
        roughness = new + growth * age
        lost = length * slope(row, row["flow"], roughness)[0]
    else:
        roughness = brentq(
            lambda e: length * slope(row, row["flow"], e)[0] - lost, 1e-12, 0.2 * row["D"], xtol=1e-17, rtol=1e-13
        )
        if new is None:
            new = roughness - growth * age
        elif growth is None:
            growth = (roughness - new) / age
        else:
            age = (roughness - new) / growth
    later = new + growth * row["later_age"]
    flow = brentq(lambda q: length * slope(row, q, later)[0] - lost, 1e-3 * row["flow"], 2.0 * row["flow"], rtol=1e-13)
    return [
        ("roughness", roughness, roughness),
        ("new", new, roughness),
        ("growth", growth, roughness / age),
        ("age", age, roughness / growth),
        ("head_loss", lost, lost),
        ("later_loss", length * slope(row, row["flow"], later)[0], lost),
        ("later_flow", flow, flow),
    ]


def main(path):
    counts, wrong = collections.Counter(), 0
    for line in open(path):
        row = json.loads(line)
        for name, value, scale in {"leak": leak, "ageing": ageing}[row["kind"]](row):
            if abs(row["answer"][name] - value) <= 1e-7 * scale:
                counts[f"{row['kind']}: {name} agrees to 1e-7"] += 1
            else:
                wrong += 1
                print("DISAGREE", name, value, line)
    for what, count in sorted(counts.items()):
        print(f"{count:6} {what}")
    print(wrong, "disagreements")
    return 1 if wrong else 0


sys.exit(main(sys.argv[1]))
