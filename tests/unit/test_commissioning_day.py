"""A day's readings together: verdict, what is still possible, and what to read next."""

from dataclasses import replace

import numpy as np
import pytest
from commissioning_builders import (
    I_MP,
    I_SC,
    KINDS,
    PANEL,
    V_MP,
    V_OC,
    array,
    asked,
    at_nameplate,
    reading,
    settled,
)
from scipy.integrate import quad
from scipy.stats import norm

from sunhitch.texts import Text
from sunhitch.types.commissioning import CauseCode, IrradianceReading, Reading
from sunhitch.types.panel import Panel
from sunhitch_service.engine.commissioning.calculation import together
from sunhitch_service.engine.commissioning.diagnosis import (
    Day,
    causes_of,
    days,
    diagnosis_of,
    is_explained,
    shifts,
    still_possible,
    verdict_on,
)
from sunhitch_service.engine.commissioning.evidence import covariance
from sunhitch_service.engine.commissioning.hypotheses import Hypothesis
from sunhitch_service.engine.commissioning.next_reading import (
    _candidates,
    _outcomes,
    _words,
    information,
    next_reading,
)

BUILT = array(2, 2)
STEADY = IrradianceReading(irradiance_w_m2=1000.0, after_w_m2=1000.0)


def day_of(*readings: Reading) -> Day:
    (day,) = days(settled(BUILT, *readings))
    return day


def weighed(shares: dict[CauseCode, float], day: Day | None = None, misfits: float = 0.0) -> Day:
    """A day on which one hypothesis of each cause has a share and the others none."""
    day = day or day_of(*at_nameplate(2, 2))
    codes = [one.code for one in day.tried]
    weights = np.zeros(len(codes))
    for code, share in shares.items():
        weights[codes.index(code)] = share
    return replace(day, weights=weights, misfits=np.full(len(codes), misfits))


@pytest.mark.parametrize(
    ("shares", "verdict"),
    [
        ({"nothing-wrong": 1.0}, "pass"),
        ({"nothing-wrong": 0.51, "dirt": 0.49}, "pass"),
        ({"nothing-wrong": 0.49, "dirt": 0.51}, "review"),
        ({"dirt": 1.0}, "review"),
        ({"bad-contact": 0.949, "dirt": 0.051}, "review"),
        ({"bad-contact": 0.951, "dirt": 0.049}, "fail"),
        ({"bad-contact": 0.5, "cracked-cell": 0.451, "nothing-wrong": 0.049}, "fail"),
        ({"light-changed": 0.9, "bad-contact": 0.1}, "review"),
        ({"too-little-light": 0.9, "bad-contact": 0.1}, "not-assessed"),
    ],
)
def test_a_day_fails_where_faults_together_are_as_good_as_certain(
    shares: dict[CauseCode, float], verdict: str
) -> None:
    """From 95 % of all that must be mended; sound only where that is the likeliest of all."""
    day = day_of(*at_nameplate(2, 2))
    if "too-little-light" in shares:
        none = Hypothesis("too-little-light", "", {})
        day = replace(day, tried=[none, *day.tried[1:]])
    assert verdict_on(weighed(shares, day)) == verdict


@pytest.mark.parametrize(("misfit", "explained"), [(8.99, True), (9.01, False)])
def test_a_day_is_explained_within_three_deviations_a_figure(
    misfit: float, explained: bool
) -> None:
    day = day_of(*at_nameplate(2, 2))
    own = weighed({"nothing-wrong": 1.0}, day, misfit * len(day.figures))
    assert is_explained(own) == explained
    assert verdict_on(own) == ("pass" if explained else "review")
    far = np.full(len(day.tried), 1e6)
    far[-1] = misfit * len(day.figures)
    assert is_explained(replace(day, misfits=far)) == explained, "by the one that fits best"


def test_causes_below_half_a_per_cent_are_not_told_and_shares_come_in_order() -> None:
    day = weighed(
        {"dirt": 0.6, "bad-contact": 0.3941, "cracked-cell": 0.0049, "hotter-cells": 1e-3}
    )
    assert [cause.code for cause in causes_of(day)] == ["dirt", "bad-contact"]
    day = weighed({"dirt": 0.3949, "bad-contact": 0.6, "cracked-cell": 0.0051})
    assert [cause.code for cause in causes_of(day)] == ["bad-contact", "dirt", "cracked-cell"]


