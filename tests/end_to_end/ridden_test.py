"""Logs of rides on the command line: a table, JSON, a figure, a weighted comparison, and what is refused.

Usage: ridden_test.py PROGRAM
"""

import json
import math
import pathlib
import subprocess
import sys
import tempfile
import unittest

PROGRAM = sys.argv[1]

FORK = ('name = "Larch 160"\ntravel = "160 mm"\nmaximum_pressure = "150 psi"\n[air_spring]\n'
        'piston_diameter = "31 mm"\nshaft_diameter = "8 mm"\n')


class RiddenTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        cls.folder = pathlib.Path(cls.folder_object.name)
        (cls.folder / "larch.toml").write_text(FORK)
        # Sines about different middles; one log in milliseconds and inches.
        rows = [f"{i / 200:.4f},{80 + 50 * math.sin(2 * math.pi * 1.5 * i / 200):.5f}\n" for i in range(4001)]
        (cls.folder / "a.csv").write_text("time_s,travel_mm\n" + "".join(rows))
        rows = [f"{5 * i};{(60 + 40 * math.sin(2 * math.pi * 1.5 * i / 200)) / 25.4:.7f}\n" for i in range(4001)]
        (cls.folder / "b.txt").write_text("t;x\n" + "".join(rows))

    @classmethod
    def tearDownClass(cls):
        cls.folder_object.cleanup()

    def run_program(self, *arguments, code=0):
        done = subprocess.run([PROGRAM, *arguments], cwd=self.folder, text=True, timeout=300,
                              capture_output=True)
        self.assertEqual(done.returncode, code, done.stderr)
        return done

    def test_a_log(self):
        done = self.run_program("ridden", "a.csv", "--fork", "larch.toml", "--zero", "none", "--bands",
                                "0 mm, 80 mm, 160 mm", "--json")
        ride = json.loads(done.stdout)["rides"][0]
        self.assertAlmostEqual(ride["mean_travel_mm"], 80.0, delta=0.05)
        self.assertAlmostEqual(ride["bands"][0]["time_share"], 0.5, delta=0.002)
        self.assertAlmostEqual(ride["compressed_m"], 2 * 0.050 * 1.5 * 20, delta=0.005)
        self.assertAlmostEqual(ride["compression_speed_m_s"][0], 2 * math.pi * 1.5 * 0.050 * math.sin(math.pi / 4),
                               delta=0.005)

    def test_words_other_columns_and_a_figure(self):
        done = self.run_program("ridden", "b.txt", "--fork", "larch.toml", "--column", "time=t:ms", "--column",
                                "travel=x:in", "--separator", ";", "--zero", "none", "--figure", "b.svg")
        self.assertIn("60.0 mm", done.stdout)
        self.assertTrue((self.folder / "b.svg").read_text().startswith("<?xml"))
        self.run_program("ridden", "a.csv", "--fork", "larch.toml", "--figure", "b.svg", code=7)

    def record(self, name, preload, rate):
        """Two slow cycles of a coil: straight lines, 10 N of friction."""
        rows, time = [], 0.0
        for stroke in range(4):
            for i in range(1, 301):
                x = 0.5 * i if stroke % 2 == 0 else 150.0 - 0.5 * i
                time += 0.1
                rows.append(f"{time:.2f},{x:.2f},{preload + rate * x + (10.0 if stroke % 2 == 0 else -10.0):.4f}\n")
        (self.folder / f"{name}.txt").write_text("time_s,travel_mm,force_N\n" + "".join(rows))
        (self.folder / f"{name}.toml").write_text(f'name = "{name} 160"\ntravel = "160 mm"\nkind = "coil_shock"\n')
        self.run_program("import", f"{name}.txt", "--fork", f"{name}.toml", "--out", f"{name}-record.csv")
        return f"{name}-record.csv"

    def test_a_comparison_is_weighted_by_the_ride(self):
        larch, basalt = self.record("Larch", 60.0, 9.0), self.record("Basalt", 40.0, 9.5)
        done = self.run_program("compare", larch, basalt, "--load", "400 N", "--ridden-a", "a.csv", "--zero", "none",
                                "--json")
        ridden = json.loads(done.stdout)["ridden"]
        # A straight difference, 20 N - 0.5 N/mm x, has the mean of the mean travel of 80 mm.
        self.assertAlmostEqual(ridden["mean_difference_N"], 20.0 - 0.5 * 80.0, delta=0.1)
        self.assertAlmostEqual(ridden["time_share_covered"], 1.0, delta=1e-6)
        words = self.run_program("compare", larch, basalt, "--load", "400 N", "--ridden-a", "a.csv", "--zero", "none")
        self.assertIn("Basalt 160 is the firmer by 20.0 N", words.stdout)

    def test_what_is_refused(self):
        done = self.run_program("ridden", "b.txt", "--fork", "larch.toml", "--column", "time=t:s", "--column",
                                "travel=x:in", "--separator", ";", code=3)
        self.assertIn("time=NAME:ms", done.stderr)
        done = self.run_program("ridden", "a.csv", "--fork", "larch.toml", "--bands", "40 mm, 20 mm", code=2)
        self.assertIn("--bands", done.stderr)
        done = self.run_program("ridden", "a.csv", "--fork", "larch.toml", "--quantiles", "1.5", code=2)
        self.assertIn("--quantiles", done.stderr)
        self.run_program("ridden", "missing.csv", "--fork", "larch.toml", code=3)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
