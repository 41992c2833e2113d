#!/usr/bin/env python3
"""Turns llvm-cov's export into a table of branches by room, and the list of those that no test takes.

A template that is used with several types counts once: a branch is taken where any of its uses takes it.

Usage: coverage_table.py ROOT COVERAGE.json ROOM ...
"""

import collections
import json
import pathlib
import sys

WANTED_PERCENT = 95.0


def branches_of(export, root):
    """{file: {(line, column): [true was seen, false was seen]}}"""
    seen = collections.defaultdict(dict)
    for part in export["data"]:
        for function in part["functions"]:
            names = function["filenames"]
            for line, column, _, _, true_count, false_count, file, *_ in function.get("branches", []):
                path = pathlib.Path(names[file])
                if not path.is_relative_to(root):
                    continue
                both = seen[path.relative_to(root).as_posix()].setdefault((line, column), [False, False])
                both[0] |= true_count > 0
                both[1] |= false_count > 0
    return seen


def main():
    root, export = pathlib.Path(sys.argv[1]).resolve(), json.loads(pathlib.Path(sys.argv[2]).read_text())
    seen = branches_of(export, root)
    short = False
    for room in sys.argv[3:]:
        print(f"\n{room}")
        total = taken = 0
        for file in sorted(name for name in seen if name.startswith(room + "/")):
            sides = [side for both in seen[file].values() for side in both]
            total += len(sides)
            taken += sum(sides)
            missing = [f"{line} {'never true' if not both[0] else ''}{' and ' if not any(both) else ''}"
                       f"{'never false' if not both[1] else ''}" for (line, _), both in sorted(seen[file].items()) if not all(both)]
            print(f"  {file}: {sum(sides)} of {len(sides)}" + "".join(f"\n      line {each}" for each in missing))
        percent = 100.0 * taken / max(total, 1)
        short |= percent < WANTED_PERCENT
        print(f"  {room}: {taken} of {total} branches, {percent:.1f} %")
    return 1 if short else 0


if __name__ == "__main__":
    if len(sys.argv) < 4:
        sys.exit(__doc__)
    sys.exit(main())