def test_the_likeliest_of_a_cause_explains_it() -> None:
    day = weighed({"nothing-wrong": 1.0})
    own = [k for k, one in enumerate(day.tried) if one.code == "dirt"]
    day.weights[:] = 0.0
    day.weights[own] = np.linspace(0.01, 0.02, len(own))
    day.weights[own[2]] = 0.5
    assert causes_of(day)[0].explains == day.tried[own[2]].explains


def test_what_fits_nearly_as_well_as_the_best_is_still_possible() -> None:
    """Within a misfit of 4 of the best; of each cause the worst that does."""
    day = day_of(*at_nameplate(2, 2))
    rows = {
        code: [k for k, one in enumerate(day.tried) if one.code == code]
        for code in ("dirt", "bad-contact", "nothing-wrong", "light-changed")
    }
    misfits = np.full(len(day.tried), 100.0)
    misfits[rows["nothing-wrong"][0]] = 2.0
    misfits[rows["light-changed"]] = 2.0
    misfits[rows["dirt"][:3]] = 5.99
    misfits[rows["dirt"][3]] = 6.01
    found = still_possible(replace(day, misfits=misfits))
    assert [one.code for one in found] == ["dirt"], "a faultless array is no fault"
    assert found[0].at_most == day.tried[rows["dirt"][2]].explains


def test_readings_together_are_told_by_the_sound_share_and_the_likeliest_fault() -> None:
    """Sound is also the array under a cloud; of the faults the likeliest counts, not their sum."""
    shares = {"nothing-wrong": 0.3, "light-changed": 0.2, "dirt": 0.35, "bad-contact": 0.15}
    told = together(diagnosis_of(weighed(shares)))
    assert (told.demand, told.capacity) == pytest.approx((0.35, 0.5))


def test_only_the_latest_ten_days_and_24_readings_of_a_day_are_looked_into() -> None:
    many = [
        reading(f"{d} {k}", "short-circuit", current_a=2 * I_SC, taken_at=f"2027-06-{d:02}T12:00Z")
        for d in range(1, 13)
        for k in range(26 if d == 12 else 1)
    ]
    found = days(settled(BUILT, *many))
    names = [[many[k].name for k in day.indices] for day in found]
    assert names[:-1] == [[f"{d} 0"] for d in range(3, 12)]
    assert names[-1] == [f"12 {k}" for k in range(2, 26)]


@pytest.mark.parametrize(("light", "count"), [(1.0, 1), (0.99, 0)])
def test_readings_at_night_say_nothing_of_an_array(light: float, count: int) -> None:
    inspection = settled(BUILT, reading("v", "open-circuit", voltage_v=40.0))
    night = replace(inspection.conditions[0], irradiance_w_m2=light)
    assert len(days(replace(inspection, conditions=[night]))) == count


def test_readings_in_weak_light_are_left_out_where_there_are_others() -> None:
    dim = IrradianceReading(irradiance_w_m2=100.0)
    weak = reading("weak", "short-circuit", current_a=0.3, light=dim)
    assert {f.reading.name for f in day_of(weak, *at_nameplate(2, 2)).figures} == {
        "array open",
        "array short",
        "array work",
    }
    alone = day_of(weak)
    assert {f.reading.name for f in alone.figures} == {"weak"}
    assert alone.shares["too-little-light"] == pytest.approx(1.0)


def test_a_day_in_usual_dust_is_that_of_a_faultless_array() -> None:
    """1.5 % of the light is taken for granted, of what goes with light."""
    dusty = day_of(reading("i", "short-circuit", current_a=2 * I_SC * 0.985))
    assert dusty.off == pytest.approx([0.0], abs=1e-3)
    assert dusty.misfits[0] == pytest.approx(0.0, abs=1e-2)


def test_a_wrong_sign_is_as_unlikely_without_swapped_leads_as_a_right_one_with_them() -> None:
    """Either costs a misfit of 28: odds of e¹⁴, a million to one."""
    for volts in (2 * V_OC, -2 * V_OC):
        day = day_of(reading("v", "open-circuit", voltage_v=volts))
        codes = [one.code for one in day.tried]
        apart = day.misfits[codes.index("leads-swapped")] - day.misfits[0]
        assert apart == pytest.approx(28.0 if volts > 0.0 else -28.0)


@pytest.mark.parametrize("volts", [0.0, 1e-9])
def test_a_reading_of_nothing_is_a_thousandth_of_what_is_expected(volts: float) -> None:
    day = day_of(reading("v", "open-circuit", voltage_v=volts))
    assert day.off == pytest.approx([np.log(1e-3)], abs=0.01)


