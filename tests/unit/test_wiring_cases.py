"""What wire sizing chooses where a request leaves something open, and at which figure it turns."""

import msgspec
import pytest

from sunhitch.types.wiring import (
    Conductor,
    ConductorSize,
    EntryRequest,
    PanelsBehind,
    Run,
    WireSizingRequest,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.circuit.devices import family_named
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.case import resolve
from sunhitch_service.engine.wiring.currents import design_currents, operating_a
from sunhitch_service.engine.wiring.device import find_device
from sunhitch_service.engine.wiring.entry import (
    cable_entry,
    entry_checks,
    gland_for,
    with_diameters,
)
from sunhitch_service.engine.wiring.installation import InstallationKey, installation
from sunhitch_service.engine.wiring.ladders import size_by_area, size_by_awg, sizes
from sunhitch_service.engine.wiring.outcome import outcome
from sunhitch_service.engine.wiring.remedies import remedy
from sunhitch_service.engine.wiring.resistance import resistance_at
from sunhitch_service.engine.wiring.search import first_candidate, ladder_case

PANELS = PanelsBehind(i_sc_a=8.0, i_mp_a=7.5)


def ask(circuit="controller-to-battery", rules="nec-2023", **fields):
    fields = {"voltage_v": 12.0, "length_m": 2.0} | fields
    if not {"current_a", "panels_behind", "controller_output_a"} & set(fields):
        fields["current_a"] = 20.0
    return WireSizingRequest(circuit=circuit, rules=rules, **fields)


def resolved(**fields):
    """The case, and what was assumed by field."""
    assumptions = Assumptions()
    case = resolve(ask(**fields), assumptions)
    return case, {made.field: made.value for made in assumptions.listed()}


def answered(**fields):
    return wire_sizing(ask(**fields))


def check(answer, code):
    return next(each for each in answer.checks if each.code == code)


def codes(answer):
    return {each.code for each in answer.checks}


# --- currents -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("circuit", "source", "maximum_a", "operating", "why"),
    [
        ("battery-to-load", {"current_a": 20.0}, 20.0, 20.0, "largest-is-safe"),
        ("controller-to-battery", {"controller_output_a": 30.0}, 30.0, 30.0, "largest-is-safe"),
        ("pv-output", {"current_a": 20.0}, 20.0, 16.0, "without-strong-sun"),
        # 690.8(A)(1): 1.25 × 8 A; Imp behind the drop, Isc where it is not given
        ("pv-string", {"panels_behind": PANELS}, 10.0, 7.5, "of-panels-in-sun"),
        ("pv-string", {"panels_behind": PanelsBehind(i_sc_a=8.0)}, 10.0, 8.0, "of-panels-in-sun"),
        (
            "pv-output",
            {"panels_behind": PanelsBehind(i_sc_a=8.0, i_mp_a=7.5, strings_in_parallel=3)},
            30.0, 22.5, "of-panels-in-sun",
        ),
        (
            "pv-string",
            {"panels_behind": PanelsBehind(i_sc_a=8.0, i_mp_a=7.5, strings_in_parallel=3)},
            10.0, 7.5, "of-panels-in-sun",
        ),
        (
            "pv-output",
            {"panels_behind": PanelsBehind(
                i_sc_a=8.0, i_mp_a=7.5, strings_in_parallel=2, other_strings_i_sc_a=4.0
            )},
            15.0, 11.25, "of-panels-in-sun",
        ),
        ("pv-output", {"current_a": 20.0, "operating_current_a": 9.0}, 20.0, 9.0, "given"),
    ],
)  # fmt: skip
def test_largest_and_operating_current(circuit, source, maximum_a, operating, why):
    request = ask(circuit, **source)
    for rules, factor in [("nec", 1.25), ("iec", 1.0), ("us-33-cfr-183", 1.0)]:
        found = design_currents(request, rules)
        assert found.maximum_a == found.after_correction_a == pytest.approx(maximum_a)
        assert found.before_correction_a == pytest.approx(factor * maximum_a)
        assert found.operating_a == pytest.approx(operating)
        told = found.how
        assert told.code == ("largest-current-before" if factor > 1.0 else "largest-current-only")
        if factor > 1.0:
            assert told.parameters["before_a"] == pytest.approx(1.25 * maximum_a)
    assert operating_a(request)[1].code == why


def test_a_load_that_is_not_continuous_counts_once():
    found = design_currents(ask("battery-to-load", continuous=False), "nec")
    assert found.before_correction_a == 20.0


def test_how_a_current_of_strings_is_told():
    """Three alike are counted as strings; unequal ones as their sum."""
    alike = PanelsBehind(i_sc_a=8.0, strings_in_parallel=3)
    mixed = PanelsBehind(i_sc_a=8.0, strings_in_parallel=2, other_strings_i_sc_a=4.0)
    lone = PanelsBehind(i_sc_a=8.0, strings_in_parallel=3, other_strings_i_sc_a=9.0)
    for circuit, panels, text in [
        ("pv-output", alike, "3 × 8 A × 1.25"),
        ("pv-output", mixed, "12 A × 1.25"),
        ("pv-string", lone, "1 × 8 A × 1.25"),
    ]:
        request = ask(circuit, panels_behind=panels)
        assert text in design_currents(request, "iec").how


# --- what is assumed ----------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("rules", "circuit", "insulation"),
    [
        ("nec-2023", "pv-output", "90c"),
        ("nec-2023", "battery-to-load", "90c"),
        ("iec", "pv-output", "en-50618"),
        ("iec", "battery-to-load", "pvc-70"),
        ("us-33-cfr-183", "pv-output", "105c"),
        ("us-33-cfr-183", "battery-to-load", "105c"),
    ],
)
def test_usual_cable(rules, circuit, insulation):
    case, assumed = resolved(rules=rules, circuit=circuit)
    assert (case.insulation, case.stranding) == (insulation, "fine-stranded")
    assert assumed["/insulation"] == insulation
    assert case.ladder == ("mm2" if rules == "iec" else "awg")
    if rules == "us-33-cfr-183":
        return
    case, _ = resolved(rules=rules, circuit=circuit, conductor=Conductor(material="aluminium"))
    usual = "xlpe-90" if insulation == "en-50618" else insulation
    assert (case.insulation, case.stranding) == (usual, "stranded")


@pytest.mark.parametrize(
    ("rules", "amperes", "terminal_c"),
    [
        # 110.14(C): 60 °C to 100 A, 75 °C above; 1.25 × 80 A = 100 A
        ("nec-2023", 80.0, 60.0),
        ("nec-2023", 80.1, 75.0),
        ("nec-2023", 5.0, 60.0),
        ("iec", 80.1, 70.0),
        ("us-33-cfr-183", 80.1, None),
    ],
)
def test_usual_terminals(rules, amperes, terminal_c):
    case, assumed = resolved(rules=rules, current_a=amperes)
    assert case.terminal_c == terminal_c
    assert assumed.get("/terminal_temperature_c") == terminal_c
    assert resolved(rules=rules, terminal_temperature_c=65.0)[0].terminal_c == 65.0


