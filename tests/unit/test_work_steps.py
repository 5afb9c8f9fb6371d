"""Order of work, readings, hours, tools, cost and consumables of a fit-out."""

import copy
import json
from datetime import datetime, timedelta
from importlib import resources
from typing import Any, get_args

import msgspec
import pytest
from shipped import fit_out

from sunhitch import Client
from sunhitch.operations import FIT_OUT
from sunhitch.texts.templates import words
from sunhitch.types import FitOutAnswer, FitOutRequest, WorkStep
from sunhitch.types.parts import PartKind
from sunhitch_service.calculations import calculation_of
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.fitout.steps import all_steps
from sunhitch_service.engine.tables import table

pytestmark = pytest.mark.usefixtures("parts_kept")

EXAMPLE = json.loads(resources.files("sunhitch").joinpath("examples/fit-out.json").read_text())
PANEL = EXAMPLE["panel_types"][0]["panel"]
PLATE = PANEL["electrical"]


def built(work: dict[str, Any] | None = None, **changes: Any) -> FitOutAnswer:
    body = json.loads(json.dumps(EXAMPLE)) | changes
    body["work"] = work or {}
    return fit_out(msgspec.convert(body, FitOutRequest))


def with_mounting(**changes: Any) -> dict[str, Any]:
    kinds = json.loads(json.dumps(EXAMPLE["panel_types"]))
    kinds[0] |= changes
    return {"panel_types": kinds}


def spacer_verdicts(answer: FitOutAnswer) -> set[str]:
    found = {c.verdict for c in answer.checks if "spacer" in (c.subject or "")}
    assert found
    return found


def step(answer: FitOutAnswer, code: str) -> WorkStep:
    return next(one for one in answer.work_steps if one.code == code)


@pytest.fixture(scope="module")
def shipped() -> FitOutAnswer:
    return built()


@pytest.mark.parametrize(("light", "cell_c"), [(800.0, 45.0), (430.0, 12.0), (1010.0, 61.0)])
def test_the_bench_reads_what_the_flat_questions_say(light: float, cell_c: float) -> None:
    answer = built({"bench_irradiance_w_m2": light, "bench_cell_c": cell_c})
    given = {k: PLATE[k] for k in ("v_mp_v", "i_mp_a", "v_oc_v", "i_sc_a", "cells_in_series")}
    coefficients = {k: v for k, v in PLATE.items() if k.endswith("_fraction_per_c")}
    quick, now = Client.embedded().quick, {"irradiance_w_m2": light, "cell_c": cell_c}
    meter = quick.meter_reading(**given, **now, **coefficients)
    volts, amperes = step(answer, "try-panels").readings
    assert (volts.quantity, volts.unit) == ("open-circuit-voltage", "V")
    told = volts.low, volts.expected, volts.high, amperes.low, amperes.expected, amperes.high
    assert told == pytest.approx(
        (
            meter.open_circuit_low_v,
            meter.open_circuit_v,
            meter.open_circuit_high_v,
            meter.short_circuit_low_a,
            meter.short_circuit_a,
            meter.short_circuit_high_a,
        ),
        rel=1e-4,
    )
    (half,) = step(answer, "half-cover").readings
    assert half.low is not None
    assert half.expected is not None
    assert half.high is not None
    assert half.low < half.expected < half.high
    # The diode of the dark half leads the current of the other past it.
    assert (half.quantity, half.unit) == ("half-covered-current", "A")
    assert half.expected == pytest.approx(meter.short_circuit_a, rel=0.02)
    construction = EXAMPLE["panel_types"][0]["panel"]["construction"]
    if light == 800.0:
        covered = quick.half_covered(**given, **now, construction=construction)
        told = (half.low, half.expected, half.high)
        assert told == pytest.approx(
            (
                covered.groups_short_circuit_low_a,
                covered.groups_short_circuit_a,
                covered.groups_short_circuit_high_a,
            ),
            rel=0.02,
        )


@pytest.mark.parametrize("construction", ["back-contact-no-diode", "half-cell-3-diodes"])
def test_a_cover_is_asked_for_where_diodes_lead_past_it(construction: str) -> None:
    """A panel without diodes gives next to nothing half covered, however sound it is."""
    plain = copy.deepcopy(EXAMPLE)
    plain["panel_types"][0]["panel"]["construction"] = construction
    answer = fit_out(msgspec.convert(plain, FitOutRequest))
    asked = "half-cover" in {one.code for one in answer.work_steps}
    assert asked == (construction == "half-cell-3-diodes")