def of_information(
    causes: list[CauseCode], weights: list[float], means: list[float], deviation: float
) -> float:
    return information(causes, np.array(weights), np.array(means), deviation)


def mixed(weights: list[float], means: list[float], deviation: float) -> float:
    """Entropy of a mixture of Gaussians by quadrature [nat]."""

    def integrand(x: float) -> float:
        density = sum(w * norm.pdf(x, m, deviation) for w, m in zip(weights, means, strict=True))
        return -density * np.log(density) if density > 1e-300 else 0.0

    ends = min(means) - 9.0 * deviation, max(means) + 9.0 * deviation
    return float(quad(integrand, *ends, limit=400, points=means)[0])


@pytest.mark.parametrize("weights", [[0.5, 0.5], [0.8, 0.2], [0.4, 0.1]])
@pytest.mark.parametrize("apart", [0.0, 0.5, 2.0, 5.0, 30.0])
def test_a_figure_tells_two_causes_apart_as_far_as_they_lie_apart(
    weights: list[float], apart: float
) -> None:
    """Lindley 1956: entropy of the mixture less that of each; all of the doubt far apart."""
    share = np.array(weights) / sum(weights)
    deviation = 0.02
    means = [0.0, apart * deviation]
    own = 0.5 * np.log(2.0 * np.pi * np.e * deviation**2)
    found = of_information(["dirt", "bad-contact"], weights, means, deviation)
    assert found == pytest.approx(mixed(share.tolist(), means, deviation) - own, abs=1e-4)
    doubt = float(-np.sum(share * np.log(share)))
    assert found <= doubt + 1e-9
    assert found == pytest.approx(doubt if apart == 30.0 else min(found, doubt))


def test_severities_of_one_cause_are_no_doubt_about_it() -> None:
    """Two of dirt and one contact: entropy of all less that of each cause's own mixture."""
    weights, means = [0.3, 0.3, 0.4], [-0.05, 0.05, 0.1]
    of_dirt = mixed([0.5, 0.5], means[:2], 0.02)
    own = 0.5 * np.log(2.0 * np.pi * np.e * 0.02**2)
    due = mixed(weights, means, 0.02) - 0.6 * of_dirt - 0.4 * own
    found = of_information(["dirt", "dirt", "bad-contact"], weights, means, 0.02)
    assert found == pytest.approx(due, abs=1e-4)
    assert of_information(["dirt", "dirt"], [0.5, 0.5], [-0.5, 0.5], 0.02) == pytest.approx(0.0)


def test_nothing_is_asked_where_hardly_a_doubt_is_left() -> None:
    """0.05 nat: a probability of 99 % leaves 0.056, one of 99.2 % leaves 0.047."""
    day = day_of(*at_nameplate(2, 2)[:1])
    assert next_reading(weighed({"nothing-wrong": 0.99, "bad-contact": 0.01}, day)) is not None
    assert next_reading(weighed({"nothing-wrong": 0.992, "bad-contact": 0.008}, day)) is None


def test_nothing_is_asked_where_all_has_been_read_in_steady_light() -> None:
    """A string alone is worth reading only where there are several."""
    doubt: dict[CauseCode, float] = {"nothing-wrong": 0.5, "bad-contact": 0.5}
    for light in (STEADY, IrradianceReading(irradiance_w_m2=1000.0)):
        (day,) = days(settled(array(1, 2), *at_nameplate(1, 2, light=light)))
        assert (next_reading(weighed(doubt, day)) is None) == (light is STEADY)
    whole = [r for of in ("array", "s0", "s1") for r in at_nameplate(2, 2, of, light=STEADY)]
    assert next_reading(weighed(doubt, day_of(*whole))) is None
    assert next_reading(weighed(doubt, day_of(*whole[:-1]))) is not None


def test_what_is_asked_tells_the_doubt_apart() -> None:
    """A shorted group shows at open circuit, a contact at work only, a wrong sign anywhere."""
    day = day_of(reading("w", "operating", voltage_v=2 * V_MP * 0.9, current_a=2 * I_MP))
    for cause, kinds in (
        ("shorted-group", {"open-circuit"}),
        ("leads-swapped", set(KINDS)),
    ):
        found = next_reading(weighed({"bad-contact": 0.5, cause: 0.5}, day))
        assert found is not None
        assert found.kind in kinds, cause
        assert 0.0 <= found.doubt_removed_fraction <= 1.0
    found = next_reading(weighed({"bad-contact": 0.5, "shorted-group": 0.5}, day))
    assert found.doubt_removed_fraction == pytest.approx(1.0, abs=0.01)
    found = next_reading(weighed({"nothing-wrong": 0.5, "dirt": 0.5}, day))
    assert found.doubt_removed_fraction < 0.9, "a twentieth less light is within what meters leave"


