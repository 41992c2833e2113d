"""A fork that the program never saw, from CSV files that it did not write, to a fit, a prediction and a
comparison, held to the truth of a simulation that shares no line with the program.

Usage: foreign_test.py PROGRAM SUPPORT_FOLDER
"""

import json
import math
import pathlib
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SUPPORT = sys.argv[1], sys.argv[2]
sys.path.insert(0, SUPPORT)
import foreign_bench as bench  # noqa: E402

FORK = bench.Fork()
SETTINGS = [(65, 0), (65, 2), (90, 0), (90, 2)]
UNSWEPT = (78, 1)

# As with a caliper: volumes 10 to 25 % off, some keys absent.
FORK_FILE = """name = "Alder 150"
travel = "150 mm"
maximum_pressure = "140 psi"
[air_spring]
piston_diameter = "30.0 mm"
shaft_diameter = "8.0 mm"
positive_volume = "205 cm3"
negative_volume = "21 cm3"
spacer_volume = "6.0 cm3"
[lower_legs]
stanchion_diameter = "34 mm"
volume = "320 cm3"
"""


def comma(number):
    return f"{number:.6f}".replace(".", ",")


WRITERS = {
    "plain": ("time_s,travel_mm,force_N\n", lambda t, x, f: f"{t:.4f},{1e3 * x:.4f},{f:.3f}\n", []),
    "inches": ("force_lbf,remark,travel_in,time_s\n",
               lambda t, x, f: f"{f / 4.4482216152605:.5f},ok,{x / 0.0254:.6f},{t:.4f}\n", []),
    "no_clock": ("force_N,travel_mm\n", lambda t, x, f: f"{f:.3f},{1e3 * x:.4f}\n", []),
    "commas": ("Zeit;Weg;Kraft\n", lambda t, x, f: f"{comma(t)};{comma(1e3 * x)};{comma(f)}\n",
               ["--separator", ";", "--decimal", ",", "--column", "time=Zeit:s",
                "--column", "travel=Weg:mm", "--column", "force=Kraft:N"]),
}


class ForeignTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        cls.folder = pathlib.Path(cls.folder_object.name)
        (cls.folder / "alder.toml").write_text(FORK_FILE)
        cls.rows = {setting: bench.Sweep(FORK, *setting, seed=17 + i).rows()
                    for i, setting in enumerate(SETTINGS)}

    @classmethod
    def tearDownClass(cls):
        cls.folder_object.cleanup()

    def run_program(self, *arguments):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, text=True, timeout=900,
                              capture_output=True)

    def answer(self, *arguments):
        done = self.run_program(*arguments)
        self.assertEqual(done.returncode, 0, done.stderr)
        return json.loads(done.stdout)

    def import_all(self, kind, settings=SETTINGS):
        header, line, options = WRITERS[kind]
        records = []
        for psi, spacers in settings:
            source = f"{kind}-{psi}-{spacers}.txt"
            (self.folder / source).write_text(
                header + "".join(line(*row) for row in self.rows[(psi, spacers)]))
            record = f"{kind}-{psi}-{spacers}.csv"
            done = self.run_program("import", source, "--fork", "alder.toml", "--pressure", f"{psi} psi",
                                    "--spacers", str(spacers), "--out", record, *options)
            self.assertEqual(done.returncode, 0, done.stderr)
            records.append(record)
        return records

    def check_truth(self, parameters, names):
        truth = {"positive_volume": 1e6 * FORK.positive, "negative_volume": 1e6 * FORK.negative,
                 "preload": FORK.preload, "transfer_travel": 1e3 * FORK.transfer,
                 "friction_mid_travel": bench.friction_mid_travel(FORK, 77.5)}
        for name in names:
            found = parameters[name]
            with self.subTest(parameter=name):
                self.assertEqual(found["status"], "fitted", found)
                self.assertLessEqual(abs(found["value"] - truth[name]),
                                     3.0 * found["standard_uncertainty"], (found, truth[name]))
                # A value that is always right because its doubt is endless would be no answer.
                self.assertLess(found["standard_uncertainty"], 0.12 * abs(truth[name]) + 3.0)

    def check_midline(self, model):
        prediction = self.answer("predict", model, "--pressure", f"{UNSWEPT[0]} psi", "--spacers",
                                 str(UNSWEPT[1]), "--json")
        travel = prediction["travel_mm"]
        middle = [0.5 * (c + r) for c, r in zip(prediction["compression_N"], prediction["rebound_N"])]
        self.assertEqual(travel, sorted(travel))
        squares = []
        for x, force in bench.settled_midline(FORK, *UNSWEPT):
            if 0.05 * travel[-1] <= 1e3 * x <= 0.95 * travel[-1]:
                squares.append((middle[round(1e3 * x / 0.5)] - force) ** 2)
        rms = math.sqrt(sum(squares) / len(squares))
        self.assertLess(rms, 0.01 * max(prediction["compression_N"]))

    def test_with_a_clock_the_fork_is_found(self):
        model = self.answer("fit", *self.import_all("plain"), "--out", "plain.json", "--json")
        parameters = {p["name"]: p for p in model["parameters"]}
        self.assertTrue(model["usable"], model["warnings"])
        self.check_truth(parameters, ["positive_volume", "negative_volume", "preload", "transfer_travel",
                                      "friction_mid_travel"])
        self.assertLessEqual(sum(p["status"] == "not_determined" for p in model["parameters"]), 1)
        self.assertEqual(model["gas_law"], "constant_time")
        self.check_midline("plain.json")

    def test_without_a_clock_friction_is_not_determined(self):
        model = self.answer("fit", *self.import_all("no_clock"), "--out", "no_clock.json", "--json")
        parameters = {p["name"]: p for p in model["parameters"]}
        self.assertTrue(model["usable"], model["warnings"])
        for name in ("friction", "friction_per_bar", "friction_mid_travel"):
            self.assertEqual(parameters[name]["status"], "not_determined")
            self.assertIsNone(parameters[name]["value"])
            self.assertIn("clock", parameters[name]["reason"])
        self.assertTrue(any("upper bound" in warning for warning in model["warnings"]))
        for name in ("positive_volume", "negative_volume"):
            truth = {"positive_volume": 180.0, "negative_volume": 26.0}[name]
            self.assertLessEqual(abs(parameters[name]["value"] - truth),
                                 3.0 * parameters[name]["standard_uncertainty"])
        self.check_midline("no_clock.json")

    def test_other_units_columns_and_commas_say_the_same(self):
        curves = {}
        for kind in ("plain", "inches", "commas"):
            record = self.import_all(kind, [(90, 2)])[0] if kind != "plain" else None
            if record is None:
                header, line, _ = WRITERS["plain"]
                (self.folder / "same.txt").write_text(
                    header + "".join(line(*row) for row in self.rows[(90, 2)]))
                done = self.run_program("import", "same.txt", "--fork", "alder.toml", "--pressure",
                                        "90 psi", "--spacers", "2", "--out", "same.csv")
                self.assertEqual(done.returncode, 0, done.stderr)
                record = "same.csv"
            text = (self.folder / record).read_text().splitlines()
            columns = text[0].split(",")
            curves[kind] = [(float(row.split(",")[columns.index("travel_mm")]),
                             float(row.split(",")[columns.index("force_N")])) for row in text[1:]]
        for kind in ("inches", "commas"):
            self.assertEqual(len(curves[kind]), len(curves["plain"]))
            for (x, f), (other_x, other_f) in zip(curves["plain"], curves[kind]):
                # Because each writer rounds: a ten-thousandth of a millimetre, a few thousandths of a newton.
                self.assertAlmostEqual(x, other_x, delta=2e-4)
                self.assertAlmostEqual(f, other_f, delta=2e-3)

    def test_semicolons_and_decimal_commas_are_never_guessed(self):
        header, line, _ = WRITERS["commas"]
        (self.folder / "guess.txt").write_text(
            "time_s;travel_mm;force_N\n" + "".join(line(*row) for row in self.rows[(65, 0)][:400]))
        done = self.run_program("import", "guess.txt", "--fork", "alder.toml", "--pressure", "65 psi",
                                "--spacers", "0", "--out", "guess.csv")
        self.assertEqual(done.returncode, 3, done.stdout)
        self.assertIn('--separator ";"', done.stderr)
        self.assertFalse((self.folder / "guess.csv").exists())


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
