"""A guided calibration as a person does it: at a terminal, key by key, on the virtual rig.

Usage: guided_test.py PROGRAM SOURCE_FOLDER
"""

import json
import os
import pathlib
import pty
import re
import select
import signal
import subprocess
import sys
import tempfile
import time
import unittest

PROGRAM, SOURCE = sys.argv[1], pathlib.Path(sys.argv[2])
RIG = f"virtual:{SOURCE}/controller/virtual_rig/forks/larch_160.toml"
PATIENCE_S = 60


class Terminal:
    """The program behind a pseudo-terminal; what it says is waited for, never slept for."""

    def __init__(self, folder, *words):
        self.master, slave = pty.openpty()
        self.process = subprocess.Popen([PROGRAM, *words], cwd=folder, stdin=slave, stdout=slave,
                                        stderr=slave, start_new_session=True)
        os.close(slave)
        self.text = ""
        self.seen = 0

    def read_some(self, until):
        if not select.select([self.master], [], [], max(0.0, until - time.monotonic()))[0]:
            raise AssertionError(f"waited in vain; so far:\n{self.text}")
        try:
            piece = os.read(self.master, 65536)
        except OSError:  # the other end is closed
            piece = b""
        self.text += piece.decode(errors="replace")
        return bool(piece)

    def expect(self, pattern):
        until = time.monotonic() + PATIENCE_S
        while True:
            found = re.compile(pattern).search(self.text, self.seen)
            if found:
                self.seen = found.end()
                return found
            if not self.read_some(until):
                raise AssertionError(f"ended without '{pattern}':\n{self.text}")

    def say(self, line=""):
        os.write(self.master, (line + "\n").encode())

    def end(self):
        until = time.monotonic() + PATIENCE_S
        while self.read_some(until):
            pass
        os.close(self.master)
        return self.process.wait(PATIENCE_S)


