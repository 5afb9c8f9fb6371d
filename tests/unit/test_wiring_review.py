"""What an inspector and a fitter asked of wire sizing: battery fuses, roof clips, plugs, codes."""

import pytest

from sunhitch.operations.wire_sizing import present
from sunhitch.report.amounts import figure
from sunhitch.report.layout import Page
from sunhitch.types.wiring import PanelsBehind, Run, WireSizingAnswer, WireSizingRequest
from sunhitch_service.engine.wiring.calculation import wire_sizing


def sized(**fields) -> WireSizingAnswer:
    asked = {
        "circuit": "pv-output",
        "rules": "nec-2023",
        "voltage_v": 38.4,
        "length_m": 1.0,
        "allowed_drop_fraction": 0.2,
        "terminal_temperature_c": 90.0,
        "ambient_c": 40.0,
    } | fields
    return wire_sizing(WireSizingRequest(**asked))


def at_battery(**fields) -> WireSizingAnswer:
    fields = {"circuit": "controller-to-battery", "voltage_v": 12.0, "max_voltage_v": 14.6} | fields
    return sized(**fields)


def codes(answer: WireSizingAnswer) -> set[str]:
    return {check.code for check in answer.checks}


def check(answer: WireSizingAnswer, code: str):
    return next(check for check in answer.checks if check.code == code)


def test_an_unknown_battery_counts_as_a_lithium_bank_that_asks_for_class_t():
    answer = at_battery(controller_output_a=40.0)
    assumed = next(a for a in answer.assumptions if a.field == "/fault_current_a")
    assert assumed.value == 20_000.0
    assert "Class T" in assumed.why
    assert answer.protection.family == "class-t"
    assert check(answer, "device-interrupting").demand == 20_000.0


@pytest.mark.parametrize("fault", [900.0, 3000.0, 9000.0, 20_000.0])
@pytest.mark.parametrize("amperes", [5.0, 10.0, 20.0])
def test_no_photovoltaic_fuse_is_offered_at_a_battery(amperes, fault):
    answer = at_battery(controller_output_a=amperes, fault_current_a=fault)
    assert answer.protection.family not in {None, "pv-cylindrical"}
    photovoltaic = {"pv-cylindrical", "pv-blade-contact", "breaker-pv"}
    offered = {option.family for option in answer.protection.options if option.suitable}
    assert offered.isdisjoint(photovoltaic)


@pytest.mark.parametrize(
    ("strings", "family", "rating"), [(1, "pv-cylindrical", 20), (3, None, 63)]
)
def test_only_devices_listed_for_panels_protect_their_cables(strings, family, rating):
    """690.9(C). 1.5625 × 11 A = 17.2 → 20 A; of three strings 51.6 → 63 A, beyond 10 × 38 mm."""
    panels = PanelsBehind(
        i_sc_a=11.0,
        i_mp_a=10.2,
        strings_in_parallel=strings,
        max_series_fuse_a=25.0,
        battery_backfeed_a=4000.0,
    )
    answer = sized(
        circuit="pv-output",
        voltage_v=40.0,
        panels_behind=panels,
        connector_rating_a=60.0,
        connector_largest_mm2=35.0,
    )
    assert answer.protection.family == (family or "pv-blade-contact")
    assert answer.protection.rating_a == rating
    suitable = {option.family: option.suitable for option in answer.protection.options}
    assert not any(suitable[name] for name in ("class-t", "breaker-magnetic", "battery-stud"))


@pytest.mark.parametrize(("volts", "breaks_a"), [(14.0, 10_000), (14.6, 5000), (29.2, 5000)])
def test_fuses_on_the_stud_break_less_at_higher_voltage(volts, breaks_a, outside):
    answer = at_battery(
        controller_output_a=40.0, max_voltage_v=volts, fault_current_a=100.0, voltage_v=12.0
    )
    (stud,) = (each for each in answer.protection.options if each.family == "battery-stud")
    outside(
        stud.interrupting_rating_a,
        breaks_a,
        of=f"interrupting rating of a stud fuse at {volts:g} V",
        source="printed on the fuses: 10 kA at 14 V, 5 kA at 32 V",
        unit="A",
        seen="recalled",
    )


