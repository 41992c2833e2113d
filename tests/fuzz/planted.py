#!/usr/bin/env python3
"""Shows that each target can find a bug: takes one check out of a copy of the source and lets the target look for it.

Usage: planted.py SOURCE_FOLDER WORK_FOLDER [SECONDS_EACH]    needs clang-14
"""

import pathlib
import shutil
import subprocess
import sys
import time

# target, file, what stands there, what is put in its place
PLANTS = [
    ("decoder", "protocol/wire/decoder.hpp", "if (size_ == kBodyMax) {", "if (size_ == 255) {"),
    ("rig_core", "controller/firmware/core/rig_loop.hpp", "if (silence_ms_ >= heartbeat_timeout_ms_) {",
     "if (silence_ms_ >= heartbeat_timeout_ms_ && !planner_.running()) {"),
    ("record", "protocol/record/record_reader.cpp", "if (fields.size() != names.size()) {",
     "if (fields.size() > names.size()) {"),
    ("csv_import", "protocol/record/csv_import.cpp", "if (fields.size() != width)", "if (fields.size() > width)"),
    ("fork_file", "protocol/record/fork_file.cpp", "i < kForkKindNames.size()", "i <= kForkKindNames.size()"),
    ("bench_file", "protocol/record/toml_fields.cpp", "table_ ? table_->get(key) : nullptr;\n  if (!node && required)",
     "table_->get(key);\n  if (!node && required)"),
    ("model", "fitting/model/model_json.cpp", "!rows[i].is_array() || rows[i].size() != size", "!rows[i].is_array()"),
    ("certificate", "protocol/record/json_fields.cpp", "object_start) keys.emplace_back();",
     "object_start && keys.size() < 2) keys.emplace_back();"),
]
FOLDERS = ["protocol", "calibration", "controller", "fitting", "tests", "CMakeLists.txt", "CMakePresets.json"]


def copy_source(source, work):
    for name in FOLDERS:
        if (source / name).is_dir():
            shutil.copytree(source / name, work / name, dirs_exist_ok=True)
        else:
            shutil.copy(source / name, work / name)


def find(work, target, seconds):
    subprocess.run(["cmake", "--build", "build/fuzz", "--target", f"fuzz_{target}"], cwd=work, check=True,
                   stdout=subprocess.DEVNULL)
    begin = time.monotonic()
    done = subprocess.run([f"build/fuzz/tests/fuzz/fuzz_{target}", f"-max_total_time={seconds}",
                           f"-artifact_prefix={target}-", f"tests/fuzz/corpus/{target}"], cwd=work, text=True,
                          errors="replace", capture_output=True)
    reason = next((line for line in done.stderr.splitlines()
                   if "ERROR:" in line or "runtime error" in line or "does not hold" in line), "nothing found")
    return done.returncode != 0, time.monotonic() - begin, reason.strip()


def main():
    source, work = (pathlib.Path(arg).resolve() for arg in sys.argv[1:3])
    seconds = sys.argv[3] if len(sys.argv) > 3 else "120"
    work.mkdir(parents=True, exist_ok=True)
    copy_source(source, work)
    subprocess.run(["cmake", "--preset", "fuzz"], cwd=work, check=True, stdout=subprocess.DEVNULL)
    missed = 0
    for target, name, whole, planted in PLANTS:
        file = work / name
        text = file.read_text()
        if text.count(whole) != 1:
            sys.exit(f"{name}: '{whole}' stands there {text.count(whole)} times, once is wanted; mend PLANTS")
        file.write_text(text.replace(whole, planted))
        found, after_s, reason = find(work, target, seconds)
        file.write_text(text)
        missed += not found
        print(f"{target:12} {'found' if found else 'MISSED'} after {after_s:5.1f} s: {reason}", flush=True)
    return 1 if missed else 0


if __name__ == "__main__":
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    sys.exit(main())