@pytest.mark.parametrize(
    ("circuit", "drop", "highest_v", "runs"),
    [
        # 2 % for panels and 3 % for loads are read, 1 % to the battery is common practice
        ("pv-string", 0.02, 18.0, ["on-roof", "raceway"]),
        ("pv-output", 0.02, 18.0, ["on-roof", "raceway"]),
        ("controller-to-battery", 0.01, 15.0, ["bundled"]),
        ("battery-to-load", 0.03, 15.0, ["bundled"]),
        ("chassis-return", 0.03, 15.0, ["bundled"]),
    ],
)
def test_usual_drop_voltage_and_way(circuit, drop, highest_v, runs):
    case, assumed = resolved(circuit=circuit)
    assert case.allowed_drop_v == pytest.approx(drop * 12.0)
    assert case.highest_v == highest_v
    assert assumed["/allowed_drop_fraction"] == drop
    assert assumed["/max_voltage_v"] == highest_v
    assert [run.where for run in case.runs] == runs
    assert assumed["/runs"] == " ".join(runs)
    given, told = resolved(circuit=circuit, allowed_drop_fraction=0.05, max_voltage_v=14.0)
    assert (given.allowed_drop_v, given.highest_v) == (pytest.approx(0.6), 14.0)
    assert not {"/allowed_drop_fraction", "/max_voltage_v"} & set(told)
    assert case.chassis_ohm == (0.005 if circuit == "chassis-return" else None)


@pytest.mark.parametrize(
    ("known_m", "walls", "left"),
    [
        (1.2, 1, pytest.approx(0.8)),
        (1.2, 2, "0.5 m or more"),
        (1.989, 1, pytest.approx(0.011)),
        (1.9895, 1, pytest.approx(0.0105)),
        (1.995, 1, "0.5 m or more"),
        (2.0, 1, "0.5 m or more"),
        (2.0, 2, "0.5 m or more"),
    ],
)
def test_a_run_in_a_wall_is_as_long_as_the_others_leave_it(known_m, walls, left):
    """Of 2 m; 0.01 m is the shortest run that can be told."""
    runs = [Run(where="raceway", length_m=known_m), *[Run(where="insulated-wall")] * walls]
    assumed = resolved(runs=runs)[1]
    assert [assumed[f"/runs/{n}/length_m"] for n in range(1, walls + 1)] == [left] * walls


def test_what_runs_leave_open():
    runs = [
        Run(where="on-roof"),
        Run(where="insulated-wall"),
        Run(where="raceway"),
        Run(where="on-roof", height_above_roof_m=0.05),
        Run(where="insulated-wall", length_m=0.3),
    ]
    case, assumed = resolved(runs=runs)
    assert [run.length_m for run in case.runs] == [None, pytest.approx(1.7), None, None, 0.3]
    assert {field: value for field, value in assumed.items() if "/runs" in field} == {
        "/runs/0/height_above_roof_m": 0.0,
        "/runs/1/length_m": pytest.approx(2.0 - 0.3),
    }
    assert resolved(ambient_c=30.0)[0].ambient_c == 30.0


def test_a_parked_vehicle_is_hotter_inside_than_its_roof_s_air():
    """Judgement; a fit-out has had 45 °C inside, or 7 K more than outside, by the same table."""
    inside, outside = resolved()[0], resolved(circuit="pv-string", current_a=5.0)[0]
    assert (inside.group, inside.ambient_c) == ("battery", 45.0)
    assert (outside.group, outside.ambient_c) == ("pv", 40.0)


def test_the_operating_current_is_assumed_where_it_is_not_given():
    assert "/operating_current_a" in resolved()[1]
    assert "/operating_current_a" not in resolved(operating_current_a=5.0)[1]


@pytest.mark.parametrize(
    ("light", "isc_a", "others_a"),
    [
        ({}, 8.0, None),
        ({"strongest_w_m2": 1250.0}, 8.0, None),
        ({"strongest_w_m2": 1500.0}, 9.6, 4.8),  # × 1.2
        ({"bifaciality_fraction": 0.8}, 8.864, 4.432),  # × (1 + 0.135 × 0.8)
    ],
)
def test_light_that_adds_to_what_the_nameplate_says(light, isc_a, others_a):
    panels = PanelsBehind(i_sc_a=8.0, strings_in_parallel=2, other_strings_i_sc_a=4.0, **light)
    case, assumed = resolved(circuit="pv-output", panels_behind=panels)
    behind = case.request.panels_behind
    assert behind.i_sc_a == pytest.approx(isc_a)
    assert behind.other_strings_i_sc_a == pytest.approx(others_a or 4.0)
    told = {field: value for field, value in assumed.items() if "i_sc_a" in field}
    assert told == (
        {
            "/panels_behind/i_sc_a": pytest.approx(isc_a),
            "/panels_behind/other_strings_i_sc_a": pytest.approx(others_a),
        }
        if others_a
        else {}
    )


@pytest.mark.parametrize(
    ("fields", "fault_a"),
    [
        # a fuse block up to 30 A of fuse: 1.25 × 24 A
        ({"circuit": "battery-to-load", "current_a": 24.0}, 1000.0),
        ({"circuit": "chassis-return", "current_a": 24.0}, 1000.0),
        ({"circuit": "battery-to-load", "current_a": 24.1}, 20_000.0),
        ({"circuit": "controller-to-battery", "current_a": 5.0}, 20_000.0),
        ({"circuit": "pv-output", "current_a": 20.0}, 20.0),
        # 1.25 × (8 + 2 × 8) A and what the battery pushes back
        (
            {"circuit": "pv-output", "panels_behind": PanelsBehind(
                i_sc_a=8.0, strings_in_parallel=3, battery_backfeed_a=40.0)},
            70.0,
        ),
    ],
)  # fmt: skip
def test_fault_currents_that_are_not_given(fields, fault_a):
    case, assumed = resolved(**fields)
    assert case.fault_a == pytest.approx(fault_a)
    assert assumed["/fault_current_a"] == pytest.approx(fault_a)
    assert resolved(**fields, fault_current_a=77.0)[0].fault_a == 77.0


def test_plugs_of_panels_and_none_at_a_battery():
    """30 A on 6 mm² at the most is usual."""
    assert (case := resolved(circuit="pv-output")[0]).connector_a == 30.0
    assert case.connector_mm2 == 6.0
    case = resolved()[0]
    assert (case.connector_a, case.connector_mm2) == (None, None)
    case = resolved(connector_rating_a=50.0, connector_largest_mm2=10.0)[0]
    assert (case.connector_a, case.connector_mm2) == (50.0, 10.0)