def test_the_words_tell_where_the_figure_lies_for_either_cause() -> None:
    """45.8 V of two panels; three of four groups where one is shorted, in full sun."""
    day = day_of(reading("i", "short-circuit", current_a=2 * I_SC))
    found = next_reading(weighed({"nothing-wrong": 0.6, "shorted-group": 0.4}, day))
    assert isinstance(found.tells, Text)
    first, other = (found.tells.parameters[name].parameters for name in ("first", "other"))
    assert (found.kind, first["unit"]) == ("open-circuit", "V")
    assert first["value"] == pytest.approx(2 * V_OC, rel=0.01)
    assert (found.of, other["value"]) == ("s0", pytest.approx(1.5 * V_OC, rel=0.01))
    assert first["title"] != other["title"]
    assert found.quantity == "voltage"


def test_the_words_tell_the_likelier_cause_of_two_that_are_told_apart_well() -> None:
    """Three quarters and half of the voltage are both many deviations off: the odds decide."""
    day = day_of(reading("i", "short-circuit", current_a=2 * I_SC))
    shares = {"nothing-wrong": 0.5, "shorted-group": 0.3, "panel-missing": 0.2}
    found = next_reading(weighed(shares, day))
    other = found.tells.parameters["other"].parameters
    assert found.quantity == "voltage"
    assert other["title"] == "A bypass group is short-circuited"
    found = next_reading(weighed(shares | {"panel-missing": 0.31}, day))
    assert found.tells.parameters["other"].parameters["title"] == "One panel adds no voltage"


def test_what_all_currents_of_a_day_share_moves_the_next_one() -> None:
    """JCGM 100:2008, 5.2: shared of own variance, by hand from the table, of two strings of two.

    Light 0.03 and meter 0.02, of which 0.2² is each reading's own, dust 0.009, nameplate 0.025,
    model 0.006, panels 0.008 (two of four shared), and the light meter's offset of 4 W/m².
    """
    instruments, alike = 0.03**2 + 0.02**2, 0.009**2 + 0.025**2 + 0.006**2
    shared = (1.0 - 0.2**2) * instruments + alike + 0.008**2 * 2 / (4 * 2)
    own = instruments + alike + 0.008**2 / 4 + 0.004**2
    values = []
    for share in (0.985, 1.015):
        day = day_of(reading("i", "short-circuit", current_a=2 * I_SC * share))
        found = next_reading(weighed({"nothing-wrong": 0.6, "string-missing": 0.4}, day))
        assert (found.kind, found.of) == ("short-circuit", "s0")
        values.append(found.tells.parameters["first"].parameters["value"])
    moved = np.log(values[1] / values[0]) / np.log(1.015 / 0.985)
    assert moved == pytest.approx(shared / own, rel=1e-3)


@pytest.mark.parametrize(("light", "next_light"), [(300.0, 800.0), (1000.0, 1000.0)])
def test_the_next_reading_is_thought_of_in_good_light(light: float, next_light: float) -> None:
    sun = IrradianceReading(irradiance_w_m2=light)
    day = day_of(reading("i", "short-circuit", current_a=2 * I_SC * light / 1000.0, light=sun))
    found = next_reading(weighed({"nothing-wrong": 0.6, "shade-on-string": 0.4}, day))
    assert (found.kind, found.of) == ("short-circuit", "s0")
    value = found.tells.parameters["first"].parameters["value"]
    assert value == pytest.approx(I_SC * next_light / 1000.0, rel=0.02)


