"""Candidates in one call: each as if asked alone, with its price, its mass and its rivals."""

import xml.etree.ElementTree as ET
from typing import Any

import msgspec
import numpy as np
import pytest
from harvest_builders import PLATE, array, heading, panel, placed, study

from sunhitch.types.harvest import (
    BatteryUse,
    HarvestAlternative,
    HarvestComparison,
    HarvestRequest,
    Load,
)
from sunhitch.types.panel import PanelType
from sunhitch_service.drawing.trade_offs import trade_offs
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.harvest.calculation import harvest
from sunhitch_service.engine.harvest.compare import beaten_by

LAMP = Load(name="lamp", power_w=90.0)
SHORT = msgspec.structs.replace(study().weather, synthetic_years=0)
SMALL = msgspec.structs.replace(
    panel(), electrical=msgspec.structs.replace(PLATE, p_mp_w=80.0, i_mp_a=80 / 19.2, i_sc_a=4.5)
)
TINY = msgspec.structs.replace(study().battery, capacity_ah=20.0, price=90.0, mass_kg=3.0)
THREE = placed((1.0, 0.2), (1.0, 1.2), (3.0, 0.2))


def sheets(price: float | None, of: Any = None) -> list[PanelType]:
    return [PanelType(name="sheet", panel=of or panel(), price=price)]


def asked(*candidates: HarvestAlternative, **changes: Any) -> HarvestRequest:
    bank = msgspec.structs.replace(study().battery, capacity_ah=200.0, price=900.0, mass_kg=24.0)
    given = {"weather": SHORT, "loads": [LAMP], "battery": bank, "panel_types": sheets(150.0)}
    return study(compare=list(candidates), **{**given, **changes})


CANDIDATES = [
    HarvestAlternative(name="small", panel_types=sheets(100.0, SMALL)),
    HarvestAlternative(
        name="three",
        placements=THREE,
        arrays=[array([["p0"], ["p1"], ["p2"]])],
        other_price=20.0,
        other_mass_kg=0.5,
    ),
    HarvestAlternative(name="tiny", battery=TINY),
    HarvestAlternative(name="half full", battery_use=BatteryUse(start_state_fraction=0.3)),
    HarvestAlternative(name="turned", parking=heading(90.0, pitch_deg=10.0)),
]


def test_each_candidate_is_what_it_is_when_asked_alone() -> None:
    """Panels, places, wiring, battery and heading of a candidate as a request of its own."""
    together = {line.name: line for line in harvest(asked(*CANDIDATES)).comparison}
    for candidate in CANDIDATES:
        fields = ("panel_types", "placements", "arrays", "battery", "battery_use", "parking")
        changes = {f: getattr(candidate, f) for f in fields if getattr(candidate, f)}
        alone, line = harvest(asked(**changes)), together[candidate.name]
        assert line.charged_wh == pytest.approx(alone.charged_wh, rel=1e-4)
        assert line.hours_without_power == pytest.approx(alone.battery.hours_without_power, abs=0.1)
        assert line.panel_power_w == pytest.approx(alone.panel_power_w)
    assert together["tiny"].hours_without_power > together["as given"].hours_without_power + 1.0


def test_price_and_mass_are_those_of_the_parts() -> None:
    """Controllers without a figure are the same in all: left out; another one would be unknown."""
    found = {line.name: line for line in harvest(asked(*CANDIDATES)).comparison}
    assert {name: (line.price, line.mass_kg) for name, line in found.items()} == {
        "as given": (1200.0, 28.0),
        "small": (1100.0, 28.0),
        "three": (1370.0, 30.5),
        "tiny": (390.0, 7.0),
        "half full": (1200.0, 28.0),
        "turned": (1200.0, 28.0),
    }
    other = HarvestAlternative(name="other", arrays=[array([["p0"], ["p1"]], start_margin_v=4.0)])
    found = {line.name: line for line in harvest(asked(other)).comparison}
    assert found["other"].price is None
    assert found["as given"].price is None
    free = asked(CANDIDATES[0], panel_types=sheets(None), battery=study().battery)
    priced = {line.name: line.price for line in harvest(free).comparison}
    assert priced == {"as given": None, "small": 200.0}


def test_who_beats_whom_holds_by_its_definition() -> None:
    """Random candidates against the definition, written as comparisons of a matrix."""
    random = np.random.default_rng(5)
    for _ in range(20):
        values = random.integers(0, 4, (12, 4)).astype(float)
        lines = [
            HarvestComparison(
                rank=1,
                name=str(k),
                available_wh=row[0],
                charged_wh=0.0,
                served_wh=0.0,
                hours_without_power=row[1],
                panel_power_w=1.0,
                price=row[2] if row[2] < 3.0 else None,
                mass_kg=row[3],
                beaten_by="",
                against_given_fraction=0.0,
                reason="",
            )
            for k, row in enumerate(values.tolist())
        ]
        good = np.where(values < 3.0, values, 3.0) * (1.0, -1.0, -1.0, -1.0)
        good[:, 2] = np.where(values[:, 2] < 3.0, -values[:, 2], -np.inf)
        for k, line in enumerate(lines):
            better = (good >= good[k]).all(axis=1) & (good > good[k]).any(axis=1)
            found = beaten_by(line, lines)
            assert better[int(found)] if found else not better.any()


def test_candidates_that_contradict_themselves_are_told_at_their_place() -> None:
    wrong = [
        HarvestAlternative(name="nothing", other_price=3.0),
        HarvestAlternative(name="unwired", placements=THREE[:1]),
        HarvestAlternative(
            name="unknown",
            placements=[msgspec.structs.replace(THREE[0], panel_type="plate"), *THREE[1:]],
        ),
        HarvestAlternative(
            name="bare",
            panel_types=[
                PanelType(name="sheet", panel=msgspec.structs.replace(panel(), body=None))
            ],
        ),
    ]
    with pytest.raises(ContradictionError) as caught:
        harvest(asked(*wrong))
    assert [fault.pointer for fault in caught.value.faults] == [
        "/compare/0",
        "/compare/1/arrays",
        "/compare/2/placements/0/panel_type",
        "/compare/3/panel_types/0/panel/body",
    ]


def test_the_picture_shows_every_candidate_to_scale() -> None:
    answer = harvest(asked(*CANDIDATES))
    root = ET.fromstring(trade_offs(asked(*CANDIDATES), answer))  # noqa: S314 - our own picture
    dots = [e for e in root.iter() if e.get("data-kind") in ("good", "missed")]
    lines = answer.comparison
    assert len(dots) == 4 * len(lines)
    first = dots[: len(lines)]
    assert [dot.get("data-kind") == "missed" for dot in first] == [
        bool(line.beaten_by) for line in lines
    ]
    corners = [[corner.split(",") for corner in dot.get("points").split()] for dot in first]
    x, y = np.array(corners, dtype=float).mean(axis=1).T
    price = np.array([line.price for line in lines])
    energy = np.array([line.available_wh for line in lines])
    for shown, value in ((x, price), (-y, energy)):
        apart = np.ptp(value) / np.ptp(shown)
        assert shown - shown[0] == pytest.approx((value - value[0]) / apart, abs=0.2)


def test_the_summary_names_all_that_none_beats() -> None:
    """A small battery costs and weighs less and leaves more hours without power."""
    answer = harvest(asked(HarvestAlternative(name="tiny", battery=TINY)))
    (line,) = [one for one in answer.summary if getattr(one, "code", "") == "beaten-by-none"]
    assert sorted(line.parameters["names"]) == ["as given", "tiny"]