# --- contradictions: what just does not contradict ------------------------------------------------


@pytest.mark.parametrize(
    "fields",
    [
        {"operating_current_a": 20.0},
        {"operating_current_a": 20.0 * (1.0 + 1e-12)},
        {"max_voltage_v": 12.0},
        {"runs": [Run(where="raceway"), Run(where="bundled", length_m=2.0)]},
        {"operating_current_a": 0.0},
        {"terminal_temperature_c": 60.0, "ambient_c": 59.9},
        {"runs": [Run(where="raceway", length_m=1.5), Run(where="bundled", length_m=0.5)]},
        {"conductor_at_hand": ConductorSize(awg="10", area_mm2=5.261 * 1.019)},
        {"conductor_at_hand": ConductorSize(awg="10", area_mm2=5.261 * 0.981)},
        {
            "conductor_at_hand": ConductorSize(area_mm2=10.0),
            "conductor": Conductor(material="aluminium"),
        },
        {"fuse_needed": False},
        {"fuse_needed": True, "fuse_rating_a": 30.0},
        {"energy_price_per_kwh": 0.3, "hours_per_year": 10.0},
        {"circuit": "chassis-return", "chassis_resistance_ohm": 0.01},
        {"circuit": "pv-output", "rules": "us-33-cfr-183", "fuse_distance_m": 0.1},
        {"circuit": "battery-to-load", "continuous": False},
        {
            "circuit": "pv-string",
            "panels_behind": PanelsBehind(
                i_sc_a=8.0, strings_in_parallel=2, other_strings_i_sc_a=5.0
            ),
        },
        {"runs": [Run(where="on-roof", height_above_roof_m=0.1, in_raceway=True)]},
        {"rules": "iec", "insulation": "75c"},
    ],
)
def test_what_just_agrees_is_taken(fields):
    assert answered(**fields).verdict


@pytest.mark.parametrize(
    ("fields", "pointer"),
    [
        ({"operating_current_a": 20.1}, "/operating_current_a"),
        ({"max_voltage_v": 11.9}, "/max_voltage_v"),
        ({"terminal_temperature_c": 60.0, "ambient_c": 60.0}, "/terminal_temperature_c"),
        ({"runs": [Run(where="raceway", length_m=2.001)]}, "/runs"),
        ({"conductor_at_hand": ConductorSize(awg="10", area_mm2=5.261 * 1.021)},
         "/conductor_at_hand"),
        ({"conductor_at_hand": ConductorSize(area_mm2=6.0),
          "conductor": Conductor(material="aluminium")}, "/conductor_at_hand/area_mm2"),
        ({"fuse_needed": False, "fuse_rating_a": 30.0}, "/fuse_needed"),
        ({"circuit": "pv-output", "rules": "iec", "fuse_distance_m": 0.1}, "/fuse_distance_m"),
        ({"controller_output_a": 20.0, "continuous": False}, "/continuous"),
        ({"circuit": "pv-string", "panels_behind": PanelsBehind(
            i_sc_a=8.0, strings_in_parallel=1, other_strings_i_sc_a=5.0)},
         "/panels_behind/other_strings_i_sc_a"),
    ],
)  # fmt: skip
def test_what_just_does_not_agree_is_refused(fields, pointer):
    with pytest.raises(ContradictionError) as refused:
        answered(**fields)
    assert [fault.pointer for fault in refused.value.faults] == [pointer]


# --- devices ------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("fields", "minimum_a", "above", "maximum_a", "needed"),
    [
        ({"current_a": 20.0}, 25.0, False, None, True),
        ({"circuit": "battery-to-load", "continuous": False}, 20.0, False, None, True),
        # 20 A are 1.25 × 16 A: 690.9(B) 1.5625 ×, IEC 1.25 to 2.4 × in the common line
        ({"circuit": "pv-output"}, 25.0, False, None, False),
        ({"circuit": "pv-output", "rules": "iec"}, 20.0, True, 38.4, False),
        ({"circuit": "pv-string"}, 25.0, False, 38.4, False),
        ({"circuit": "pv-string", "rules": "iec"}, 24.0, True, 38.4, False),
        # of three strings of 8 A the common line carries 24 A; one string alone is its own lead
        ({"circuit": "pv-output", "panels_behind": PanelsBehind(
            i_sc_a=8.0, strings_in_parallel=3)}, 37.5, False, None, False),
        ({"circuit": "pv-output", "panels_behind": PanelsBehind(
            i_sc_a=8.0, max_series_fuse_a=15.0)}, 12.5, False, 15.0, False),
        ({"circuit": "pv-output", "panels_behind": PanelsBehind(
            i_sc_a=8.0, battery_backfeed_a=0.05, strings_in_parallel=2)}, 25.0, False, None, True),
        ({"circuit": "pv-string", "panels_behind": PanelsBehind(
            i_sc_a=8.0, strings_in_parallel=3, max_series_fuse_a=15.0)}, 12.5, False, 15.0, True),
        ({"circuit": "pv-string", "panels_behind": PanelsBehind(
            i_sc_a=8.0, strings_in_parallel=3)}, 12.5, False, 19.2, True),
        ({"fuse_needed": False}, 25.0, False, None, False),
        ({"circuit": "pv-output", "fuse_needed": True}, 25.0, False, None, True),
    ],
)  # fmt: skip
def test_the_range_and_the_need_of_a_device(fields, minimum_a, above, maximum_a, needed):
    case, _ = resolved(**fields)
    found = find_device(case)
    assert (found.need.minimum_a, found.need.above_minimum) == (pytest.approx(minimum_a), above)
    assert found.need.maximum_a == pytest.approx(maximum_a or float("inf"))
    assert (found.needed, found.fitted) == (needed, needed)


def test_the_device_that_a_conductor_leaves_room_for():
    """Between 25 A and the largest on the conductor; where no size fits, none is named."""
    answer = answered(fault_current_a=900.0)
    protection, chosen = answer.protection, answer.awg.chosen
    assert (protection.minimum_a, protection.rating_a) == (25.0, 25.0)
    assert protection.maximum_a == chosen.largest_device_a
    carries = check(answer, "device-carries-load")
    assert (carries.verdict, carries.demand, carries.capacity) == ("pass", 25.0, 25.0)
    string = PanelsBehind(i_sc_a=8.0, strings_in_parallel=3, max_series_fuse_a=15.0)
    held = answered(circuit="pv-string", panels_behind=string, voltage_v=20.0)
    assert held.protection.maximum_a == 15.0
    huge = answered(current_a=500.0, length_m=0.5, fault_current_a=900.0)
    carries = check(huge, "device-carries-load")
    assert (carries.verdict, carries.demand, carries.capacity) == ("fail", 625.0, 500.0)
    assert carries.remedies == ["device-carries-load.split"]
    assert not codes(huge) & {"device-voltage", "device-interrupting"}


