#!/usr/bin/env python3
"""What the documents say is so: every command line in them is run, in their order, in a workshop of their names; every quoted answer comes; what
is linked exists; the tables of exit codes agree. Usage: documents_test.py PROGRAM SOURCE_FOLDER"""

import glob
import os
import pathlib
import re
import shlex
import shutil
import signal
import subprocess
import sys
import tempfile

PROGRAM, SOURCE = str(pathlib.Path(sys.argv[1]).resolve()), pathlib.Path(sys.argv[2])
DOCUMENTS = ["README.md", "controller/WORKED_EXAMPLE.md", "controller/BENCH.md", "calibration/README.md", "protocol/record/RECORD.md",
             "controller/firmware/avr/WIRING.md", "DEVELOPERS.md", "fitting/METHOD.md", "protocol/wire/WIRE.md"]
RIG = "virtual:virtual/larch_160.toml"
LINES_FOR_A_CONVERSATION = "\n" * 400
# Numbers in a quoted answer may differ by so much: the virtual rig has noise, and a fit of a few sweeps moves with it.
MAY_DIFFER, MAY_DIFFER_BY = 0.06, 3.0
NUMBER = re.compile(r"-?\d+(?:\.\d+)?(?:e[-+]?\d+)?")


def commands_of(text):
    """RETURNS the command lines in indented blocks, each with the answers quoted ('> ...') behind it."""
    found = []
    lines = iter(text.splitlines())
    for line in lines:
        if line.startswith("> ") and found:
            found[-1][1].append(line[2:])
        if not re.match(r" {4,}(\(cd .*)?(springwright|python3) ", line):
            continue
        command = line.strip()
        while command.endswith("\\"):
            command = command[:-1] + next(lines).strip()
        found.append((re.sub(r"\s+#.*", "", command), []))
    return found


def furnish(workshop):
    """The files that the documents name, made of the demonstration's."""
    record = lambda name: (workshop / "sweeps" / f"{name}.csv", workshop / "sweeps" / f"{name}.csv-metadata.json")
    names = {"larch-160-001": "larch_160-70psi-0", "larch-160-002": "larch_160-95psi-2", "larch-160-003": "larch_160-70psi-2",
             "larch-81": "larch_160-95psi-0", "basalt-76": "basalt_160-62psi-0", "basalt-77": "basalt_160-86psi-2"}
    for name, of in names.items():
        rows, about = record(of)
        shutil.copy(rows, record(name)[0])
        record(name)[1].write_text(about.read_text().replace(rows.name, f"{name}.csv"))
    for fork in ("larch", "basalt"):
        shutil.copy(workshop / f"forks/{fork}_160.toml", workshop / f"forks/{fork}.toml")
        shutil.copy(workshop / f"models/{fork}_160.json", workshop / f"models/{fork}.json")
        times = [i / 50 for i in range(3000)]
        ride = "\n".join(f"{t},{40 + 30 * abs((t * 0.7) % 2 - 1):.3f}" for t in times)
        (workshop / f"{fork}-ride.csv").write_text(f"time_s,travel_mm\n{ride}\n")
    rows = (workshop / "sweeps/larch_160-70psi-0.csv").read_text().splitlines()[1:]
    fields = [line.split(",") for line in rows]
    (workshop / "other.csv").write_text("time_s,travel_mm,force_N\n" + "\n".join(",".join((f[0], f[2], f[3])) for f in fields) + "\n")
    readings = (workshop / "calibrations/force-readings.csv").read_text()
    (workshop / "readings.csv").write_text(readings)
    rows = "".join(f"[[readings]]\nforce_N = {force}\ncounts = {1234 + 800 * force + series}\nseries = {series}\n"
                   for series in (1, 2, 3) for force in range(0, 1001, 200))
    (workshop / "readings.toml").write_text(f'kind = "force"\nrig = "bench 1"\ncell = "cell 1"\n{rows}')
    (workshop / "weights.csv").write_text(readings)
    shutil.copy(workshop / "calibrations/travel-readings.csv", workshop / "blocks.csv")
    shutil.copy(workshop / "calibrations/frame-readings.csv", workshop / "rigid_block.csv")
    shutil.copy(workshop / "calibrations/force.json", workshop / "calibrations/force-2026-11-25.json")
    (workshop / "bench.toml").write_text(f'[rig]\nport = "{RIG}"\n[calibrations]\nforce = "calibrations/force.json"\n')
    (workshop / "fitting").symlink_to(SOURCE / "fitting")


