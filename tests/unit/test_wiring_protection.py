"""Fuses, disconnects, cable entries and notes."""

import math

import pytest

from sunhitch.types.wiring import EntryRequest, PanelsBehind, WireSizingRequest
from sunhitch_service.engine.circuit.devices import DeviceNeed, chosen_option
from sunhitch_service.engine.circuit.string_fuse import string_fuse
from sunhitch_service.engine.rules.weakest import weakest_rating
from sunhitch_service.engine.wiring.calculation import wire_sizing
from sunhitch_service.engine.wiring.device import disconnects
from sunhitch_service.engine.wiring.entry import cable_entry, gland_for

INCH_M = 0.0254


def battery_circuit(**fields):
    defaults = {
        "circuit": "controller-to-battery",
        "rules": "nec-2023",
        "voltage_v": 12.0,
        "length_m": 1.5,
        "controller_output_a": 30.0,
    }
    return wire_sizing(WireSizingRequest(**{**defaults, **fields}))


def check(answer, code):
    return next(check for check in answer.checks if check.code == code)


def test_one_or_two_strings_rarely_need_fuses():
    assert string_fuse(8.0, 0.0, weakest_rating([None]), "nec-2023").needed is False
    assert string_fuse(8.0, 8.0, weakest_rating([15.0]), "nec-2023").needed is False
    assert string_fuse(8.0, 16.0, weakest_rating([15.0]), "nec-2023").needed is True


def test_battery_backfeed_counts_as_a_source():
    assert string_fuse(8.0, 0.0, weakest_rating([15.0]), "nec-2023", backfeed_a=40.0).needed is True
    panels = PanelsBehind(i_sc_a=8.0, battery_backfeed_a=40.0)
    output = WireSizingRequest(
        circuit="pv-output", rules="nec-2023", voltage_v=18.0, length_m=4.0, panels_behind=panels
    )
    assert wire_sizing(output).protection.needed


def at_post(minimum_a, voltage_v, fault_a):
    return chosen_option(DeviceNeed(minimum_a, False, math.inf, voltage_v, fault_a, False))


@pytest.mark.parametrize(
    ("voltage", "fault", "family"),
    [
        (14.6, 900.0, "maxi-blade"),
        (14.6, 5000.0, "battery-stud"),
        (14.6, 5500.0, "strip"),
        (14.0, 9000.0, "battery-stud"),
        (14.6, 9000.0, "class-t"),
        (29.2, 9000.0, "class-t"),
        (57.6, 1900.0, "battery-stud"),
        # a 48 V lithium bank charges at 58.4 V, above the 58 V of the stud fuse
        (58.4, 1900.0, "class-t"),
        (58.4, 15000.0, "class-t"),
    ],
)
def test_family_follows_voltage_and_fault_current(voltage, fault, family):
    chosen = at_post(45.0, voltage, fault)
    assert chosen.suitable
    assert chosen.family == family
    assert chosen.voltage_rating_v >= voltage
    assert chosen.interrupting_rating_a >= fault
    assert chosen.rating_a == 50.0


def test_no_family_breaks_a_huge_bank():
    assert not at_post(100.0, 14.6, 40_000.0).suitable
    answer = battery_circuit(fault_current_a=40_000.0)
    breaking = check(answer, "device-interrupting")
    assert breaking.verdict == "fail"
    assert "split the battery bank" in breaking.remedy


@pytest.mark.parametrize(
    ("rules", "within"), [("nec-2020", 18 * INCH_M), ("us-33-cfr-183", 72 * INCH_M), ("iec", 0.2)]
)
def test_distance_to_the_post(rules, within):
    """552.10(E): 18 in; 33 CFR 183.460(a): 72 in; ISO 10133: 200 mm."""
    near = battery_circuit(rules=rules, fuse_distance_m=round(within, 4))
    far = battery_circuit(rules=rules, fuse_distance_m=within + 0.05)
    assert near.protection.within_m == pytest.approx(within)
    assert check(near, "device-distance").verdict == "pass"
    assert check(far, "device-distance").verdict == "fail"


@pytest.mark.parametrize(
    ("circuit", "sheathed", "within"),
    [
        ("pv-output", False, 7 * INCH_M),
        ("pv-output", True, 40 * INCH_M),
        ("controller-to-battery", True, 72 * INCH_M),
    ],
)
def test_distances_of_the_boat_law_by_source_and_sheath(circuit, sheathed, within):
    """183.455(b): 7 in from a source, 40 in where sheathed; 183.460(a): 72 in from a battery."""
    pv = circuit == "pv-output"
    fields = {"circuit": circuit, "rules": "us-33-cfr-183", "sheathed_to_fuse": sheathed}
    more = {"controller_output_a": None, "current_a": 10.0, "fuse_needed": True} if pv else {}
    answer = battery_circuit(**fields, **more, fuse_distance_m=within + 0.01)
    found = check(answer, "device-distance")
    assert (found.verdict, found.capacity) == ("fail", pytest.approx(within))


