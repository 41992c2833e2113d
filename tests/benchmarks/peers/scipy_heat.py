#!/usr/bin/env python3
"""SciPy on the joint set with the heat law, calling our own compiled kernel: it pays for its algebra alone.

Usage: scipy_heat.py HEAT_ROWS DIR    Prints our lines, then: heat, scipy_METHOD, milliseconds (median), values.
"""
import subprocess
import sys
import time

import numpy
from scipy.optimize import least_squares

RULE = dict(ftol=1e-10, xtol=1e-14, gtol=1e-14, max_nfev=400)
TIMES = 3


def main(program, folder):
    server = subprocess.Popen([program, folder], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
    for line in server.stdout:
        if line.startswith("serve"):
            break
        print(line, end="")
    words = line.split()
    rows, columns = int(words[1]), int(words[2])
    start = numpy.array([float(word) for word in words[3:]])
    residuals_at = numpy.memmap(f"{folder}/residuals", numpy.float64, "r", shape=(rows,))
    jacobian_at = numpy.memmap(f"{folder}/jacobian", numpy.float64, "r", shape=(rows, columns))

    def ask(what, values, answer):
        server.stdin.write(what + " " + " ".join(f"{v:.17g}" for v in values) + "\n")
        server.stdin.flush()
        assert server.stdout.readline().strip() == "ok"
        return numpy.array(answer)

    residuals = lambda q: ask("r", q, residuals_at)
    jacobian = lambda q: ask("j", q, jacobian_at)
    for method, slopes, label in (("trf", "2-point", "trf_differences"), ("trf", jacobian, "trf"), ("lm", "2-point", "lm_differences"), ("lm", jacobian, "lm")):
        spent = []
        for _ in range(TIMES):
            begin = time.perf_counter()
            answer = least_squares(residuals, start, jac=slopes, method=method, **RULE)
            spent.append(1e3 * (time.perf_counter() - begin))
        print("heat", f"scipy_{label}", f"{numpy.median(spent):.3f}", *(f"{v:.12g}" for v in answer.x))
    server.stdin.close()
    server.wait()


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
