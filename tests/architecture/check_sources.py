#!/usr/bin/env python3
"""Checks that every published value names where it was published.

A test case tagged [oracle] must hold a comment `Source: [Key]`, and every key used anywhere in
the tests' comments of that form must have its entry `### [Key]` in tests/SOURCES.md. Entries that
nothing uses are listed too: a source without a check is an ornament.

Usage: check_sources.py ROOT
"""

import re
import sys
from pathlib import Path

CASE = re.compile(r"^\s*(?:TEMPLATE_|SCENARIO_)?TEST_CASE(?:_METHOD)?\s*\(")
SOURCE = re.compile(r"Source:\s*((?:\[[^\]]+\][\s,;]*(?:and\s+)?)+)")
KEY = re.compile(r"\[([^\]]+)\]")
ENTRY = re.compile(r"^###\s+\[([^\]]+)\]")


def cases_of(lines):
    """Test cases as (first line number, its heading, its lines), up to the closing brace at the
    margin, which clang-format puts there."""
    at = 0
    while at < len(lines):
        if not CASE.match(lines[at]):
            at += 1
            continue
        first = at
        heading = []
        while at < len(lines) and not lines[at].rstrip().endswith("{"):
            heading.append(lines[at])
            at += 1
        if at < len(lines):
            heading.append(lines[at])
        while at < len(lines) and not lines[at].startswith("}"):
            at += 1
        yield first + 1, " ".join(heading), lines[first:at]
        at += 1


def keys_in(text):
    """Every key of every `Source: [Key]` in `text`."""
    return [key for source in SOURCE.findall(text) for key in KEY.findall(source)]


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    root = Path(sys.argv[1]).resolve()
    page = root / "tests" / "SOURCES.md"
    if not page.is_file():
        print(f"{page}: missing", file=sys.stderr)
        return 2
    entries = {}
    offences = []
    for number, line in enumerate(page.read_text(encoding="utf-8").splitlines(), 1):
        entry = ENTRY.match(line)
        if not entry:
            continue
        if entry.group(1) in entries:
            offences.append(f"tests/SOURCES.md:{number}: [{entry.group(1)}] is there twice")
        entries[entry.group(1)] = number

    used = set()
    for path in sorted((root / "tests").rglob("*.[ch]pp")):
        relative = path.relative_to(root).as_posix()
        lines = path.read_text(encoding="utf-8").splitlines()
        for number, line in enumerate(lines, 1):
            for key in keys_in(line):
                used.add(key)
                if key not in entries:
                    offences.append(f"{relative}:{number}: [{key}] is not in tests/SOURCES.md")
        for number, heading, body in cases_of(lines):
            if "[oracle]" in heading and not keys_in("\n".join(body)):
                offences.append(f"{relative}:{number}: an [oracle] without `Source: [Key]`")
    for offence in offences:
        print(offence)
    for key, number in entries.items():
        if key not in used:
            print(f"tests/SOURCES.md:{number}: note: no test cites [{key}]")
    return 1 if offences else 0


if __name__ == "__main__":
    sys.exit(main())
