#!/usr/bin/env python3
"""Checks that the parts which also run on the chip ask nothing of a host.

Usage: check_freestanding.py headers COMPILER ROOT   each header compiles alone for the chip
       check_freestanding.py symbols COMPILER ROOT   nothing undefined but memory helpers
"""

import subprocess
import sys
import tempfile
from pathlib import Path

ROOMS = ["protocol/wire", "controller/firmware/core"]
CHIP = ["-std=c++14", "-mmcu=atmega328p", "-fsyntax-only", "-Wall", "-Wextra", "-Werror"]
HOST = ["-std=c++20", "-fno-exceptions", "-fno-rtti", "-fno-pie", "-Wall", "-Wextra", "-Werror"]
MEMORY_HELPERS = {"memcpy", "memset", "memmove", "memcmp"}


def check_headers(compiler, root):
    """Compiles a file that includes one header and nothing else, for every header."""
    headers = [path for room in ROOMS for path in sorted((root / room).glob("*.hpp"))]
    if not headers:
        print(f"{root}: no headers found")
        return 1
    failed = 0
    for header in headers:
        name = header.relative_to(root).as_posix()
        done = subprocess.run(
            [compiler, *CHIP, f"-I{root}", "-x", "c++", "-"],
            input=f'#include "{name}"\n', text=True, capture_output=True, check=False)
        if done.returncode:
            failed = 1
            print(f"{name}: does not compile alone\n{done.stderr}")
    return failed


def check_symbols(compiler, root):
    """Compiles the freestanding unit, optimised and not, and lists what it leaves undefined."""
    failed = 0
    with tempfile.TemporaryDirectory() as folder:
        for level in ["-O0", "-O2"]:
            unit = Path(folder) / f"freestanding{level}.o"
            subprocess.run(
                [compiler, *HOST, level, f"-I{root}", "-c", "-o", str(unit),
                 str(root / "tests" / "architecture" / "freestanding.cpp")], check=True)
            listing = subprocess.run(["nm", "-u", str(unit)], check=True, text=True,
                                     capture_output=True).stdout
            defined = subprocess.run(["nm", "--defined-only", str(unit)], check=True, text=True,
                                     capture_output=True).stdout
            if "on_tick" not in defined and "timer_interrupt" not in defined:
                failed = 1
                print(f"{level}: the rig is not in the object file")
            undefined = {line.split()[-1] for line in listing.splitlines() if line.strip()}
            for symbol in sorted(undefined - MEMORY_HELPERS):
                failed = 1
                print(f"{level}: asks for {symbol}")
    return failed


def main():
    checks = {"headers": check_headers, "symbols": check_symbols}
    if len(sys.argv) != 4 or sys.argv[1] not in checks:
        print(__doc__, file=sys.stderr)
        return 2
    return checks[sys.argv[1]](sys.argv[2], Path(sys.argv[3]).resolve())


if __name__ == "__main__":
    sys.exit(main())
