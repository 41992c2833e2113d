"""Two forks from several mountings and of different travel: plan, sweep, compare; and what is refused.

Usage: publish_test.py PROGRAM
"""

import json
import pathlib
import shlex
import subprocess
import sys
import tempfile
import unittest

PROGRAM = sys.argv[1]


class PublishTest(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="springwright-")
        self.addCleanup(folder.cleanup)
        self.folder = pathlib.Path(folder.name)
        (self.folder / "sweeps").mkdir()
        for name, travel in (("larch", 160), ("basalt", 160), ("gorse", 120)):
            (self.folder / f"{name}.toml").write_text(
                f'name = "{name.title()} {travel}"\ntravel = "{travel} mm"\nkind = "coil_shock"\n')

    def run_program(self, *arguments, code=0):
        done = subprocess.run([PROGRAM, *arguments], cwd=self.folder, text=True, timeout=300,
                              capture_output=True)
        self.assertEqual(done.returncode, code, done.stderr)
        return done

    def sweep(self, fork, out, preload, rate, mounting=None, to_mm=150.0):
        """Two slow cycles of a coil: straight lines, 10 N of friction."""
        rows, time = [], 0.0
        for stroke in range(4):
            for i in range(1, 301):
                x = to_mm * (i if stroke % 2 == 0 else 300 - i) / 300
                time += 0.1
                rows.append(f"{time:.2f},{x:.3f},{preload + rate * x + (10.0 if stroke % 2 == 0 else -10.0):.4f}\n")
        (self.folder / "raw.txt").write_text("time_s,travel_mm,force_N\n" + "".join(rows))
        more = [] if mounting is None else ["--mounting", str(mounting)]
        self.run_program("import", "raw.txt", "--fork", f"{fork}.toml", "--out", out, *more)
        return out

    def test_a_plan_is_carried_out(self):
        plan = json.loads(self.run_program("plan", "larch.toml", "basalt.toml", "--json").stdout)
        self.assertEqual([s["fork"] for s in plan["sweeps"]], ["a", "b", "b", "a"])
        self.assertEqual(plan["drift_left_in_steps"], 0.0)
        # Larch moves by +-4 N from mounting to mounting, Basalt by +-3 N.
        off = {("a", 1): 4.0, ("a", 2): -4.0, ("b", 1): 3.0, ("b", 2): -3.0}
        for sweep in plan["sweeps"]:
            self.assertIn(f"--mounting {sweep['mounting']}", sweep["command"])
            first = sweep["fork"] == "a"
            self.sweep("larch" if first else "basalt", sweep["record"],
                       (150.0 if first else 130.0) + off[sweep["fork"], sweep["mounting"]], 6.0,
                       sweep["mounting"])
        words = shlex.split(plan["then"])[1:]
        done = json.loads(self.run_program(*words, "--json").stdout)
        once = json.loads(self.run_program(*words[:3], "--json").stdout)
        self.assertTrue(any("moved its midline by 5.0 N rms" in r for r in done["remarks"]), done["remarks"])
        # Variance of one mounting (32 + 18) / 2, of the mean of two half of it, for two forks once over.
        third, alone = done["thirds"][1], once["thirds"][1]
        added = third["standard_uncertainty_N"] ** 2 - alone["standard_uncertainty_N"] ** 2
        # What each sweep has of its own averages over two mountings: zero of force (1 N) and of travel (0.2 mm at
        # 6 N/mm, 1.2 N), squared, are halved for each fork. t = 4.303 at 2 degrees of freedom.
        self.assertAlmostEqual(added, 25.0 * (4.303 / 1.960) ** 2 - (1.0 + 1.44), delta=0.1)
        self.assertAlmostEqual(third["mean_difference_N"], 20.0, delta=0.05)
        self.assertAlmostEqual(alone["mean_difference_N"], 21.0, delta=0.05)
        text = self.run_program("plan", "larch.toml", "basalt.toml", "--mountings", "3").stdout
        self.assertIn("even number of mountings leaves none", text)
        self.assertIn("3 mountings of each: 2.27 s   <- this plan", text)

    def test_forks_of_different_travel(self):
        a = self.sweep("larch", "a.csv", 100.0, 6.0)
        # In shares of travel: 100 + 960 s against 148 + 864 s, which meet at half of the travel.
        b = self.sweep("gorse", "b.csv", 148.0, 7.2, to_mm=114.0)
        done = self.run_program("compare", a, b, "--load", "400 N", "--json")
        share = json.loads(done.stdout)["by_share_of_travel"]
        self.assertEqual(len(share["crossovers"]), 1)
        self.assertAlmostEqual(share["crossovers"][0]["travel_percent"], 50.0, delta=0.2)
        self.assertEqual(share["crossovers"][0]["firmer_above"], "a")
        words = self.run_program("compare", a, b, "--load", "400 N").stdout
        self.assertIn("As tested, in percent of each fork's own travel, the firmer is Gorse 120 from", words)
        same = json.loads(self.run_program("compare", a, a, "--load", "400 N", "--json").stdout)
        self.assertIsNone(same["by_share_of_travel"])

    def test_what_is_refused(self):
        a = self.sweep("larch", "a.csv", 100.0, 6.0, 1)
        b = self.sweep("basalt", "b.csv", 110.0, 6.0, 1)
        for words, code, says in (
                (["compare", a, b, "--rider-mass", "800 kg"], 2, "800 kg on a bicycle"),
                (["compare", a, b, "--rider-mass", "3 kg", "--bike-mass", "0 kg"], 2, "nothing is left"),
                (["compare", a, b, "--rider-mass", "80 kg", "--front-share", "120 %"], 2, "front share"),
                (["compare", a, b, "--again-a", b], 2, "is of 'Basalt 160'"),
                (["compare", a, b, "--again-a", "none.csv"], 3, "none.csv"),
                (["compare", a, b, "--over", "20 mm"], 2, "where it ends"),
                (["compare", a, b, "--over", "120 mm, 20 mm"], 2, "where it ends"),
                (["compare", a, b, "--over", "20 N, 40 N"], 2, "--over"),
                (["plan", "larch.toml", "none.toml"], 3, "none.toml"),
                (["plan", "larch.toml", "basalt.toml", "--mountings", "0"], 2, "--mountings"),
                (["report", "--a", "m", "--b", "m", "--records-a", a, "--records-b", b, "--out", "r", "--units",
                  "cubits"], 2, "--units")):
            with self.subTest(words=words):
                self.assertIn(says, self.run_program(*words, code=code).stderr)
        self.assertFalse((self.folder / "r").exists())


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