@pytest.mark.parametrize(
    ("family", "amperes", "most_a", "remedy"),
    [
        ("blade", 32.0, 40.0, None),
        ("blade", 32.1, 40.0, "other"),
        ("class-t", 321.0, 400.0, "other"),
        ("class-t", 500.0, 400.0, "split"),
    ],
)
def test_a_family_that_is_asked_for_ends_where_its_own_sizes_do(family, amperes, most_a, remedy):
    """Blade fuses end at 40 A, class T at 400 A, the largest of all at 500 A (common practice)."""
    answer = answered(current_a=amperes, length_m=0.5, fault_current_a=900.0, fuse_family=family)
    carries = check(answer, "device-carries-load")
    assert (carries.demand, carries.capacity) == (pytest.approx(1.25 * amperes), most_a)
    assert carries.verdict == ("fail" if remedy else "pass")
    assert carries.remedies == ([f"device-carries-load.{remedy}"] if remedy else [])
    assert ("device-voltage" in codes(answer)) == (remedy is None)


def test_families_that_would_do_carry_the_current_too():
    """A blade fuse is rated for 32 V; the one that is named in its place fits wholly."""
    asked = {"voltage_v": 48.0, "max_voltage_v": 58.0, "fault_current_a": 900.0}
    for amperes in (20.0, 120.0):
        answer = answered(current_a=amperes, fuse_family="blade", fuse_rating_a=40.0, **asked)
        told = check(answer, "device-voltage")
        usual = answered(current_a=amperes, **asked)
        titles = {option.title for option in usual.protection.options if option.suitable}
        assert told.verdict == "fail"
        assert told.parameters["family"] in titles


@pytest.mark.parametrize(("rules", "largest_a"), [("iec", 2.4 * 12.8), ("nec-2023", None)])
def test_a_device_at_hand_in_a_line_of_panels_stays_within_the_range_that_is_told(rules, largest_a):
    """IEC 62548: up to 2.4 × Isc, here of two strings of 6.4 A; NFPA 70 names no largest."""
    panels = PanelsBehind(i_sc_a=6.4, strings_in_parallel=2, battery_backfeed_a=50.0)
    for given in ({"panels_behind": panels}, {"current_a": 1.25 * 12.8}):
        for rating_a in (25.0, 30.0, 32.0, 50.0):
            answer = answered(
                circuit="pv-output",
                rules=rules,
                voltage_v=20.0,
                length_m=0.5,
                fuse_rating_a=rating_a,
                **given,
            )
            if largest_a is None:
                assert "device-range" not in codes(answer)
                continue
            within = rating_a <= largest_a
            assert check(answer, "device-range").verdict == ("pass" if within else "fail")
            assert check(answer, "device-range").capacity == pytest.approx(largest_a)
            assert within or answer.verdict == "fail"


def test_a_rating_at_the_minimum_is_too_small_under_iec():
    """IEC 62548: above 1.25 × 16 A in the common line; NFPA 70 is content with 25 A at 25 A."""
    at = answered(circuit="pv-output", rules="iec", fuse_rating_a=20.0, voltage_v=20.0)
    assert check(at, "device-carries-load").verdict == "fail"
    assert check(at, "device-carries-load").utilisation_fraction == pytest.approx(1.0)
    above = answered(circuit="pv-output", rules="iec", fuse_rating_a=25.0, voltage_v=20.0)
    assert check(above, "device-carries-load").verdict == "pass"
    nec = answered(circuit="pv-output", fuse_rating_a=25.0, voltage_v=20.0)
    assert check(nec, "device-carries-load").verdict == "pass"


def test_where_a_device_is_judged_at_all():
    bare = codes(answered(circuit="pv-output", voltage_v=20.0))
    assert not bare & {"device-carries-load", "device-voltage", "string-reverse-current"}
    asked = codes(answered(circuit="pv-string", voltage_v=20.0))
    assert "string-reverse-current" in asked
    fed = PanelsBehind(i_sc_a=8.0, battery_backfeed_a=40.0, max_series_fuse_a=15.0)
    judged = codes(answered(circuit="pv-output", panels_behind=fed, voltage_v=20.0))
    assert {"string-reverse-current", "string-fuse-rating", "device-carries-load"} <= judged


def test_a_breaking_capacity_that_only_another_family_has():
    small = check(answered(fault_current_a=5000.0, fuse_family="blade"), "device-interrupting")
    assert (small.verdict, small.remedies) == ("fail", ["device-interrupting.other"])
    none = check(answered(fault_current_a=90e3), "device-interrupting")
    assert (none.verdict, none.remedies) == ("fail", ["device-interrupting.none"])
    high = check(answered(fuse_family="blade", fault_current_a=900.0, max_voltage_v=40.0),
                 "device-voltage")  # fmt: skip
    assert (high.verdict, high.demand, high.capacity) == ("fail", 40.0, 32.0)
    assert high.remedies == ["device-voltage.other"]
    assert high.parameters == {"voltage_v": 40.0, "family": family_named("battery-stud").title}
    none = check(answered(fault_current_a=900.0, max_voltage_v=200.0), "device-voltage")
    assert (none.verdict, none.remedies) == ("fail", ["device-voltage.none"])


# --- the answer ---------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("strings", "circuit", "remedies"),
    [(1, "pv-output", 1), (2, "pv-output", 2), (2, "pv-string", 1)],
)
def test_plugs_that_strings_share_may_be_split(strings, circuit, remedies):
    panels = PanelsBehind(i_sc_a=16.0, strings_in_parallel=strings, max_series_fuse_a=40.0)
    answer = answered(
        circuit=circuit, panels_behind=panels, voltage_v=20.0, connector_rating_a=15.0
    )
    assert len(check(answer, "connector-current").remedies) == remedies


@pytest.mark.parametrize(
    ("circuit", "strings", "count"),
    [("pv-string", 1, 1), ("pv-string", 2, 0), ("pv-output", 2, 1), ("pv-string", None, 1)],
)
def test_strings_in_parallel_are_switched_in_the_common_line(circuit, strings, count):
    source = (
        {"panels_behind": PanelsBehind(i_sc_a=8.0, strings_in_parallel=strings)} if strings else {}
    )
    answer = answered(circuit=circuit, voltage_v=20.0, **source)
    assert len(answer.disconnects) == count
    if count:
        assert answer.disconnects[0].minimum_current_a == answer.protection.minimum_a
        assert answer.disconnects[0].minimum_voltage_v == 30.0