class GuidedTest(unittest.TestCase):
    def setUp(self):
        self.folder_object = tempfile.TemporaryDirectory(prefix="springwright-")
        self.folder = pathlib.Path(self.folder_object.name)
        self.terminals = []

    def tearDown(self):
        for terminal in self.terminals:
            if terminal.process.poll() is None:
                terminal.process.kill()
                terminal.process.wait()
        self.folder_object.cleanup()

    def begin(self, *words):
        self.terminals.append(Terminal(self.folder, "calibrate", *words))
        return self.terminals[-1]

    def force(self, *words):
        return self.begin("force", "--guided", "--rig", RIG, "--loads", "0,10,20,50 kg", "--cell",
                          "cell 0417", "--gravity-m-s2", "9.80665", "--out", "force.json", *words)

    def take(self, terminal, steps):
        for _ in range(steps):
            terminal.expect(r"\n\[\d+/\d+\] Series")
            terminal.say()
            terminal.expect(r"Taken: ")

    def certificate(self, name="force.json"):
        return json.loads((self.folder / name).read_text())

    def test_a_whole_session_with_its_mishaps(self):
        terminal = self.force()
        terminal.expect("can crush a hand")
        self.take(terminal, 1)
        terminal.expect(r"up: put on 10 kg\.")
        terminal.say("knock")
        terminal.expect("shake")
        terminal.say()
        terminal.expect(r"Not taken\. The reading (is drifting|scatters)")
        terminal.expect(r"up: put on 10 kg\.")
        terminal.say("frob")
        terminal.expect("not a key")
        self.take(terminal, 1)
        terminal.expect(r"put on 20 kg in all \(add 10 kg\)")
        terminal.say("hang 10 kg")
        terminal.say()
        terminal.expect("does not seem to be on")
        terminal.say("hang 15 kg")
        terminal.say()
        terminal.expect("reads like 15 kg where 20 kg is asked for")
        terminal.expect("use 15 kg")
        self.take(terminal, 1)
        terminal.expect("put on 50 kg")
        terminal.say("u")
        terminal.expect("undone")
        self.take(terminal, 2)
        terminal.expect("down: leave 20 kg on")
        terminal.say("s")
        terminal.expect("Left out")
        self.take(terminal, 2 + 14)
        terminal.expect("All 20 readings are taken")
        self.assertEqual(terminal.end(), 0)
        certificate = json.dumps(self.certificate())
        self.assertIn("Series 1 of 3, down: 20 kg was left out.", certificate)
        self.assertIn("cell 0417", certificate)
        self.assertTrue((self.folder / "force.json.session.jsonl").exists())
        self.assert_reads_200_N()

    def assert_reads_200_N(self):
        # The virtual cell: 837.4 counts per newton from 41260 on.
        done = subprocess.run([PROGRAM, "calibrate", "check", "force.json", "--load", "200 N",
                               "--counts", str(41260 + 200 * 837.4), "--json"], cwd=self.folder,
                              text=True, capture_output=True, timeout=60)
        self.assertEqual(done.returncode, 0, done.stderr)
        self.assertIn("Within" if not done.stdout.startswith("{") else '"within": true',
                      done.stdout)

    def test_ctrl_c_half_way_and_resume(self):
        terminal = self.force()
        self.take(terminal, 9)
        terminal.expect(r"\[10/21\]")
        os.kill(terminal.process.pid, signal.SIGINT)
        terminal.expect("9 of 21 readings are kept")
        terminal.expect("--resume")
        self.assertEqual(terminal.end(), 5)
        self.assertFalse((self.folder / "force.json").exists())

        terminal = self.force()
        terminal.expect("begun already")
        self.assertEqual(terminal.end(), 7)

        # A power cut in the middle of a line.
        with open(self.folder / "force.json.session.jsonl", "a") as journal:
            journal.write('{"take":20.0,"rea')
        terminal = self.force("--resume")
        terminal.expect("torn")
        terminal.expect("9 of 21 steps are done")
        self.take(terminal, 1)
        terminal.expect(r"\[11/21\]")
        terminal.say("q")
        terminal.expect("10 of 21 readings are kept")
        self.assertEqual(terminal.end(), 5)

        terminal = self.force("--resume")
        self.take(terminal, 11)
        terminal.expect("All 21 readings are taken")
        self.assertEqual(terminal.end(), 0)
        self.assert_reads_200_N()

    def test_other_loads_do_not_resume(self):
        terminal = self.force()
        self.take(terminal, 1)
        terminal.expect(r"\[2/21\]")
        terminal.say("q")
        self.assertEqual(terminal.end(), 5)
        terminal = self.begin("force", "--resume", "--rig", RIG, "--loads", "0,10,20,40 kg", "--out",
                              "force.json")
        terminal.expect("resume it with the same command")
        self.assertEqual(terminal.end(), 2)

    def test_a_transducer_travel_and_the_frame(self):
        terminal = self.begin("force", "--guided", "--rig", RIG, "--loads", "0,500,1000,2000 N",
                              "--out", "force.json")
        self.take(terminal, 2)
        terminal.expect("load to about 1000 N")
        terminal.say("1100")
        # Which value it is held against depends on the noise of three readings.
        terminal.expect("N, and 1100 N was typed")
        self.take(terminal, 19)
        self.assertEqual(terminal.end(), 0)

        terminal = self.begin("travel", "--guided", "--rig", RIG, "--loads", "0,50,100,150 mm",
                              "--out", "travel.json")
        terminal.expect("Press Enter")
        terminal.say()
        for step in range(21):
            terminal.expect("the carriage moves there")
            terminal.say()
            terminal.expect("What does the dial show")
            if step == 2:
                terminal.say("10.0")
                terminal.expect("was sent to 100 mm, and 10 mm was typed")
                terminal.expect("What does the dial show")
            terminal.say()
            terminal.expect("Taken: ")
        self.assertEqual(terminal.end(), 0)

        terminal = self.begin("frame", "--guided", "--rig", RIG, "--loads", "250,500,1000,1500 N",
                              "--force-calibration", "force.json", "--travel-calibration",
                              "travel.json", "--out", "frame.json")
        terminal.expect("Press Enter")
        terminal.say()
        for _ in range(2):
            terminal.expect("Hands clear")
            terminal.say()
        terminal.expect("All 8 readings are taken")
        self.assertEqual(terminal.end(), 0)

    def test_bad_words_are_refused_before_anything_is_hung(self):
        for words, what, code in (
                (("--guided", "--rig", RIG), "Which loads", 2),
                (("--guided", "--rig", RIG, "--loads", "0,5 kg"), "too few", 2),
                (("--guided", "--rig", RIG, "--loads", "0,5,10 kg", "--date", "tomorrow"), "not a date", 3),
                (("--resume", "--rig", RIG), "no session to resume", 3),
                ((), "file of readings, or --guided", 2)):
            terminal = self.begin("force", *words, "--out", "force.json")
            terminal.expect(what)
            self.assertEqual(terminal.end(), code, terminal.text)
        self.assertEqual(list(self.folder.iterdir()), [])

    def test_a_script_may_speak_through_a_pipe(self):
        done = subprocess.run([PROGRAM, "calibrate", "force", "--guided", "--rig", RIG, "--loads",
                               "0,10,50 kg", "--out", "force.json", "--json"], cwd=self.folder,
                              input="\n" * 15, text=True, capture_output=True, timeout=120)
        self.assertEqual(done.returncode, 0, done.stderr)
        json.loads(done.stdout)
        self.assertNotIn("\x1b", done.stderr)
        short = subprocess.run([PROGRAM, "calibrate", "force", "--guided", "--rig", RIG, "--loads",
                                "0,10,50 kg", "--out", "other.json"], cwd=self.folder, input="\n\n",
                               text=True, capture_output=True, timeout=120)
        self.assertEqual(short.returncode, 5)
        self.assertIn("2 of 15 readings are kept", short.stderr)


if __name__ == "__main__":
    unittest.main(argv=sys.argv[:1])
