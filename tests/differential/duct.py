"""Works out again the ducts and profiles that the Rust test `differential_duct` wrote.

Laminar flow in rectangles: Poisson's equation on a grid of Chebyshev points, for the constant and both factors.
Annuli and triangles: the velocity integrated by `scipy.integrate.quad`. Turbulent friction: `fluids`. Profiles: every
mean by `quad`, the friction factor by `fluids`, the balance of forces written out.

    python duct.py FILE        prints counts, and leaves with 1 where anything disagrees
"""

import collections
import json
import math
import sys

import fluids.friction
import numpy as np
from scipy.integrate import quad

N = 72


def chebyshev(n):
    """Points on -1 to 1, the second derivative on the inner ones, and Clenshaw-Curtis weights."""
    x = np.cos(np.pi * np.arange(n + 1) / n)
    c = np.where((np.arange(n + 1) % n) == 0, 2.0, 1.0) * (-1.0) ** np.arange(n + 1)
    dx = x[:, None] - x[None, :]
    d = np.outer(c, 1 / c) / (dx + np.eye(n + 1))
    d -= np.diag(d.sum(axis=1))
    weights = np.zeros(n + 1)
    theta = np.pi * np.arange(n + 1) / n
    v = np.ones(n - 1)
    for k in range(1, n // 2):
        v -= 2 * np.cos(2 * k * theta[1:-1]) / (4 * k * k - 1)
    v -= np.cos(n * theta[1:-1]) / (n * n - 1)
    weights[0] = weights[-1] = 1 / (n * n - 1)
    weights[1:-1] = 2 * v / n
    return x, (d @ d)[1:-1, 1:-1], weights[1:-1]


_, SECOND, WEIGHTS = chebyshev(N)
VALUES, VECTORS = np.linalg.eig(SECOND)
VALUES, VECTORS = VALUES.real, VECTORS.real
INVERSE = np.linalg.inv(VECTORS)


def factors(first, second, third, diameter, drive):
    """Constant and factors from the means of u, u^2, u^3 where the Laplacian of u is -drive."""
    return 2 * diameter**2 * drive / first, third / first**3, second / first**2


def rectangle(a, b):
    # Sides 2 and 2 s, s >= 1; the Laplacian is -1.
    s = max(a, b) / min(a, b)
    right = INVERSE @ (-np.ones((N - 1, N - 1))) @ INVERSE.T
    u = VECTORS @ (right / (VALUES[:, None] + VALUES[None, :] / s**2)) @ VECTORS.T
    w = np.outer(WEIGHTS, WEIGHTS) / 4
    return factors(*((w * u**k).sum() for k in (1, 2, 3)), 4 * s / (1 + s), 1.0)


def annulus(outer, inner):
    k = inner / outer
    u = lambda r: 1 - r * r - (1 - k * k) * math.log(r) / math.log(k)
    area = (1 - k * k) / 2
    mean = lambda p: quad(lambda r: u(r) ** p * r, k, 1, epsabs=1e-15, epsrel=1e-12, limit=200)[0] / area
    return factors(mean(1), mean(2), mean(3), 2 * (1 - k), 4.0)


def triangle():
    # Side 1; u is the product of the distances from the walls, its Laplacian -sqrt(3) (the height).
    h = math.sqrt(3) / 2
    x, wx = np.polynomial.legendre.leggauss(24)
    x, wx = (x + 1) / 2, wx / 2
    # Duffy: barycentric l1 = s, l2 = (1 - s) t.
    s, t = np.meshgrid(x, x, indexing="ij")
    w = np.outer(wx, wx) * (1 - s) * 2
    l1, l2 = s, (1 - s) * t
    u = l1 * l2 * (1 - l1 - l2) * h**3
    # Two checks of the Laplacian would be overdone: grad of a distance has length 1, two of them meet at 120 degrees,
    # so that it is 2 * (-1/2) * (sum of the distances) = -h.
    return factors(*((w * u**k).sum() for k in (1, 2, 3)), 1 / math.sqrt(3), h)


def plates():
    mean = lambda p: quad(lambda y: (1 - y * y) ** p, 0, 1)[0]
    return factors(mean(1), mean(2), mean(3), 4.0, 2.0)


def measures(shape):
    kind, a, b = shape["kind"], shape["a"], shape.get("b")
    if kind == "rectangle":
        return a * b, 2 * (a + b), rectangle(a, b)
    if kind == "annulus":
        return math.pi / 4 * (a * a - b * b), math.pi * (a + b), annulus(a, b)
    if kind == "triangle":
        return math.sqrt(3) / 4 * a * a, 3 * a, triangle()
    return a * b, 2 * b, plates()


def colebrook(re, rr):
    return fluids.friction.Colebrook(re, rr)


def duct(row, close):
    area, perimeter, (constant, alpha, beta) = measures(row["shape"])
    # The corners of a rectangle leave the grid of points a few 1e-9.
    slack = 2e-8 if row["shape"]["kind"] == "rectangle" else 1e-9
    close("constant", row["constant"], constant, slack)
    close("alpha", row["alpha"], alpha, slack)
    close("beta", row["beta"], beta, slack)
    d = 4 * area / perimeter
    v = row["Q"] / area
    re = row["rho"] * v * d / row["mu"]
    close("V", row["V"], v, 1e-12)
    close("Re", row["Re"], re, 1e-12)
    laminar = re < 2300
    if laminar:
        f = constant / re
    else:
        on = 64 / constant if row["effective"] else 1.0
        f = colebrook(re * on, row["eps"] / d / on)
    close("f", row["f"], f, slack if laminar else 1e-7)
    head = f * row["L"] / d + row["K"] + (alpha if laminar else 1.0)
    close("p", row["p"], head * row["rho"] * v * v / 2, slack if laminar else 1e-7)
    # Across the jump from laminar to turbulent flow one pressure may drive two flows, and both are told.
    close("Q back", min(row["Q_back"], key=lambda q: abs(q - row["Q"])), row["Q"], 1e-9)


def profile(row, close):
    d, rho, mu = row["D"], row["rho"], row["mu"]
    radius, area = d / 2, math.pi * d * d / 4
    v = row["V"]
    re = rho * v * d / mu
    close("Re", row["Re"], re, 1e-12)
    laminar = re < 2300
    f = 64 / re if laminar else colebrook(re, row["eps"] / d)
    close("f", row["f"], f, 1e-9)
    tau = f * rho * v * v / 8
    close("tau_w", row["tau_w"], tau, 1e-9)
    close("u_tau", row["u_tau"], math.sqrt(tau / rho), 1e-9)
    if laminar:
        u = lambda r: row["u_max"] * (1 - (r / radius) ** 2)
        assert row["n"] is None
    else:
        n = row["n_given"] or 1 / math.sqrt(f)
        close("n", row["n"], n, 1e-9)
        u = lambda r: row["u_max"] * (1 - r / radius) ** (1 / n)
    # The root at the wall is smooth in t, with r = R (1 - t^8).
    def mean(p):
        ring = lambda t: u(radius * (1 - t**8)) ** p * 2 * math.pi * radius * (1 - t**8) * radius * 8 * t**7
        return quad(ring, 0, 1, epsabs=0, epsrel=1e-12, limit=200)[0] / area

    close("Q", row["Q"], mean(1) * area, 1e-9)
    close("V", v, mean(1), 1e-9)
    close("alpha", row["alpha"], mean(3) / v**3, 1e-9)
    close("beta", row["beta"], mean(2) / v**2, 1e-9)
    close("u_r", row["u_r"], u(row["r"]), 1e-9)
    close("tau_r", row["tau_r"], tau * row["r"] / radius, 1e-9)
    entrance = 0.06 * re * d if laminar else 4.4 * re ** (1 / 6) * d
    close("L_e", row["L_e"], entrance, 1e-12)
    length = row["L"] + row["c_e"] * radius
    drop = tau * math.pi * d * length / area + row["m"] * rho * v * v
    close("dp", row["dp"], drop, 1e-9)
    name, value = row["drive"]
    close("drive", value, {"dp": drop, "h": drop / (rho * 9.81), "tau_w": tau}[name], 1e-9)
    again = row["again"]
    best = min(again["found"], key=lambda found: abs(found - again["expected"]))
    close("again " + again["of"], best, again["expected"], 1e-7)


def main():
    wrong, counts = [], collections.Counter()
    worst = collections.defaultdict(float)
    for number, line in enumerate(open(sys.argv[1], encoding="utf-8"), 1):
        row = json.loads(line)
        kind = row["shape"]["kind"] if row["what"] == "duct" else row["what"]

        def close(name, ours, theirs, slack):
            off = abs(ours / theirs - 1) if theirs else abs(ours)
            worst[kind, name] = max(worst[kind, name], off)
            if not off <= slack:
                wrong.append(f"line {number}, {kind}: {name} is {ours!r}, but {theirs!r} here (off by {off:.1e})")

        counts[kind] += 1
        (duct if row["what"] == "duct" else profile)(row, close)
    print(", ".join(f"{count} {kind}" for kind, count in sorted(counts.items())))
    for (kind, name), off in sorted(worst.items(), key=lambda item: -item[1])[:6]:
        print(f"  largest difference of {name} ({kind}): {off:.1e}")
    for fault in wrong[:20]:
        print(fault)
    print(f"{len(wrong)} disagree")
    return 1 if wrong or sum(counts.values()) < 2000 else 0


if __name__ == "__main__":
    sys.exit(main())