def test_work_goes_from_the_bench_to_the_yearly_look(shipped: FitOutAnswer) -> None:
    codes = [one.code for one in shipped.work_steps]
    wanted = [
        "try-panels",
        "half-cover",
        "mark-out-roof",
        "dry-lay",
        "prepare-surface",
        "bond-and-wait",
        "make-cable-entry",
        "run-cables",
        "leak-test",
        "fit-panels",
        "relieve-strain",
        "prove-by-meter",
        "before-first-drive",
        "first-50-km",
        "look-yearly",
    ]
    assert [code for code in codes if code in wanted] == wanted
    assert not {"remove-glued-panel", "clean-old-adhesive", "close-old-holes"} & set(codes)


def test_an_old_roof_is_made_good_first() -> None:
    codes = [one.code for one in built({"old_roof": ["glued-panels", "holes"]}).work_steps]
    first = ["remove-glued-panel", "clean-old-adhesive", "close-old-holes", "try-panels"]
    assert [code for code in codes if code in first] == first


def test_the_panel_nearest_the_entry_is_last_and_what_no_arm_reaches_first() -> None:
    answer = built()
    order = step(answer, "bond-and-wait").subjects
    cables = {place.panel: place.cable_to_entry_m for place in answer.roof.placements}
    assert cables[order[-1]] == min(cables.values())
    assert sorted(order) == sorted(cables)
    assert [cables[name] for name in order] == sorted(cables.values(), reverse=True)
    wide = json.loads(json.dumps(EXAMPLE["placements"]))
    far = next(place for place in wide if place["name"] == order[-1])
    far["y_m"] = 0.75
    moved = built(placements=[far])
    text = step(moved, "bond-and-wait").text
    assert "One panel" in text


def test_rest_and_drive_away_time_hold_at_the_temperature_given() -> None:
    """72 h at 21 °C, twice as long for every 10 K below: 95.0 h at 17 °C."""
    kinds = json.loads(json.dumps(EXAMPLE["panel_types"]))
    for kind in kinds:
        kind["mounting"]["adhesive"]["application_c"] = 17.0
    bonded = "2027-05-03T15:30:00+02:00"
    answer = built({"bonded_at": bonded}, panel_types=kinds)
    bond = step(answer, "bond-and-wait")
    assert bond.waiting_hours == pytest.approx(72.0 * 2.0**0.4, abs=1.0 / 60.0)
    drive = datetime.fromisoformat(bonded) + timedelta(hours=95.0)
    assert drive.isoformat(timespec="minutes") in bond.text
    assert "95 h at 17 °C" in bond.text


def test_a_trapped_spacer_carries_no_load_and_fails_nothing() -> None:
    sheet = {"material": "polypropylene", "thickness_m": 0.004, "mass_kg": 0.5}
    answer = built(**with_mounting(spacer=sheet))
    assert "carries no load" in step(answer, "bond-spacers").text
    assert "fail" not in spacer_verdicts(answer)
    adhesive = EXAMPLE["panel_types"][0]["mounting"]["adhesive"]
    bonded = {
        "kind": "bonded-sheet",
        "adhesive": adhesive,
        "bonded_fraction": 0.8,
        "flap_m": 0.02,
        "vented": True,
    }
    glued = built(**with_mounting(spacer=sheet, mounting=bonded))
    assert "it carries the load" in step(glued, "bond-spacers").text
    assert "fail" in spacer_verdicts(glued)


def test_every_figure_of_a_step_stands_in_its_text(shipped: FitOutAnswer) -> None:
    for one in shipped.work_steps:
        for name, value in one.parameters.items():
            if isinstance(value, str) and value not in ("", "yes"):
                told = words().get(value, value)  # Words that a text names by a key.
                assert " ".join(told.split()) in f"{one.text} {one.hold_until}", name
    keys = {part.key for part in shipped.parts_list}
    assert all(set(one.part_keys) <= keys for one in shipped.work_steps)
    assert keys == {key for one in shipped.work_steps for key in one.part_keys}


