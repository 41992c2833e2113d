#!/usr/bin/env python3
"""Tests of the architecture checks: each sees the offence that is planted, and only that.

A check that cannot fail guards nothing. Every test writes a tiny tree and runs the check on it.
"""

import subprocess
import sys
import tempfile
import unittest
from pathlib import Path

HERE = Path(__file__).resolve().parent


class Tree(unittest.TestCase):
    """A temporary tree, and a check that is run on it."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory()
        self.addCleanup(folder.cleanup)
        self.root = Path(folder.name)
        self.write("protocol/units.hpp", "#pragma once\n")

    def write(self, name, text):
        """Puts a file into the tree."""
        path = self.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")

    def run_check(self, check):
        """Exit code and output lines of a check."""
        done = subprocess.run([sys.executable, str(HERE / check), str(self.root)], text=True,
                              capture_output=True, check=False)
        return done.returncode, done.stdout.splitlines()


class Includes(Tree):
    """check_includes.py"""

    def allowed(self, file, header):
        """The file may include the header."""
        self.write(file, f"#pragma once\n#include {header}\n")
        self.assertEqual(self.run_check("check_includes.py"), (0, []))

    def forbidden(self, file, header):
        """The file may not, and the check names file and line."""
        self.write(file, f"#pragma once\n#include {header}\n")
        code, lines = self.run_check("check_includes.py")
        self.assertEqual(code, 1)
        self.assertEqual(len(lines), 1, lines)
        self.assertTrue(lines[0].startswith(f"{file}:2: "), lines[0])

    def test_a_clean_tree_passes(self):
        self.allowed("fitting/curve/strokes.hpp", '"protocol/units.hpp"')

    def test_a_room_sees_itself(self):
        self.allowed("fitting/solve/fit.hpp", '"fitting/solve/priors.hpp"')

    def test_fitting_never_sees_the_controller(self):
        self.forbidden("fitting/curve/strokes.hpp", '"controller/host/session.hpp"')

    def test_fitting_never_sees_the_wire(self):
        self.forbidden("fitting/curve/strokes.hpp", '"protocol/wire/frame.hpp"')

    def test_the_virtual_rig_never_sees_fitting(self):
        self.forbidden("controller/virtual_rig/plant.hpp", '"fitting/model/force.hpp"')

    def test_the_virtual_rig_runs_the_firmware_core(self):
        self.allowed("controller/virtual_rig/rig.hpp", '"controller/firmware/core/rig.hpp"')

    def test_the_firmware_core_knows_nobody_above_it(self):
        self.forbidden("controller/firmware/core/rig.hpp", '"controller/virtual_rig/plant.hpp"')

    def test_the_firmware_core_keeps_to_the_wire(self):
        self.forbidden("controller/firmware/core/rig.hpp", '"protocol/units.hpp"')

    def test_the_wire_stands_alone(self):
        self.forbidden("protocol/wire/frame.hpp", '"protocol/units.hpp"')

    def test_the_wire_may_know_the_error_codes(self):
        self.allowed("protocol/wire/frame.hpp", '"protocol/errc.hpp"')

    def test_the_wire_is_freestanding(self):
        self.forbidden("protocol/wire/frame.hpp", "<cstdint>")

    def test_the_wire_has_the_compilers_integers(self):
        self.allowed("protocol/wire/frame.hpp", "<stdint.h>")

    def test_the_firmware_core_is_freestanding(self):
        self.forbidden("controller/firmware/core/rig.hpp", "<array>")

    def test_protocol_knows_nobody(self):
        self.forbidden("protocol/record/csv.cpp", '"calibration/calibration.hpp"')

    def test_calibration_does_not_see_the_host(self):
        self.forbidden("calibration/line.hpp", '"controller/host/session.hpp"')

    def test_calibration_does_not_see_fitting(self):
        self.forbidden("calibration/line.hpp", '"fitting/curve/strokes.hpp"')

    def test_the_host_may_calibrate(self):
        self.allowed("controller/host/sweep.hpp", '"calibration/calibration.hpp"')

    def test_the_host_does_not_fit(self):
        self.forbidden("controller/host/sweep.hpp", '"fitting/solve/fit.hpp"')

    def test_the_host_does_not_see_the_virtual_rig(self):
        self.forbidden("controller/host/sweep.hpp", '"controller/virtual_rig/plant.hpp"')

    def test_the_host_does_not_see_the_firmware(self):
        self.forbidden("controller/host/session.hpp", '"controller/firmware/core/rig.hpp"')

    def test_the_host_does_not_see_the_panel(self):
        self.forbidden("controller/host/session.hpp", '"controller/panel/server.hpp"')

    def test_the_panel_sees_the_host_and_not_fitting(self):
        self.allowed("controller/panel/server.hpp", '"controller/host/session.hpp"')
        self.forbidden("controller/panel/page.hpp", '"fitting/solve/fit.hpp"')

    def test_the_command_line_sees_everything(self):
        self.allowed("controller/cli/sweep.cpp", '"fitting/report/html.hpp"')

    def test_nobody_sees_the_command_line(self):
        self.forbidden("controller/host/sweep.cpp", '"controller/cli/options.hpp"')

    def test_nobody_sees_the_tests(self):
        self.forbidden("fitting/curve/strokes.cpp", '"tests/support/bench.hpp"')

    def test_fitting_goes_one_way(self):
        order = ["curve", "model", "solve", "compare", "report"]
        for low, earlier in enumerate(order):
            for later in order[low + 1:]:
                with self.subTest(earlier=earlier, later=later):
                    self.setUp()
                    self.allowed(f"fitting/{later}/a.hpp", f'"fitting/{earlier}/b.hpp"')
                    self.setUp()
                    self.forbidden(f"fitting/{earlier}/a.hpp", f'"fitting/{later}/b.hpp"')

    def test_asio_is_for_the_host_alone(self):
        self.allowed("controller/host/asio.hpp", "<boost/asio.hpp>")
        self.forbidden("controller/cli/sweep.cpp", "<boost/asio/io_context.hpp>")

    def test_asio_is_not_for_the_tests_either(self):
        self.forbidden("tests/controller/session_test.cpp", "<boost/asio.hpp>")

    def test_relative_includes_are_refused(self):
        self.forbidden("fitting/curve/strokes.cpp", '"strokes.hpp"')
        self.setUp()
        self.forbidden("fitting/curve/strokes.cpp", '"../solve/fit.hpp"')

    def test_angle_brackets_are_no_way_round(self):
        self.forbidden("fitting/curve/strokes.cpp", "<controller/host/session.hpp>")

    def test_spaces_are_no_way_round(self):
        self.write("fitting/curve/a.cpp", '#pragma once\n  #  include   "controller/host/x.hpp"\n')
        self.assertEqual(self.run_check("check_includes.py")[0], 1)

    def test_a_file_outside_the_rooms_is_seen(self):
        self.write("controller/elsewhere/a.cpp", "int a;\n")
        code, lines = self.run_check("check_includes.py")
        self.assertEqual((code, lines), (1, ["controller/elsewhere/a.cpp:1: belongs to no room"]))

    def test_every_offence_is_listed(self):
        self.write("fitting/curve/a.cpp",
                   '#include "controller/host/a.hpp"\nint a;\n#include "fitting/model/b.hpp"\n')
        code, lines = self.run_check("check_includes.py")
        self.assertEqual(code, 1)
        self.assertEqual([line.split(": ")[0] for line in lines],
                         ["fitting/curve/a.cpp:1", "fitting/curve/a.cpp:3"])


class Sizes(Tree):
    """check_sizes.py"""

    def test_450_lines_pass(self):
        self.write("fitting/curve/a.cpp", "\n" * 450)
        self.assertEqual(self.run_check("check_sizes.py"), (0, []))

    def test_451_lines_do_not(self):
        self.write("fitting/curve/a.cpp", "\n" * 451)
        code, lines = self.run_check("check_sizes.py")
        self.assertEqual((code, lines), (1, ["fitting/curve/a.cpp:451: 451 lines, at most 450"]))

    def test_tests_count_too(self):
        self.write("tests/fitting/a_test.cpp", "\n" * 500)
        self.assertEqual(self.run_check("check_sizes.py")[0], 1)


class Sources(Tree):
    """check_sources.py"""

    PAGE = "# Sources\n\n### [Known]\nSomebody, a title.\n"

    def setUp(self):
        super().setUp()
        self.write("tests/SOURCES.md", self.PAGE)

    def test_a_sourced_oracle_passes(self):
        self.write("tests/a_test.cpp",
                   'TEST_CASE("a: b", "[a][oracle]") {\n  // Source: [Known] table 1.\n}\n')
        self.assertEqual(self.run_check("check_sources.py"), (0, []))

    def test_an_oracle_without_source_is_named(self):
        self.write("tests/a_test.cpp",
                   '// Source: [Known] outside.\nTEST_CASE("a: b",\n          "[oracle]") {\n}\n')
        code, lines = self.run_check("check_sources.py")
        self.assertEqual(code, 1)
        self.assertEqual(lines, ["tests/a_test.cpp:2: an [oracle] without `Source: [Key]`"])

    def test_the_neighbours_source_does_not_count(self):
        self.write("tests/a_test.cpp",
                   'TEST_CASE("a: b", "[oracle]") {\n  // Source: [Known] x.\n}\n\n'
                   'TEST_CASE("a: c", "[oracle]") {\n  CHECK(true);\n}\n')
        code, lines = self.run_check("check_sources.py")
        self.assertEqual((code, lines),
                         (1, ["tests/a_test.cpp:5: an [oracle] without `Source: [Key]`"]))

    def test_an_unknown_key_is_named(self):
        self.write("tests/a_test.cpp",
                   'TEST_CASE("a: b", "[oracle]") {\n  // Source: [Known] [Other] x.\n}\n')
        code, lines = self.run_check("check_sources.py")
        self.assertEqual(code, 1)
        self.assertEqual(lines, ["tests/a_test.cpp:2: [Other] is not in tests/SOURCES.md"])

    def test_a_template_case_is_a_case(self):
        self.write("tests/a_test.cpp",
                   'TEMPLATE_TEST_CASE("a", "[oracle]", int) {\n}\n// Source: [Known] late.\n')
        self.assertEqual(self.run_check("check_sources.py")[0], 1)

    def test_other_cases_need_none(self):
        self.write("tests/a_test.cpp",
                   'TEST_CASE("a: b", "[a]") {\n}\n// Source: [Known] for a helper.\n')
        self.assertEqual(self.run_check("check_sources.py"), (0, []))

    def test_an_entry_that_nobody_cites_is_noted_and_passes(self):
        code, lines = self.run_check("check_sources.py")
        self.assertEqual(code, 0)
        self.assertEqual(lines, ["tests/SOURCES.md:3: note: no test cites [Known]"])

    def test_an_entry_that_is_there_twice_is_named(self):
        self.write("tests/SOURCES.md", self.PAGE + "\n### [Known]\nAgain.\n")
        self.assertEqual(self.run_check("check_sources.py")[0], 1)


if __name__ == "__main__":
    unittest.main()
