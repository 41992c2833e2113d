"""Shocks, of air and of a coil, from CSV files that the program did not write to a fit, a prediction, a
comparison and a report, held to simulations that share no line with the program.

Usage: other_springs_test.py PROGRAM SUPPORT_FOLDER
"""

import json
import math
import pathlib
import random
import subprocess
import sys
import tempfile
import unittest

PROGRAM, SUPPORT = sys.argv[1], sys.argv[2]
sys.path.insert(0, SUPPORT)
import foreign_bench as bench  # noqa: E402

# Every number of these shocks is invented.
AIR_SHOCK = """name = "Flint 60"
travel = "60 mm"
maximum_pressure = "300 psi"
kind = "air_shock"
[air_spring]
piston_diameter = "42 mm"
shaft_diameter = "12 mm"
positive_volume = "150 cm3"
negative_volume = "40 cm3"
spacer_volume = "8 cm3"
"""


def coil_file(name, rate):
    return (f'name = "{name}"\ntravel = "65 mm"\nkind = "coil_shock"\n'
            f'[coil_spring]\nrate = "{rate} lbf/in"\n')


class Flint(bench.Fork):
    travel = 0.060
    piston, shaft = 0.0420, 0.0120
    # No lower legs: nothing is left of their area.
    rod = 0.0100
    stanchion = math.sqrt(0.5 * (0.0120**2 + 0.0100**2))
    positive, negative = 165e-6, 34e-6
    transfer, band = 0.0035, 0.0008
    preload, friction, friction_per_pa, bristle = 12.0, 14.0, 1.2e-5, 0.0002
    spacer = 8.0e-6


class Coil:
    """Straight line, friction that turns round over a bristle length."""

    def __init__(self, rate_n_mm, preload, friction):
        self.rate, self.preload, self.friction = rate_n_mm, preload, friction

    def rows(self, seed, to=58.0, speed=4.0, rate_hz=80.0, cycles=4, bristle=0.2):
        noise = random.Random(seed)
        time, turned, out = 0.0, 0.0, []
        for stroke in range(2 * cycles):
            way = 1.0 if stroke % 2 == 0 else -1.0
            count = int(to / speed * rate_hz)
            start = turned
            for i in range(1, count + 1):
                time += 1.0 / rate_hz
                moved = to * i / count
                x = moved if way > 0 else to - moved
                turned = way * self.friction - (way * self.friction - start) * math.exp(-moved / bristle)
                out.append((time, x, self.preload + self.rate * x + turned + noise.gauss(0.0, 2.0)))
        return out


class OtherSpringsTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        cls.folder = pathlib.Path(cls.folder_object.name)
        (cls.folder / "flint.toml").write_text(AIR_SHOCK)
        for name, rate in (("slate", 440), ("chert", 480)):
            (cls.folder / f"{name}.toml").write_text(coil_file(name.capitalize() + " 65", rate))

    @classmethod
    def tearDownClass(cls):
        cls.folder_object.cleanup()

    def run_program(self, *arguments, code=0):
        done = subprocess.run([PROGRAM, *arguments], cwd=self.folder, text=True, timeout=900,
                              capture_output=True)
        self.assertEqual(done.returncode, code, done.stderr)
        return done

    def write(self, name, rows):
        lines = [f"{t:.5f},{x:.5f},{f:.3f}\n" for t, x, f in rows]
        (self.folder / name).write_text("time_s,travel_mm,force_N\n" + "".join(lines))
        return name

    def fit(self, name, records):
        done = self.run_program("fit", *records, "--out", f"{name}.json", "--json")
        model = json.loads(done.stdout)
        self.assertTrue(model["usable"], model["warnings"])
        return {p["name"]: p for p in model["parameters"]}

    def check(self, parameter, truth, doubt_max):
        self.assertEqual(parameter["status"], "fitted", parameter)
        self.assertLessEqual(abs(parameter["value"] - truth), 3.0 * parameter["standard_uncertainty"],
                             (parameter, truth))
        self.assertLess(parameter["standard_uncertainty"], doubt_max)

    def fit_coil(self, name, coil):
        records = []
        for i in range(2):
            source = self.write(f"{name}-{i}.txt", coil.rows(seed=5 + i))
            records.append(f"{name}-{i}.csv")
            self.run_program("import", source, "--fork", f"{name}.toml", "--out", records[-1])
        return self.fit(name, records), records

    def test_an_air_shock(self):
        records = []
        for psi, spacers in ((140, 0), (140, 1), (190, 0), (190, 1)):
            sweep = bench.Sweep(Flint(), psi, spacers, seed=psi + spacers, to=0.054)
            source = self.write(f"flint-{psi}-{spacers}.txt", [(t, 1e3 * x, f) for t, x, f in sweep.rows(80.0)])
            records.append(f"flint-{psi}-{spacers}.csv")
            self.run_program("import", source, "--fork", "flint.toml", "--pressure", f"{psi} psi",
                             "--spacers", str(spacers), "--out", records[-1])
        found = self.fit("flint", records)
        self.check(found["positive_volume"], 165.0, 12.0)
        self.check(found["negative_volume"], 34.0, 6.0)
        self.check(found["preload"], 12.0, 15.0)
        self.assertNotIn("lower_leg_volume", found)
        told = json.loads(self.run_program("predict", "flint.json", "--pressure", "165 psi", "--spacers", "0",
                                           "--json").stdout)
        self.assertNotIn("lower legs", json.dumps(told))

    def test_coil_shocks(self):
        slate, records_a = self.fit_coil("slate", Coil(77.0, 180.0, 24.0))
        chert, records_b = self.fit_coil("chert", Coil(84.0, 120.0, 31.0))
        self.check(slate["coil_rate"], 77.0, 1.0)
        self.check(slate["preload"], 180.0, 25.0)
        self.check(slate["friction_mid_travel"], 24.0, 6.0)
        self.check(chert["coil_rate"], 84.0, 1.0)
        self.assertNotIn("positive_volume", slate)

        told = json.loads(self.run_program("predict", "slate.json", "--json").stdout)
        at_30 = told["spring_N"][told["travel_mm"].index(30.0)]
        self.assertLessEqual(abs(at_30 - (180.0 + 30 * 77.0)),
                             3.0 * told["spring_standard_uncertainty_N"][told["travel_mm"].index(30.0)])

        done = self.run_program("compare", "slate.json", "chert.json", "--load", "1500 N", "--json")
        compared = json.loads(done.stdout)
        sag_mm = compared["matched_sag"]["a"]["sag_mm"]
        self.assertAlmostEqual(sag_mm, (1500.0 - 180.0) / 77.0, delta=0.6)
        # B at A's sag: the load less what its coil carries there, less the preload it has.
        self.assertAlmostEqual(compared["matched_sag"]["b"]["added_preload_N"],
                               1500.0 - 84.0 * sag_mm - 120.0, delta=45.0)
        words = self.run_program("compare", "slate.json", "chert.json", "--load", "1500 N").stdout
        self.assertIn("preload", words)
        self.assertNotIn("psi", words)

        self.run_program("report", "--a", "slate.json", "--b", "chert.json", "--records-a", records_a[0], "--records-b",
                         records_b[0], "--out", "report")
        page = (self.folder / "report" / "report.html").read_text()
        self.assertNotIn(" psi (", page)
        self.assertIn("coil", page)

    def test_what_a_kind_has_not_is_refused(self):
        source = self.write("one.txt", Coil(77.0, 180.0, 24.0).rows(seed=1, cycles=1))
        done = self.run_program("import", source, "--fork", "slate.toml", "--pressure", "81 psi", "--spacers",
                                "0", "--out", "one.csv", code=2)
        self.assertIn("has a coil", done.stderr)
        done = self.run_program("import", source, "--fork", "flint.toml", "--out", "one.csv", code=2)
        self.assertIn("--pressure is required", done.stderr)
        self.assertFalse((self.folder / "one.csv").exists())


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