def test_steps_parts_times_and_pictures_agree() -> None:
    steps = all_steps()
    assert {one.code for one in steps} == {
        row["step"] for row in table("fitout", "work_times").rows
    }
    assert {kind for one in steps for kind in one.parts} == set(get_args(PartKind))
    drawn = {one.view for one in calculation_of(FIT_OUT).renderings}
    assert {view for one in steps for view in one.views} <= drawn


def test_hours_and_cost_come_from_the_callers_rates_and_prices(shipped: FitOutAnswer) -> None:
    """Cables: 0.3 h, and 0.5 h for each of two."""
    assert step(shipped, "run-cables").hours == pytest.approx(1.3)
    assert shipped.work_cost.total is None
    prices = [{"key": part.key, "price": 2.5} for part in shipped.parts_list]
    times = [{"step": "run-cables", "hours": 4.0}]
    asked = {"labour_per_hour": 60.0, "prices": prices, "times": times, "currency": "CHF"}
    cost = built(asked).work_cost
    assert cost.hours == pytest.approx(shipped.work_cost.hours + 4.0 - 1.3)
    assert cost.labour == pytest.approx(60.0 * cost.hours)
    assert cost.parts == pytest.approx(2.5 * sum(part.amount for part in shipped.parts_list))
    assert cost.total == pytest.approx((cost.labour or 0.0) + (cost.parts or 0.0))
    assert (cost.currency, cost.without_price) == ("CHF", [])
    partly = built(asked | {"prices": prices[:1]}).work_cost
    assert partly.total is None
    assert len(partly.without_price) == len(prices) - 1


def test_what_the_work_uses_up_is_on_the_list(shipped: FitOutAnswer) -> None:
    kinds = {part.kind: part for part in shipped.parts_list}
    wanted = {"abrasive-pad", "cleaner", "wipe", "primer", "sealant", "edge-trim", "spare-fuse"}
    assert wanted <= set(kinds)
    assert kinds["spare-fuse"].rating_a == kinds["fuse"].rating_a
    # 48 pads of 120 × 120 mm are 0.69 m²; 400 mL/m².
    assert (kinds["cleaner"].amount, kinds["cleaner"].unit) == (300.0, "mL")


def test_the_driver_is_told_how_high_the_vehicle_has_become(shipped: FitOutAnswer) -> None:
    """Roof at 2.75 m, feet of 12 mm, panel of 3 mm: 2.765 m, or 108.9 in; rounded up, never down.
    A frame of 35 mm on feet of 60 mm: 2.845 m, or 112.01 in."""
    told = step(shipped, "before-first-drive").text
    assert "15 mm above the roof" in told
    assert "2.77 m (9 ft 1 in) high" in told
    body = PANEL["body"] | {"thickness_m": 0.035, "construction": "framed", "mass_kg": 7.5}
    tall = EXAMPLE["panel_types"][0]["mounting"] | {"standoff_m": 0.06}
    framed = built(**with_mounting(panel=PANEL | {"body": body}, mounting=tall))
    told = step(framed, "before-first-drive").text
    assert "95 mm above the roof" in told
    assert "2.85 m (9 ft 5 in) high" in told


SHEET = {
    "kind": "bonded-sheet",
    "adhesive": {"kind": "acrylic-foam-tape"},
    "bonded_fraction": 0.6,
    "flap_m": 0.01,
    "vented": True,
}
CLOSED = {"under_panel": "closed-at-front"}


@pytest.mark.parametrize(
    ("mounting", "closed", "bought", "told"),
    [
        (None, True, "fairing", "with its fairing"),
        (SHEET, True, "edge-trim", "with trim bedded in sealant"),
        (None, False, "", ""),
        (SHEET, False, "", ""),
    ],
)
def test_a_front_edge_that_is_judged_closed_is_closed_and_no_other(
    shipped: FitOutAnswer, mounting: dict[str, Any] | None, closed: bool, bought: str, told: str
) -> None:
    """Four panels 0.54 m wide, or 1.18 m where they lie across: so much of their fronts."""
    changed = {"wind": CLOSED if closed else {"under_panel": "open"}}
    answer = built(**with_mounting(**changed, **({"mounting": mounting} if mounting else {})))
    parts = {part.kind: part.amount for part in answer.parts_list}
    front_m = sum(place.along_y_m for place in answer.roof.placements)
    entry_m = 0.5
    if bought == "fairing":
        assert front_m <= parts.pop("fairing") < front_m + 0.5
    trim_m = parts["edge-trim"] - entry_m
    assert (front_m <= trim_m < front_m + 0.5) if bought == "edge-trim" else trim_m == 0.0
    assert "fairing" not in parts
    texts = " ".join(one.text for one in answer.work_steps)
    assert [words for words in ("with its fairing", "bedded in sealant") if words in texts] == (
        [told.removeprefix("with trim ")] if told else []
    )