@pytest.mark.parametrize("cable", [0.0, 0.5])
def test_hypotheses_are_shifts_of_what_a_meter_shows(cable: float) -> None:
    """Behind both strings one string's fault shows by half; in a string alone wholly or not."""
    built = array(2, 2, cable_ohm=cable)
    readings = [
        reading("v", "open-circuit", voltage_v=2 * V_OC),
        reading("i", "short-circuit", current_a=2 * I_SC),
        *at_nameplate(1, 2, "s0"),
        reading("s1", "short-circuit", current_a=I_SC, of="s1"),
    ]
    (day,) = days(settled(built, *readings))
    columns = {(f.reading.of, f.reading.kind, f.quantity): k for k, f in enumerate(day.figures)}
    currents = [columns[of, "short-circuit", "current"] for of in ("array", "s0", "s1")]
    for row, one in enumerate(day.tried):
        changes = np.exp(day.shifts[row, currents])
        if one.code == "shade-on-string":
            left = [one.strings[n].light if n in one.strings else 1.0 for n in ("s0", "s1")]
            assert changes == pytest.approx([sum(left) / 2, *left], rel=0.01)
        if one.code == "dirt":
            assert changes == pytest.approx([one.strings["s0"].light] * 3, rel=0.01)
        if one.code == "light-changed" and one.dim[0] == "":
            assert changes == pytest.approx([1.0 - one.dim[1]] * 3, rel=0.01)
        if one.lead_ohm:
            work = [columns["s0", "operating", n] for n in ("voltage", "current")]
            assert not day.shifts[row, work].any(), "leads of the array, not of a string alone"
    missing = [k for k, one in enumerate(day.tried) if one.code == "string-missing"]
    shown = {tuple(np.round(np.exp(day.shifts[k, currents]), 2)) for k in missing}
    assert shown == {(0.5, 0.0, 1.0), (0.5, 1.0, 0.0), (0.5, 1.0, 1.0)}


def test_leads_of_a_single_string_are_those_of_the_array() -> None:
    """A contact that costs a tenth of the voltage does so in either reading, at one current."""
    own = at_nameplate(1, 2, "s0")
    (day,) = days(settled(array(1, 2), *own, *at_nameplate(1, 2)))
    volts = [
        k
        for k, f in enumerate(day.figures)
        if (f.reading.kind, f.quantity) == ("operating", "voltage")
    ]
    for row, one in enumerate(day.tried):
        if one.lead_ohm:
            ours, theirs = day.shifts[row, volts]
            assert ours == pytest.approx(theirs)
            assert ours < -0.01


def test_an_unexplained_high_current_is_no_fault_of_a_panel_without_diodes() -> None:
    bare = Panel(electrical=PANEL.electrical, construction="full-cell-no-diode")
    answer = asked(array(1, 1, bare), reading("i", "short-circuit", current_a=I_SC))
    assert answer.verdict == "pass"


def test_a_reading_to_come_is_known_by_those_before_it() -> None:
    """Conditional on the others, by the inverse of the whole covariance of a normal distribution.

    Variance 1 ÷ Λ_nn and mean − Λ_no ÷ Λ_nn times how far the others are off (from memory).
    """
    day = day_of(
        reading("open", "open-circuit", voltage_v=2 * V_OC),
        reading("short", "short-circuit", current_a=1.9 * I_SC),
        reading("one", "short-circuit", current_a=0.97 * I_SC, of="s1"),
    )
    likely = np.array([0, 3, len(day.tried) - 1])
    tried = [day.tried[row] for row in likely]
    items = _candidates(day)
    assert len(items) >= 3
    for item in items:
        own = np.linalg.inv(covariance(day.inspection, [*day.figures, item]))
        means, deviation = _outcomes(day, item, likely, tried)
        assert deviation == pytest.approx(own[-1, -1] ** -0.5, rel=1e-6)
        off = day.off - day.shifts[likely]
        due = shifts(day.inspection, tried, [item])[:, 0] - off @ own[-1, :-1] / own[-1, -1]
        assert means == pytest.approx(due, abs=1e-9)


@pytest.mark.parametrize("sign", [1.0, -1.0])
def test_a_next_reading_names_the_likeliest_cause_and_the_one_it_tells_apart_best(
    sign: float,
) -> None:
    """Dirt at 1, half a deviation from a bad contact and two from hot cells, which count alike."""
    day = day_of(reading("open", "open-circuit", voltage_v=2 * V_OC))
    item = _candidates(day)[0]
    codes: list[CauseCode] = ["dirt", "bad-contact", "hotter-cells"]
    told = _words(item, codes, np.array([0.6, 0.2, 0.2]), sign * np.array([1.0, 1.5, -1.0]), 1.0)
    assert isinstance(told, Text)
    named = [told.parameters[which].parameters["title"] for which in ("first", "other")]
    assert named == ["Dirt or an even film on the panels", "Cells hotter than reckoned"]
