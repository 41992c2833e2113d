#!/usr/bin/env python3
"""SciPy on the quasi-static sets, as its users write it: the law in NumPy, its Jacobian by differences or written out.

Usage: scipy_quasi_static.py DIR SET    Prints lines of: set, scipy_METHOD, milliseconds (median), six values over the truth less one;
then bootstrap lines: set, scipy_bootstrap, milliseconds per replicate of resampled strokes.
"""
import sys
import time

import numpy
from scipy.optimize import least_squares

# The fork of the sets, SI.
PISTON_M, SHAFT_M, STANCHION_M, ROD_M = 31.8e-3, 9e-3, 35e-3, 10e-3
LOWER_M3, SPACER_M3, TRANSFER_M, BAND_M = 405e-6, 7e-6, 3.2e-3, 1.2e-3
LOWER_EXPONENT, FRICTION_PER_PA, AMBIENT_PA = 1.05, 1e-5, 101325.0
TRUTH = numpy.array([242.25e-6, 29e-6, 10.0, 30.0, 4e-4, 1.12])
START = numpy.array([0.7, 1.3, 1.3, 0.7, 1.3, 1.3]) - 1.0
AREA = numpy.pi / 4 * PISTON_M**2
ANNULUS = AREA - numpy.pi / 4 * SHAFT_M**2
LOWER = numpy.pi / 4 * (2 * STANCHION_M**2 - SHAFT_M**2 - ROD_M**2)
RULE = dict(ftol=1e-10, xtol=1e-14, gtol=1e-14, max_nfev=400)


class Rows:
    def __init__(self, path):
        columns = numpy.fromfile(path).reshape(-1, 7)
        self.x, self.y, self.s, self.turn, first, gauge, spacers = [numpy.ascontiguousarray(c) for c in columns.T]
        self.known = 1.0 - first  # 0: friction starts from nothing
        self.pumped = gauge + AMBIENT_PA
        self.spacers = spacers * SPACER_M3
        self.distance = numpy.abs(self.x - self.turn)
        self.lower = AMBIENT_PA * (LOWER_M3 / (LOWER_M3 - LOWER * self.x))**LOWER_EXPONENT
        starts = numpy.flatnonzero(numpy.diff(self.turn * 1e6 + self.s + 1e3 * self.pumped + spacers) != 0) + 1
        self.strokes = numpy.split(numpy.arange(len(self.x)), starts)

    def take(self, rows):
        out = object.__new__(Rows)
        for name, value in vars(self).items():
            setattr(out, name, value[rows] if name != "strokes" else None)
        return out


def law(q, d, slopes):
    """Residuals, or the Jacobian, at q = value over truth less one."""
    vp, vn, preload, friction, delta, n = TRUTH * (1.0 + q)
    full = vp - d.spacers
    low = TRANSFER_M - BAND_M / 2
    joined_low = d.pumped * full / (full - AREA * low)
    amount = d.pumped * full + joined_low * (vn + ANNULUS * low)
    vpt, vnt = full - AREA * TRANSFER_M, vn + ANNULUS * TRANSFER_M
    joined = amount / (vpt + vnt)
    vpx, vnx, vp0 = full - AREA * d.x, vn + ANNULUS * d.x, full - AREA * d.turn
    rp, rn, r0 = vpt / vpx, vnt / vnx, vpt / vp0
    pp, pn, p0 = joined * rp**n, joined * rn**n, joined * r0**n
    kept = numpy.exp(-d.distance / delta)
    sliding = friction + FRICTION_PER_PA * (pp - AMBIENT_PA)
    at_turn = -d.s * d.known * (friction + FRICTION_PER_PA * (p0 - AMBIENT_PA))
    gap = d.s * sliding - at_turn
    if not slopes:
        return ((pp - AMBIENT_PA) * AREA - (pn - AMBIENT_PA) * ANNULUS + (d.lower - AMBIENT_PA) * LOWER + preload +
                d.s * sliding - gap * kept - d.y)
    out = numpy.empty((len(d.x), 6))
    weight = AREA + d.s * FRICTION_PER_PA * (1 - kept)
    before = -d.s * d.known * FRICTION_PER_PA * kept
    # By the two volumes: the joined pressure and the ratios move.
    d_amount_p = d.pumped + (vn + ANNULUS * low) * d.pumped * (-AREA * low) / (full - AREA * low)**2
    by_p = d_amount_p / amount - 1 / (vpt + vnt)
    by_n = joined_low / amount - 1 / (vpt + vnt)
    out[:, 0] = weight * pp * (by_p + n * (1 / vpt - 1 / vpx)) - ANNULUS * pn * by_p + before * p0 * (by_p + n * (1 / vpt - 1 / vp0))
    out[:, 1] = weight * pp * by_n - ANNULUS * pn * (by_n + n * (1 / vnt - 1 / vnx)) + before * p0 * by_n
    out[:, 2] = 1.0
    out[:, 3] = d.s - d.s * kept * (1 + d.known)
    out[:, 4] = -gap * kept * d.distance / delta**2
    out[:, 5] = weight * pp * numpy.log(rp) - ANNULUS * pn * numpy.log(rn) + before * p0 * numpy.log(r0)
    return out * TRUTH


def median_ms(run, times):
    spent = []
    for _ in range(times):
        begin = time.perf_counter()
        answer = run()
        spent.append(1e3 * (time.perf_counter() - begin))
    return float(numpy.median(spent)), answer


def main(folder, name):
    d = Rows(f"{folder}/{name}.bin")
    times = 15 if name == "small" else 5
    residuals = lambda q: law(q, d, False)
    written_out = lambda q: law(q, d, True)
    answer = None
    for method, jacobian, label in (("trf", "2-point", "trf_differences"), ("trf", written_out, "trf"), ("lm", written_out, "lm")):
        ms, answer = median_ms(lambda: least_squares(residuals, START, jac=jacobian, method=method, **RULE), times)
        print(name, f"scipy_{label}", f"{ms:.4f}", *(f"{v:.12g}" for v in answer.x))
    random = numpy.random.default_rng(1)

    def replicate():
        picked = random.integers(0, len(d.strokes), len(d.strokes))
        some = d.take(numpy.concatenate([d.strokes[i] for i in picked]))
        return least_squares(lambda q: law(q, some, False), answer.x, jac=lambda q: law(q, some, True), method="lm", **RULE)

    ms, _ = median_ms(replicate, times)
    print(name, "scipy_bootstrap", f"{ms:.4f}")


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
