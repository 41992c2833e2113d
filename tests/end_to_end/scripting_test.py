#!/usr/bin/env python3
"""What a script relies on: --json everywhere, --dry-run without a trace, --quiet and --verbose, no colours, completion, standard input, exit
codes. Usage: scripting_test.py PROGRAM SOURCE_FOLDER"""

import json
import pathlib
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree

PROGRAM, SOURCE = str(pathlib.Path(sys.argv[1]).resolve()), pathlib.Path(sys.argv[2])
NO_RIG = "/dev/there-is-no-such-port"


def run(*words, code=0, **more):
    done = subprocess.run([PROGRAM, *map(str, words)], text=True, capture_output=True, stdin=more.pop("stdin", subprocess.DEVNULL), **more)
    assert done.returncode == code, f"{words} ended with {done.returncode}, not {code}: {done.stderr}"
    return done


def completed(*words, cwd=None):
    return run("complete", "--", *words, cwd=cwd).stdout.split()


def every_command():
    """Each command of one or two words."""
    for first in completed(""):
        below = completed(first, "")
        yield from ([first, second] for second in below) if below and first in ("rig", "calibrate") else [[first]]


def check_every_command():
    commands = list(every_command())
    assert len(commands) >= 25, commands
    manual = run("manual").stdout.replace("\\-", "-")
    for command in commands:
        options = completed(*command, "--")
        for wanted in ("--json", "--quiet", "--verbose"):
            assert wanted in options, f"{command} has no {wanted}"
        assert ("--dry-run" in options) == (command in MOVING), command
        section = f".SS springwright {' '.join(command)}\n"
        assert section in manual, f"the manual lacks {command}"
        part = manual[manual.index(section) + len(section):].split(".SS ")[0].split(".SH ")[0]
        for option in options:
            assert option in part or option == "--help", f"the manual of {command} lacks {option}"
    print(f"{len(commands)} commands: --json, --quiet, --verbose, and all options in the manual")


MOVING = [["sweep"], ["rig", "home"], ["rig", "touch"], ["rig", "move"], ["calibrate", "force"], ["calibrate", "travel"], ["calibrate", "frame"]]


def check_dry_runs(workshop, certificate):
    fork = ["--fork", "forks/larch_160.toml", "--pressure", "80 psi", "--spacers", "1", "--force-calibration", certificate]
    guided = ["--guided", "--out", "calibrations/x.json"]
    lines = {
        ("sweep", *fork, "--speeds", "2 mm/s, 8 mm/s"): ("parts", 2),
        ("rig", "home"): ("question", None),
        ("rig", "touch"): ("question", None),
        ("rig", "move", "--by", "2 mm"): ("question", None),
        ("calibrate", "force", *guided, "--loads", "0, 10, 20 kg"): ("readings", 15),
        ("calibrate", "travel", *guided, "--loads", "0, 50, 100 mm"): ("readings", 15),
    }
    before = sorted(workshop.rglob("*"))
    for words, (key, wanted) in lines.items():
        said = json.loads(run(*words, "--rig", NO_RIG, "--dry-run", "--json", cwd=workshop).stdout)
        assert said["dry_run"] is True and said["rig"] == NO_RIG, said
        assert wanted in (None, said[key], len(said[key]) if isinstance(said[key], list) else None), said
        assert "Nothing is done" in run(*words, "--rig", NO_RIG, "--dry-run", cwd=workshop).stdout
        # And without it the port would be needed, or somebody to ask.
        run(*words, "--rig", NO_RIG, cwd=workshop, code=4)
    assert sorted(workshop.rglob("*")) == before, "a dry run, or a port that is not there, left something"
    # What cannot be is refused all the same.
    run("sweep", *fork[:2], "--pressure", "900 psi", "--spacers", "1", "--rig", NO_RIG, "--dry-run", cwd=workshop, code=3)
    run("calibrate", "force", *guided, "--loads", "0, 10 kg", "--rig", NO_RIG, "--dry-run", cwd=workshop, code=2)


def check_volume(workshop, certificate):
    sweep = ["sweep", "--rig", "virtual:virtual/larch_160.toml", "--fork", "forks/larch_160.toml", "--pressure", "80 psi", "--spacers", "0",
             "--to", "30 mm", "--cycles", "1", "--speed", "10 mm/s", "--settle", "1 s", "--yes", "--force-calibration", certificate]
    quiet = run(*sweep, "--quiet", cwd=workshop)
    assert quiet.stderr == "" and quiet.stdout.splitlines()[0].endswith("larch-160-001.csv"), quiet
    loud = run(*sweep, "--verbose", cwd=workshop)
    assert "In the workshop" in loud.stderr and "frames, 0 bad" in loud.stderr and "It took" in loud.stderr, loud.stderr
    assert "In the workshop" not in run(*sweep, cwd=workshop).stderr
    # An error is never hushed.
    assert run("fit", "nothing.csv", "--out", "models/x.json", "--quiet", cwd=workshop, code=3).stderr.startswith("springwright: ")
    # Nobody can be asked where nothing may be said.
    assert "--yes" in run(*[word for word in sweep if word != "--yes"], "--quiet", cwd=workshop, code=2).stderr
    run("calibrate", "force", "--guided", "--loads", "0, 10, 20 kg", "--rig", sweep[2], "--out", "x.json", "--quiet", cwd=workshop, code=2)
    run("list", "--quiet", "--verbose", cwd=workshop, code=2)
    for words in (["--help"], ["list"], ["curve", "sweeps/larch-160-001.csv"], ["nonsense"]):
        done = subprocess.run([PROGRAM, *words], cwd=workshop, capture_output=True)
        assert b"\033" not in done.stdout + done.stderr, f"{words} is coloured"


