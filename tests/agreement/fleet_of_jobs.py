"""Thirty invented vehicles, a fifth of them weak in one point, to be mended.

`python tests/agreement/fleet_of_jobs.py --seed 1` mends all of them and tells what came of it.
"""

import argparse
import random
import time
from collections.abc import Callable

from msgspec.structs import replace

from sunhitch import build
from sunhitch.types.array import ConnectorRatings, DrawnArray
from sunhitch.types.fitout import FitOutPanelType, FitOutRequest
from sunhitch.types.mount import Adhesive, AdhesiveFeet, SheetProperties
from sunhitch.types.revision import FitOutChangeAnswer, FitOutChangeRequest
from sunhitch.types.roof import RoundObstacle
from sunhitch_service.engine.fitout.calculation import fit_out
from sunhitch_service.engine.revision.calculation import fit_out_change

VEHICLES = 30
Weakened = Callable[[FitOutRequest], FitOutRequest]

SHEETS = {
    100: (1.06, 0.54, 2.1, 20.4, 4.9, 24.4, 5.25),
    115: (1.18, 0.54, 2.3, 19.2, 5.99, 22.9, 6.4),
    160: (1.48, 0.67, 3.4, 20.1, 7.96, 24.0, 8.5),
}
FRAMES = {
    100: (1.02, 0.51, 6.1, 18.6, 5.38, 22.3, 5.8),
    175: (1.49, 0.67, 10.5, 19.4, 9.02, 23.2, 9.6),
}


def ordinary(rng: random.Random, number: int) -> FitOutRequest:
    """A vehicle with a usual kit."""
    rigid = rng.random() < 0.4
    power, (length, width, mass, v_mp, i_mp, v_oc, i_sc) = rng.choice(
        list((FRAMES if rigid else SHEETS).items())
    )
    body = (build.framed if rigid else build.sheet)(length, width, mass)
    panel = build.panel(
        p_mp_w=power,
        v_mp_v=v_mp,
        i_mp_a=i_mp,
        v_oc_v=v_oc,
        i_sc_a=i_sc,
        cells_in_series=36,
        max_series_fuse_a=15.0,
        max_system_voltage_v=600.0,
        body=body,
    )
    roof = (round(rng.uniform(3.6, 5.6), 2), round(rng.uniform(1.7, 2.1), 2))
    vent = RoundObstacle(
        name="vent",
        x_m=round(rng.uniform(1.0, roof[0] - 1.0), 2),
        y_m=round(roof[1] / 2, 2),
        diameter_m=0.35,
        height_m=0.1,
    )
    made = build.fit_out(
        f"Fleet vehicle {number}",
        panel=panel,
        panels=rng.choice([2, 2, 3, 4]),
        roof_m=roof,
        controller=build.mppt(100.0, rng.choice([30.0, 50.0]), rng.choice([35.0, 60.0])),
        battery=build.battery(rng.choice([100.0, 200.0, 300.0]), cold_charging="lock-out"),
        vehicle=rng.choice(["trailer", "motor-vehicle"]),
        roof_rating_kg=rng.choice([75.0, 100.0, 150.0]),
        obstacles=[vent],
        panel_rating_pa=3600.0 if rigid else 2400.0,
        speed_m_s=rng.choice([25.0, 27.8, 33.3]),
        ambient_c=(rng.choice([-20.0, -10.0]), rng.choice([32.0, 38.0])),
        rules=rng.choice(["nec-2020", "nec-2023", "iec"]),
    )
    # Storm of a sheltered place, and the roof's own load when parked, from the vehicle's papers.
    travel = replace(made.travel, storm_gust_m_s=rng.choice([28.0, 33.0]), storm_exposure="b")
    vehicle = replace(made.vehicle, roof_static_rating_kg=rng.choice([300.0, 400.0]))
    cables = replace(made.cables, cable_diameter_mm=6.2)
    return replace(made, travel=travel, vehicle=vehicle, cables=cables)


def _held(job: FitOutRequest, **values: object) -> FitOutRequest:
    def one(kind: FitOutPanelType) -> FitOutPanelType:
        assert isinstance(kind.mounting, AdhesiveFeet)
        return replace(kind, mounting=replace(kind.mounting, **values))

    return replace(job, panel_types=[one(kind) for kind in job.panel_types])


