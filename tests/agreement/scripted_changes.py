"""Sixty changes of a job under way: add, move, lose, replace, restrict.

`python tests/agreement/scripted_changes.py` carries out all of them and tells what came of each.
"""

import sys
import time
from collections.abc import Iterator

from msgspec.structs import replace

from sunhitch import examples
from sunhitch.types.fitout import FitOutRequest, PartInWork
from sunhitch.types.revision import (
    AddedPanels,
    FitOutChangeAnswer,
    FitOutChangeRequest,
    WantedValue,
)
from sunhitch.types.wiring import ConductorSize
from sunhitch_service.engine.revision.calculation import fit_out_change

FIXED_PANELS = ("front-left", "rear-left")
FIXED = [
    *(PartInWork(part="panel", name=name, state="fixed") for name in FIXED_PANELS),
    PartInWork(part="controller", state="owned"),
]
VENT, HATCH = "/roof/obstacles/0", "/roof/obstacles/1"
DOME = {"kind": "round", "name": "dome", "diameter_m": 0.2, "height_m": 0.08}
BATTERY_FUSE = {"line": "controller-to-battery", "family": "battery-stud"}


def _said(part: str, state: str = "owned", **of: object) -> tuple[tuple[str, object], ...]:
    """Something that is said of parts, as a wanted value."""
    return (("/parts/-", {"part": part, "state": state} | of),)


VALUES: dict[str, tuple[tuple[str, object], ...]] = {
    **{f"vent {mm} mm further back": ((f"{VENT}/x_m", 2.15 + mm / 1000),) for mm in (10, 40, 90)},
    **{f"vent {mm} mm further front": ((f"{VENT}/x_m", 2.15 - mm / 1000),) for mm in (40, 120)},
    **{f"vent {mm} mm to the right": ((f"{VENT}/y_m", 0.95 + mm / 1000),) for mm in (30, 110, 200)},
    "vent larger": ((f"{VENT}/diameter_m", 0.5),),
    "vent needs more room": ((f"{VENT}/clearance_m", 0.15),),
    "hatch to the right": ((f"{HATCH}/y_m", 0.85),),
    "hatch further back": ((f"{HATCH}/x_m", 4.0),),
    "hatch wider": ((f"{HATCH}/width_m", 0.6),),
    "hatch turned": ((f"{HATCH}/turned_deg", 20.0),),
    "roof narrower": (("/roof/outline/width_m", 1.82),),
    "roof shorter": (("/roof/outline/length_m", 5.0),),
    "more room at the sides": (("/roof/margins/side_m", 0.08),),
    "more room between panels": (("/min_gap_m", 0.06),),
    "right panel set back": (("/placements/1/x_m", 1.2),),
    "right panel turned": (("/placements/1/rotated", True),),
    **{f"only {awg} AWG left": _said("cable", size={"awg": awg}) for awg in ("10", "6")},
    "only 16 mm² left": _said("cable", size={"area_mm2": 16.0}),
    "M20 glands at hand": _said("gland", gland="M20"),
    "longer way to the battery": (("/cables/controller_to_battery_m", 3.0),),
    "longer way to the controller": (("/cables/entry_to_controller_m", 6.0),),
    "hot inside": (("/cables/inside_ambient_c", 55.0),),
    "a 40 A battery fuse": _said("fuse", **BATTERY_FUSE, rating_a=40.0),
    "a 300 A battery fuse": _said("fuse", **BATTERY_FUSE, rating_a=300.0),
    "a 37 A battery fuse sits": _said("fuse", "fixed", **BATTERY_FUSE, rating_a=37.0),
    "15 A string fuses": _said("fuse", line="pv-string", rating_a=15.0),
    "20 A plugs": (("/connectors/plug_current_a", 20.0),),
    "smaller branches": (("/connectors/branch_current_a", 15.0),),
    "another controller": (("/controllers/0/max_input_voltage_v", 75.0),),
    "a weaker controller": (("/controllers/0/max_output_current_a", 20.0),),
    "another battery": (("/battery/capacity_ah", 100.0),),
    "a battery without lock-out": (("/battery/cold_charging", "unprotected"),),
    "a colder place": (("/site/lowest_ambient_c", -30.0),),
    "a hotter place": (("/site/highest_ambient_c", 45.0),),
    "faster": (("/travel/road_speed_m_s", 36.0),),
    "a stormier place": (("/travel/storm_gust_m_s", 38.0),),
    "rules of another country": (("/rules", "iec"),),
    "a weaker roof": (("/vehicle/roof_static_rating_kg", 260.0),),
    "a wiring as drawn": (
        (
            "/drawn",
            [
                {
                    "controller": "controller-1",
                    "strings": [["front-left", "rear-left"], ["front-right", "rear-right"]],
                }
            ],
        ),
    ),
}
STATES: dict[str, tuple[PartInWork, ...]] = {
    **{
        f"{name} unavailable": (PartInWork(part="panel", name=name, state="unavailable"),)
        for name in ("front-right", "rear-right")
    },
    "W2 lies, thin": (
        PartInWork(part="cable", name="W2", state="fixed", size=ConductorSize(awg="10")),
    ),
    "all cables lie": (PartInWork(part="cable", state="fixed"),),
    "F1 sits": (PartInWork(part="fuse", name="F1", state="fixed"),),
    "F1 blew, none left": (PartInWork(part="fuse", name="F1", state="unavailable"),),
    "a weak disconnect sits": (PartInWork(part="disconnect", state="fixed", rating_a=10.0),),
    "60 A disconnects owned": (PartInWork(part="disconnect", state="owned", rating_a=60.0),),
    "no glands": (PartInWork(part="gland", state="unavailable"),),
    "plugs of 20 A on": (PartInWork(part="plug", state="fixed", rating_a=20.0),),
    "no such branches": (PartInWork(part="branch-connector", state="unavailable"),),
    "a foot short": (
        PartInWork(part="foot", name="rear-right", number=2, state="unavailable"),
        PartInWork(part="foot", name="rear-right", number=3, state="fixed"),
    ),
}
ADDED = (1, 2)


