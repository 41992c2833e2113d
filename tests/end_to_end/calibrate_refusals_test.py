"""What cannot be a calibration, or must not be used as one: refused or warned of, with the exit code.

Usage: calibrate_refusals_test.py PROGRAM SOURCE_FOLDER
"""

import json
import pathlib
import subprocess
import sys
import tempfile
import tomllib
import unittest

PROGRAM, SOURCE = sys.argv[1], pathlib.Path(sys.argv[2])
FORKS = SOURCE / "controller" / "virtual_rig" / "forks"
DONE, USAGE, UNUSABLE, COULD_NOT_WRITE = 0, 2, 3, 7
CELL = tomllib.loads((FORKS / "bench.toml").read_text())["load_cell"]
GRAVITY_M_S2 = 9.80665


def weights(loads, series=3, lines=None):
    """CSV of dead weights, up and down; repeats differ by a few counts."""
    text = ["load_kg,counts,series"]
    for s in range(1, series + 1):
        for i, load in enumerate(loads):
            counts = CELL["offset_counts"] + CELL["counts_per_N"] * GRAVITY_M_S2 * load
            text.append(f"{load},{counts + (3 * s + 5 * i) % 7:.0f},{s}")
    return "\n".join(text + (lines or [])) + "\n"


UP_AND_DOWN = [0, 10, 20, 30, 40, 50, 40, 30, 20, 10, 0]