class Workshop:
    def __init__(self, folder):
        self.folder = folder
        self.environment = {**os.environ, "EDITOR": "true", "TERM": "dumb"}

    def run(self, command):
        """RETURNS (exit code, everything that was said)."""
        words = shlex.split(command)
        if words[-2:-1] == ["<"]:
            given, words = (self.folder / words[-1]).read_text(), words[:-2]
        else:
            given = LINES_FOR_A_CONVERSATION
        if words[1] in ("init", "demo"):
            words[2:3] = [str(self.folder.parent / f"{words[1]}-{len(list(self.folder.parent.iterdir()))}")]
            words = words[:words.index("&&")] if "&&" in words else words
        words = self.adapted(words)
        words = [each for word in words for each in (sorted(glob.glob(word, root_dir=self.folder)) or [word] if "*" in word else [word])]
        self.make_room(words)
        if words[1] == "panel":
            return self.run_panel(words)
        done = subprocess.run(words, cwd=self.folder, env=self.environment, input=given, text=True, capture_output=True)
        return done.returncode, done.stdout + done.stderr

    def adapted(self, words):
        """At the virtual rig, with nobody at a keyboard."""
        words = [PROGRAM if word == "springwright" else RIG if word.startswith("/dev/") or word == "PORT" else word for word in words]
        if words[0] == "python3":
            words[0] = "/usr/bin/python3"
        if words[1] == "sweep" and "--yes" not in words and "--dry-run" not in words:
            words.append("--yes")
        if words[1] == "rig" and words[2] in ("home", "touch", "move") and "--yes" not in words and "--dry-run" not in words:
            words.append("--yes")
        if "--guided" in words:
            # Three loads are as good as nine, and one series short of what a certificate takes is refused as one is.
            at = words.index("--loads") + 1
            values, unit = words[at].rsplit(" ", 1)
            words[at] = ", ".join(values.split(", ")[::3]) + " " + unit
        return words

    def make_room(self, words):
        """A document may write to a name twice; the program never overwrites."""
        for option in ("--out", "--html"):
            if option in words:
                target = self.folder / words[words.index(option) + 1]
                for each in (target, target.with_name(target.name + "-metadata.json"), target.with_name(target.name + ".session.jsonl")):
                    shutil.rmtree(each) if each.is_dir() else each.unlink(missing_ok=True)

    def run_panel(self, words):
        panel = subprocess.Popen(words, cwd=self.folder, text=True, stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        said = panel.stdout.readline()
        panel.send_signal(signal.SIGTERM)
        rest = panel.communicate(timeout=30)
        if "built without its page" in rest[1]:
            return 0, rest[1]
        return panel.returncode, said + "".join(rest)


def agrees(quoted, said):
    """The words are the same, and the numbers nearly so."""
    pattern = re.compile(r"\s+".join(NUMBER.sub("#", word) for word in quoted.split()))
    for line in said.splitlines():
        if not pattern.fullmatch(" ".join(NUMBER.sub("#", line).split()).replace("\\", "")) and \
                " ".join(NUMBER.sub("#", quoted).split()) != " ".join(NUMBER.sub("#", line).split()):
            continue
        pairs = zip(map(float, NUMBER.findall(quoted)), map(float, NUMBER.findall(line)))
        if all(abs(a - b) <= MAY_DIFFER * abs(a) + MAY_DIFFER_BY for a, b in pairs):
            return True
    return False


def check_links(document):
    text = (SOURCE / document).read_text()
    for target in re.findall(r"\]\(([^)#]+)\)", text):
        if "://" not in target:
            assert (SOURCE / document).parent.joinpath(target).exists(), f"{document}: there is no {target}"
    sources = (SOURCE / "tests/SOURCES.md").read_text()
    for key in re.findall(r"\[([A-Z][A-Za-z]+[-0-9][A-Za-z0-9.-]*|Dahl1968|CengelBoles|GUM)\](?!\()", text):
        assert f"### [{key}]" in sources, f"{document}: [{key}] is no entry of tests/SOURCES.md"


def check_exit_codes():
    table = dict(re.findall(r"^\| (\d+) \| (.+) \|$", (SOURCE / "README.md").read_text(), re.M))
    manual = subprocess.run([PROGRAM, "manual"], check=True, text=True, capture_output=True).stdout.replace("\\-", "-")
    status = manual[manual.index(".SH EXIT STATUS"):manual.index(".SH ENVIRONMENT")]
    assert dict(re.findall(r"^\.B (\d+)\n(.+)$", status, re.M)) == table, "README and manual disagree on the exit codes"


def main():
    check_exit_codes()
    with tempfile.TemporaryDirectory(prefix="springwright-") as temporary:
        folder = pathlib.Path(temporary) / "workshop"
        subprocess.run([PROGRAM, "demo", folder, "--quiet", "--forks", SOURCE / "controller/virtual_rig/forks"], check=True, capture_output=True)
        furnish(folder)
        workshop = Workshop(folder)
        wrong, count, quotes = [], 0, 0
        for document in DOCUMENTS:
            check_links(document)
            for command, answers in commands_of((SOURCE / document).read_text()):
                if command.startswith("python3") and subprocess.run(["/usr/bin/python3", "-c", "import numpy, pandas, matplotlib"],
                                                                    capture_output=True).returncode != 0:
                    print(f"left out for want of pandas or matplotlib: {command}")
                    continue
                count += 1
                code, said = workshop.run(command)
                if code != 0:
                    wrong.append(f"{document}: {command}\n  ended with {code}: {said[-400:]}")
                for quoted in answers:
                    quotes += 1
                    if not agrees(quoted, said):
                        wrong.append(f"{document}: {command}\n  does not answer: {quoted}\n  but {said[:2500]}")
        assert not wrong, "\n".join(wrong)
        assert count > 30 and quotes >= 6, (count, quotes)
        print(f"{count} command lines of {len(DOCUMENTS)} documents run, {quotes} quoted answers came")


main()