def test_notes_begin_above_their_voltage():
    """Guarded above 30 V, touch above 60 V: neither at the voltage itself."""
    for highest_v, told in [
        (30.0, set()),
        (30.1, {"guarded-above-30-v"}),
        (60.0, {"guarded-above-30-v"}),
        (60.1, {"guarded-above-30-v", "touch-above-60-v"}),
    ]:
        answer = answered(circuit="pv-output", voltage_v=20.0, max_voltage_v=highest_v)
        assert {note.code for note in answer.notes if "above" in note.code} == told


@pytest.mark.parametrize(
    ("circuit", "told", "not_told"),
    [
        ("pv-output", {"polarity-pv", "workmanship"}, {"polarity-battery", "own-leads"}),
        ("pv-string", {"polarity-pv", "workmanship", "own-leads"}, {"polarity-battery"}),
        ("battery-to-load", {"polarity-battery", "workmanship"}, {"polarity-pv", "chassis-return"}),
        ("chassis-return", {"polarity-battery", "workmanship", "chassis-return"}, {"polarity-pv"}),
    ],
)
def test_notes_of_the_kind_of_circuit_and_of_the_circuit(circuit, told, not_told):
    codes = {note.code for note in answered(circuit=circuit).notes}
    assert told <= codes
    assert not not_told & codes


def test_a_battery_above_60_v_needs_a_disconnect():
    """NFPA 70, 480.7."""
    for highest_v, told in [(60.0, False), (60.1, True)]:
        answer = answered(voltage_v=48.0, max_voltage_v=highest_v)
        assert ("disconnect-above-60-v" in {note.code for note in answer.notes}) is told


def test_cautions_by_what_is_handled():
    sun, battery = answered(circuit="pv-output", voltage_v=20.0), answered()
    assert sun.cautions[0] == cautions("lit-panel")[0]
    assert battery.cautions[0] == cautions("battery-energy")[0]
    roof = answered(entry=EntryRequest(cable_diameters_mm=[6.0], sheet="steel", thickness_mm=1.0))
    inside = answered(
        entry=EntryRequest(cable_diameters_mm=[6.0], sheet="steel", thickness_mm=1.0, on_roof=False)
    )
    assert "roof-leak" in {each.about for each in roof.cautions}
    assert "roof-leak" not in {each.about for each in inside.cautions}


def test_every_check_of_a_conductor_tells_demand_over_capacity():
    for each in answered().checks:
        if each.subject and each.unit and each.capacity and each.utilisation_fraction is not None:
            assert each.utilisation_fraction == pytest.approx(each.demand / each.capacity)
    drop = check(answered(current_a=0.1, length_m=0.05), "voltage-drop")
    assert 0.0 < drop.utilisation_fraction < 0.1
    tight = check(answered(length_m=0.05, allowed_drop_fraction=0.005), "voltage-drop")
    assert tight.utilisation_fraction == pytest.approx(tight.demand / 0.06)
    frost = check(answered(ambient_c=0.0), "ambient-in-table")
    assert frost.utilisation_fraction == 0.0
    colder = check(answered(ambient_c=-10.0), "ambient-in-table")
    assert (colder.verdict, colder.utilisation_fraction) == ("pass", None)


def test_a_size_at_hand_is_told_what_fails():
    """16 AWG at 20 A fails; what would do is the chosen one."""
    answer = answered(conductor_at_hand=ConductorSize(awg="16"), fault_current_a=900.0)
    found = check(answer, "conductor-at-hand")
    best = answer.awg.chosen
    assert (found.verdict, found.demand, found.capacity) == ("fail", best.area_mm2, 1.31)
    failing = [each.code for each in answer.at_hand.rules if each.verdict == "fail"]
    assert [title.code for title in found.parameters["failed"]] == failing
    assert found.parameters["better"] == best.size
    none = answered(conductor_at_hand=ConductorSize(awg="16"), current_a=500.0, length_m=50.0)
    found = check(none, "conductor-at-hand")
    assert (found.demand, found.parameters["better"].code) == (None, "another-way")
    thick = answered(conductor_at_hand=ConductorSize(awg="4/0"), fault_current_a=900.0)
    assert check(thick, "conductor-at-hand").verdict == "pass"
    metric = answered(conductor_at_hand=ConductorSize(area_mm2=50.0), fault_current_a=900.0)
    assert metric.at_hand.size == "50 mm²"
    assert "equivalent-area" in {each.code for each in metric.at_hand.rules}
    assert "equivalent-area" not in {each.code for each in thick.at_hand.rules}


# --- entries ------------------------------------------------------------------------------------

# EN 62444 glands, clamping ranges that makers print; the smallest that seals comes first.
GLANDS = [
    ("M12", 3.0, 6.5, 12.3),
    ("M16", 5.0, 10.0, 16.3),
    ("M20", 7.0, 13.0, 20.3),
    ("M25", 10.0, 17.0, 25.3),
    ("M32", 15.0, 21.0, 32.3),
    ("M40", 19.0, 28.0, 40.3),
]


def test_the_smallest_gland_that_seals():
    for size, clamps_from, clamps_to, hole in GLANDS:
        found = gland_for(clamps_to)
        assert (found.size, found.clamps_from_mm, found.clamps_to_mm, found.hole_mm) == (
            size, clamps_from, clamps_to, hole,
        )  # fmt: skip
    for (size, *_), (_, _, below, _) in zip(GLANDS[1:], GLANDS, strict=False):
        assert gland_for(below + 0.01).size == size
    assert gland_for(3.0).size == "M12"
    assert gland_for(2.99) is None
    assert gland_for(28.01) is None


def entry(*diameters, **fields):
    return EntryRequest(
        cable_diameters_mm=list(diameters), sheet="steel", thickness_mm=1.0, **fields
    )


def test_bends_and_drip_loops():
    """Four diameters fixed, five flexing; a loop of twice the bend and 50 mm at the least."""
    for flexes, bend, loop in [(False, 40.0, 80.0), (True, 50.0, 100.0)]:
        found = cable_entry(entry(6.0, 10.0, flexes=flexes))
        assert (found.bend_radius_mm, found.drip_loop_mm) == (bend, loop)
    assert cable_entry(entry(5.0)).drip_loop_mm == 50.0
    assert cable_entry(entry(7.0)).drip_loop_mm == 56.0


