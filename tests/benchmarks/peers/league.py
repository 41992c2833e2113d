#!/usr/bin/env python3
"""Reads what the solvers printed, checks that they agree, and prints how many times as long as ours each one takes.

Usage: league.py FIGURES    Exit 1 where an optimum is another one.
"""
import sys

# Of the parameters over the truth less one. The statistical deviations are 5e-5 and more for the joint set: a hundredth of them.
SAME = {"small": 2e-5, "joint": 2e-6}
SAME_IN_DEVIATIONS = 3.0  # heat: cells stand for samples, which another solver interpolates


def read(path):
    rows = [line.split() for line in open(path)]
    return rows


def numbers(words):
    return [float(word) for word in words]


def check(name, ours, theirs, who, tolerance):
    apart = max(abs(a - b) for a, b in zip(ours, theirs))
    if apart > tolerance:
        print(f"{name}: {who} found another optimum, {apart:.2g} away where {tolerance:.2g} is allowed", file=sys.stderr)
    return apart <= tolerance


def quasi_static(name, rows):
    mine = {row[1]: row[2:] for row in rows if row[0] == name}
    ours = numbers(mine["ours"])
    both = numbers(mine["ours_two_threads"])[0]
    peers = {"gsl": ["gsl"], "cminpack": ["cminpack"], "scipy": [who for who in mine if who.startswith("scipy_") and who != "scipy_bootstrap"]}
    agree = True
    for who, variants in peers.items():
        best = min(variants, key=lambda variant: float(mine[variant][0]))
        ms = numbers(mine[best])[0]
        for variant in variants:
            agree &= check(name, ours[1:], numbers(mine[variant])[1:], variant, SAME[name])
        print(f"{name}/{who} {ms / both:.1f}   (best: {best}, {ms:.2f} ms; ours {both:.3f} ms; on one thread {ours[0]:.3f} ms, {ms / ours[0]:.1f} times)")
    reduce, solve, certify, full_pass, step = numbers(mine["parts"])
    print(f"{name}/passes {ours[0] / full_pass:.2f}   (reduction {reduce:.3f} + fit {solve:.3f} + certificate {certify:.3f} ms on one thread, a full pass {full_pass:.3f} ms; "
          f"all samples' optimum {step:.1g} standard deviations away)")
    if "bootstrap" in mine:
        ms, failed = numbers(mine["bootstrap"])
        scipy = 1000 * numbers(mine["scipy_bootstrap"])[0]
        print(f"{name}/bootstrap {scipy / ms:.0f}   (1,000 draws of strokes: ours {ms:.0f} ms on one thread, {failed:.0f} came to no end; SciPy {scipy:.0f} ms, a thousand times the median of a few)")
    else:
        print(f"{name}/bootstrap declined: {' '.join(mine['bootstrap_refused'])}")
    # What is left when nothing but the certificate remains.
    print(f"{name}: without the certificate {ours[0] / (reduce + solve):.1f} times faster; a certificate on fewer samples, or less than a look at each, is the next factor's price")
    return agree


def heat(rows):
    mine = [row[1:] for row in rows if row[0] == "heat"]
    find = lambda key: next(row[1:] for row in mine if row[0] == key)
    values, deviations = numbers(find("values")), numbers(find("deviations"))
    one, two = float(find("ours_1")[0]), float(find("ours_2")[0])
    variants = {row[0]: numbers(row[1:]) for row in mine if row[0].startswith("scipy_")}
    agree = True
    for who, row in variants.items():
        apart = [abs(a - b) / d for a, b, d in zip(values, row[1:], deviations)]
        agree &= check("heat", [0.0], [max(apart)], who, SAME_IN_DEVIATIONS)
    best = min(variants, key=lambda who: variants[who][0])
    ms, ours = variants[best][0], min(one, two)
    print(f"heat/scipy {ms / ours:.1f}   (best: {best}, {ms:.1f} ms; ours {two:.1f} ms, on one thread {one:.1f} ms)")
    return agree


def main(path):
    rows = read(path)
    print("instructions:", " ".join(next(row[1:] for row in rows if row[0] == "instructions")), "(baseline build, chosen when the program starts)")
    agree = [quasi_static(name, rows) for name in ("small", "joint")]
    agree.append(heat(rows))
    return 0 if all(agree) else 1


if __name__ == "__main__":
    sys.exit(main(sys.argv[1]))