def test_tethers_and_clips_of_what_lies_are_not_bought_again(shipped: FitOutAnswer) -> None:
    """One of four panels is on the roof: its tether is; its cable lies, so that its clips do."""
    new = {part.kind: part for part in shipped.parts_list}
    job = copy.deepcopy(EXAMPLE) | {
        "parts": [{"part": "panel", "name": "front-left", "state": "fixed"}]
    }
    one = {part.kind: part for part in fit_out(msgspec.convert(job, FitOutRequest)).parts_list}
    assert (new["tether"].amount, new["tether"].at_hand) == (4.0, 0.0)
    assert (one["tether"].amount, one["tether"].at_hand) == (4.0, 1.0)
    assert one["cable-clip"].at_hand == new["cable-clip"].at_hand == 0.0
    job["parts"] = [{"part": "cable", "state": "fixed", "line": "pv-output", "size": {"awg": "10"}}]
    laid = fit_out(msgspec.convert(job, FitOutRequest))
    clips = {part.kind: part for part in laid.parts_list}["cable-clip"]
    assert clips.at_hand == clips.amount > 0.0


@pytest.mark.parametrize(
    ("work", "pointer"),
    [
        ({"bonded_at": "2027-02-30T10:00:00Z"}, "/work/bonded_at"),
        ({"times": [{"step": "polish", "hours": 1.0}]}, "/work/times/0/step"),
        ({"prices": 2 * [{"key": "tether", "price": 1.0}]}, "/work/prices/1/key"),
    ],
)
def test_what_cannot_be_meant_points_at_the_field(work: dict[str, Any], pointer: str) -> None:
    with pytest.raises(ContradictionError) as refused:
        built(work)
    assert [fault.pointer for fault in refused.value.faults] == [pointer]


def test_rails_go_onto_the_rack_before_panels_onto_them(shipped: FitOutAnswer) -> None:
    """Rails and supports were bought, and no step put them on; a build without has none."""
    plain = copy.deepcopy(EXAMPLE)
    kind = plain["panel_types"][0]
    kind["panel"]["body"] |= {"construction": "framed", "thickness_m": 0.035}
    kind["sheet"] = {"load_rating_pa": 3600.0}
    rail = {"start_m": -0.05, "end_m": 0.59, "supports_m": [0.0, 0.54]}
    kind["mounting"] = {
        "kind": "rails",
        "run": "along-width",
        "rails": [rail | {"across_m": 0.25}, rail | {"across_m": 0.93}],
        "clamps": [{"x_m": x, "y_m": y} for x in (0.25, 0.93) for y in (0.0, 0.54)],
        "section": {"kind": "box", "width_m": 0.03, "height_m": 0.03, "wall_m": 0.002},
        "alloy": "6063-T6",
        "rails_mass_kg": 2.0,
        "standoff_m": 0.08,
        "clamp_preload_n": 3000.0,
    }
    railed = fit_out(msgspec.convert(plain, FitOutRequest))
    codes = [one.code for one in railed.work_steps]
    assert codes.index("fit-rails") < codes.index("fit-panels")
    kinds = {part.key: part.kind for part in railed.parts_list}
    put_on = {kinds[key] for key in step(railed, "fit-rails").part_keys}
    assert put_on == {"rail", "rail-support"}
    assert step(railed, "fit-rails").text.startswith("Order: 1 ")
    assert "fit-rails" not in {one.code for one in shipped.work_steps}


def test_labels_tell_what_opens_what_and_with_what_it_is_replaced(shipped: FitOutAnswer) -> None:
    """Nobody knows a year later which fuse belongs where; 2 × 22.9 V × 1.18 in the cold."""
    text = step(shipped, "fit-devices").text
    assert all(
        f"{f.device}, {f.rating_a:g} A, {f.family}" in text for f in shipped.protection_schedule
    )
    assert "Photovoltaic disconnect, up to 54.1 V DC" in text
    assert "live in any light" in text
