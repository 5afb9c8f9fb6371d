"""The documents of every van of a fleet, and one order for all: `fleet.py vans.csv documents`."""

import csv
import sys
from pathlib import Path

from sunhitch import Client, RequestRejectedError, build
from sunhitch.types import FitOutAnswer, FitOutRequest

panel = build.panel(
    p_mp_w=115, v_mp_v=19.2, i_mp_a=5.99, v_oc_v=22.9, i_sc_a=6.4, cells_in_series=36,
    max_series_fuse_a=15, max_system_voltage_v=600, body=build.framed(1.18, 0.54, mass_kg=8.0),
)  # fmt: skip


def job(van: dict[str, str]) -> FitOutRequest:
    return build.fit_out(
        van["plate"], panel=panel, panels=int(van["panels"]), panel_rating_pa=3600.0,
        roof_m=(float(van["roof_length_m"]), float(van["roof_width_m"])), roof_rating_kg=100.0,
        controller=build.mppt(100.0, 30.0, 35.0), ambient_c=(-20.0, 36.0),
        battery=build.battery(float(van["battery_ah"]), cold_charging="lock-out"),
    )  # fmt: skip


vans, out = (Path(path) for path in sys.argv[1:])
client, fits = Client.embedded(), list[FitOutAnswer]()
for van in csv.DictReader(vans.read_text("utf-8").splitlines()):
    try:
        fit = client.fit_out(job(van), views=["work-sheet", "roof-plan", "wiring-diagram", "parts"])
    except RequestRejectedError as fault:
        print(van["plate"], fault)
        continue
    fit.save(out / f"{van['plate']}.html")
    fit.save(out / f"{van['plate']}-roof.svg", "roof-plan")
    fit.save(out / f"{van['plate']}-wiring.svg", "wiring-diagram")
    fit.save(out / f"{van['plate']}-parts.csv", "parts")
    print(van["plate"], fit.verdict, *(check.remedy for check in fit.checks if check.remedy))
    fits.append(fit)
for part in fits[0].parts(*fits[1:]) if fits else []:
    print(f"{part.amount:g} {part.unit} {part.name} [{part.key}]")
