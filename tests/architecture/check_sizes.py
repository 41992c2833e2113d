#!/usr/bin/env python3
"""Checks that no source file is longer than 450 lines: one concept a file, readable in one sitting.

Usage: check_sizes.py ROOT
"""

import sys
from pathlib import Path

LINES_MAX = 450
FOLDERS = ["protocol", "calibration", "controller", "fitting", "tests"]


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    root = Path(sys.argv[1]).resolve()
    checked = 0
    too_long = []
    for folder in FOLDERS:
        for path in sorted((root / folder).rglob("*")):
            if path.suffix not in {".hpp", ".cpp"} or not path.is_file():
                continue
            checked += 1
            lines = len(path.read_text(encoding="utf-8").splitlines())
            if lines > LINES_MAX:
                too_long.append((path.relative_to(root).as_posix(), lines))
    if checked == 0:
        print(f"{root}: no sources found", file=sys.stderr)
        return 2
    for file, lines in too_long:
        print(f"{file}:{LINES_MAX + 1}: {lines} lines, at most {LINES_MAX}")
    return 1 if too_long else 0


if __name__ == "__main__":
    sys.exit(main())
