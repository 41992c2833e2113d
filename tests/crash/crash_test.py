#!/usr/bin/env python3
"""The program is killed in the middle of a sweep, at random moments: every record that it leaves is readable, holds all rows but those of
the last second, is marked interrupted and says what is missing. And its wall clock is set while it sweeps.

Usage: crash_test.py PROGRAM WITNESSED_RIG JUMPING_CLOCK SOURCE_FOLDER [KILLS [SEED]]
"""

import concurrent.futures
import json
import os
import pathlib
import random
import shutil
import subprocess
import sys
import tempfile
import time

PACE = 5  # the rig's seconds in one of ours
LOST_S_MAX = 1.0  # promised
LINE_S = 0.25  # of the rig's time: on the line, in the terminal's buffer, until the witness was asked
SAMPLE_S = 0.0125
EARLIEST_S, WHOLE_SWEEP_S = 2.0, 7.0  # of ours; the first row comes after about three


class Kill:
    def __init__(self, program, rig, source, certificate, folder, delay_s):
        self.certificate = certificate
        self.program, self.rig, self.folder, self.delay_s = program, rig, folder, delay_s
        self.source = source
        self.record = folder / "sweeps" / "sweep.csv"
        self.record.parent.mkdir()
        (folder / "bench.toml").write_text("")  # a workshop folder
        self.witness = folder / "witness.txt"

    def carry_out(self):
        """RETURNS what was found: "before" the record, "interrupted", "complete"."""
        plant = self.source / "controller/virtual_rig/forks/larch_160.toml"
        fork = self.source / "controller/virtual_rig/forks/caliper/larch_160.toml"
        rig = subprocess.Popen([self.rig, plant, "80", str(PACE), self.witness], text=True, stdin=subprocess.PIPE,
                               stdout=subprocess.PIPE)
        try:
            port = rig.stdout.readline().strip()
            program = subprocess.Popen(
                [self.program, "sweep", "--rig", port, "--fork", fork, "--pressure", "80 psi", "--spacers", "0", "--speed",
                 "12 mm/s", "--to", "50 mm", "--cycles", "2", "--conditioning", "1", "--settle", "1 s", "--yes",
                 "--force-calibration", self.certificate, "--out", self.record], stdout=subprocess.DEVNULL, stderr=subprocess.PIPE, text=True)
            try:
                program.wait(timeout=self.delay_s)
                if program.returncode != 0:
                    raise AssertionError(f"the sweep ended by itself: {program.stderr.read()}")
            except subprocess.TimeoutExpired:
                program.kill()
                told = self.witness.read_text().splitlines()
                program.wait()
                return self.judge([line.split() for line in told if line.count(" ") == 2])
            return self.judge(None)
        finally:
            rig.stdin.close()
            rig.wait(timeout=10)

    def judge(self, told):
        if not self.metadata_file().exists():
            assert not self.record.exists(), "rows without metadata"
            return "before"
        listed = json.loads(subprocess.run([self.program, "list", self.folder, "--json"], check=True, text=True,
                                           capture_output=True).stdout)
        entry = next(item for item in listed["records"] if item["file"].endswith("sweep.csv"))
        if told is None:
            assert entry["state"] == "complete", entry
            return "complete"
        rows = self.rows()
        if entry["state"] == "complete":  # killed between the last write and the end of the program
            return "complete"
        assert entry["state"] == "interrupted", entry
        assert "never closed" in json.dumps(entry), entry
        if rows:
            self.compare(rows, told)
        return "interrupted"

    def metadata_file(self):
        return pathlib.Path(f"{self.record}-metadata.json")

    def rows(self):
        if not self.record.exists():
            return []
        lines = self.record.read_bytes().split(b"\r\n")
        assert lines[-1] == b"" or len(lines) > 1, "a row without a header"
        # The last one has no line end where the kill tore it.
        whole = [line.decode().split(",") for line in lines[1:-1]]
        return [(round(float(time_s) * 1e6), int(stroke), int(steps), int(counts))
                for time_s, stroke, _, _, steps, counts in whole]

    def compare(self, rows, told):
        told = [tuple(map(int, line)) for line in told]
        by_time = {time_us: (steps, counts) for time_us, steps, counts in told}
        first = rows[0]
        for begin_us, steps, counts in told:
            if (steps, counts) == first[2:] and all(
                    by_time.get(begin_us + time_us) == (steps_, counts_) for time_us, _, steps_, counts_ in rows):
                break
        else:
            raise AssertionError("a row is not what the rig sent")
        times = [time_us for time_us, *_ in rows]
        gaps = [b - a for a, b in zip(times, times[1:])]
        assert all(0 < gap < 1.6e6 * SAMPLE_S for gap in gaps), f"rows are missing: {max(gaps)} us between two"
        last_stroke = rows[-1][1] == 5 and abs(rows[-1][2] - first[2]) < 60
        lost_s = (told[-1][0] - begin_us - times[-1]) / 1e6
        # Behind the last stroke there are samples and no rows.
        assert last_stroke or lost_s <= LOST_S_MAX + LINE_S, f"{lost_s:.2f} s of rows are lost"


