"""The program's dealings with files, as a user or a script meets them: exit codes, messages, and
that nothing is overwritten or left half-made.

Usage: files_test.py PROGRAM [--sanitized]
"""

import csv
import json
import os
import pathlib
import resource
import subprocess
import sys
import tempfile
import time
import unittest

PROGRAM = ""
SANITIZED = False

FORK = """name = "Larch 160"
travel = "160 mm"
maximum_pressure = "150 psi"
[air_spring]
piston_diameter = "31.0 mm"
shaft_diameter = "8.0 mm"
positive_volume = "205 cm3"
spacer_volume = "7.0 cm3"
"""

USAGE, UNUSABLE, COULD_NOT_WRITE = 2, 3, 7


def loop():
    """Up and down in steps of 1 mm: (time_s, travel_mm, force_N)."""
    for i in range(301):
        travel = i if i <= 150 else 300 - i
        yield 0.25 * i, float(travel), 150.0 + 6.0 * travel + (10.0 if i <= 150 else -10.0)


def text(header, line):
    return header + "\n" + "".join(line(*point) + "\n" for point in loop())


PLAIN = text("time_s,travel_mm,force_N", lambda t, x, f: f"{t},{x},{f}")


class FilesTest(unittest.TestCase):
    def setUp(self):
        self.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        self.addCleanup(self.folder_object.cleanup)
        self.folder = pathlib.Path(self.folder_object.name)
        self.write("larch.toml", FORK)
        self.write("larch.csv", PLAIN)

    def write(self, name, content):
        (self.folder / name).write_bytes(content.encode())

    def run_program(self, *arguments, **more):
        return subprocess.run([PROGRAM, *arguments], cwd=self.folder, text=True, timeout=60,
                              stdin=subprocess.DEVNULL, stdout=more.pop("stdout", subprocess.PIPE),
                              stderr=subprocess.PIPE, **more)

    def import_file(self, name="larch.csv", *extra, pressure="81 psi", fork="larch.toml",
                    out="out.csv", **more):
        return self.run_program("import", name, "--fork", fork, "--pressure", pressure,
                                "--spacers", "1", "--out", out, *extra, **more)

    def files(self):
        return {str(path.relative_to(self.folder)): path.read_bytes()
                for path in self.folder.rglob("*") if path.is_file()}

    def refused(self, code, says, run):
        """The program ends with the code, says so on stderr alone, and changes no file."""
        before = self.files()
        result = run()
        self.assertEqual(result.returncode, code, result.stderr)
        self.assertEqual(result.stdout, "")
        self.assertTrue(result.stderr.startswith("springwright: "), result.stderr)
        for part in says if isinstance(says, tuple) else (says,):
            self.assertIn(part, result.stderr)
        self.assertEqual(self.files(), before)

    def rows(self, name="out.csv"):
        with open(self.folder / name, newline="") as file:
            return list(csv.DictReader(file))

    def metadata(self, name="out.csv"):
        return json.loads((self.folder / (name + "-metadata.json")).read_text())["springwright"]

    # --- what is imported ---

    def test_import_keeps_every_row_in_its_order(self):
        result = self.import_file("larch.csv", "--json")
        self.assertEqual(result.returncode, 0, result.stderr)
        answer = json.loads(result.stdout)
        self.assertEqual(answer["samples"], 301)
        self.assertTrue(answer["has_time"])
        self.assertEqual([(float(row["time_s"]), float(row["travel_mm"]), float(row["force_N"]))
                          for row in self.rows()], list(loop()))

    def test_the_same_loop_is_the_same_record_whatever_its_dress(self):
        self.assertEqual(self.import_file().returncode, 0)
        wanted = self.rows()
        dresses = {
            "inch.csv": (text("force_lbf,note,travel_in,time_min",
                              lambda t, x, f: f'{f / 4.4482216152605!r},"a, b",{x / 25.4!r},{t / 60!r}'),
                         []),
            "semicolon.csv": (text("Zeit;Kraft;Weg",
                                   lambda t, x, f: f"{t};{f};{x}".replace(".", ",")),
                              ["--separator", ";", "--decimal", ",", "--column", "travel=Weg:mm",
                               "--column", "force=Kraft:N", "--column", "time=Zeit:s"]),
            "mac.csv": ("\ufeff" + PLAIN.replace("\n", "\r\n"), []),
        }
        for name, (content, options) in dresses.items():
            with self.subTest(name):
                self.write(name, content)
                result = self.import_file(name, *options, out="of-" + name)
                self.assertEqual(result.returncode, 0, result.stderr)
                rows = self.rows("of-" + name)
                self.assertEqual(len(rows), len(wanted))
                for row, want in zip(rows, wanted):
                    for key in ("time_s", "travel_mm", "force_N"):
                        self.assertAlmostEqual(float(row[key]), float(want[key]), delta=1e-9)

    def test_a_record_without_time_has_no_time_column(self):
        self.write("bare.csv", text("travel_mm,force_N", lambda t, x, f: f"{x},{f}"))
        self.assertEqual(self.import_file("bare.csv").returncode, 0)
        self.assertEqual(list(self.rows()[0]), ["travel_mm", "force_N"])

    def test_a_digitised_curve_needs_single_stroke(self):
        self.write("one.csv", "\n".join(PLAIN.splitlines()[:100]) + "\n")
        self.refused(UNUSABLE, ("never turns back", "--single-stroke"),
                     lambda: self.import_file("one.csv"))
        self.assertEqual(self.import_file("one.csv", "--single-stroke").returncode, 0)
        self.assertTrue(self.metadata()["single_stroke"])

    def test_the_setting_is_kept_in_si_with_its_defaults(self):
        self.assertEqual(self.import_file("larch.csv", "--temperature", "-5 degC").returncode, 0)
        setting = self.metadata()["setting"]
        self.assertAlmostEqual(setting["pressure_gauge_Pa"], 81 * 6894.757293168362, delta=1e-6)
        self.assertEqual(setting["spacers"], 1)
        self.assertAlmostEqual(setting["temperature_K"], 268.15, delta=1e-9)
        self.assertEqual(setting["ambient_pressure_Pa"], 101325)
        self.assertEqual(setting["vent"], {"travel_m": 0, "pressure_Pa": 101325,
                                           "temperature_K": setting["temperature_K"]})
        self.assertEqual((setting["start"], setting["coupling"]), ("equilibrium", "clamped"))

    def test_every_option_of_the_setting_reaches_the_record(self):
        result = self.import_file(
            "larch.csv", "--altitude", "1500 m", "--vented-at", "20 mm", "--vented-pressure",
            "90 kPa", "--vented-temperature", "30 degC", "--pumped-temperature", "5 degC",
            "--pumped-ambient-pressure", "1 bar", "--start", "cycled", "--coupling", "push")
        self.assertEqual(result.returncode, 0, result.stderr)
        setting = self.metadata()["setting"]
        self.assertAlmostEqual(setting["ambient_pressure_Pa"], 84556.0, delta=0.1)
        self.assertAlmostEqual(setting["vent"]["travel_m"], 0.02, delta=1e-12)
        self.assertAlmostEqual(setting["vent"]["pressure_Pa"], 90e3, delta=1e-6)
        self.assertAlmostEqual(setting["vent"]["temperature_K"], 303.15, delta=1e-9)
        self.assertAlmostEqual(setting["pumped_temperature_K"], 278.15, delta=1e-9)
        self.assertAlmostEqual(setting["pumped_ambient_pressure_Pa"], 1e5, delta=1e-6)
        self.assertEqual((setting["start"], setting["coupling"]), ("cycled", "push"))

    # --- what is refused ---

    def test_a_bad_csv_file_is_refused_with_its_place(self):
        lines = PLAIN.splitlines()

        def changed(number, line):
            return "\n".join(lines[:number - 1] + [line] + lines[number:]) + "\n"

        cases = {
            "missing column": (PLAIN.replace("force_N", "load"), ("bad.csv:1:1: ", "is the force")),
            "empty": ("", "bad.csv:1:1: the file is empty"),
            "NaN": (changed(10, "2,8,NaN"), "bad.csv:10:5: 'NaN'"),
            "infinite": (changed(10, "2,-inf,9"), "bad.csv:10:3: '-inf'"),
            "two samples": ("\n".join(lines[:3]) + "\n", "2 samples are too few"),
            "time going back": (changed(10, "1,8,200"), "bad.csv:10:1: time goes back"),
            "text in a number": (changed(10, "2,8,20O"), "bad.csv:10:5: '20O' is not a number"),
            "a short line": (changed(10, "2,8"), "bad.csv:10:3: 2 fields"),
            "unknown unit": (PLAIN.replace("travel_mm", "travel_furlong"),
                             ("bad.csv:1:8: ", "mm, cm, m, in")),
            "wrong unit": (PLAIN.replace("force_N", "force_psi"), ("bad.csv:1:18: ", "a pressure")),
            "two travels": (PLAIN.replace("time_s", "travel_in"), "both 'travel_in' and 'travel_mm'"),
            "semicolons": (text("time_s;travel_mm;force_N",
                                lambda t, x, f: f"{t};{x};{f}".replace(".", ",")),
                           '--separator ";" --decimal ","'),
            "a wild unit": (text("travel_m,force_N", lambda t, x, f: f"{x},{f}"),
                            "is 'm' the right unit?"),
        }
        for name, (content, says) in cases.items():
            with self.subTest(name):
                self.write("bad.csv", content)
                self.refused(UNUSABLE, says, lambda: self.import_file("bad.csv"))

    def test_decimal_commas_are_never_taken_for_something_else(self):
        self.write("semi.csv", text("travel_mm;force_N",
                                    lambda t, x, f: f"{x};{f}".replace(".", ",")))
        self.refused(UNUSABLE, ("semi.csv:2:1: '0,0'", '--decimal ","'),
                     lambda: self.import_file("semi.csv", "--separator", ";"))

    def test_a_missing_or_bad_file_is_unusable_input_not_a_usage_error(self):
        self.refused(UNUSABLE, "'none.csv'", lambda: self.import_file("none.csv"))
        self.refused(UNUSABLE, "'none.toml'", lambda: self.import_file(fork="none.toml"))
        self.refused(UNUSABLE, "cannot read '.'", lambda: self.import_file("."))
        self.write("bad.toml", FORK.replace("travel =", 'colour = "red"\ntravel ='))
        self.refused(UNUSABLE, ("bad.toml:2:1: ", "'colour' is not a known key", "maximum_pressure"),
                     lambda: self.import_file(fork="bad.toml"))
        self.write("bad.toml", FORK.replace('"31.0 mm"', '"31.0 psi"'))
        self.refused(UNUSABLE, ("bad.toml:5:19: ", "a pressure, where a length"),
                     lambda: self.import_file(fork="bad.toml"))
        self.write("bad.toml", FORK.replace('travel = "160 mm"\n', ""))
        self.refused(UNUSABLE, ("bad.toml:1:1: ", "'travel'", "missing"),
                     lambda: self.import_file(fork="bad.toml"))

    def test_a_pressure_over_the_forks_limit_is_refused(self):
        self.refused(UNUSABLE, ("151 psi", "150 psi", "Larch 160"),
                     lambda: self.import_file(pressure="151 psi"))
        self.assertEqual(self.import_file(pressure="150 psi").returncode, 0)

    def test_spacers_that_fill_the_chamber_are_refused(self):
        self.refused(UNUSABLE, "leave nothing of the 205 cm3",
                     lambda: self.run_program("import", "larch.csv", "--fork", "larch.toml",
                                              "--pressure", "81 psi", "--spacers", "30", "--out",
                                              "out.csv"))

    def test_a_wrong_command_line_is_a_usage_error(self):
        cases = [
            (["--pressure", "81 pis"], "Pa, kPa, MPa, bar, psi"),
            (["--pressure", "81"], "has no unit"),
            (["--pressure", "81 mm"], "is a length, where a pressure"),
            (["--pressure=-1 psi"], "less than zero"),
            (["--temperature", "20"], "degC"),
            (["--temperature", "293 degC"], "from -40 to 70 degC"),
            (["--ambient-pressure", "14.7 bar"], "absolute"),
            (["--ambient-pressure", "1 bar", "--altitude", "0 m"], "excludes"),
            (["--vented-at", "161 mm"], "within the fork's travel"),
            (["--column", "travel=travel_mm:lbf"], "mm, cm, m, in"),
            (["--column", "weight=travel_mm:mm"], "names no quantity"),
            (["--column", "travel"], "travel=NAME:UNIT"),
            (["--separator", ";;"], "not one character"),
            (["--decimal", ","], "cannot both separate"),
            (["--start", "warm"], "equilibrium"),
            (["--colour", "red"], "'--colour' is not known here"),
            (["--out", "out.txt"], ".csv"),
        ]
        for extra, says in cases:
            with self.subTest(" ".join(extra)):
                base = {"--pressure": "81 psi", "--spacers": "1", "--fork": "larch.toml",
                        "--out": "out.csv"}
                for name in extra[::2]:
                    base.pop(name.split("=")[0], None)
                arguments = [part for pair in base.items() for part in pair] + extra
                self.refused(USAGE, says, lambda: self.run_program("import", "larch.csv", *arguments))
        self.refused(USAGE, "did you mean '--pressure'",
                     lambda: self.run_program("import", "larch.csv", "--presure", "81 psi"))
        self.refused(USAGE, "--fork is required",
                     lambda: self.run_program("import", "larch.csv", "--pressure", "81 psi",
                                              "--spacers", "1", "--out", "out.csv"))
        self.refused(USAGE, "did you mean 'import'", lambda: self.run_program("imprt", "larch.csv"))
        self.refused(USAGE, "needs a command", lambda: self.run_program())

    def test_what_exists_is_never_overwritten(self):
        self.assertEqual(self.import_file().returncode, 0)
        self.refused(COULD_NOT_WRITE, ("'out.csv'", "not overwritten"), self.import_file)
        (self.folder / "out.csv").unlink()
        self.refused(COULD_NOT_WRITE, "out.csv-metadata.json", self.import_file)
        self.refused(COULD_NOT_WRITE, "'larch.csv'", lambda: self.import_file(out="larch.csv"))

    def test_a_place_that_cannot_be_written_leaves_nothing(self):
        self.refused(COULD_NOT_WRITE, ("none/out.csv", "Does its folder exist?"),
                     lambda: self.import_file(out="none/out.csv"))

    def test_a_full_disk_leaves_nothing(self):
        for limit_bytes in (0, 100, 1000, 3000):
            with self.subTest(limit_bytes):
                def limited():
                    resource.setrlimit(resource.RLIMIT_FSIZE, (limit_bytes, limit_bytes))
                self.refused(COULD_NOT_WRITE, "out.csv",
                             lambda: self.import_file(preexec_fn=limited))

    def test_an_answer_that_cannot_be_written_is_an_error(self):
        self.assertEqual(self.import_file().returncode, 0)
        with open("/dev/full", "w") as full:
            result = self.run_program("mark", "out.csv", "--remark", "x", "--json", stdout=full)
        self.assertEqual(result.returncode, COULD_NOT_WRITE)

    # --- the workshop folder ---

    def test_init_makes_a_workshop_folder_once(self):
        result = self.run_program("init", "shop")
        self.assertEqual(result.returncode, 0, result.stderr)
        for name in ("bench.toml", "forks", "calibrations", "sweeps", "models", "reports"):
            self.assertTrue((self.folder / "shop" / name).exists(), name)
        result = self.import_file(fork="shop/forks/example.toml", out="shop/sweeps/a.csv")
        self.assertEqual(result.returncode, 0, result.stderr)
        self.refused(COULD_NOT_WRITE, "a workshop folder already",
                     lambda: self.run_program("init", "shop"))

    def test_list_shows_records_and_marks_the_interrupted_ones(self):
        self.assertEqual(self.run_program("init", "shop").returncode, 0)
        for name in ("a", "b", "c"):
            self.assertEqual(self.import_file(out=f"shop/sweeps/{name}.csv").returncode, 0)
        path = self.folder / "shop/sweeps/b.csv-metadata.json"
        path.write_text(path.read_text().replace('"complete"', '"running"'))
        (self.folder / "shop/sweeps/plain.csv").write_text("1,2\n")
        (self.folder / "shop/models/m.json").write_text('{"usable": false}')
        result = self.run_program("mark", "shop/sweeps/c.csv", "--unusable", "the clamp slipped")
        self.assertEqual(result.returncode, 0, result.stderr)
        answer = json.loads(self.run_program("list", "shop", "--json").stdout)
        self.assertEqual([record["state"] for record in answer["records"]],
                         ["complete", "interrupted", "complete"])
        self.assertEqual([record["usable"] for record in answer["records"]], [True, True, False])
        self.assertEqual(answer["models"], [{"file": "shop/models/m.json", "usable": False}])
        self.assertEqual(len(answer["unreadable"]), 1)
        shown = self.run_program("list", "shop").stdout
        self.assertIn("INTERRUPTED", shown)
        self.assertIn("UNUSABLE: the clamp slipped", shown)
        self.refused(UNUSABLE, "not a workshop folder", lambda: self.run_program("list", "."))

    def test_mark_changes_the_metadata_alone(self):
        self.assertEqual(self.import_file().returncode, 0)
        rows = (self.folder / "out.csv").read_bytes()
        for remark in ("second mounting", "the room was cold"):
            result = self.run_program("mark", "out.csv", "--remark", remark, "--json")
            self.assertEqual(result.returncode, 0, result.stderr)
        self.assertEqual(json.loads(result.stdout)["remarks"],
                         ["second mounting", "the room was cold"])
        self.assertEqual(self.metadata()["remarks"], ["second mounting", "the room was cold"])
        self.assertEqual((self.folder / "out.csv").read_bytes(), rows)
        self.refused(UNUSABLE, "none.csv",
                     lambda: self.run_program("mark", "none.csv", "--remark", "x"))
        self.refused(USAGE, "nothing to mark", lambda: self.run_program("mark", "out.csv"))
        self.refused(USAGE, "excludes",
                     lambda: self.run_program("mark", "out.csv", "--usable", "--unusable", "x"))

    # --- the program itself ---

    def commands(self, *words):
        """The names under "Subcommands:" of a help text."""
        lines = self.run_program(*words, "--help").stdout.splitlines()
        if "Subcommands:" not in lines:
            return []
        names = []
        for line in lines[lines.index("Subcommands:") + 1:]:
            if not line.strip():
                break
            if line.startswith("  ") and line[2] != " ":
                names.append(line.split()[0])
        return names

    def test_every_command_has_help_with_examples(self):
        first = self.commands()
        self.assertIn("import", first)
        for name in first:
            for words in [(name, second) for second in self.commands(name)] or [(name,)]:
                with self.subTest(" ".join(words)):
                    result = self.run_program(*words, "--help")
                    self.assertEqual(result.returncode, 0)
                    self.assertIn("Examples:\n  springwright " + name, result.stdout)

    def test_the_program_starts_fast(self):
        best_s = 1.0
        for _ in range(10):
            begin = time.monotonic()
            result = self.run_program("--version")
            best_s = min(best_s, time.monotonic() - begin)
            self.assertRegex(result.stdout, r"^springwright \d+\.\d+\.\d+\n$")
        if not SANITIZED:
            self.assertLess(best_s, 0.050)


if __name__ == "__main__":
    PROGRAM = os.path.abspath(sys.argv.pop(1))
    if "--sanitized" in sys.argv:
        sys.argv.remove("--sanitized")
        SANITIZED = True
    unittest.main()