@pytest.mark.parametrize(
    ("diameters", "size", "verdict", "demand", "capacity"),
    [
        ([6.0, 7.0], "M16", "pass", 7.0, 10.0),
        ([5.0, 10.0], "M16", "pass", 10.0, 10.0),
        ([4.9, 10.0], "M16", "fail", 4.9, 5.0),
        ([5.0, 10.1], "M16", "fail", 10.1, 10.0),
    ],
)
def test_a_gland_at_hand_seals_every_cable(diameters, size, verdict, demand, capacity):
    asked = entry(*diameters, gland_at_hand=size)
    _, found = entry_checks(asked, cable_entry(asked))
    assert (found.verdict, found.demand, found.capacity) == (verdict, demand, capacity)
    if verdict == "fail":
        assert found.remedies == ["gland-at-hand.other"]


def test_cables_that_no_gland_seals():
    for diameters, verdict, demand in [
        ([28.0], "pass", 28.0),
        ([28.1], "fail", 28.1),
        ([2.0, 6.0], "fail", None),
        ([2.0, 28.0], "fail", None),
        ([6.0, 29.0], "fail", 29.0),
    ]:
        asked = entry(*diameters)
        (found,) = entry_checks(asked, cable_entry(asked))
        assert (found.verdict, found.demand) == (verdict, demand)
        assert found.parameters == ({"from_mm": 3.0, "to_mm": 28.0} if verdict == "fail" else {})
    for diameter, step in [(6.0, "drill-through"), (2.0, "entry-box")]:
        assert step in [one.code for one in cable_entry(entry(diameter)).steps]
    asked = entry(2.0, gland_at_hand="M12")
    assert entry_checks(asked, cable_entry(asked))[1].remedies == ["gland-at-hand.none"]


def test_usual_diameters_are_those_of_pv_cable():
    bare = EntryRequest(sheet="steel", thickness_mm=1.0)
    assert with_diameters(bare, "4 mm²", "pv", Assumptions()).cable_diameters_mm == [5.6, 5.6]
    assert not with_diameters(bare, "4 mm²", "battery", Assumptions()).cable_diameters_mm
    assert not with_diameters(bare, "95 mm²", "pv", Assumptions()).cable_diameters_mm
    given = msgspec.structs.replace(bare, cable_diameters_mm=[9.0])
    assert with_diameters(given, "4 mm²", "pv", Assumptions()) is given


# --- a way of several runs ----------------------------------------------------------------------


def laid(*runs, ladder="awg", rules="nec-2023", group="battery", insulation="90c", **more):
    fields = {
        "material": "copper", "fine": True, "tinned": False, "ambient_c": 30.0,
        "terminal_c": None, "below_50_v": True,
    } | more  # fmt: skip
    return installation(
        InstallationKey(
            ladder=ladder, rules=rules, group=group, insulation=insulation, runs=runs, **fields
        )
    )  # fmt: skip


def test_the_run_with_the_least_ampacity_governs():
    """10 AWG: 55 A in free air, 40 A in raceway, × 0.8 of four conductors 32 A."""
    four = Run(where="raceway", current_carrying_conductors=4)
    found = laid(Run(where="free-air"), four, Run(where="raceway")).ampacity_of(size_by_awg("10"))
    assert (found.governing, found.base_a) == (1, 40.0)
    assert found.ampacity_a == found.corrected_a == pytest.approx(32.0)
    assert (found.terminal_a, found.small_a, found.largest_device_a) == (None, 30.0, 30.0)
    held = laid(four, terminal_c=60.0).ampacity_of(size_by_awg("10"))
    assert (held.terminal_a, held.ampacity_a) == (30.0, 30.0)


def test_the_air_that_comes_closest_to_the_end_of_its_table_is_judged():
    """PV cable in raceway is read to 80 °C, in free air to where EN 50618 ends."""
    runs = [Run(where="free-air", ambient_c=70.0), Run(where="raceway", ambient_c=75.0)]
    for way in (runs, runs[::-1]):
        on = laid(*way, ladder="mm2", rules="iec", group="pv", insulation="en-50618")
        assert (on.ambient.demand, on.ambient.capacity) == (75.0, 80.0)


def test_a_conductor_at_its_ampacity_is_as_hot_as_its_table():
    """40 A × 0.8 of four conductors × 0.78 in 10 cm of insulation: 24.96 A give 90 °C at 30 °C."""
    wall = Run(where="insulated-wall", length_m=0.1, current_carrying_conductors=4)
    found = laid(wall).ampacity_of(size_by_awg("10"))
    assert found.ampacity_a == pytest.approx(24.96)
    assert found.warmest_c(24.96) == pytest.approx(90.0)
    assert found.warmest_c(0.0) == 30.0
    half_c = found.warmest_c(12.48)  # a quarter of the 60 K, by its own resistance
    warming = (1.0 + 0.00323 * (half_c - 75.0)) / (1.0 + 0.00323 * (90.0 - 75.0))
    assert half_c == pytest.approx(30.0 + 15.0 * warming)
    both = laid(Run(where="raceway"), wall, Run(where="free-air")).ampacity_of(size_by_awg("10"))
    assert both.warmest_c(20.0) == pytest.approx(found.warmest_c(20.0))


@pytest.mark.parametrize(("group", "limit_a"), [("battery", 8.0), ("pv", 10.0)])
def test_low_voltage_limits_hold_at_the_battery(group, limit_a):
    found = laid(Run(where="raceway"), group=group).ampacity_of(size_by_awg("16"))
    assert found.small_a == limit_a


@pytest.mark.parametrize(
    ("ladder", "rules", "insulation", "method", "family"),
    [
        ("awg", "nec-2023", "90c", "own-tables", "nec"),
        ("mm2", "nec-2023", "90c", "own-tables", "iec"),
        ("mm2", "nec-2023", "60c", "by-area", "nec"),  # which IEC tables do not know
        ("mm2", "us-33-cfr-183", "90c", "by-area", "us-33-cfr-183"),
        ("awg", "us-33-cfr-183", "90c", "own-tables", "us-33-cfr-183"),
        ("mm2", "iec", "pvc-70", "own-tables", "iec"),
        ("awg", "iec", "pvc-70", "own-tables", "nec"),
    ],
)
def test_whose_tables_a_ladder_is_read_in(ladder, rules, insulation, method, family):
    on = laid(Run(where="raceway"), ladder=ladder, rules=rules, insulation=insulation)
    assert (on.method, on.rules.family) == (method, family)
    if method == "by-area":
        six = on.ampacity_of(size_by_area(6.0))  # is read at 10 AWG, 5.26 mm²
        assert (
            six.base_a
            == laid(Run(where="raceway"), rules=rules, insulation=insulation)
            .ampacity_of(size_by_awg("10"))
            .base_a
        )
        thin = on.ampacity_of(size_by_area(0.75)) if size_by_area(0.75) else None
        assert thin is None or thin.base_a == 0.0


# --- remedies -----------------------------------------------------------------------------------


