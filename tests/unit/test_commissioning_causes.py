"""What can be wrong with an array: which causes are tried, how they weigh, what they make of it."""

from collections import defaultdict

import msgspec
import pytest
from commissioning_builders import (
    FULL_SUN,
    I_SC,
    PANEL,
    V_MP,
    V_OC,
    array,
    asked,
    at_nameplate,
    reading,
    settled,
)

from sunhitch.texts import Text
from sunhitch.types.commissioning import CheckedArray, IrradianceReading, Reading
from sunhitch.types.panel import BypassGroup, CellLayout, Panel
from sunhitch_service.engine.commissioning.hypotheses import Hypothesis, hypotheses

LIGHT_W_M2, CELLS_C = 1000.0, 25.0
PRIORS = {
    "nothing-wrong": 7.0,
    "light-changed": 2.0,
    "too-little-light": 60.0,
    "leads-swapped": 1.0,
    "dirt": 6.0,
    "hotter-cells": 0.5,
    "weak-panels": 0.5,
    "string-missing": 2.0,
    "panel-missing": 1.0,
    "panel-reversed": 0.7,
    "shaded-cells": 2.0,
    "cracked-cell": 6.0,
    "shorted-group": 1.0,
    "shade-on-string": 1.0,
    "bad-contact": 1.5,
    "controller-holds-back": 3.0,
}
"""How often each is met before any reading: judgement, no source."""
NO_DIODE = Panel(electrical=PANEL.electrical, construction="full-cell-no-diode")
ONE_GROUP = Panel(
    electrical=PANEL.electrical,
    cells=CellLayout(
        paths_in_parallel=1,
        positions_in_series=36,
        bypass=[BypassGroup(first=0, last=35, has_diode=True)],
    ),
)
UNEQUAL_GROUPS = Panel(
    electrical=PANEL.electrical,
    cells=CellLayout(
        paths_in_parallel=1,
        positions_in_series=36,
        bypass=[
            BypassGroup(first=0, last=11, has_diode=False),
            BypassGroup(first=12, last=35, has_diode=True),
        ],
    ),
)
STEADY = IrradianceReading(irradiance_w_m2=1000.0, after_w_m2=1000.0)
OPEN = reading("open", "open-circuit", voltage_v=V_OC)
SHORT = reading("short", "short-circuit", current_a=I_SC)


def tried(built: CheckedArray, *readings: Reading) -> dict[str, list[Hypothesis]]:
    """Hypotheses by cause."""
    inspection = settled(built, *readings)
    found: dict[str, list[Hypothesis]] = defaultdict(list)
    for one in hypotheses(inspection, list(range(len(readings))), LIGHT_W_M2, CELLS_C):
        found[one.code].append(one)
    return found


def told(one: Hypothesis) -> dict[str, object]:
    """Figures of the text, those of a text within it too."""
    assert isinstance(one.explains, Text)
    found = dict(one.explains.parameters)
    for part in one.explains.parameters.values():
        if isinstance(part, Text):
            found |= part.parameters
    return found


ALWAYS = {
    "nothing-wrong",
    "leads-swapped",
    "light-changed",
    "dirt",
    "hotter-cells",
    "weak-panels",
    "cracked-cell",
    "bad-contact",
    "controller-holds-back",
}
BY_DIODES = {"shaded-cells", "shorted-group"}
BY_STRINGS = {"string-missing", "shade-on-string"}


@pytest.mark.parametrize(
    ("built", "more"),
    [
        (array(1, 1), BY_DIODES),
        (array(1, 1, NO_DIODE), set()),
        (array(1, 1, UNEQUAL_GROUPS), BY_DIODES),
        (array(1, 2), BY_DIODES | {"panel-missing"}),
        (array(1, 3), BY_DIODES | {"panel-missing", "panel-reversed"}),
        (array(2, 1), BY_DIODES | BY_STRINGS),
        (array(2, 3), BY_DIODES | BY_STRINGS | {"panel-missing", "panel-reversed"}),
    ],
)
def test_an_array_can_have_the_causes_that_it_has_parts_for(
    built: CheckedArray, more: set[str]
) -> None:
    """No string misses where there is one, no panel of one; without diodes none is skipped."""
    assert set(tried(built, OPEN, SHORT)) == ALWAYS | more


def test_readings_decide_what_can_be_wrong_with_them() -> None:
    assert "leads-swapped" not in tried(array(1, 1), SHORT), "no voltage shows a sign"
    assert "light-changed" not in tried(array(1, 1), OPEN), "no current shows the light"
    dims = [one.dim for one in tried(array(1, 1), OPEN, SHORT)["light-changed"]]
    assert {dim[0] for dim in dims if dim} == {"short"}, "one current: no other goes with it"
    work = reading("work", "operating", voltage_v=V_MP, current_a=5.99)
    dims = [one.dim for one in tried(array(1, 1), OPEN, SHORT, work)["light-changed"]]
    assert {dim[0] for dim in dims if dim} == {"", "short", "work"}


