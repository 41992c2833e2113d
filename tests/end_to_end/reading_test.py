#!/usr/bin/env python3
"""Files read without the program: records, models, certificates and reports hold to their schemas, and the examples in Python and Octave
evaluate a fitted model as the program does; and what two models say at one place is what a comparison there says. Usage: reading_test.py PROGRAM SOURCE_FOLDER"""

import bisect
import json
import pathlib
import shutil
import subprocess
import sys
import tempfile

import jsonschema

PROGRAM, SOURCE = sys.argv[1], pathlib.Path(sys.argv[2])
SAME = 1e-9
SCHEMAS = {
    "sweeps/*-metadata.json": "protocol/record/sweep-record.schema.json",
    "models/*.json": "fitting/model/model.schema.json",
    "calibrations/*.json": "calibration/certificate.schema.json",
    "reports/*/data/report.json": "fitting/report/report-data.schema.json",
}


def run(*words, **more):
    return subprocess.run([str(word) for word in words], check=True, text=True, capture_output=True, **more).stdout


def check_schemas(workshop):
    for pattern, schema in SCHEMAS.items():
        grammar = json.loads((SOURCE / schema).read_text())
        # Each by the draft that it names.
        draft = jsonschema.validators.validator_for(grammar)
        draft.check_schema(grammar)
        files = sorted(workshop.glob(pattern))
        assert files, f"there is no {pattern}"
        for file in files:
            jsonschema.validate(json.loads(file.read_text()), grammar, draft)
            # The schema says no to what is not of it.
            broken = json.loads(file.read_text())
            target = broken["springwright"] if "springwright" in broken else broken
            target["not_a_key"] = 1
            assert not draft(grammar).is_valid(broken), f"{schema} takes any key"
        print(f"{len(files)} of {pattern} hold to {schema}")


def check_numbers(said, predicted):
    """said: travel in m and force in N by an example, at the predicted travels."""
    worst = max(abs(force - wanted) / max(1.0, abs(wanted)) for (_, force), wanted in zip(said, predicted))
    assert len(said) == len(predicted) and worst < SAME, f"differs by {worst:.2g}"
    return worst


def check_python(record, model, predicted, figure):
    python = next((each for each in (sys.executable, "/usr/bin/python3")
                   if subprocess.run([each, "-c", "import numpy, pandas, matplotlib"], capture_output=True).returncode == 0), None)
    if python is None:
        return print("left out: this Python has no numpy, pandas and matplotlib")
    script = SOURCE / "fitting/reading/springwright_files.py"
    run(python, script, record, model, figure)
    assert figure.stat().st_size > 10_000, "the figure is empty"
    evaluate = """
import json, sys
sys.path.insert(0, sys.argv[1])
from springwright_files import read_model, slow_spring_N
travel_m, pressure_Pa, spacers = json.loads(sys.argv[3])
print(json.dumps(list(zip(travel_m, slow_spring_N(read_model(sys.argv[2]), travel_m, pressure_Pa, spacers)))))"""
    for (travel_m, pressure_Pa, spacers), wanted in predicted:
        said = json.loads(run(python, "-c", evaluate, script.parent, model, json.dumps([travel_m, pressure_Pa, spacers])))
        print(f"Python: {check_numbers(said, wanted):.1g} apart from the program's answer")


def check_octave(model, predicted, folder):
    if shutil.which("octave") is None:
        return print("left out: there is no octave")
    for (travel_m, pressure_Pa, spacers), wanted in predicted:
        script = folder / "evaluate.m"
        script.write_text(f"""source("{SOURCE / 'fitting/reading/springwright_files.m'}");
x = [{"; ".join(map(repr, travel_m))}];
printf("%.17g %.17g\\n", [x, slow_spring_N(read_model("{model}"), x, {pressure_Pa!r}, {spacers})]');
""")
        said = [tuple(map(float, line.split())) for line in run("octave", "--no-gui", "-q", script).splitlines()]
        print(f"Octave: {check_numbers(said, wanted):.1g} apart from the program's answer")


def check_comparison(workshop):
    """The difference of two models, in the mountains and in the cold, is that of their own predictions there."""
    there = ["--altitude", "2500 m", "--temperature", "2 degC", "--vented-at", "40 mm"]
    models = [workshop / "models/larch_160.json", workshop / "models/basalt_160.json"]
    settings = [("82 psi", 1), ("76 psi", 0)]
    found = json.loads(run(PROGRAM, "compare", *models, *there, "--pressure-a", "82 psi", "--spacers-a", 1, "--pressure-b", "76 psi", "--spacers-b", 0,
                           "--json"))["difference"]
    def midline_N(model, pressure, spacers):
        said = json.loads(run(PROGRAM, "predict", model, *there, "--pressure", pressure, "--spacers", spacers, "--json"))
        x, y = said["travel_mm"], said["midline_N"]

        def at(travel_mm):
            i = min(max(bisect.bisect(x, travel_mm) - 1, 0), len(x) - 2)
            return y[i] + (y[i + 1] - y[i]) * (travel_mm - x[i]) / (x[i + 1] - x[i])
        return at

    a, b = (midline_N(model, *setting) for model, setting in zip(models, settings))
    worst_N = max(abs(a(x) - b(x) - d) for x, d in zip(found["travel_mm"], found["difference_N"]))
    assert len(found["travel_mm"]) > 50 and worst_N < 1e-6, worst_N
    here = json.loads(run(PROGRAM, "compare", *models, "--pressure-a", "82 psi", "--spacers-a", 1, "--pressure-b", "76 psi", "--spacers-b", 0,
                          "--json"))["difference"]
    assert max(abs(a - b) for a, b in zip(here["difference_N"], found["difference_N"])) > 2.0, "the place makes no difference"
    print(f"compared at a place: {worst_N:.2g} N from the predictions there")


def main():
    with tempfile.TemporaryDirectory(prefix="springwright-") as temporary:
        workshop = pathlib.Path(temporary) / "demo"
        answer = json.loads(run(PROGRAM, "demo", workshop, "--json", "--forks", SOURCE / "controller/virtual_rig/forks"))
        assert pathlib.Path(answer["report"]).is_file()
        check_schemas(workshop)
        model = workshop / "models/larch_160.json"
        predicted = []
        for pressure, pressure_Pa, spacers in (("70 psi", 70 * 6894.757293168362, 0), ("5.5 bar", 550000.0, 2)):
            found = json.loads(run(PROGRAM, "predict", model, "--pressure", pressure, "--spacers", spacers, "--json"))
            predicted.append((([x / 1e3 for x in found["travel_mm"]], pressure_Pa, spacers), found["spring_N"]))
        check_python(workshop / "sweeps/larch_160-70psi-2.csv", model, predicted, workshop / "loop.png")
        check_octave(model, predicted, workshop)
        check_comparison(workshop)


main()