def remedied(code, demand, capacity, drop_v=1.0, loop_ohm=0.01, **fields):
    case, _ = resolved(**fields)
    size = answered(fault_current_a=900.0).awg.chosen
    size = msgspec.structs.replace(size, drop_v=drop_v, loop_resistance_ohm=loop_ohm)
    return remedy(case, outcome(code, demand, capacity), size)


def test_how_to_keep_a_drop_with_a_chassis_in_the_way():
    """100 A through 2 mΩ of chassis lose 0.2 V of the 1 V; 0.15 V of 0.35 V are left for 0.8 V."""
    chassis = {"circuit": "chassis-return", "chassis_resistance_ohm": 0.002}
    (name,), told = remedied("voltage-drop", 1.0, 0.35, **chassis)
    assert name == "shorter"
    assert told["reach_m"] == pytest.approx(2.0 * 0.15 / 0.8)
    assert (told["conductors"], told["allowed_v"]) == (6, 0.35)
    assert told["drop_fraction"] == pytest.approx(1.0 / 12.0)
    for capacity in (0.2, 0.1):  # the chassis alone takes it
        assert remedied("voltage-drop", 1.0, capacity, **chassis) == (("chassis",), {})
    (_,), told = remedied("voltage-drop", 1.0, 0.35)
    assert (told["conductors"], told["reach_m"]) == (3, pytest.approx(0.7))
    (_,), told = remedied("voltage-drop", 1.0, 0.35, loop_ohm=0.0, **chassis)
    assert (told["conductors"], told["reach_m"]) == (3, pytest.approx(0.7))
    assert remedied("voltage-drop", 1.0, 0.26, **chassis)[1]["conductors"] == 14  # 0.8 ÷ 0.06


def test_clips_are_not_advised_where_terminals_ask_for_the_same_size():
    """17 A on the skin: 12 AWG fails by heat, 30 × 0.5 A, and by terminals, 20 A of 21.25 A."""
    run = [Run(where="on-roof", in_raceway=True)]
    answer = answered(circuit="pv-output", current_a=17.0, length_m=0.5, runs=run, voltage_v=38.0)
    assert answer.awg.chosen.size == "10 AWG"
    assert "ampacity-corrected" in answer.awg.governing
    assert "off-the-roof" not in {note.code for note in answer.notes}


def test_what_to_change_by_what_fails():
    """Nothing helps where a table gives nothing; on the skin of a roof clips do."""
    skin, lifted = (
        [Run(where="on-roof", height_above_roof_m=height)] for height in (0.0189, 0.019)
    )
    assert remedied("ampacity-corrected", 20.0, 0.0)[0] == ("none",)
    assert remedied("ampacity-corrected", 20.0, 10.0)[0] == ("more", "split")
    assert remedied("ampacity-corrected", 20.0, 0.05)[0] == ("more", "split")
    both = [*skin, Run(where="raceway")]
    assert remedied("ampacity-corrected", 20.0, 10.0, runs=both)[0] == ("more", "clips", "split")
    assert remedied("ampacity-corrected", 20.0, 10.0, runs=skin)[0] == ("more", "clips", "split")
    assert remedied("ampacity-corrected", 20.0, 10.0, runs=lifted)[0] == ("more", "split")
    assert remedied("ambient-in-table", 90.0, 85.0)[0] == ("hotter",)
    assert remedied("ambient-in-table", 90.0, 85.0, runs=skin)[0] == ("hotter", "clips")
    assert remedied("ambient-in-table", 90.0, 50.0, rules="us-33-cfr-183")[0] == ("boat",)
    names, told = remedied("ambient-in-table", 90.0, 85.0, rules="iec", runs=skin)
    assert (names, told["air_c"], told["table_c"]) == (("hotter",), 90.0, 85.0)
    assert remedied("small-conductor", 20.0, 15.0) == (("", "split"), {"device_a": 20.0})
    assert remedied("terminal-temperature", 20.0, 15.0) == (("", "split"), {"wanted_a": 20.0})
    assert remedied("smallest-size", 2.0, 1.0) == (("",), {"wanted_mm2": 2.0})
    clips = remedied("ambient-in-table", 90.0, 85.0, runs=skin)[1]["clips"]
    assert clips.parameters["clearance_mm"] == pytest.approx(19.0)


# --- up the ladder ------------------------------------------------------------------------------


@pytest.mark.parametrize("length_m", [0.2, 2.0, 9.0])
@pytest.mark.parametrize("amperes", [0.5, 20.0, 90.0])
@pytest.mark.parametrize("chassis_ohm", [None, 0.001])
@pytest.mark.parametrize("rules", ["nec-2023", "iec"])
def test_sizes_are_passed_over_at_a_glance_by_their_drop_in_air(
    length_m, amperes, chassis_ohm, rules
):
    """Of two conductors, or of one and the chassis, not heated by the current; and too thin."""
    body = {"circuit": "chassis-return", "chassis_resistance_ohm": chassis_ohm}
    fields = {"length_m": length_m, "current_a": amperes, "rules": rules}
    case, _ = resolved(**fields, **(body if chassis_ohm else {}))
    on = ladder_case(case, find_device(case), case.ladder, None)
    kept = []
    for size, table_ohm in on.installation.rungs:
        one_way = length_m * resistance_at(table_ohm, on.installation.metal, 40.0)
        loop = one_way + chassis_ohm if chassis_ohm else 2.0 * one_way
        enough = amperes * loop <= case.allowed_drop_v
        kept.append(enough and size.area_mm2 >= on.installation.smallest_mm2)
    expected = kept.index(True) if any(kept) else len(kept)
    assert first_candidate(on) == expected


def test_the_other_ladder_starts_at_the_area_that_the_rules_chose():
    """Or at the smallest that its tables admit: 1.5 mm² of copper, IEC 60364-5-52, table 52.2."""
    case, _ = resolved()
    rules = answered().awg
    for least_mm2, first in [(0.0, "1.5"), (50.0, "50"), (50.1, "70")]:
        chosen = msgspec.structs.replace(rules.chosen, area_mm2=least_mm2)
        own = msgspec.structs.replace(rules, chosen=chosen)
        on = ladder_case(case, find_device(case), "mm2", own)
        bare = msgspec.structs.replace(on, case=msgspec.structs.replace(case, allowed_drop_v=99.0))
        assert bare.installation.rungs[first_candidate(bare)][0].key == first