class CalibrateRefusalsTest(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="springwright-")
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name) / "workshop"
        self.run_program("init", str(self.folder), within=self.folder.parent)
        self.write("weights.csv", weights(UP_AND_DOWN))

    def write(self, name, content):
        (self.folder / name).write_text(content)

    def run_program(self, *words, within=None):
        return subprocess.run([PROGRAM, *words], cwd=within or self.folder, text=True,
                              capture_output=True, timeout=300)

    def calibrate(self, readings="weights.csv", *more, out="calibrations/force.json", kind="force"):
        return self.run_program("calibrate", kind, readings, "--out", out, *more)

    def made(self, *more, out="calibrations/force.json"):
        result = self.calibrate("weights.csv", "--json", *more, out=out)
        self.assertEqual(result.returncode, DONE, result.stderr)
        return json.loads(result.stdout)

    def certificate(self, name="calibrations/force.json"):
        return json.loads((self.folder / name).read_text())

    def refused(self, result, code, *says):
        self.assertEqual(result.returncode, code, result.stdout + result.stderr)
        for part in says:
            self.assertIn(part, result.stderr)

    def bench(self, **keys):
        lines = "".join(f'{key} = "{value}"\n' for key, value in keys.items())
        path = self.folder / "bench.toml"
        path.write_text(path.read_text().replace("[rig]\n", "[rig]\n" + lines, 1))

    def sweep(self, *more):
        return self.run_program(
            "sweep", "--rig", f"virtual:{FORKS}/larch_160.toml", "--fork", f"{FORKS}/caliper/larch_160.toml",
            "--pressure", "81 psi", "--spacers", "1", "--cycles", "1", "--conditioning", "1", "--yes",
            "--force-calibration", "calibrations/force.json", *more)

    # --- readings ---

    def test_readings_that_cannot_carry_a_calibration(self):
        cases = {
            "fewer points than parameters": (weights([0, 10, 20], series=1), ["--degree", "3"],
                                             "3 different loads"),
            "one weight only": (weights([0, 10, 0, 10, 0]), [], "2 different loads"),
            "out of order": ("load_kg,counts,series,direction\n0,1,1,up\n20,1600,1,up\n10,800,1,up\n"
                             "30,2400,1,up\n", [], "line 4: "),
            "saturated": (weights(UP_AND_DOWN, lines=["60,8388607,4"]), [], "saturated"),
            "not a number": (weights(UP_AND_DOWN, lines=["60,1e999,4"]), [], "bad.csv:35:2"),
        }
        for name, (content, options, says) in cases.items():
            with self.subTest(name):
                self.write("bad.csv", content)
                self.refused(self.calibrate("bad.csv", *options), UNUSABLE, "bad.csv", says)
                self.assertFalse((self.folder / "calibrations/force.json").exists())

    def test_a_class_of_weights_that_is_not_known(self):
        self.refused(self.calibrate("weights.csv", "--weight-class", "M9"), UNUSABLE, "'M9'",
                     "E2, F1, F2, M1, M2, M3")

    def test_a_degree_that_does_not_exist_is_a_usage_error(self):
        self.refused(self.calibrate("weights.csv", "--degree", "4"), USAGE, "--degree")

    def test_a_certificate_is_never_overwritten(self):
        self.made()
        self.refused(self.calibrate(), COULD_NOT_WRITE, "force.json")

    # --- what is worked out ---

    def test_gravity_and_air_come_from_the_place(self):
        self.made("--latitude", "50 deg", "--altitude", "200 m", "--weight-class", "M1",
                  "--standard", "set 3")
        certificate = self.certificate()
        # Somigliana at 50 degrees, 9.81070, less 200 m of free air, 0.00062.
        self.assertAlmostEqual(certificate["conditions"]["gravity_m_s2"], 9.81008, delta=1e-4)
        self.assertAlmostEqual(certificate["conditions"]["air_density_kg_m3"], 1.171, delta=2e-3)
        self.assertAlmostEqual(certificate["reference_relative"], 50e-6 / 3 ** 0.5, delta=1e-12)
        self.assertTrue(any("latitude 50 deg" in remark for remark in certificate["remarks"]))
        self.assertIn("limits_met", certificate["performance"])
        self.assertEqual(len(certificate["budget"]), 6)

    def test_the_trials_of_the_degree_are_shown(self):
        answer = self.made("--latitude", "50 deg")
        self.assertEqual([trial["degree"] for trial in answer["degree_trials"]], [1, 2, 3])
        shown = self.calibrate(out="calibrations/again.json").stdout
        self.assertIn("chosen", shown)
        self.assertIn("probability", shown)

    def test_a_standard_that_had_run_out_is_warned_of(self):
        result = self.calibrate("weights.csv", "--standard", "set 3", "--weight-class", "M1",
                                "--standard-valid-until", "2020-01-01")
        self.assertEqual(result.returncode, DONE, result.stderr)
        self.assertIn("Warning: The certificate of standard 'set 3' had run out", result.stderr)
        self.assertTrue(any("had run out" in remark for remark in self.certificate()["remarks"]))

    # --- certificates in use ---

    def test_a_certificate_changed_by_hand_is_refused(self):
        self.made()
        path = self.folder / "calibrations/force.json"
        path.write_text(path.read_text().replace('"series": 1', '"series": 2', 1))
        self.refused(self.sweep(), UNUSABLE, "does not match its id")
        self.refused(self.run_program("calibrate", "check", "calibrations/force.json", "--load", "200 N",
                                      "--counts", "28000"), UNUSABLE, "does not match its id")

    def test_another_cells_certificate_is_refused(self):
        self.made("--cell", "cell 0417")
        self.bench(cell="cell 0922")
        self.refused(self.sweep(), UNUSABLE, "'cell 0417'", "'cell 0922'", "bench.toml")
        self.refused(self.run_program("calibrate", "check", "calibrations/force.json", "--load", "200 N",
                                      "--counts", "28000"), UNUSABLE, "'cell 0417'", "'cell 0922'")

    def test_another_rigs_screw_is_warned_of(self):
        self.made()
        self.write("blocks.csv", "steps,travel_mm\n0,0\n8001,20\n16000,40\n23999,60\n")
        result = self.calibrate("blocks.csv", "--rig", "bench-2", out="calibrations/travel.json", kind="travel")
        self.assertEqual(result.returncode, DONE, result.stderr)
        self.bench(name="bench-1")
        result = self.sweep("--travel-calibration", "calibrations/travel.json", "--to", "40 mm",
                            "--out", "sweeps/other.csv")
        self.assertEqual(result.returncode, DONE, result.stderr)
        self.assertIn("of rig 'bench-2', the bench is 'bench-1'", result.stderr)

    def test_an_expired_certificate_is_used_warned_of_and_written_into_the_record(self):
        self.made("--date", "2024-01-01", "--valid-until", "2025-01-01")
        result = self.sweep("--to", "40 mm", "--out", "sweeps/late.csv")
        self.assertIn("valid until 2025-01-01", result.stderr)
        self.assertEqual(result.returncode, DONE, result.stderr)
        record = json.loads((self.folder / "sweeps/late.csv-metadata.json").read_text())["springwright"]
        self.assertTrue(any("valid until 2025-01-01" in remark for remark in record["remarks"]))

    def test_a_new_certificate_supersedes_and_the_old_one_is_warned_of(self):
        self.made()
        old = self.certificate()
        result = self.calibrate("weights.csv", "--supersedes", "calibrations/force.json",
                                out="calibrations/newer.json")
        self.assertEqual(result.returncode, DONE, result.stderr)
        self.assertEqual(self.certificate("calibrations/newer.json")["particulars"]["supersedes"], old["id"])
        result = self.sweep("--to", "40 mm", "--out", "sweeps/old.csv")
        self.assertEqual(result.returncode, DONE, result.stderr)
        self.assertIn("superseded by the newer certificate 'newer.json'", result.stderr)

    def test_the_benchs_own_certificate_is_superseded_without_asking(self):
        self.bench(cell="cell 0417")
        self.made()
        path = self.folder / "bench.toml"
        path.write_text(path.read_text().replace("# force = \"calibrations/force.json\"",
                                                 "force = \"calibrations/force.json\""))
        self.made(out="calibrations/newer.json")
        self.assertEqual(self.certificate("calibrations/newer.json")["particulars"]["supersedes"],
                         self.certificate()["id"])
        # Another cell takes nobody's place.
        self.made("--cell", "cell 0922", out="calibrations/other.json")
        self.assertNotIn("supersedes", self.certificate("calibrations/other.json")["particulars"])

    def test_a_certificate_of_another_kind_cannot_be_superseded(self):
        self.write("blocks.csv", "steps,travel_mm\n0,0\n8001,20\n16000,40\n23999,60\n")
        self.assertEqual(self.calibrate("blocks.csv", out="calibrations/travel.json", kind="travel").returncode,
                         DONE)
        self.refused(self.calibrate("weights.csv", "--supersedes", "calibrations/travel.json"), UNUSABLE,
                     "is a travel calibration")


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1], verbosity=2)
