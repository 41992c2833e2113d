#!/usr/bin/env python3
"""Four sweeps with the chip's own binary behind a port, in real time, by the shipped program; then fit and report.

Holds what was fitted to the virtual fork's truth, at 3 standard uncertainties. Takes about ten minutes.

Usage: chip_fit.py PROGRAM CHIP_ON_PTY SOURCE_FOLDER WORK_FOLDER   a new folder; its calibrations come from `demo`
"""

import json
import pathlib
import subprocess
import sys
import tomllib


def number(text):
    return float(text.split()[0])


class ChipFit:
    def __init__(self, program, chip, source, folder):
        self.program, self.chip, self.folder = program, chip, pathlib.Path(folder)
        self.plant_file = pathlib.Path(source) / "controller" / "virtual_rig" / "forks" / "larch_160.toml"

    def run(self, *words):
        done = subprocess.run([self.program, *words], cwd=self.folder, text=True, capture_output=True, timeout=900)
        if done.returncode:
            sys.exit(f"{' '.join(words)}\n{done.stderr}")
        return done.stdout

    def sweep(self, psi, spacers):
        record = f"sweeps/chip-{psi}psi-{spacers}.csv"
        chip = subprocess.Popen([self.chip, self.plant_file, str(psi), str(spacers)], text=True,
                                stdin=subprocess.PIPE, stdout=subprocess.PIPE)
        try:
            port = chip.stdout.readline().strip()
            self.run("sweep", "--rig", port, "--fork", "forks/larch_160.toml", "--pressure", f"{psi} psi", "--spacers",
                     str(spacers), "--speed", "12 mm/s", "--cycles", "2", "--conditioning", "1", "--force-calibration",
                     "calibrations/force.json", "--travel-calibration", "calibrations/travel.json",
                     "--frame-calibration", "calibrations/frame.json", "--yes", "--out", record)
        finally:
            chip.stdin.close()
            chip.wait(timeout=30)
        metadata = json.loads((self.folder / f"{record}-metadata.json").read_text())["springwright"]
        print(record, metadata["state"], metadata["counters"], flush=True)
        return record

    def carry_out(self):
        subprocess.run([self.program, "demo", self.folder], check=True, capture_output=True, timeout=900)
        records = [self.sweep(psi, spacers) for psi in (70, 95) for spacers in (0, 2)]
        self.run("fit", *records, "--out", "models/chip.json")
        others = [f"sweeps/basalt_160-{psi}psi-{spacers}.csv" for psi in (62, 86) for spacers in (0, 2)]
        self.run("report", "--a", "models/chip.json", "--b", "models/basalt_160.json", "--records-a", *records,
                 "--records-b", *others, "--load", "430 N", "--out", "reports/chip")
        model = json.loads((self.folder / "models" / "chip.json").read_text())
        found = {p["name"]: p for p in model["parameters"] if "sweep" not in p or not p["sweep"]}
        plant = tomllib.loads(self.plant_file.read_text())
        air = plant["air_spring"]
        known = {"positive_volume": number(air["positive"]["volume"]),
                 "negative_volume": number(air["negative"]["volume"]),
                 "preload": number(plant["preload"]), "transfer_travel": number(air["port"]["travel"])}
        missed = 0
        for name, value in known.items():
            off = (found[name]["value"] - value) / found[name]["standard_uncertainty"]
            print(f"{name}: {found[name]['value']:.3f} +- {found[name]['standard_uncertainty']:.3f}, true {value:.3f}, "
                  f"{off:+.2f} uncertainties off")
            missed += abs(off) > 3.0
        print(f"usable: {model['usable']}; residual {model['rms_residual_N']:.2f} N rms; report: "
              f"{self.folder}/reports/chip/report.html")
        return 1 if missed or not model["usable"] else 0


if __name__ == "__main__":
    if len(sys.argv) != 5:
        sys.exit(__doc__)
    sys.exit(ChipFit(*sys.argv[1:]).carry_out())