def scripted() -> Iterator[tuple[str, FitOutChangeRequest]]:
    """Every change with its name."""
    job = examples.load("fit-out")
    assert isinstance(job, FitOutRequest)
    for name, values in VALUES.items():
        yield name, _asked(job, values)
    for x_m, y_m in ((0.4, 0.95), (4.6, 0.4), (3.2, 1.6), (1.6, 0.95)):
        obstacles = [*job.roof.obstacles, {**DOME, "x_m": x_m, "y_m": y_m}]
        yield f"a dome at {x_m}, {y_m}", _asked(job, (("/roof/obstacles", obstacles),))
    for name, parts in STATES.items():
        yield name, FitOutChangeRequest(job=_stands(job, *parts), goal=GOAL)
    for number in ADDED:
        added = [AddedPanels(panel_type="sheet-115", number=number)]
        yield (
            f"{number} panels more",
            FitOutChangeRequest(job=_stands(job), add_panels=added, goal=GOAL),
        )


GOAL = "no-new-failure"


def _stands(job: FitOutRequest, *parts: PartInWork) -> FitOutRequest:
    """The job with both panels on the left glued, and what else is said of its parts."""
    return replace(job, parts=[*FIXED, *parts])


def _asked(job: FitOutRequest, values: tuple[tuple[str, object], ...]) -> FitOutChangeRequest:
    wanted = [WantedValue(pointer=pointer, value=value) for pointer, value in values]
    return FitOutChangeRequest(job=_stands(job), values=wanted, goal=GOAL)


def told(name: str, answer: FitOutChangeAnswer, seconds: float) -> str:
    """One line about a change."""
    beyond = "; ".join(change.text for change in answer.changes if not change.wanted)
    left = ", ".join(dict.fromkeys(check.code for check in answer.after.failing))
    nearest = f" NEAREST {answer.nearest.summary}" if answer.nearest else ""
    return f"{name:32s} met={answer.met!s:5} {seconds:4.1f} s  {beyond} {left}{nearest}"


def main() -> None:
    """Carry out all of them, or those whose names hold a word."""
    met, longest = 0, 0.0
    word = sys.argv[1] if len(sys.argv) > 1 else ""
    for name, asked in (one for one in scripted() if word in one[0]):
        start = time.process_time()
        answer = fit_out_change(asked)
        longest = max(longest, time.process_time() - start)
        met += answer.met
        print(told(name, answer, time.process_time() - start))
    print(f"{met} of {len(list(scripted()))} met; longest {longest:.1f} s")


if __name__ == "__main__":
    main()
