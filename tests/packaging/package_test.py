#!/usr/bin/env python3
"""The Debian packages: made, looked at by lintian where there is one, installed into a clean root, run from there, built upon, and removed
without a trace. Usage: package_test.py BUILD_FOLDER SOURCE_FOLDER"""

import json
import os
import pathlib
import shutil
import subprocess
import sys
import tempfile

BUILD, SOURCE = pathlib.Path(sys.argv[1]), pathlib.Path(sys.argv[2])
CONSUMER = SOURCE / "tests/packaging/consumer"
ROOMS = ("protocol", "calibration", "fitting")


def run(*words, **more):
    done = subprocess.run([str(word) for word in words], text=True, capture_output=True, **more)
    assert done.returncode == 0, f"{words} ended with {done.returncode}:\n{done.stdout[-3000:]}{done.stderr[-3000:]}"
    return done.stdout


def make_packages(folder):
    run("cpack", "-G", "DEB", "--config", BUILD / "CPackConfig.cmake", "-B", folder, cwd=folder)
    packages = sorted(folder.glob("*.deb"))
    assert [each.name.split("_")[0] for each in packages] == ["libspringwright-dev", "springwright"], packages
    if shutil.which("lintian"):
        # Only what is wrong, not what is unusual; its exit code says whether something was.
        run("lintian", "--allow-root", "--fail-on", "error", *packages)
        print("lintian finds no error")
    else:
        print("left out: there is no lintian")
    return packages


class Root:
    """A folder that dpkg takes for the root, with a package database of its own."""

    def __init__(self, folder):
        self.folder = folder
        database = folder / "var/lib/dpkg"
        for each in ("info", "updates", "triggers"):
            (database / each).mkdir(parents=True)
        (database / "status").touch()
        self.before = self.files()

    def install(self, packages):
        if os.geteuid() == 0:
            return self.dpkg("--install", *packages)
        print("not root: unpacked in place of installed")
        for package in packages:
            run("dpkg-deb", "-x", package, self.folder)

    def purge(self, *names):
        if os.geteuid() != 0:
            return print("left out: removing wants root")
        self.dpkg("--purge", *names)
        left = self.files() - self.before
        assert not left, f"removed, and left behind: {sorted(map(str, left))[:10]}"
        print("removed without a trace")

    def dpkg(self, *words):
        # Their scripts run here, without a root of their own, and look for udev below DPKG_ROOT.
        run("dpkg", f"--root={self.folder}", "--force-depends", "--force-script-chrootless", "--log=/dev/null", *words)

    def files(self):
        return {each for each in self.folder.rglob("*") if "var/lib/dpkg" not in str(each) and "var/lib" != str(each.relative_to(self.folder))}


def try_program(root, folder):
    """The installed program, with nothing of the sources: RETURNS a workshop with records, certificates and models."""
    program = root.folder / "usr/bin/springwright"
    assert run(program, "--version").startswith("springwright ")
    workshop = folder / "demo"
    answer = json.loads(run(program, "demo", workshop, "--json"))
    assert pathlib.Path(answer["report"]).is_file()
    used = (workshop / "virtual/larch_160.toml").read_text()
    assert used == (root.folder / "usr/share/springwright/forks/larch_160.toml").read_text()
    manual = subprocess.run(["gzip", "-dc", root.folder / "usr/share/man/man1/springwright.1.gz"], check=True, capture_output=True).stdout
    for command in ("sweep", "calibrate force", "compare", "panel"):
        assert f".SS springwright {command}".encode() in manual, f"the manual lacks {command}"
    completion = root.folder / "usr/share/bash-completion/completions/springwright"
    said = run("bash", "-c", f"source '{completion}'; COMP_WORDS=('{program}' fit ''); COMP_CWORD=2; _springwright; printf '%s\\n' \"${{COMPREPLY[@]}}\"",
               cwd=workshop)
    assert "sweeps/larch_160-70psi-0.csv" in said.split(), said
    return program, workshop


def check_consumers(folder, workshop, program):
    """What each of them says is what the program says."""
    record = workshop / "sweeps/larch_160-70psi-0.csv"
    assert int(run(folder / "protocol_consumer", record)) == sum(1 for _ in record.open()) - 1
    certificate = workshop / "calibrations/force.json"
    c = json.loads(certificate.read_text())["equation"]["coefficients"]
    said_N = float(run(folder / "calibration_consumer", certificate, 250000))
    assert abs(said_N - sum(each * 250000.0**power for power, each in enumerate(c))) < 1e-6, said_N
    model = workshop / "models/larch_160.json"
    predicted = json.loads(run(program, "predict", model, "--pressure", "70 psi", "--spacers", "0", "--json"))
    wanted_N = [predicted["spring_N"][predicted["travel_mm"].index(travel_mm)] for travel_mm in (0, 50, 100)]
    said_N = [float(line) for line in run(folder / "fitting_consumer", model).split()]
    assert all(abs(a - b) < 1e-9 for a, b in zip(said_N, wanted_N)), (said_N, wanted_N)


def build_upon_installed(root, folder, workshop, program):
    build = folder / "installed"
    run("cmake", "-G", "Ninja", "-S", CONSUMER, "-B", build, f"-DCMAKE_PREFIX_PATH={root.folder}/usr", "-DCMAKE_BUILD_TYPE=Release")
    run("cmake", "--build", build)
    check_consumers(build, workshop, program)
    print("built upon what is installed: " + ", ".join(f"springwright::{room}" for room in ROOMS))


def build_within(folder, workshop):
    """The smallest of the three within another project's sources; the names are the same."""
    build = folder / "within"
    run("cmake", "-G", "Ninja", "-S", CONSUMER, "-B", build, f"-DSPRINGWRIGHT_SOURCE={SOURCE}", "-DCMAKE_BUILD_TYPE=Debug")
    run("cmake", "--build", build, "--target", "protocol_consumer")
    record = workshop / "sweeps/larch_160-70psi-0.csv"
    assert int(run(build / "protocol_consumer", record)) == sum(1 for _ in record.open()) - 1
    assert "springwright" not in run("cmake", "--install", build), "it installs itself with somebody else"
    print("built within another project: springwright::protocol")


def main():
    with tempfile.TemporaryDirectory(prefix="springwright-") as temporary:
        folder = pathlib.Path(temporary)
        (folder / "made").mkdir()
        packages = make_packages(folder / "made")
        root = Root(folder / "root")
        root.install(packages)
        program, workshop = try_program(root, folder)
        build_upon_installed(root, folder, workshop, program)
        build_within(folder, workshop)
        root.purge("springwright", "libspringwright-dev")


main()
