"""Readings are judged by light, heat and uncertainty; patterns lead to their causes."""

import math
from pathlib import Path
from typing import Any

import msgspec
import pytest
from commissioning_builders import (
    I_MP,
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
from sunhitch.types.commissioning import (
    CheckedArray,
    ClearSkySun,
    CommissioningCheckRequest,
    CommissioningSite,
    InsulationReading,
    IrradianceReading,
    PolarityReading,
    Reading,
    ReferencePanelReading,
)
from sunhitch.types.place import Place
from sunhitch_service.engine.commissioning.calculation import commissioning_check
from sunhitch_service.engine.commissioning.evidence import covariance, figures_of
from sunhitch_service.engine.commissioning.hypotheses import Hypothesis
from sunhitch_service.engine.errors import ContradictionError

EXAMPLE = Path(__file__).parents[2] / "client/sunhitch/examples/commissioning-check.json"


@pytest.mark.parametrize(("strings", "in_series"), [(1, 1), (2, 1), (1, 3), (3, 2)])
def test_the_nameplate_in_full_sun_passes(strings: int, in_series: int) -> None:
    answer = asked(array(strings, in_series), *at_nameplate(strings, in_series))
    assert answer.verdict == "pass"
    assert [day.verdict for day in answer.diagnoses] == ["pass"]
    for result in answer.readings:
        for figure in result.quantities:
            assert figure.of_expected_fraction == pytest.approx(1.0, abs=0.005)


def test_the_verdict_falls_with_the_measured_current() -> None:
    order = ["pass", "review", "not-assessed", "fail"]
    verdicts = [
        asked(array(1, 1), reading("i", "short-circuit", current_a=I_SC * share)).verdict
        for share in (1.0, 0.96, 0.90, 0.80, 0.70, 0.4)
    ]
    ranks = [order.index(verdict) for verdict in verdicts]
    assert ranks == sorted(ranks)
    assert (verdicts[0], verdicts[3], verdicts[-1]) == ("pass", "review", "fail")


def test_better_meters_turn_a_pass_into_a_doubt() -> None:
    low = reading("i", "short-circuit", current_a=I_SC * 0.92)
    sure = msgspec.structs.replace(
        low,
        light=IrradianceReading(
            irradiance_w_m2=1000.0, after_w_m2=1000.0, uncertainty_fraction=0.001
        ),
    )
    meters = {"meters": {"current_fraction": 0.001}, "nameplate_uncertainty_fraction": 0.001}
    request = {
        "array": msgspec.to_builtins(array(1, 1)),
        "readings": [msgspec.to_builtins(sure)],
        **meters,
    }
    assert asked(array(1, 1), low).verdict == "pass"
    certain = commissioning_check(msgspec.convert(request, CommissioningCheckRequest))
    assert certain.verdict == "review"
    assert certain.diagnoses[0].causes[0].code == "dirt"


def test_more_than_the_light_allows_is_not_normal_either() -> None:
    answer = asked(array(1, 1), reading("i", "short-circuit", current_a=I_SC * 1.3))
    assert answer.verdict == "review"
    assert "irradiance" in next(c for c in answer.checks if c.code == "measured-current").remedy
    (day,) = answer.diagnoses
    assert day.causes[0].code == "nothing-wrong", "no fault gives more than the light allows"
    assert not day.explained


def test_too_little_light_is_not_judged() -> None:
    dim = IrradianceReading(irradiance_w_m2=90.0)
    answer = asked(array(1, 1), reading("i", "short-circuit", current_a=0.1, light=dim))
    assert answer.verdict == "not-assessed"
    assert [c.code for c in answer.diagnoses[0].causes] == ["too-little-light"]


def test_a_reference_panel_replaces_the_meter() -> None:
    light = ReferencePanelReading(current_a=3.2, i_sc_a=6.4, cell_temperature_c=25.0)
    answer = asked(array(1, 1), reading("i", "short-circuit", current_a=3.2, light=light))
    assert answer.readings[0].irradiance_w_m2 == pytest.approx(500.0)
    assert answer.readings[0].verdict == "pass"


def test_combined_uncertainty_is_the_root_of_squares() -> None:
    answer = asked(array(1, 1), reading("i", "short-circuit", current_a=I_SC))
    (figure,), parts = answer.readings[0].quantities, answer.readings[0].uncertainty_parts
    combined = math.sqrt(sum(part.standard_fraction**2 for part in parts))
    assert figure.uncertainty == pytest.approx(2.0 * combined * figure.expected)
    assert figure.least == pytest.approx(0.95 * figure.expected - figure.uncertainty)
    light = next(p for p in parts if p.source == "irradiance")
    assert light.standard_fraction == pytest.approx(0.03, rel=0.01), "current goes with light"
    shares = [part.standard_fraction for part in parts]
    assert shares == sorted(shares, reverse=True), "the largest first"


@pytest.mark.parametrize(
    ("built", "readings", "cause"),
    [
        (
            array(2, 2),
            [
                reading("v", "open-circuit", voltage_v=2 * V_OC),
                reading("w", "operating", voltage_v=2 * V_MP, current_a=I_MP),
            ],
            "string-missing",
        ),
        (
            array(1, 3),
            [
                reading("v", "open-circuit", voltage_v=2 * V_OC),
                reading("i", "short-circuit", current_a=I_SC),
            ],
            "panel-missing",
        ),
        (
            array(1, 4),
            [
                reading("v", "open-circuit", voltage_v=2 * V_OC),
                reading("i", "short-circuit", current_a=I_SC),
            ],
            "panel-reversed",
        ),
        (
            array(1, 2),
            [
                reading("v", "open-circuit", voltage_v=1.5 * V_OC),
                reading("w", "operating", voltage_v=1.5 * V_MP, current_a=I_MP),
            ],
            "shorted-group",
        ),
        (
            array(1, 2),
            [
                reading("v", "open-circuit", voltage_v=2 * V_OC),
                reading("w", "operating", voltage_v=1.5 * V_MP - 0.5, current_a=I_MP),
            ],
            "shaded-cells",
        ),
        (
            array(2, 1),
            [
                reading("v", "open-circuit", voltage_v=V_OC),
                reading("i", "short-circuit", current_a=2 * I_SC * 0.82),
                reading("w", "operating", voltage_v=V_MP, current_a=2 * I_MP * 0.82),
            ],
            "dirt",
        ),
        (
            array(1, 1),
            [
                reading("v", "open-circuit", voltage_v=V_OC),
                reading("i", "short-circuit", current_a=I_SC),
                reading("w", "operating", voltage_v=V_MP * 0.83, current_a=I_MP),
            ],
            "bad-contact",
        ),
        (
            array(1, 1),
            [
                reading("i", "short-circuit", current_a=I_SC),
                reading("w", "operating", voltage_v=22.3, current_a=1.6),
            ],
            "controller-holds-back",
        ),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
def test_a_pattern_leads_to_its_cause(
    built: CheckedArray, readings: list[Reading], cause: str
) -> None:
    (diagnosis,) = asked(built, *readings).diagnoses
    assert diagnosis.causes[0].code == cause
    assert diagnosis.explained
    shares = [c.share_fraction for c in diagnosis.causes]
    assert shares == sorted(shares, reverse=True)
    assert sum(shares) <= 1.0 + 1e-9
    assert all(c.test for c in diagnosis.causes)


def test_a_fault_that_only_all_readings_show_is_told_as_one() -> None:
    """Voltage under load is within its band, yet 6 % below what the open-circuit voltage says."""
    answer = asked(
        array(1, 2),
        reading("v", "open-circuit", voltage_v=2 * V_OC),
        reading("i", "short-circuit", current_a=I_SC),
        reading("w", "operating", voltage_v=2 * V_MP * 0.94, current_a=I_MP),
    )
    assert {each.verdict for each in answer.readings} == {"pass"}
    assert answer.diagnoses[0].verdict != "pass"
    assert "together they are not" in answer.summary[0]


def test_nonsense_is_not_explained() -> None:
    answer = asked(
        array(2, 2),
        reading("v", "open-circuit", voltage_v=0.9 * V_OC),
        reading("i", "short-circuit", current_a=I_SC * 0.05),
    )
    assert not answer.diagnoses[0].explained
    assert any("No single cause" in line for line in answer.summary)


def test_swapped_poles_fail_and_a_dark_panel_is_not_judged() -> None:
    answer = asked(
        array(1, 1),
        reading("v", "open-circuit", voltage_v=V_OC),
        polarity=[PolarityReading(voltage_v=-21.0), PolarityReading(voltage_v=0.2)],
    )
    assert [c.verdict for c in answer.checks if c.code == "polarity"] == ["fail", "not-assessed"]
    assert next(s for s in answer.checklist if "Polarity" in s.title).state == "failed"


@pytest.mark.parametrize(
    ("in_series", "test_v", "ohm", "verdict"),
    [
        (1, 250.0, 1e6, "pass"),
        (1, 250.0, 4e5, "fail"),
        (1, 100.0, 1e6, "not-assessed"),
        (6, 500.0, 0.9e6, "fail"),
        (6, 500.0, 2e6, "pass"),
        (6, 250.0, 2e6, "not-assessed"),
        (1, 250.0, 0.0, "fail"),
    ],
)
def test_insulation_follows_the_system_voltage(
    in_series: int, test_v: float, ohm: float, verdict: str
) -> None:
    """IEC 62446-1 Table 1, from memory: 0.5 MΩ at 250 V up to 120 V, 1 MΩ at 500 V above."""
    answer = asked(
        array(1, in_series),
        reading("v", "open-circuit", voltage_v=in_series * V_OC),
        insulation=[InsulationReading(test_voltage_v=test_v, resistance_ohm=ohm)],
    )
    assert [c.verdict for c in answer.checks if c.code == "insulation"] == [verdict]


@pytest.mark.parametrize(
    ("in_series", "test_v", "least_mohm"),
    [(4, 250.0, 0.5), (5, 500.0, 1.0), (17, 500.0, 1.0), (18, 1000.0, 1.0), (40, 1000.0, 1.0)],
)
def test_the_list_asks_for_the_test_voltage_of_the_system(
    in_series: int, test_v: float, least_mohm: float
) -> None:
    """1.25 × 22.9 V a panel against the same table; beyond it the highest of its voltages."""
    open_v = reading("v", "open-circuit", voltage_v=in_series * V_OC)
    (step,) = (s for s in asked(array(1, in_series), open_v).checklist if "nsulat" in s.title)
    assert isinstance(step.how, Text)
    assert (step.how.parameters["test_v"], step.how.parameters["least_mohm"]) == (
        test_v,
        least_mohm,
    )


def test_every_contradiction_is_named() -> None:
    site = CommissioningSite(place=Place(latitude_deg=47.0, longitude_deg=9.0))
    with pytest.raises(ContradictionError) as caught:
        asked(
            array(1, 1),
            reading("a", "open-circuit", current_a=1.0),
            reading("a", "operating", voltage_v=1.0, taken_at="2027-02-30T12:00Z"),
            reading("c", "short-circuit", current_a=1.0, of="nobody"),
            site=site,
        )
    pointers = {fault.pointer for fault in caught.value.faults}
    assert pointers == {
        "/readings/1/name",
        "/readings/0/voltage_v",
        "/readings/0/current_a",
        "/readings/1/current_a",
        "/readings/1/taken_at",
        "/readings/2/of",
    }


def test_a_reading_of_the_wrong_sign_asks_for_the_leads() -> None:
    answer = asked(array(1, 2), reading("v", "open-circuit", voltage_v=-2.0 * V_OC))
    assert answer.verdict == "fail"
    told = {check.code: check.remedy for check in answer.checks}
    assert "swap the meter's leads" in told["measured-voltage"]
    assert answer.diagnoses[0].causes[0].code == "leads-swapped"


def test_a_clear_sky_at_night_asks_for_the_clock() -> None:
    site = CommissioningSite(place=Place(latitude_deg=47.0, longitude_deg=9.0))
    night = reading(
        "i",
        "short-circuit",
        current_a=0.01,
        light=ClearSkySun(),
        taken_at="2027-06-21T23:30:00+02:00",
    )
    answer = asked(array(1, 1), night, site=site)
    assert answer.verdict == "not-assessed"
    assert any("date, time and offset" in check.remedy for check in answer.checks)


@pytest.mark.parametrize(
    "light", [IrradianceReading(irradiance_w_m2=0.5), ClearSkySun()], ids=["meter", "by day"]
)
def test_the_clock_is_not_asked_for_by_a_meter_nor_by_day(light: object) -> None:
    site = CommissioningSite(place=Place(latitude_deg=47.0, longitude_deg=9.0))
    taken = reading("i", "short-circuit", current_a=0.01, light=light)
    answer = asked(array(1, 1), taken, site=site)
    assert not any("date, time and offset" in check.remedy for check in answer.checks)


@pytest.mark.parametrize(
    ("dim", "kind", "share"),
    [
        ("i", "short-circuit", 0.7),
        ("other", "short-circuit", 1.0),
        ("", "operating", 0.7),
        ("i", "open-circuit", 1.0),
    ],
)
def test_light_that_was_lower_than_metered_dims_its_own_current_or_all(
    dim: str, kind: str, share: float
) -> None:
    doubt = Hypothesis("low-light", "", {}, dim=(dim, 0.3))
    assert doubt.light_at(reading("i", kind)) == pytest.approx(share)


def test_a_panel_that_contradicts_itself_is_pointed_at() -> None:
    plate = msgspec.structs.replace(PANEL.electrical, v_mp_v=PANEL.electrical.v_oc_v)
    built = array(1, 1, msgspec.structs.replace(PANEL, electrical=plate))
    with pytest.raises(ContradictionError) as caught:
        asked(built, reading("i", "short-circuit", current_a=I_SC))
    pointers = {fault.pointer for fault in caught.value.faults}
    assert "/array/panel_types/0/panel/electrical/v_mp_v" in pointers


def test_the_same_cause_day_after_day_is_told_once() -> None:
    days = [
        reading(f"d{k}", "short-circuit", current_a=I_SC, taken_at=f"2027-06-0{k}T12:00:00+00:00")
        for k in range(1, 6)
    ]
    answer = asked(array(2, 1), *days)
    assert len(answer.diagnoses) == 5
    assert len([line for line in answer.summary if "cause" in line]) == 1


def test_the_example_tells_the_story_of_a_loose_plug() -> None:
    request = msgspec.json.decode(EXAMPLE.read_bytes(), type=CommissioningCheckRequest)
    answer = commissioning_check(request)
    verdicts = [result.verdict for result in answer.readings]
    assert verdicts == ["pass", "pass", "fail", "pass"]
    assert answer.diagnoses[0].causes[0].code == "string-missing"


def at_battery(strings: int, volts: float, amperes: float, kind: str | None = "pwm") -> Any:
    """Two steady readings of strings of one panel: open, and at work."""
    built = msgspec.structs.replace(array(strings, 1), controller_kind=kind)
    steady = {"light": IrradianceReading(irradiance_w_m2=1000.0, after_w_m2=1000.0)}
    return asked(
        built,
        reading("open", "open-circuit", voltage_v=math.copysign(V_OC, volts), **steady),
        reading("work", "operating", voltage_v=volts, current_a=amperes, **steady),
    )


def test_a_plain_switch_holds_a_sound_array_at_the_batterys_voltage() -> None:
    """Far below Vmp a panel gives between Imp and Isc; a tracker there would be a bad contact."""
    held = at_battery(1, 13.2, 6.25)
    assert (held.verdict, held.diagnoses[0].causes[0].code) == ("pass", "nothing-wrong")
    (found,) = held.readings[1].quantities
    assert I_MP < found.expected < I_SC
    tracked = at_battery(1, 13.2, 6.25, None)
    assert tracked.verdict == "fail"
    chosen = {one.field: one.value for one in tracked.assumptions}
    assert chosen["/array/controller_kind"] == "mppt"
    assert "/array/controller_kind" not in {one.field for one in held.assumptions}
    at_rest = asked(array(1, 1), reading("v", "open-circuit", voltage_v=V_OC))
    assert "/array/controller_kind" not in {one.field for one in at_rest.assumptions}
    (power,) = [check for check in tracked.checks if check.code == "measured-power"]
    assert power.remedies == ["measured-power.short", "measured-power.plain-switch"]
    (weak,) = [
        check for check in at_battery(1, 13.2, 4.0, "mppt").checks if check.code == "measured-power"
    ]
    assert weak.remedies == ["measured-power.short"]


@pytest.mark.parametrize(
    ("volts", "share", "cause"),
    [(13.2, 0.5, "string-missing"), (-13.2, 1.0, "leads-swapped"), (13.2, 0.04, "")],
)
def test_faults_behind_a_plain_switch_show_in_its_current(
    volts: float, share: float, cause: str
) -> None:
    answer = at_battery(2, volts, 2.0 * 6.25 * share)
    (day,) = answer.diagnoses
    assert day.verdict != "pass"
    assert not cause or day.causes[0].code == cause
    assert day.next_reading is None or day.next_reading.kind != "operating"


@pytest.mark.parametrize("volts", [0.01, 22.0, V_OC, 24.0, 200.0])
def test_a_plain_switch_at_any_voltage_gets_an_answer(volts: float) -> None:
    """Nothing comes at open circuit and beyond; the nearer to it, the less sure a current is."""
    (found,) = at_battery(1, volts, 0.0).readings[1].quantities
    assert 0.0 < found.expected <= I_SC * 1.001
    assert math.isfinite(found.uncertainty)
    share = found.uncertainty / found.expected
    assert (share > 0.5) == (volts in (22.0, V_OC))


def test_what_loads_an_array_is_known_before_it_is_read_at_work() -> None:
    held = msgspec.structs.replace(array(1, 1), controller_kind="pwm")
    at_rest = reading("v", "open-circuit", voltage_v=V_OC)
    assert settled(held, at_rest).is_held
    assert not settled(array(1, 1), at_rest).is_held


def test_a_current_near_open_circuit_is_as_unsure_as_the_voltage_that_holds_it() -> None:
    """Independent parts add in squares (JCGM 100:2008, 5.1.2): to what a reading's own interval
    holds come panels that differ, 0.8 %, and the tracker's part, 0.8 % (from memory)."""
    held = msgspec.structs.replace(array(1, 1), controller_kind="pwm")
    inspection = settled(held, reading("work", "operating", voltage_v=22.0, current_a=2.0))
    (item,) = figures_of(inspection, 0)
    assert item.by_volts < -10.0
    whole = float(covariance(inspection, [item])[0, 0])
    own_light = (item.by_light * item.at.own_share) ** 2
    assert whole == pytest.approx(item.share() ** 2 + 2 * 0.008**2, abs=own_light + 1e-9)
