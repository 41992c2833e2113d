#!/usr/bin/env python3
"""Checks who includes whom.

Data flows one way through the house, and a room may include only itself and the rooms it stands
on. Every quoted include must be rooted at the repository and point to a room that the table below
allows. Prints each offending file:line and exits with 1 if there is any.

Usage: check_includes.py ROOT
"""

import re
import sys
from pathlib import Path

# Longest prefix wins: a file belongs to the deepest room that contains it.
# Room -> what it may include besides itself. A room named without its parts includes all of them.
ALLOWED = {
    "protocol/errc.hpp": [],
    "protocol/wire": ["protocol/errc.hpp"],
    "protocol": ["protocol/errc.hpp"],
    "protocol/record": ["protocol", "protocol/errc.hpp"],
    "calibration": ["protocol", "protocol/errc.hpp", "protocol/record"],
    "controller/firmware/core": ["protocol/wire", "protocol/errc.hpp"],
    "controller/firmware/avr": ["protocol/wire", "protocol/errc.hpp", "controller/firmware/core"],
    "controller/virtual_rig": [
        "protocol", "protocol/errc.hpp", "protocol/wire", "protocol/record",
        "controller/firmware/core",
    ],
    "controller/host": [
        "protocol", "protocol/errc.hpp", "protocol/wire", "protocol/record", "calibration",
    ],
    "controller/panel": [
        "protocol", "protocol/errc.hpp", "protocol/wire", "protocol/record", "calibration",
        "controller/host",
    ],
}

# The fitting rooms in their order: each may include itself and the ones before it.
FITTING = ["fitting/curve", "fitting/model", "fitting/solve", "fitting/compare", "fitting/ride",
           "fitting/report"]
for position, room in enumerate(FITTING):
    ALLOWED[room] = [
        "protocol", "protocol/errc.hpp", "protocol/record", "calibration",
    ] + FITTING[:position]

# These see everything.
UNLIMITED = ["controller/cli", "tests"]

ROOMS = sorted(list(ALLOWED) + UNLIMITED, key=len, reverse=True)
TOP_LEVEL = {"protocol", "calibration", "controller", "fitting", "tests"}
SUFFIXES = {".hpp", ".cpp", ".h", ".cc", ".c", ".ipp"}

QUOTED = re.compile(r'^\s*#\s*include\s*"([^"]+)"')
ANY = re.compile(r'^\s*#\s*include\s*[<"]([^>"]+)[>"]')
ASIO = re.compile(r"^(boost/asio|boost/beast|asio)(/|\.hpp|$)")
ASIO_ROOMS = {"controller/host", "controller/panel"}

# Freestanding rooms have these headers of the compiler and no other.
FREESTANDING = {"protocol/wire", "controller/firmware/core"}
FREESTANDING_HEADERS = {"stdint.h", "stddef.h", "string.h"}


def room_of(path):
    """The room of a path relative to the root, or None."""
    for room in ROOMS:
        if path == room or path.startswith(room + "/"):
            return room
    return None


def fault_of(room, header, quoted):
    """Why `room` may not include `header`, or None."""
    if ASIO.match(header):
        return None if room in ASIO_ROOMS else f"Asio belongs to {' and '.join(sorted(ASIO_ROOMS))} alone"
    if not quoted and header.split("/")[0] not in TOP_LEVEL:
        if room in FREESTANDING and header not in FREESTANDING_HEADERS:
            return f"{room} is freestanding: only {', '.join(sorted(FREESTANDING_HEADERS))}"
        return None
    if header.split("/")[0] not in TOP_LEVEL:
        return "a quoted include is rooted at the repository"
    if room in UNLIMITED:
        return None
    target = room_of(header)
    if target == room or target in ALLOWED[room]:
        return None
    return f"{room} may not include {target or header}"


def check(root):
    """Every offence below `root`, as (file, line, text)."""
    offences = []
    for top in sorted(TOP_LEVEL):
        for path in sorted((root / top).rglob("*")):
            if path.suffix not in SUFFIXES or not path.is_file():
                continue
            relative = path.relative_to(root).as_posix()
            room = room_of(relative)
            if room is None:
                offences.append((relative, 1, "belongs to no room"))
                continue
            for number, line in enumerate(path.read_text(encoding="utf-8").splitlines(), 1):
                found = ANY.match(line)
                if not found:
                    continue
                why = fault_of(room, found.group(1), bool(QUOTED.match(line)))
                if why:
                    offences.append((relative, number, f"{found.group(1)}: {why}"))
    return offences


def main():
    if len(sys.argv) != 2:
        print(__doc__, file=sys.stderr)
        return 2
    root = Path(sys.argv[1]).resolve()
    if not (root / "protocol").is_dir() and not (root / "fitting").is_dir():
        print(f"{root}: not the repository", file=sys.stderr)
        return 2
    offences = check(root)
    for file, line, text in offences:
        print(f"{file}:{line}: {text}")
    return 1 if offences else 0


if __name__ == "__main__":
    sys.exit(main())
