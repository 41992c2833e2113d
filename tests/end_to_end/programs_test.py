"""Sweep programs on the virtual rig: a speed series and a staircase, what the record keeps of them, what the curve takes, what a fit
makes of them, and that --again goes through the same program.

Usage: programs_test.py PROGRAM SOURCE_FOLDER
"""

import csv
import json
import pathlib
import re
import shutil
import subprocess
import sys
import tempfile
import unittest

PROGRAM = ""
SOURCE = pathlib.Path()
USAGE, UNUSABLE = 2, 3


class ProgramsTest(unittest.TestCase):
    def setUp(self):
        self.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        self.addCleanup(self.folder_object.cleanup)
        self.folder = pathlib.Path(self.folder_object.name)
        forks = SOURCE / "controller/virtual_rig/forks"
        for name in ("larch_160.toml", "bench.toml"):
            shutil.copy(forks / name, self.folder / ("virtual_" + name if name == "bench.toml" else name))
        text = (self.folder / "larch_160.toml").read_text().replace('"bench.toml"', '"virtual_bench.toml"')
        (self.folder / "larch_160.toml").write_text(text)
        shutil.copy(forks / "caliper/larch_160.toml", self.folder / "caliper.toml")

    def run_program(self, *arguments):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, text=True, timeout=900, capture_output=True)

    def sweep(self, out, *more, fork=True):
        said = ["--fork", "caliper.toml", "--pressure", "80 psi", "--spacers", "1"] if fork else []
        done = self.run_program("sweep", "--rig", "virtual:larch_160.toml", *said, "--settle", "5 s", "--yes", "--out", out, *more)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.told, self.answer = done.stderr, done.stdout
        return json.loads((self.folder / (out + "-metadata.json")).read_text())

    def rows(self, name):
        with open(self.folder / name, newline="") as file:
            return [{key: float(value) for key, value in row.items()} for row in csv.DictReader(file)]

    def strokes(self, name):
        strokes = {}
        for row in self.rows(name):
            strokes.setdefault(int(row["stroke"]), []).append(row)
        return strokes

    def test_a_speed_series_moves_at_its_speeds_and_is_kept(self):
        metadata = self.sweep("series.csv", "--speeds", "3 mm/s, 12 mm/s", "--cycles", "1", "--conditioning", "1")
        program = metadata["program"] if "program" in metadata else metadata["springwright"]["program"]
        self.assertEqual([part["speed_m_s"] for part in program], [0.003, 0.012])
        strokes = self.strokes("series.csv")
        self.assertEqual(sorted(strokes), [0, 1, 2, 3, 4, 5])
        for number, speed in ((0, 3.0), (2, 3.0), (4, 12.0), (5, 12.0)):
            inside = [row for row in strokes[number] if 30.0 < row["travel_mm"] < 110.0]
            way = abs(inside[-1]["travel_mm"] - inside[0]["travel_mm"])
            self.assertAlmostEqual(way / (inside[-1]["time_s"] - inside[0]["time_s"]), speed, delta=0.03 * speed)

        # While it is the newest sweep of the folder.
        again = self.sweep("again.csv", "--again", fork=False)
        self.assertEqual(again["program"] if "program" in again else again["springwright"]["program"], program)

        # The curve is of the first speed alone: the fast cycle's wider loop is not averaged in.
        curve = json.loads(self.run_program("curve", "series.csv", "--json").stdout)
        alone = self.sweep("alone.csv", "--speed", "3 mm/s", "--cycles", "1", "--conditioning", "1")
        self.assertNotIn("program", json.dumps(alone))
        slow = json.loads(self.run_program("curve", "alone.csv", "--json").stdout)
        loss = [entry["loop"]["half_loop_N"] if "loop" in entry else entry["half_loop_N"] for entry in (self.first(curve), self.first(slow))]
        middle = len(loss[0]) // 2
        self.assertAlmostEqual(loss[0][middle], loss[1][middle], delta=1.5)

        # And a fit of the one record knows that speeds differ: it tries the damper.
        done = self.run_program("fit", "series.csv", "--out", "model.json", "--json")
        self.assertIn(done.returncode, (0, 6), done.stderr)
        model = json.loads((self.folder / "model.json").read_text())
        self.assertIn("open damper", [tried["elements"] for tried in model["gas_laws_tried"]])

    def first(self, curve):
        for key in ("curves", "records"):
            if key in curve:
                return curve[key][0]
        return curve[0] if isinstance(curve, list) else curve

    def test_a_staircase_rests_at_its_stops(self):
        self.sweep("stairs.csv", "--speed", "8 mm/s", "--dwell", "4 s", "--stops", "3", "--cycles", "1", "--conditioning", "0")
        stroke = self.strokes("stairs.csv")[0]
        end = max(row["travel_mm"] for row in stroke)
        for share in (0.25, 0.5, 0.75, 1.0):
            there = [row for row in stroke if abs(row["travel_mm"] - share * end) < 1.0]
            rest = there[-1]["time_s"] - there[0]["time_s"]
            self.assertGreater(rest, 3.8, share)
            self.assertLess(rest, 5.5, share)
            # Warm from the way there, the gas cools and gives way.
            still = [row for row in there if abs(row["travel_mm"] - there[len(there) // 2]["travel_mm"]) < 0.05]
            first, last = still[: len(still) // 10], still[-len(still) // 10 :]
            self.assertGreater(sum(r["force_N"] for r in first) / len(first), sum(r["force_N"] for r in last) / len(last))

    def test_the_running_fit_tells_and_ends_the_sweep(self):
        said = ("--cycles", "12", "--conditioning", "0", "--until", "friction_mid_travel 2 N")
        metadata = self.sweep("early.csv", *said)
        form = r"stroke (\d+) of 24: positive volume [0-9.]+ \+- [0-9.]+ cm3, friction mid travel [0-9.]+ \+- ([0-9.]+) N"
        doubts = {int(found[1]): float(found[2]) for found in re.finditer(form, self.told)}
        body = metadata if "measuring_cycles" in metadata else metadata["springwright"]
        cycles = body["measuring_cycles"]
        # One cycle does not tell friction from the gas's heat; a few do.
        self.assertGreater(cycles, 1)
        self.assertLess(cycles, 12)
        self.assertLessEqual(doubts[2 * cycles], 2.0)
        self.assertGreater(doubts[2 * cycles - 2], 2.0)
        self.assertRegex(" ".join(body["remarks"]), rf"Ended after {cycles} of 12 .* friction_mid_travel is known to [0-9.]+ N; wanted: 2 N")
        self.assertIn(f"Note: Ended after {cycles} of 12", self.answer)
        self.assertEqual(body["state"], "complete")
        self.assertEqual(len(self.strokes("early.csv")), 2 * cycles)
        # The same on another day, however busy the computer is.
        again = self.sweep("again.csv", *said)
        self.assertEqual((again if "measuring_cycles" in again else again["springwright"])["measuring_cycles"], cycles)

    def test_what_no_cycle_can_tell_is_said(self):
        metadata = self.sweep("late.csv", "--cycles", "2", "--conditioning", "0", "--until", "positive_volume 0.1 %")
        body = metadata if "measuring_cycles" in metadata else metadata["springwright"]
        self.assertEqual(body["measuring_cycles"], 2)
        self.assertRegex(self.told, r"positive_volume is known to [0-9.]+ %; wanted: 0.1 %. More cycles do not help")
        self.assertNotIn("Ended after", self.answer)

    def test_a_script_that_asks_for_nothing_is_told_nothing(self):
        self.sweep("silent.csv", "--cycles", "2", "--conditioning", "0")
        self.assertEqual(self.told, "")

    def test_what_is_no_program_is_refused_before_anything_moves(self):
        for more in (["--speeds", "fast"], ["--speeds", "0 mm/s"], ["--speeds", "4"], ["--speed", "4 mm/s", "--speeds", "1 mm/s"], ["--dwell", "20"], ["--until", "colour 1 %"], ["--until", "positive_volume 1 N"], ["--until", "positive_volume"]):
            done = self.run_program("sweep", "--rig", "virtual:larch_160.toml", "--fork", "caliper.toml", "--pressure", "80 psi", "--spacers", "1", "--yes", "--out", "no.csv", *more)
            self.assertEqual(done.returncode, USAGE, (more, done.stderr))
            self.assertTrue(done.stderr.strip())
            self.assertFalse((self.folder / "no.csv").exists())


if __name__ == "__main__":
    PROGRAM = sys.argv[1]
    SOURCE = pathlib.Path(sys.argv[2])
    unittest.main(argv=[sys.argv[0], *sys.argv[3:]])
