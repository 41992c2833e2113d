"""Reads Springwright's files without Springwright: a sweep record's loop, and a fitted model's slow spring.

Import it into a notebook, or run it:

    springwright_files.py RECORD.csv MODEL.json [FIGURE.png]

draws the record's loop and the model at the record's setting. numpy, pandas and matplotlib are all it needs.
"""

import json
import math
import sys

import numpy as np
import pandas as pd

AIR_GAS_CONSTANT_J_KGK = 287.05287  # ISO 2533
UNIT_SI = {"1": 1.0, "N": 1.0, "s": 1.0, "mm": 1e-3, "cm3": 1e-6, "mm2": 1e-6, "kPa": 1e3, "N/bar": 1e-5, "N/mm": 1e3,
           "N s/m": 1.0, "mm/s": 1e-3}
ASSUMED_STANCHION_M = 0.034  # where the fork file names none, as the program assumes
ASSUMED_BUMPER_M = 0.010
CORNER_WIDTH_M = 5e-4


def read_record(path):
    """RETURNS (rows, about): a data frame with time_s, stroke, travel_mm, force_N, and the metadata's own part."""
    rows = pd.read_csv(path)
    with open(f"{path}-metadata.json", encoding="utf-8") as file:
        about = json.load(file)["springwright"]
    return rows, about


def read_model(path):
    """RETURNS the model, with its law's values in SI under "SI". Raises ValueError where it is not usable."""
    with open(path, encoding="utf-8") as file:
        model = json.load(file)
    if not model["usable"]:
        raise ValueError(f"{path}: the fit is marked as not usable: {model['warnings']}")
    model["SI"] = {each["name"]: each["value"] * UNIT_SI[each["unit"]] for each in model["law"]["values"]}
    return model


def _circle_m2(diameter_m):
    return math.pi / 4 * diameter_m**2


def _ramp_m(u_m):
    return 0.5 * (u_m + np.sqrt(u_m**2 + CORNER_WIDTH_M**2))


def slow_spring_N(model, travel_m, pressure_gauge_Pa=0.0, spacers=0, temperature_K=None, ambient_pressure_Pa=None):
    """The spring alone, pressed so slowly that its gas keeps the room's temperature, without friction.

    travel_m: array of M; RETURNS M forces in newtons. What is not given is as in the fitted sweeps. The law is that of
    fitting/METHOD.md: each chamber is an ideal gas, joined to the other within the transfer port's band.
    """
    p, fork, context = model["SI"], model["fork"], model["context"]
    x = np.asarray(travel_m, dtype=float)
    T = context["temperature_K"] if temperature_K is None else temperature_K
    ambient = context["ambient_pressure_Pa"] if ambient_pressure_Pa is None else ambient_pressure_Pa
    air = fork["kind"] in ("air", "air_shock")
    legs = fork["kind"] in ("air", "coil")
    shaft = fork["air_spring"]["shaft_diameter_m"] if air else 0.0
    force = np.full_like(x, p["preload"]) + p["damper_gas"] * x / fork["travel_m"]

    if air:
        piston = math.pi / 4 * p["piston_diameter"]**2
        annulus = piston - _circle_m2(shaft)
        V_p = lambda at: p["positive_volume"] - spacers * p["spacer_volume"] - piston * at
        V_n = lambda at: p["negative_volume"] + annulus * at
        pumped = pressure_gauge_Pa * p["pressure_scale"] + p["fill_error"] + ambient
        RT = AIR_GAS_CONSTANT_J_KGK * T
        low = max(p["transfer_travel"] - p["transfer_band"] / 2, 0.0)
        high = p["transfer_travel"] + p["transfer_band"] / 2
        m_p = pumped * V_p(0.0) / RT
        m_n = pumped * V_p(0.0) / V_p(low) * V_n(low) / RT
        # Beyond the band's low end the chambers share what both hold, at the place where they were joined last.
        joined = np.minimum(x, high)
        share = V_p(joined) / (V_p(joined) + V_n(joined))
        positive = np.where(x <= low, m_p, (m_p + m_n) * share) * RT / V_p(x)
        negative = np.where(x <= low, m_n, (m_p + m_n) * (1 - share)) * RT / V_n(x)
        force += (positive - ambient) * piston - (negative - ambient) * annulus
    if legs:
        stanchion = fork["lower_legs"].get("stanchion_diameter_m", ASSUMED_STANCHION_M)
        area = 2 * _circle_m2(stanchion) - _circle_m2(shaft) - p["damper_rod_area"]
        V_l = lambda at: p["lower_leg_volume"] - area * at
        m_l = context["vented_pressure_Pa"] * V_l(context["vented_at_m"]) / (AIR_GAS_CONSTANT_J_KGK * context["vented_temperature_K"])
        force += (m_l * AIR_GAS_CONSTANT_J_KGK * T / V_l(x) - ambient) * area
    if not air:
        force += p["coil_rate"] * x + p["added_rate"] * _ramp_m(x - p["added_rate_from"])
        force -= p["top_out_rate"] * _ramp_m(p["top_out_travel"] - x)
    bumper = fork.get("bumper_m", ASSUMED_BUMPER_M)
    if bumper > 0:
        force += p["bumper_force"] * np.clip((x - (fork["travel_m"] - bumper)) / bumper, 0, None)**2
    return force


def draw(rows, about, model, path):
    """The loop as it was measured, and the model's slow spring at its setting."""
    import matplotlib
    matplotlib.use("Agg")
    import matplotlib.pyplot as plt
    setting = about["setting"]
    travel_m = np.linspace(0, rows["travel_mm"].max() / 1e3, 400)
    figure, axes = plt.subplots(figsize=(8, 5), constrained_layout=True)
    axes.plot(rows["travel_mm"], rows["force_N"], linewidth=0.8, color="0.55", label="measured")
    axes.plot(travel_m * 1e3, slow_spring_N(model, travel_m, setting["pressure_gauge_Pa"], setting["spacers"]), "k--",
              label="model: slow spring, no friction")
    axes.set(xlabel="travel (mm)", ylabel="force (N)", title=f"{about['fork']['name']}, {setting['pressure_gauge_Pa'] / 6894.757:.0f} psi")
    axes.legend()
    figure.savefig(path, dpi=120)


if __name__ == "__main__":
    if len(sys.argv) not in (3, 4):
        sys.exit(__doc__)
    record, about = read_record(sys.argv[1])
    fitted = read_model(sys.argv[2])
    print(f"{about['fork']['name']}: {len(record)} rows, {record['stroke'].nunique()} strokes, up to {record['force_N'].max():.0f} N")
    for travel_mm in (0, 40, 80, 120):
        force_N = slow_spring_N(fitted, [travel_mm / 1e3], about["setting"]["pressure_gauge_Pa"], about["setting"]["spacers"])[0]
        print(f"{travel_mm:4d} mm  {force_N:8.2f} N")
    if len(sys.argv) == 4:
        draw(record, about, fitted, sys.argv[3])