def test_no_size_is_an_equivalent_where_the_rules_pass_none():
    """On a roof at 55 °C NFPA 70, 2017, counts 88 °C, beyond its table; IEC has a factor for it."""
    roof = [Run(where="on-roof"), Run(where="raceway")]
    at_hand = ConductorSize(area_mm2=120.0)
    hot = answered(rules="nec-2017", ambient_c=55.0, runs=roof, conductor_at_hand=at_hand)
    assert hot.awg.chosen is hot.metric.chosen is None
    assert "equivalent-area" in hot.metric.governing.split(", ")
    assert hot.metric.note.code == "no-equivalent"
    assert hot.at_hand.verdict == "fail"
    cool = answered(rules="nec-2017", ambient_c=30.0, runs=roof, conductor_at_hand=at_hand)
    assert cool.at_hand.verdict == "pass"


@pytest.mark.parametrize(("awg", "device_a"), [("18", 6.0), ("16", 8.0)])
@pytest.mark.parametrize("terminal_c", [60.0, 75.0, 89.0])
def test_a_gauge_that_a_cooler_column_leaves_out_is_held_to_its_device(awg, device_a, terminal_c):
    """Table 310.16 has 18 and 16 AWG at 90 °C only; 14 AWG at 60 °C is in it: 15 A.

    The devices are those of 240.4(D) for low-voltage circuits, from memory.
    """
    fields = {"current_a": 1.0, "length_m": 0.2, "runs": [Run(where="free-air")]}
    at_hand = {"conductor_at_hand": ConductorSize(awg=awg)}
    held = answered(terminal_temperature_c=terminal_c, **fields, **at_hand).at_hand
    assert held.ampacity_a == held.terminal_limit_a == device_a
    hotter = answered(terminal_temperature_c=90.0, **fields, **at_hand).at_hand
    assert hotter.ampacity_a > held.ampacity_a
    thicker = {"conductor_at_hand": ConductorSize(awg="14")}
    assert answered(terminal_temperature_c=60.0, **fields, **thicker).at_hand.ampacity_a == 15.0


def test_neighbours_and_shares_of_a_chosen_size():
    """One below and two above on the ladder of the rules, one above on the other."""
    answer = answered(hours_per_year=100.0)
    own, other = answer.awg, answer.metric
    gauges = [size.label for size in sizes("awg")]
    at = gauges.index(own.chosen.size)
    assert [size.size for size in own.neighbours] == [gauges[at - 1], *gauges[at + 1 : at + 3]]
    metric = [size.label for size in sizes("mm2")]
    at = metric.index(other.chosen.size)
    assert [size.size for size in other.neighbours] == [metric[at - 1], metric[at + 1]]
    for size in (own.chosen, *own.neighbours):
        assert size.drop_fraction == pytest.approx(size.drop_v / 12.0)
        assert size.loss_w == pytest.approx(size.drop_v * 20.0)
        assert size.energy_lost_wh_per_year == pytest.approx(100.0 * size.loss_w)
    assert (own.role, other.role) == ("rules", "equivalent")
    assert answered().awg.chosen.energy_lost_wh_per_year is None


def test_what_the_whole_build_can_push_must_be_borne():
    """60 A of the build against 20 A of the circuit: a conductor of 60 A or more."""
    alone, among = answered(fault_current_a=900.0), answered(fault_current_a=900.0, bears_a=60.0)
    assert "overcurrent-protection" not in {one.code for one in alone.awg.chosen.rules}
    found = {one.code: one for one in among.awg.chosen.rules}["overcurrent-protection"]
    assert (found.demand, found.capacity) == (60.0, among.awg.chosen.ampacity_a)
    assert alone.awg.chosen.ampacity_a < 60.0 <= among.awg.chosen.ampacity_a


def test_a_size_that_cannot_be_had_is_passed_over():
    usual = answered().awg.chosen
    gone = ConductorSize(awg=usual.size.removesuffix(" AWG"))
    assert answered(unavailable=[gone]).awg.chosen.area_mm2 > usual.area_mm2


def test_an_unfused_string_bears_the_others_and_the_battery():
    """1.25 × 8 A of one other string and 3 A of the battery."""
    panels = PanelsBehind(
        i_sc_a=8.0, strings_in_parallel=2, battery_backfeed_a=3.0, max_series_fuse_a=30.0
    )
    asked = {"panels_behind": panels, "voltage_v": 20.0, "fuse_needed": False}
    lead = answered(circuit="pv-string", **asked).awg.chosen
    assert {one.code: one.demand for one in lead.rules}["string-backfeed"] == pytest.approx(13.0)
    output = answered(circuit="pv-output", **asked).awg.chosen
    assert "string-backfeed" not in {one.code for one in output.rules}
    weak = msgspec.structs.replace(panels, strings_in_parallel=1, battery_backfeed_a=0.05)
    lead = answered(circuit="pv-string", **asked | {"panels_behind": weak}).awg.chosen
    assert {one.code: one.demand for one in lead.rules}["string-backfeed"] == 0.05
    none = answered(circuit="pv-string", current_a=8.0, voltage_v=20.0).awg.chosen
    assert "string-backfeed" not in {one.code for one in none.rules}


def test_boats_from_50_v_on_have_smaller_devices():
    """33 CFR 183.455: 150 % below 50 V; the next standard rating from there on."""
    for highest_v, times in [(49.9, 1.5), (50.0, None)]:
        size = answered(
            rules="us-33-cfr-183", voltage_v=40.0, max_voltage_v=highest_v, fuse_needed=False
        ).awg.chosen
        if times:
            assert size.largest_device_a == pytest.approx(times * size.ampacity_a)
        else:
            assert size.largest_device_a < 1.5 * size.ampacity_a


@pytest.mark.parametrize(
    ("rules", "insulation", "own", "other"),
    [
        ("nec-2023", "90c", "american-wire-gauge", ("square-millimetres", "iec-tables")),
        ("nec-2023", "60c", "american-wire-gauge", None),
        ("iec", "pvc-70", "square-millimetres", ("american-wire-gauge", "nfpa-tables")),
    ],
)
def test_what_is_said_of_each_ladder(rules, insulation, own, other):
    answer = answered(rules=rules, insulation=insulation)
    ladders = [answer.awg, answer.metric]
    first, second = ladders if rules != "iec" else ladders[::-1]
    assert (first.note.code, first.note.parameters["units"].code) == ("rules-written-for", own)
    if other is None:
        assert second.note.code == "no-table-in-mm2"
    else:
        assert second.note.code == "equivalent-ladder"
        assert second.note.parameters["tables"].code == other[1]


def test_each_ladder_is_judged_by_the_currents_of_its_own_tables():
    """NFPA 70 asks terminals for 1.25 × 20 A, IEC for 20 A."""
    answer = answered(terminal_temperature_c=60.0)
    for ladder, amperes in [(answer.awg, 25.0), (answer.metric, 20.0)]:
        demands = {one.code: one.demand for one in ladder.chosen.rules}
        assert demands["terminal-temperature"] == amperes
        assert ("ampacity-table" in demands) == (ladder is answer.awg)