def test_a_small_load_gets_a_small_fuse_and_a_thin_wire():
    """5 A at 12 V over 2 m: 1.25 × 5 = 6.25 → 7.5 A; 16 AWG drops 0.33 V of 0.36 V."""
    load = {"circuit": "battery-to-load", "current_a": 5.0, "voltage_v": 12.0, "length_m": 2.0}
    answer = wire_sizing(WireSizingRequest(rules="nec-2023", **load))
    assert (answer.protection.rating_a, answer.protection.family) == (7.5, "blade")
    assert answer.awg.chosen.size == "16 AWG"
    at_the_battery = wire_sizing(
        WireSizingRequest(rules="nec-2023", fault_current_a=20_000.0, **load)
    )
    assert at_the_battery.protection.family == "class-t"
    large = wire_sizing(WireSizingRequest(rules="nec-2023", **load | {"current_a": 40.0}))
    assert large.protection.needed_interrupting_a == 20_000.0


@pytest.mark.parametrize(
    ("asked", "family", "verdict"),
    [
        ("controller-to-battery", "pv-cylindrical", "fail"),
        ("controller-to-battery", "class-t", "pass"),
        ("pv-string", "blade", "fail"),
        ("pv-string", "pv-cylindrical", "pass"),
    ],
)
def test_a_family_made_for_something_else_fails(asked, family, verdict):
    panels = PanelsBehind(i_sc_a=8.0, strings_in_parallel=3, max_series_fuse_a=15.0)
    source = {"panels_behind": panels} if asked == "pv-string" else {"controller_output_a": 10.0}
    volts = {"voltage_v": 12.0, "max_voltage_v": 14.6, "fault_current_a": 900.0}
    answer = sized(circuit=asked, fuse_family=family, **source, **volts)
    kind = check(answer, "device-kind")
    assert kind.verdict == verdict
    assert bool(kind.remedy) == (verdict == "fail")


def test_small_conductors_are_limited_only_where_a_device_protects_them():
    """240.4(D) limits the device on 14 AWG to 15 A; 1.25 × 13 A is more, but there is no device."""
    free = sized(current_a=13.0, runs=[Run(where="raceway")])
    assert free.awg.chosen is not None
    assert free.awg.chosen.size == "14 AWG"
    assert "small-conductor" not in codes(free)
    fused = sized(current_a=13.0, runs=[Run(where="raceway")], fuse_rating_a=20.0)
    assert fused.awg.chosen is not None
    assert fused.awg.chosen.size == "12 AWG"
    assert "small-conductor" in fused.awg.governing


@pytest.mark.parametrize(("rules", "clearance"), [("nec-2017", "23 mm"), ("nec-2023", "19 mm")])
def test_clips_are_advised_where_the_heat_of_the_roof_decides(rules, clearance):
    """10 AWG 40 A × 0.50 at 73 °C fails 23 A; 12 AWG 30 A × 0.91 at 40 °C does (310.16)."""
    on_skin = {"current_a": 23.0, "insulation": "90c", "rules": rules}
    answer = sized(runs=[Run(where="on-roof", in_raceway=True)], **on_skin)
    advice = [note.text for note in answer.notes if note.text.startswith("Clips")]
    assert len(advice) == 1
    assert clearance in advice[0]
    assert "12 AWG" in advice[0]
    assert "8 AWG" in advice[0]
    lifted = Run(where="on-roof", in_raceway=True, height_above_roof_m=0.025)
    assert sized(runs=[lifted], **on_skin).awg.chosen.size == "12 AWG"