@pytest.mark.parametrize("built", [array(1, 1), array(2, 3), array(3, 2)])
@pytest.mark.parametrize(("lights", "rarer"), [((FULL_SUN, STEADY), 1.0), ((STEADY,) * 2, 0.1)])
def test_weights_of_a_cause_add_up_to_how_often_it_is_met(
    built: CheckedArray, lights: tuple[IrradianceReading, ...], rarer: float
) -> None:
    """An unseen cloud is a tenth as likely where light was read before and after every reading."""
    own = [
        reading(f"i{k}", "short-circuit", current_a=I_SC, light=light)
        for k, light in enumerate(lights)
    ]
    for code, group in tried(built, *own).items():
        due = PRIORS[code] * (rarer if code == "light-changed" else 1.0)
        assert sum(one.prior for one in group) == pytest.approx(due), code


@pytest.mark.parametrize(
    ("light", "cause"),
    [
        (IrradianceReading(irradiance_w_m2=199.0), "too-little-light"),
        (IrradianceReading(irradiance_w_m2=201.0), "nothing-wrong"),
        (IrradianceReading(irradiance_w_m2=780.0, after_w_m2=820.0), "nothing-wrong"),
        (IrradianceReading(irradiance_w_m2=779.0, after_w_m2=821.0), "light-changed"),
        (IrradianceReading(irradiance_w_m2=821.0, after_w_m2=779.0), "light-changed"),
    ],
)
def test_what_the_light_allows_to_say_of_a_faultless_array(
    light: IrradianceReading, cause: str
) -> None:
    """Weak below 200 W/m²; unsteady beyond 5 % of the mean of 800: 780 to 820 is just steady."""
    own = reading("i", "short-circuit", current_a=I_SC * 0.8, light=light)
    inspection = settled(array(1, 1), own)
    first = hypotheses(inspection, [0], LIGHT_W_M2, CELLS_C)[0]
    assert first.code == cause
    assert (
        first.prior
        == PRIORS["too-little-light" if cause == "too-little-light" else "nothing-wrong"]
    )
    if cause == "too-little-light":
        assert told(first)["irradiance_w_m2"] == 199.0
        darker = reading("d", "short-circuit", light=IrradianceReading(irradiance_w_m2=150.0))
        both = settled(array(1, 1), own, msgspec.structs.replace(darker, current_a=0.9))
        first = hypotheses(both, [0, 1], LIGHT_W_M2, CELLS_C)[0]
        assert told(first)["irradiance_w_m2"] == 150.0


def test_equal_strings_that_no_reading_tells_apart_are_tried_once() -> None:
    """Four equal strings, one of them read alone: it, and any of the other three."""
    own = reading("v", "open-circuit", voltage_v=V_OC, of="s3")
    found = tried(array(4, 2), own, SHORT)
    missing = found["panel-missing"]
    assert [list(one.strings) for one in missing] == [["s0"], ["s3"]]
    assert missing[0].prior == pytest.approx(3.0 * missing[1].prior)
    assert "s3" in missing[1].explains
    assert "s0" not in missing[0].explains


def test_a_single_string_is_named() -> None:
    (missing,) = tried(array(1, 2), SHORT)["panel-missing"]
    assert "s0" in missing.explains


def test_a_string_not_joined_is_sound_where_it_is_read_alone() -> None:
    found = tried(array(2, 1), reading("v", "open-circuit", voltage_v=V_OC, of="s0"), SHORT)
    apart = [one for one in found["string-missing"] if one.at_the_joint]
    within = [one for one in found["string-missing"] if not one.at_the_joint]
    assert len(apart) == len(within) == 2
    assert all(not one.changes("s0") and one.changes("array") for one in apart)
    assert [bool(one.changes("s0")) for one in within] == [True, False]
    assert [one.explains.code for one in apart] == ["string-not-joined", "one-string-not-joined"]
    assert all(state.is_open for one in apart + within for state in one.strings.values())


def of_array(code: str, strings: int = 2, in_series: int = 3) -> list[Hypothesis]:
    found = tried(array(strings, in_series), OPEN, SHORT)[code]
    assert found
    return found


def test_figures_of_the_texts_are_those_of_the_strings() -> None:
    """What is said to be lost is what the string lacks."""
    for code in ("dirt", "shade-on-string"):
        for one in of_array(code):
            lost = [1.0 - state.light for state in one.strings.values()]
            assert lost == pytest.approx([told(one)["share_fraction"]] * len(lost)), code
    for one in of_array("hotter-cells"):
        assert {state.warmer_k for state in one.strings.values()} == {told(one)["warmer_k"]}
    for one in of_array("weak-panels"):
        share = told(one)["share_fraction"]
        for state in one.strings.values():
            assert 1.0 - state.light == pytest.approx(share)
            assert state.lost_positions == pytest.approx(0.5 * share * 3 * 36), "half in voltage"
    for one in of_array("cracked-cell"):
        (state,) = one.strings.values()
        assert (state.weak.light, state.weak_groups) == (told(one)["left_fraction"], 1)
        assert (state.weak.weak, state.weak.paths) == (1, 1), "one cell of one path"
    for one in of_array("controller-holds-back"):
        assert 0.0 < one.towards_open < 1.0
    for one in of_array("light-changed"):
        assert one.dim[1] == told(one)["share_fraction"]
        loss = [1.0 - one.light_at(each) for each in (OPEN, SHORT)]
        assert loss == pytest.approx([0.0, one.dim[1]]), "a voltage hardly knows the light"
    other = msgspec.structs.replace(SHORT, name="later")
    for one in tried(array(1, 1), SHORT, other)["light-changed"]:
        name, lost = one.dim
        assert one.light_at(SHORT) == (1.0 if name == "later" else pytest.approx(1.0 - lost))
        assert one.light_at(other) == (1.0 if name == "short" else pytest.approx(1.0 - lost))