def calibrate(program, folder):
    """The certificate of the virtual rig's cell: without one no rig may move."""
    rows = [f"{force},{41269 + 837.31 * force + 3 * (-1) ** series:.1f},{series},ascending"
            for series in (1, 2, 3) for force in range(0, 2501, 250)]
    (folder / "readings.csv").write_text("\n".join(["force_N,counts,series,direction", *rows, ""]))
    done = subprocess.run([program, "calibrate", "force", "readings.csv", "--out", "force.json"], cwd=folder, text=True,
                          capture_output=True)
    assert done.returncode == 0, done.stderr
    return folder / "force.json"


def kill_many(program, rig, source, kills, seed):
    chance = random.Random(seed)
    delays = [chance.uniform(EARLIEST_S, WHOLE_SWEEP_S) for _ in range(kills)]
    found = {"before": 0, "interrupted": 0, "complete": 0}
    with tempfile.TemporaryDirectory(prefix="springwright-") as shared, \
            concurrent.futures.ThreadPoolExecutor(max_workers=max(2, os.cpu_count() or 2)) as pool:
        certificate = calibrate(program, pathlib.Path(shared))

        def one(delay_s):
            with tempfile.TemporaryDirectory(prefix="springwright-") as folder:
                return Kill(program, rig, source, certificate, pathlib.Path(folder), delay_s).carry_out()
        for ending in pool.map(one, delays):
            found[ending] += 1
    print(f"{kills} kills, seed {seed}: {found}")
    assert found["interrupted"] >= kills / 4, "too few kills met a sweep that was recording"


def sweep_while_the_clock_is_set(program, clock, source):
    with tempfile.TemporaryDirectory(prefix="springwright-") as name:
        folder = pathlib.Path(name)
        shutil.copytree(source / "controller/virtual_rig/forks", folder / "forks")
        environment = dict(os.environ, LD_PRELOAD=str(clock))
        environment["ASAN_OPTIONS"] = environment.get("ASAN_OPTIONS", "") + ":verify_asan_link_order=0"
        done = subprocess.run(
            [program, "sweep", "--rig", "virtual:forks/larch_160.toml", "--fork", "forks/caliper/larch_160.toml", "--pressure",
             "80 psi", "--spacers", "0", "--speed", "12 mm/s", "--to", "30 mm", "--cycles", "1", "--conditioning", "1",
             "--settle", "1 s", "--yes", "--out", "sweep.csv"], cwd=folder, env=environment, text=True, capture_output=True,
            timeout=120)
        assert done.returncode == 0, done.stderr
        metadata = json.loads((folder / "sweep.csv-metadata.json").read_text())["springwright"]
        assert metadata["state"] == "complete", metadata
        times = [float(line.split(",")[0]) for line in (folder / "sweep.csv").read_text().splitlines()[1:]]
        assert times[0] == 0.0 and all(0.0 < b - a < 0.02 for a, b in zip(times, times[1:])), "the rows' time is not the rig's"
    print("a sweep while the wall clock jumps by a day, back and forth: complete")


if __name__ == "__main__":
    if len(sys.argv) not in (5, 6, 7):
        sys.exit(__doc__)
    program, rig, clock, source = sys.argv[1:5]
    sweep_while_the_clock_is_set(program, clock, pathlib.Path(source))
    kill_many(program, rig, pathlib.Path(source), int(sys.argv[5]) if len(sys.argv) > 5 else 16,
              int(sys.argv[6]) if len(sys.argv) > 6 else 1)