def test_a_given_fuse_is_judged_both_ways():
    small = battery_circuit(fuse_rating_a=30.0, fuse_family="class-t")
    assert check(small, "device-carries-load").verdict == "fail"
    large = battery_circuit(fuse_rating_a=150.0, fuse_family="class-t")
    assert check(large, "device-carries-load").verdict == "pass"
    # the conductor grows until it is protected by what is there
    assert large.awg.chosen.largest_device_a >= 150.0
    assert large.awg.chosen.area_mm2 > battery_circuit().awg.chosen.area_mm2


def test_an_unstocked_rating_is_not_assessed():
    answer = battery_circuit(fuse_rating_a=42.0)
    assert check(answer, "device-interrupting").verdict == "not-assessed"
    assert answer.protection.family is None
    assert answer.protection.rating_a == 42.0


def test_every_build_gets_a_disconnect():
    photovoltaic = disconnects("pv", "nec-2023", 20.0, 60.0)
    battery = disconnects("battery", "iec", 40.0, 30.0)
    for (found,) in (photovoltaic, battery):
        assert found.load_break
        assert found.basis
    assert photovoltaic[0].poles == "positive and negative"
    assert photovoltaic[0].minimum_current_a == 20.0


def test_order_of_connection_is_always_told():
    for answer in (battery_circuit(), battery_circuit(rules="iec")):
        topics = {note.topic for note in answer.notes}
        assert {"polarity", "connection-order", "bonding", "workmanship"} <= topics
        assert any("battery" in caution.text for caution in answer.cautions)


def test_high_voltage_is_told_only_where_it_occurs():
    def warned(max_voltage_v):
        answer = battery_circuit(voltage_v=48.0, max_voltage_v=max_voltage_v)
        return any("can kill" in note.text for note in answer.notes)

    assert not warned(58.4)
    assert warned(64.0)


def test_glands_seal_their_cables():
    request = EntryRequest(cable_diameters_mm=[6.1, 11.0], sheet="aluminium", thickness_mm=1.2)
    found = cable_entry(request)
    for gland, diameter in zip(found.glands, [6.1, 11.0], strict=True):
        assert gland.clamps_from_mm <= diameter <= gland.clamps_to_mm
        assert gland.hole_mm > float(gland.size[1:])
    assert found.bend_radius_mm == pytest.approx(44.0)
    assert cable_entry(
        EntryRequest(cable_diameters_mm=[6.1], sheet="steel", thickness_mm=1.0, flexes=True)
    ).bend_radius_mm == pytest.approx(30.5)


def test_entries_below_the_roof_need_no_sealant_or_drip_loop_step():
    inside = cable_entry(
        EntryRequest(cable_diameters_mm=[8.0], sheet="steel", thickness_mm=1.0, on_roof=False)
    )
    outside = cable_entry(EntryRequest(cable_diameters_mm=[8.0], sheet="steel", thickness_mm=1.0))
    assert "no sealant" in inside.sealant
    assert any("drip loop" in step for step in outside.steps)
    assert not any("drip loop" in step for step in inside.steps)


def test_a_cable_that_no_gland_seals_fails():
    assert gland_for(2.0) is None
    entry = EntryRequest(cable_diameters_mm=[2.0, 6.1], sheet="steel", thickness_mm=1.0)
    answer = battery_circuit(entry=entry)
    assert check(answer, "cable-entry").verdict == "fail"
    assert len(answer.entry.glands) == 1
    assert any(caution.about == "roof-leak" for caution in answer.cautions)


def test_pv_cables_without_a_diameter_take_the_usual_one():
    entry = EntryRequest(sheet="aluminium", thickness_mm=1.2)
    fields = {"circuit": "pv-output", "rules": "iec", "voltage_v": 38.0, "length_m": 6.5}
    answer = wire_sizing(WireSizingRequest(current_a=10.0, entry=entry, **fields))
    usual = 5.6
    assert answer.metric.chosen.size == "4 mm²"
    assert [gland.cables_mm for gland in answer.entry.glands] == [[usual], [usual]]
    assert any(made.field == "/entry/cable_diameters_mm" for made in answer.assumptions)


def test_other_cables_without_a_diameter_are_not_assessed():
    answer = battery_circuit(entry=EntryRequest(sheet="steel", thickness_mm=1.0))
    assert check(answer, "cable-entry").verdict == "not-assessed"
    assert answer.entry is None