def test_every_panel_alike_is_every_string_alike() -> None:
    for code in ("dirt", "hotter-cells", "weak-panels"):
        assert all(set(one.strings) == {"s0", "s1"} for one in of_array(code))


def test_voltages_that_are_missing_are_those_of_panels_and_groups() -> None:
    """A panel of 36 cells in two groups: 36, twice that turned round, and 18."""
    lost = {
        code: {state.lost_positions for one in of_array(code) for state in one.strings.values()}
        for code in ("panel-missing", "panel-reversed", "shorted-group")
    }
    assert lost == {"panel-missing": {36.0}, "panel-reversed": {72.0}, "shorted-group": {18.0}}


def test_one_group_or_two_are_skipped_as_far_as_there_are_so_many() -> None:
    counts = {
        panels: [s.weak_groups for one in own for s in one.strings.values()]
        for panels, own in (
            ("two groups", tried(array(1, 1), SHORT)["shaded-cells"]),
            ("one group", tried(array(1, 1, ONE_GROUP), SHORT)["shaded-cells"]),
            ("one group in two panels", tried(array(1, 2, ONE_GROUP), SHORT)["shaded-cells"]),
        )
    }
    assert counts == {"two groups": [1, 2], "one group": [1], "one group in two panels": [1, 2]}
    for one, code in zip(
        tried(array(1, 1), SHORT)["shaded-cells"],
        ("one-bypass-group", "bypass-groups"),
        strict=True,
    ):
        (state,) = one.strings.values()
        assert told(one)["groups"].code == code
        assert (state.weak.weak, state.weak.paths) == (18, 2), "all cells of both halves"


def test_contacts_lose_the_share_of_voltage_that_they_are_told_to() -> None:
    """At maximum power U I R: 2 × 5.99 A at 3 × 19.2 V; in one string half the current."""
    found = of_array("bad-contact")
    leads = [one for one in found if one.lead_ohm]
    strings = [one for one in found if one.strings]
    assert leads and strings and len(leads) + len(strings) == len(found)
    for one in leads:
        share = one.lead_ohm * 2 * 5.99 / (3 * V_MP)
        assert share == pytest.approx(told(one)["share_fraction"], rel=0.01)
        assert told(one)["ohm"] == one.lead_ohm
    for one in strings:
        (state,) = one.strings.values()
        share = state.extra_ohm * 5.99 / (3 * V_MP)
        assert share == pytest.approx(told(one)["share_fraction"], rel=0.01)
        assert told(one)["ohm"] == state.extra_ohm
        assert one.prior == pytest.approx(leads[0].prior / 2), "either of two strings"
    assert not [one for one in of_array("bad-contact", strings=1) if one.strings]
    assert {name for one in strings for name in one.strings} == {"s0", "s1"}


@pytest.mark.parametrize(
    ("code", "figure"),
    [
        ("dirt", "share_fraction"),
        ("hotter-cells", "warmer_k"),
        ("weak-panels", "share_fraction"),
        ("cracked-cell", "left_fraction"),
        ("bad-contact", "share_fraction"),
        ("shade-on-string", "share_fraction"),
    ],
)
def test_severities_rise_one_after_the_other(code: str, figure: str) -> None:
    strings = 2 if code == "shade-on-string" else 1
    losses = [told(one)[figure] for one in of_array(code, strings, in_series=1)]
    assert len(losses) >= 3
    assert losses == sorted(set(losses))


@pytest.mark.parametrize("panel", [PANEL, ONE_GROUP])
def test_a_panel_whose_diodes_have_all_failed_closed_shows_no_voltage(panel: Panel) -> None:
    """Where one diode spans all cells, a failed one shorts the panel."""
    answer = asked(array(1, 1, panel), reading("v", "open-circuit", voltage_v=0.0))
    (day,) = answer.diagnoses
    shorted = panel is ONE_GROUP
    assert day.explained == shorted
    assert (day.causes[0].code == "shorted-group") or not shorted
    assert answer.verdict == "fail" if shorted else answer.verdict != "pass"


def test_nothing_is_wrong_with_an_array_in_swapped_order() -> None:
    """The order of readings of a day says nothing."""
    readings = at_nameplate(2, 2)
    there, back = (asked(array(2, 2), *own) for own in (readings, readings[::-1]))
    shares = [
        {c.code: round(c.share_fraction, 9) for c in answer.diagnoses[0].causes}
        for answer in (there, back)
    ]
    assert shares[0] == shares[1]
