#!/usr/bin/env python3
"""Writes the first inputs of every target into tests/fuzz/corpus, from a workshop folder and the pages of the formats.

Usage: make_seeds.py SOURCE_FOLDER WORKSHOP_FOLDER    the second one as `springwright demo` leaves it
"""

import json
import pathlib
import re
import sys

ROWS_OF_A_RECORD = 40


class Seeds:
    def __init__(self, source, workshop):
        self.source, self.workshop = pathlib.Path(source), pathlib.Path(workshop)

    def keep(self, target, name, content):
        folder = self.source / "tests" / "fuzz" / "corpus" / target
        folder.mkdir(parents=True, exist_ok=True)
        (folder / name).write_bytes(content if isinstance(content, bytes) else content.encode())

    def frames(self):
        page = (self.source / "protocol" / "wire" / "WIRE.md").read_text()
        return [bytes.fromhex(line) for line in re.findall(r"^ {4}((?:[0-9A-F]{2} )+00)$", page, re.M)]

    def wire(self):
        frames = self.frames()
        for number, frame in enumerate(frames):
            self.keep("decoder", f"frame_{number:02}", frame)
        self.keep("decoder", "all_frames", b"".join(frames))
        self.keep("decoder", "cut_and_glued", frames[0][:4] + frames[1] + b"\x00\x00" + frames[2][2:])
        requests = [frame for frame in frames if frame[1] < 0x80 and frame[0] > 1]
        for number, frame in enumerate(requests):
            self.keep("rig_core", f"request_{number:02}", bytes([len(frame)]) + frame)
        self.keep("rig_core", "all_requests", b"".join(requests))

    def record(self):
        for path in sorted(self.workshop.glob("sweeps/*.csv"))[:2]:
            rows = path.read_text().splitlines(keepends=True)
            metadata = pathlib.Path(f"{path}-metadata.json").read_text()
            head = "".join(line.replace("\n", "\r\n") if not line.endswith("\r\n") else line
                           for line in rows[:ROWS_OF_A_RECORD])
            self.keep("record", path.stem, metadata + "\0" + head)
            self.keep("record", f"{path.stem}_torn", metadata + "\0" + head[:-7])
            running = json.loads(metadata)
            running["springwright"]["state"] = "running"
            self.keep("record", f"{path.stem}_running", json.dumps(running) + "\0" + head)

    def csv_import(self):
        way = [*range(0, 100, 5), *range(100, 0, -5)]
        plain = "time_s,travel_mm,force_N\n" + "".join(
            f"{i * 0.1:.1f},{x},{150 + 4 * x + (i < 20) * 20}\n" for i, x in enumerate(way))
        comma = "Weg_mm;Kraft_N\n" + "".join(f"{x},5;{150 + 4 * x},25\n" for x in way)
        self.keep("csv_import", "with_time", b"\x00" + plain.encode())
        self.keep("csv_import", "time_passed_over", b"\x04" + plain.encode())
        self.keep("csv_import", "decimal_comma", b"\x01" + comma.encode())
        self.keep("csv_import", "log", b"\x08time_s,travel_mm\n0,1\n0.1,2\n0.2,1\n")
        self.keep("csv_import", "named", b'\x12way,force_lbf\r\n"0.1",1\r\n0.2,2\r\n0.3,3\r\n')

    def documents(self):
        forks = self.source / "controller" / "virtual_rig" / "forks" / "caliper"
        for path in sorted(forks.glob("*.toml")):
            self.keep("fork_file", path.stem, path.read_bytes())
        self.keep("fork_file", "example", (self.workshop / "forks" / "example.toml").read_bytes())
        self.keep("fork_file", "coil", 'name = "Alder coil"\ntravel = "170 mm"\nkind = "coil"\n[coil_spring]\n'
                  'rate = "9 N/mm +/- 0.5 N/mm"\nsecond_rate = "12 N/mm"\nsecond_rate_from = "95 mm"\n'
                  'top_out_rate = "20 N/mm"\ntop_out_travel = "6 mm"\ndamper_rod_diameter = "10 mm"\n')
        self.keep("fork_file", "air_shock", 'name = "Birch"\ntravel = "65 mm"\nmaximum_pressure = "300 psi"\n'
                  'kind = "air_shock"\n[air_spring]\npiston_diameter = "1.6 in"\nshaft_diameter = "12.7 mm"\n'
                  'bumper = "6 mm"\n[sheet]\nmass = "0.45 kg"\nprice = "400"\nremarks = "worn"\n')
        bench = (self.workshop / "bench.toml").read_text()
        self.keep("bench_file", "new", bench)
        self.keep("bench_file", "every_key", re.sub(r"^# (?=\w+ =)", "", bench, flags=re.M))
        for number, part in enumerate(re.split(r"\n(?=\[)", bench)[1:]):
            self.keep("bench_file", f"part_{number}", part)
        for path in self.workshop.glob("models/*.json"):
            self.keep("model", path.stem, path.read_bytes())
            model = json.loads(path.read_text())
            for key in list(model)[:4]:
                self.keep("model", f"{path.stem}_without_{key}",
                          json.dumps({k: v for k, v in model.items() if k != key}))
        for path in self.workshop.glob("calibrations/*.json"):
            self.keep("certificate", path.stem, path.read_bytes())
            certificate = json.loads(path.read_text())
            self.keep("certificate", f"{path.stem}_short",
                      json.dumps({k: v for k, v in list(certificate.items())[:8]}))


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    seeds = Seeds(*sys.argv[1:])
    seeds.wire()
    seeds.record()
    seeds.csv_import()
    seeds.documents()
