"""The demonstration from end to end, and what it found held to the virtual forks' truth.

Usage: demo_test.py PROGRAM SOURCE_FOLDER
"""

import json
import math
import pathlib
import subprocess
import sys
import tempfile
import tomllib
import unittest

import jsonschema

PROGRAM, SOURCE = sys.argv[1], pathlib.Path(sys.argv[2])
FORKS = SOURCE / "controller" / "virtual_rig" / "forks"
R, ROOM, ATMOSPHERE, PSI = 287.05, 293.15, 101325.0, 6894.757293168362


def number(text):
    return float(text.split()[0])


class Truth:
    """What stands in a plant file, and what follows from it."""

    def __init__(self, stem):
        self.plant = tomllib.loads((FORKS / f"{stem}.toml").read_text())
        air = self.plant["air_spring"]
        self.known = {
            "positive_volume": number(air["positive"]["volume"]),
            "negative_volume": number(air["negative"]["volume"]),
            "preload": number(self.plant["preload"]),
            "transfer_travel": number(air["port"]["travel"]),
        }

    def friction_mid_travel(self, mean_gauge_Pa, speed_mm_s):
        """The Stribeck curve at the speed, with the slow pressure at half travel."""
        air, friction = self.plant["air_spring"], self.plant["friction"]
        bore, shaft = number(air["piston_diameter"]) / 1e3, number(air["shaft_diameter"]) / 1e3
        ap = math.pi / 4 * bore ** 2
        an = ap - math.pi / 4 * shaft ** 2
        vp, vn = self.known["positive_volume"] / 1e6, self.known["negative_volume"] / 1e6
        port, band = number(air["port"]["travel"]) / 1e3, number(air["port"]["band"]) / 1e3
        low, high = max(0.0, port - band / 2), port + band / 2
        p0 = mean_gauge_Pa + ATMOSPHERE
        mp = p0 * vp
        mn = mp / (vp - ap * low) * (vn + an * low)
        share = (vp - ap * high) / (vp - ap * high + vn + an * high)
        half = number(self.plant["travel"]) / 2e3
        pressure = (mp + mn) * share / (vp - ap * half)
        coulomb = number(friction["coulomb"]) + friction["coulomb_N_per_bar"] * (pressure - ATMOSPHERE) / 1e5
        stribeck = number(friction["stribeck_speed"])
        return coulomb * (1.0 + (friction["static_ratio"] - 1.0) * math.exp(-(speed_mm_s / stribeck) ** 2))


class DemoTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        cls.folder = pathlib.Path(cls.folder_object.name) / "demo"
        cls.done = subprocess.run([PROGRAM, "demo", str(cls.folder)], text=True, timeout=1500,
                                  capture_output=True)

    @classmethod
    def tearDownClass(cls):
        cls.folder_object.cleanup()

    def test_ends_with_the_path_of_a_report(self):
        self.assertEqual(self.done.returncode, 0, self.done.stderr)
        report = pathlib.Path(self.done.stdout.splitlines()[-1])
        self.assertTrue(report.is_file())
        text = report.read_text()
        self.assertIn("<img", text)
        for fork in ("Larch 160", "Basalt 160"):
            self.assertIn(fork, text)
        for ending in ("svg", "png"):
            self.assertTrue(list(report.parent.glob(f"figures/*.{ending}")), ending)
        self.assertRegex(self.done.stdout, "is firmer from|[Nn]o difference is resolved")
        self.assertIn("For the same sag", self.done.stdout)

    def test_every_file_keeps_to_its_schema(self):
        kinds = {"protocol/record/sweep-record.schema.json": "sweeps/*-metadata.json",
                 "calibration/certificate.schema.json": "calibrations/*.json",
                 "fitting/model/model.schema.json": "models/*.json"}
        for schema, pattern in kinds.items():
            checker = jsonschema.Draft202012Validator(json.loads((SOURCE / schema).read_text()))
            files = list(self.folder.glob(pattern))
            self.assertTrue(files, pattern)
            for file in files:
                errors = [error.message for error in checker.iter_errors(json.loads(file.read_text()))]
                self.assertEqual(errors, [], file.name)

    def test_finds_both_forks(self):
        self.assertEqual(self.done.returncode, 0, self.done.stderr)
        for stem in ("larch_160", "basalt_160"):
            truth = Truth(stem)
            model = json.loads((self.folder / "models" / f"{stem}.json").read_text())
            parameters = {p["name"]: p for p in model["parameters"]}
            context = model["context"]
            known = dict(truth.known)
            known["friction_mid_travel"] = truth.friction_mid_travel(
                context["mean_pressure_gauge_Pa"], 1e3 * context["mean_speed_m_s"])
            self.assertTrue(model["usable"], model["warnings"])
            self.assertLessEqual(sum(p["status"] == "not_determined" for p in model["parameters"]), 1)
            for name, value in known.items():
                found = parameters[name]
                with self.subTest(fork=stem, parameter=name):
                    self.assertEqual(found["status"], "fitted")
                    self.assertLessEqual(abs(found["value"] - value), 3 * found["standard_uncertainty"],
                                         (found, value))
            friction = parameters["friction_mid_travel"]["value"]
            self.assertLess(abs(friction / known["friction_mid_travel"] - 1.0), 0.15)
            self.check_half_loop(stem, known["friction_mid_travel"])

    def program(self, *arguments):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, text=True, timeout=600, capture_output=True)

    def test_a_report_in_the_readers_units_with_rides_and_a_hostile_title(self):
        for name, middle in (("larch-ride.csv", 50), ("basalt-ride.csv", 60)):
            rows = [f"{i / 100:.2f},{middle + 40 * math.sin(9.4 * i / 100):.3f}\n" for i in range(3000)]
            (self.folder / name).write_text("time_s,travel_mm\n" + "".join(rows))
        records = {stem: sorted(map(str, (self.folder / "sweeps").glob(f"{stem}-*psi-0.csv")))
                   for stem in ("larch_160", "basalt_160")}
        title = "Élan `id` $(id) \"<b>\" </title><script>alert(1)</script>"
        done = self.program("report", "--a", "models/larch_160.json", "--b", "models/basalt_160.json", "--records-a",
                            *records["larch_160"], "--records-b", *records["basalt_160"], "--rider-mass", "80 kg",
                            "--units", "imperial", "--ridden-a", "larch-ride.csv", "--ridden-b", "basalt-ride.csv",
                            "--zero", "none", "--over", "20 mm, 120 mm", "--title", title, "--out", "reports/inches")
        self.assertEqual(done.returncode, 0, done.stderr)
        page = self.folder / "reports" / "inches" / "report.html"
        check = subprocess.run([sys.executable, str(SOURCE / "tests" / "fitting" / "check_page.py"), "page", str(page)],
                               text=True, timeout=60, capture_output=True)
        self.assertEqual((check.returncode, check.stdout), (0, ""))
        self.assertIn("&lt;script&gt;", page.read_text())
        data = json.loads((page.parent / "data" / "report.json").read_text())
        self.assertEqual(data["title"], title)
        self.assertEqual(len(data["summary"]), 5)
        sections = {section["id"]: json.dumps(section["content"], ensure_ascii=False) for section in data["sections"]}
        # Each sentence of the summary leads to a section that is there.
        self.assertTrue(all(finding["section"] in sections for finding in data["summary"]))
        self.assertIn("Mean travel, in", sections["ridden"])
        self.assertIn("from 0.79 to 4.72 in", sections["nearest"])
        for name in ("rate", "ridden-travel", "ridden-speeds", "compare-matched-sag", "contributions", "loop-a-1"):
            for kind in ("svg", "png", "pdf"):
                self.assertGreater((page.parent / "figures" / f"{name}.{kind}").stat().st_size, 1000)
            self.assertTrue((page.parent / "data" / f"{name}.csv").read_text().startswith("panel,layer"))

    def test_a_range_beyond_what_was_swept_is_refused(self):
        models = ("compare", "models/larch_160.json", "models/basalt_160.json", "--load", "430 N")
        done = self.program(*models, "--over", "20 mm, 158 mm")
        self.assertEqual(done.returncode, 3, done.stderr)
        self.assertIn("swept to", done.stderr)
        nearest = json.loads(self.program(*models, "--over", "20 mm, 60 mm", "--json").stdout)["nearest_setting"]
        self.assertAlmostEqual(nearest["from_mm"], 20.0, places=6)
        self.assertAlmostEqual(nearest["to_mm"], 60.0, places=6)

    def check_half_loop(self, stem, friction_N):
        """At the higher pressure the loop is more than twice as wide as friction: heat is what the rest is."""
        record = max((self.folder / "sweeps").glob(f"{stem}-*-0.csv"))
        done = subprocess.run([PROGRAM, "curve", str(record), "--json"], text=True, timeout=60,
                              capture_output=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        text = json.dumps(json.loads(done.stdout))
        self.assertIn("half_loop", text)
        self.assertGreater(self.half_loop_mid(record), 2.0 * friction_N)

    @staticmethod
    def half_loop_mid(record):
        rows = [line.split(",") for line in record.read_text().splitlines()]
        stroke, travel, force = (rows[0].index(n) for n in ("stroke", "travel_mm", "force_N"))
        strokes = {}
        for row in rows[1:]:
            if abs(float(row[travel]) - 80.0) < 1.0:
                strokes.setdefault(int(row[stroke]), []).append(float(row[force]))
        means = [sum(v) / len(v) for _, v in sorted(strokes.items())][-2:]
        return abs(means[0] - means[1]) / 2


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