def test_clips_are_not_advised_where_they_bring_nothing():
    small = sized(current_a=3.0, runs=[Run(where="on-roof")])
    metric = sized(current_a=23.0, runs=[Run(where="on-roof")], rules="iec", insulation="xlpe-90")
    for answer in (small, metric):
        assert not [note for note in answer.notes if note.text.startswith("Clips")]


def test_the_remedy_of_a_roof_too_hot_for_the_insulation_names_clips():
    answer = sized(current_a=20.0, insulation="60c", runs=[Run(where="on-roof")])
    assert "Clips that hold the cable 19 mm" in check(answer, "ambient-in-table").remedy


@pytest.mark.parametrize(
    ("given", "amperes", "verdict"),
    [(None, 20.0, "pass"), (None, 38.0, "review"), (6.0, 38.0, "fail")],
)
def test_conductors_must_go_into_their_plugs(given, amperes, verdict):
    runs = [Run(where="raceway")]
    answer = sized(
        current_a=amperes, connector_largest_mm2=given, connector_rating_a=60.0, runs=runs
    )
    sleeve = check(answer, "connector-conductor")
    assert sleeve.verdict == verdict
    assert sleeve.capacity == 6.0
    if verdict != "pass":
        assert "8 AWG does not go into plugs for up to 6 mm²" in sleeve.remedy


def test_own_leads_of_panels_are_counted_once():
    panels = PanelsBehind(i_sc_a=6.4)
    text = " ".join(n.text for n in sized(circuit="pv-string", panels_behind=panels).notes)
    assert "measured at the plugs" in text


def test_caravans_are_sent_to_their_own_standards():
    texts = {
        rules: " ".join(note.text for note in at_battery(current_a=20.0, rules=rules).notes)
        for rules in ("iec", "nec-2023")
    }
    assert "IEC 60364-7-721" in texts["iec"]
    assert "EN 1648" in texts["iec"]
    assert "RVIA" in texts["nec-2023"]


def test_a_breaker_is_chosen_where_no_fuse_is_as_small():
    """18.75 A wanted: battery fuses that break 4 kA start at 30 A, a breaker has 20 A."""
    answer = at_battery(controller_output_a=15.0, fault_current_a=4000.0)
    chosen = next(o for o in answer.protection.options if o.family == answer.protection.family)
    assert (chosen.device, chosen.rating_a) == ("breaker", 20.0)
    assert chosen.interrupting_rating_a >= 4000.0


def test_a_fuse_is_chosen_where_a_breaker_is_no_smaller():
    answer = at_battery(controller_output_a=40.0, fault_current_a=4000.0)
    chosen = next(o for o in answer.protection.options if o.family == answer.protection.family)
    assert (chosen.device, chosen.rating_a) == ("fuse", 50.0)


def test_a_breaker_asked_for_must_break_the_fault():
    answer = at_battery(controller_output_a=40.0, fuse_family="breaker-surface")
    breaking = check(answer, "device-interrupting")
    assert (breaking.verdict, breaking.capacity) == ("fail", 5000.0)


def test_energy_lost_is_printed_where_hours_are_given():
    def printed(**fields):
        return "\n".join(present(Page(), at_battery(controller_output_a=20.0, **fields)))

    answer = at_battery(controller_output_a=20.0, hours_per_year=1500.0)
    assert answer.awg.chosen is not None
    lost_wh = answer.awg.chosen.loss_w * 1500.0
    assert f"{answer.awg.chosen.size}: {figure(lost_wh)} Wh" in printed(hours_per_year=1500.0)
    assert "worth" in printed(hours_per_year=1500.0, energy_price_per_kwh=0.4)
    assert "IN A YEAR" not in printed().upper()


def test_the_report_says_how_close_and_what_fails():
    fits = "\n".join(present(Page(200), at_battery(controller_output_a=20.0)))
    assert "Within 0.457 m" in fits
    long_run = at_battery(controller_output_a=100.0, length_m=60.0, allowed_drop_fraction=0.01)
    text = "\n".join(present(Page(200), long_run))
    assert "No size of this ladder passes. The largest fails: Voltage drop" in text
