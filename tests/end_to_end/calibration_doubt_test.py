"""A poorer standard widens what is fitted and compared, and moves none of it.

Two certificates are made of the same readings: the weights of one are known to 0.01 %, those of the
other to 1 %. The same raw counts are then fitted and compared with each.

Usage: calibration_doubt_test.py PROGRAM SOURCE_FOLDER
"""

import json
import pathlib
import random
import subprocess
import sys
import tempfile
import tomllib
import unittest

PROGRAM, SOURCE = sys.argv[1], pathlib.Path(sys.argv[2])
FORKS = SOURCE / "controller" / "virtual_rig" / "forks"
CELL = tomllib.loads((FORKS / "bench.toml").read_text())["load_cell"]


class CalibrationDoubtTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        cls.folder = pathlib.Path(cls.folder_object.name) / "workshop"
        cls.run_program("init", str(cls.folder), within=cls.folder.parent)
        cls.write_readings()
        for name, uncertainty in (("good", "0.01 %"), ("poor", "1 %")):
            cls.run_program("calibrate", "force", "readings.csv", "--out", f"calibrations/{name}.json",
                            "--standard", "weights", "--standard-uncertainty", uncertainty)
        for fork in ("larch", "basalt"):
            cls.sweep(fork)

    @classmethod
    def tearDownClass(cls):
        cls.folder_object.cleanup()

    @classmethod
    def run_program(cls, *words, within=None):
        done = subprocess.run([PROGRAM, *words], cwd=within or cls.folder, text=True,
                              capture_output=True, timeout=600)
        if done.returncode != 0:
            raise AssertionError(f"{' '.join(words)}\n{done.stdout}{done.stderr}")
        return done.stdout

    @classmethod
    def answer(cls, *words):
        return json.loads(cls.run_program(*words, "--json"))

    @classmethod
    def write_readings(cls):
        chance = random.Random(2)
        lines = ["force_N,counts,series"]
        for series in (1, 2, 3):
            for load_N in [*range(0, 2001, 250), *range(1750, -1, -250)]:
                counts = CELL["offset_counts"] + CELL["counts_per_N"] * (load_N + chance.gauss(0, 0.1))
                lines.append(f"{load_N},{counts:.1f},{series}")
        (cls.folder / "readings.csv").write_text("\n".join(lines) + "\n")

    @classmethod
    def sweep(cls, fork):
        cls.run_program("sweep", "--rig", f"virtual:{FORKS}/{fork}_160.toml", "--fork", f"{FORKS}/caliper/{fork}_160.toml",
                        "--pressure", "81 psi", "--spacers", "1", "--cycles", "1", "--conditioning", "1",
                        "--force-calibration", "calibrations/good.json", "--yes",
                        "--out", f"sweeps/{fork}-good.csv")
        cls.run_program("calibrate", "recompute", f"sweeps/{fork}-good.csv",
                        "--force-calibration", "calibrations/poor.json", "--out", f"sweeps/{fork}-poor.csv")

    def rows(self, name):
        return (self.folder / "sweeps" / f"{name}.csv").read_text()

    def test_the_forces_are_the_same(self):
        self.assertEqual(self.rows("larch-good"), self.rows("larch-poor"))

    def test_the_fit_widens_and_does_not_move(self):
        good, poor = (self.answer("fit", f"sweeps/larch-{name}.csv", "--out", f"models/larch-{name}.json")
                      for name in ("good", "poor"))
        both = list(zip(good["parameters"], poor["parameters"]))
        self.assertEqual([a["name"] for a, _ in both], [b["name"] for _, b in both])
        # With a poorer cell less is told, never more.
        self.assertEqual([a["name"] for a, b in both if b["status"] == "fitted" != a["status"]], [])
        pairs = [(a, b) for a, b in both if b["status"] == "fitted"]
        self.assertGreater(len(pairs), 5)
        for a, b in pairs:
            with self.subTest(a["name"]):
                self.assertLessEqual(abs(a["value"] - b["value"]), 1e-9 * abs(a["value"]))
                self.assertLessEqual(abs(a["statistical_uncertainty"] - b["statistical_uncertainty"]),
                                     1e-6 * a["statistical_uncertainty"])
                self.assertGreaterEqual(b["standard_uncertainty"], a["standard_uncertainty"] * (1 - 1e-9))
        by_name = {a["name"]: (a, b) for a, b in pairs}
        # A gain error of 0.5 % moves the volume by about 1.2 %: with 1 % it must show.
        a, b = by_name["positive_volume"]
        self.assertGreater(b["standard_uncertainty"], 1.2 * a["standard_uncertainty"])

    def test_the_comparison_widens_by_the_common_gain_and_does_not_move(self):
        good, poor = (self.answer("compare", f"sweeps/larch-{name}.csv", f"sweeps/basalt-{name}.csv")
                      for name in ("good", "poor"))
        self.assertEqual(len(good["thirds"]), 3)
        for a, b in zip(good["thirds"], poor["thirds"]):
            self.assertLessEqual(abs(a["mean_difference_N"] - b["mean_difference_N"]), 1e-6)
            # One cell measured both: its gain acts on the difference, and no more than that.
            doubt_N = 0.01 * abs(a["mean_difference_N"])
            widened = (a["standard_uncertainty_N"] ** 2 + doubt_N ** 2) ** 0.5
            self.assertLessEqual(abs(b["standard_uncertainty_N"] - widened), 0.05 * widened)
        largest = max(range(3), key=lambda i: abs(good["thirds"][i]["mean_difference_N"]))
        self.assertGreater(poor["thirds"][largest]["standard_uncertainty_N"],
                           good["thirds"][largest]["standard_uncertainty_N"])


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