def check_completion(workshop):
    assert completed("sw", cwd=workshop) == ["sweep"]
    assert "forks/larch_160.toml" in completed("sweep", "--fork", "", cwd=workshop)
    assert completed("curve", "sweeps/larch-160-002", cwd=workshop) == ["sweeps/larch-160-002.csv"]
    assert completed("calibrate", "check", "", cwd=workshop) == ["calibrations/force.json"]
    assert completed("report", "--units", "i", cwd=workshop) == ["imperial"]
    assert set(completed("rig", "", cwd=workshop)) == {"find", "show", "home", "touch", "move", "stop"}
    # From a folder below, the names are as seen from there.
    assert "../forks/larch_160.toml" in completed("sweep", "--fork", "", cwd=workshop / "sweeps")
    assert "manual" not in completed("", cwd=workshop) and "complete" not in completed("", cwd=workshop)


def check_standard_input(workshop):
    # As a spreadsheet of another country writes it.
    lines = (workshop / "sweeps/larch-160-001.csv").read_text().splitlines()[1:]
    foreign = "t;s;F\n" + "\n".join(";".join(line.split(",")[i].replace(".", ",") for i in (0, 2, 3)) for line in lines) + "\n"
    options = ["--fork", "forks/larch_160.toml", "--pressure", "80 psi", "--spacers", "0", "--separator", ";", "--decimal", ",",
               "--column", "time=t:s", "--column", "travel=s:mm", "--column", "force=F:N"]
    (workshop / "foreign.csv").write_text(foreign)
    run("import", "foreign.csv", *options, "--out", "sweeps/by-file.csv", cwd=workshop)
    done = subprocess.run([PROGRAM, "import", "-", *options, "--out", "sweeps/by-pipe.csv", "--json"], cwd=workshop, input=foreign, text=True,
                          capture_output=True)
    assert done.returncode == 0, done.stderr
    assert (workshop / "sweeps/by-file.csv").read_bytes() == (workshop / "sweeps/by-pipe.csv").read_bytes()
    assert json.loads((workshop / "sweeps/by-pipe.csv-metadata.json").read_text())["springwright"]["source"] == "standard input"


def check_spreadsheet(workshop):
    record = workshop / "sweeps/larch-160-001.csv"
    run("mark", record, "--remark", "a <b> & c")
    run("export", record, "--out", "sheet.fods", cwd=workshop)
    run("export", record, "--out", "sheet.fods", cwd=workshop, code=7)
    table, text, office = (f"{{urn:oasis:names:tc:opendocument:xmlns:{each}:1.0}}" for each in ("table", "text", "office"))
    rows, about = xml.etree.ElementTree.parse(workshop / "sheet.fods").getroot().iter(f"{table}table")
    cells = [[cell.get(f"{office}value") or cell.findtext(f"{text}p") for cell in line] for line in rows.iter(f"{table}table-row")]
    wanted = [line.split(",") for line in record.read_text().splitlines()]
    assert cells[0] == ["stroke", "time_s", "travel_mm", "force_N"] and len(cells) == len(wanted)
    for cell, line in zip(cells[1:], wanted[1:]):
        assert all(abs(float(a) - float(b)) <= 1e-12 * max(1.0, abs(float(b))) for a, b in zip(cell, (line[1], line[0], line[2], line[3])))
    assert any(cell.findtext(f"{text}p") == "a <b> & c" for cell in about.iter(f"{table}table-cell"))


def main():
    check_every_command()
    with tempfile.TemporaryDirectory(prefix="springwright-") as temporary:
        workshop = pathlib.Path(temporary) / "workshop"
        run("init", workshop)
        shutil.copytree(SOURCE / "controller/virtual_rig/forks", workshop / "virtual")
        shutil.copytree(SOURCE / "controller/virtual_rig/forks/caliper", workshop / "forks", dirs_exist_ok=True)
        readings = ["force_N,counts,series,direction"]
        readings += [f"{force},{41269 + 837.31 * force + 3 * (-1) ** series:.1f},{series},ascending"
                     for series in (1, 2, 3) for force in range(0, 2501, 250)]
        (workshop / "readings.csv").write_text("\n".join(readings) + "\n")
        run("calibrate", "force", "readings.csv", "--out", "calibrations/force.json", cwd=workshop)
        check_dry_runs(workshop, "calibrations/force.json")
        check_volume(workshop, "calibrations/force.json")
        check_completion(workshop)
        check_standard_input(workshop)
        check_spreadsheet(workshop)
    print("dry runs, volume, completion and standard input as a script wants them")


main()