def _rated(job: FitOutRequest, **values: float) -> FitOutRequest:
    def one(kind: FitOutPanelType) -> FitOutPanelType:
        return replace(kind, sheet=replace(kind.sheet or SheetProperties(), **values))

    return replace(job, panel_types=[one(kind) for kind in job.panel_types])


def _few_feet(job: FitOutRequest) -> FitOutRequest:
    held = job.panel_types[0].mounting
    assert isinstance(held, AdhesiveFeet)
    corners = sorted(held.feet, key=lambda foot: (foot.x_m, foot.y_m))
    return _held(job, feet=[corners[0], corners[-1], corners[1]])


def _controlled(job: FitOutRequest, **values: float) -> FitOutRequest:
    return replace(job, controllers=[replace(one, **values) for one in job.controllers])


def _each_alone(job: FitOutRequest) -> DrawnArray:
    """Every panel in parallel with the others."""
    placed = fit_out(job).roof.placements
    strings = [[place.panel] for place in placed]
    return DrawnArray(controller=job.controllers[0].name, strings=strings)


WEAK: dict[str, Weakened] = {
    "few-feet": _few_feet,
    "small-pads": lambda job: _held(job, pad_length_m=0.05, pad_width_m=0.05),
    "low-input": lambda job: _controlled(job, max_input_voltage_v=22.0),
    "small-branches": lambda job: replace(
        job, connectors=ConnectorRatings(branch_current_a=6.0), drawn=[_each_alone(job)]
    ),
    "short-circuit": lambda job: _controlled(job, max_input_short_circuit_a=5.0),
    "short-rest": lambda job: _held(
        job, adhesive=Adhesive(kind="acrylic-foam-tape", hours_before_driving=2.0)
    ),
    "fast": lambda job: replace(job, travel=replace(job.travel, road_speed_m_s=45.0)),
    "small-plugs": lambda job: replace(job, connectors=ConnectorRatings(plug_current_a=5.0)),
    "cold-bonding": lambda job: _held(
        job, adhesive=Adhesive(kind="acrylic-foam-tape", application_c=2.0)
    ),
    "unprotected-cold": lambda job: replace(
        job, battery=replace(job.battery, cold_charging="unprotected")
    ),
    "weak-roof": lambda job: replace(job, vehicle=replace(job.vehicle, roof_rating_kg=14.0)),
    "trodden": lambda job: replace(
        _rated(job, step_rating_n=300.0), travel=replace(job.travel, stepped_on=True)
    ),
    "desert": lambda job: replace(
        job, site=replace(job.site, highest_ambient_c=56.0), rules="nec-2023"
    ),
    "small-sleeves": lambda job: replace(
        job, connectors=ConnectorRatings(largest_conductor_mm2=1.0)
    ),
}
"""Ways to be weak in one point; each fleet has as many of them as a fifth of its vehicles."""


def fleet(seed: int) -> list[tuple[FitOutRequest, str]]:
    """Every vehicle, and how it was weakened; empty where it was not."""
    rng = random.Random(seed)
    jobs = [ordinary(rng, number) for number in range(1, VEHICLES + 1)]
    ways = rng.sample(list(WEAK), VEHICLES // 5)
    weak = dict(zip(rng.sample(range(VEHICLES), len(ways)), ways, strict=True))
    return [
        (WEAK[weak[i]](job) if i in weak else job, weak.get(i, "")) for i, job in enumerate(jobs)
    ]


def mended(job: FitOutRequest) -> FitOutChangeAnswer:
    """What mends a vehicle."""
    return fit_out_change(FitOutChangeRequest(job=job))


def main() -> None:
    """Mend a whole fleet."""
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--seed", type=int, default=1)
    failing, good, seconds = 0, 0, [0.0]
    for job, weak in fleet(parser.parse_args().seed):
        start = time.process_time()
        answer = mended(job)
        seconds.append(time.process_time() - start)
        if answer.before.verdict == "fail":
            failing += 1
            good += answer.after.verdict in ("pass", "review")
        told = "; ".join(change.text for change in answer.changes)
        left = ", ".join(dict.fromkeys(check.code for check in answer.after.failing))
        print(
            f"{job.title:20s} {weak:10s} {answer.before.verdict:12s} -> {answer.after.verdict:12s} "
            f"{seconds[-1]:5.1f} s  {told} {left}"
        )
    print(f"{good} of {failing} failing ones reach pass or review; longest {max(seconds):.1f} s")


if __name__ == "__main__":
    main()
