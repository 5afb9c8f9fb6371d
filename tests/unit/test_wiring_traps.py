"""Mistakes that are made with wires, each with the answer that avoids it."""

import pytest

from sunhitch.types.wiring import (
    Conductor,
    ConductorSize,
    PanelsBehind,
    Run,
    WireSizingRequest,
)
from sunhitch_service.engine.errors import ContradictionError
from sunhitch_service.engine.wiring.calculation import wire_sizing


def ask(**fields):
    defaults = {"circuit": "pv-output", "rules": "nec-2023", "voltage_v": 19.0, "length_m": 2.0}
    return WireSizingRequest(**{**defaults, **fields})


def check(answer, code):
    return next(check for check in answer.checks if check.code == code)


def outcome(size, code):
    return next(rule for rule in size.rules if rule.code == code)


def test_156_percent_is_not_stacked_on_a_corrected_ampacity():
    """690.8(B): 1.25 × 1.25 × Isc before correction, 1.25 × Isc after it; never both at once.

    10 AWG on a hot roof: 55 A × 0.50 = 27.5 A carries 1.25 × 20 A = 25 A. Against 1.56 × 20 A =
    31 A it would fail, and 8 AWG would be bought for nothing.
    """
    answer = wire_sizing(
        ask(
            panels_behind=PanelsBehind(i_sc_a=19.0),
            connector_rating_a=60.0,
            terminal_temperature_c=75.0,
            runs=[Run(where="on-roof")],
            allowed_drop_fraction=0.05,
        )
    )
    chosen = answer.awg.chosen
    assert chosen.size == "10 AWG"
    corrected = outcome(chosen, "ampacity-corrected")
    assert (corrected.demand, corrected.capacity) == (pytest.approx(23.75), pytest.approx(27.5))
    assert outcome(chosen, "ampacity-table").demand == pytest.approx(1.5625 * 19.0)
    assert corrected.capacity < 1.5625 * 19.0


def test_ten_awg_is_not_six_square_millimetres():
    with pytest.raises(ContradictionError) as refused:
        wire_sizing(ask(current_a=10.0, conductor_at_hand=ConductorSize(awg="10", area_mm2=6.0)))
    assert refused.value.faults[0].pointer == "/conductor_at_hand"
    assert "5.261" in refused.value.faults[0].message


@pytest.mark.parametrize("rules", ["nec-2017", "nec-2023", "iec", "us-33-cfr-183"])
@pytest.mark.parametrize("current", [3.0, 9.0, 17.0, 33.0, 60.0])
def test_the_other_ladder_never_has_less_metal(rules, current):
    answer = wire_sizing(
        ask(circuit="battery-to-load", rules=rules, current_a=current, ambient_c=30.0)
    )
    own, other = (answer.awg, answer.metric) if rules != "iec" else (answer.metric, answer.awg)
    assert own.role == "rules"
    assert other.role == "equivalent"
    assert other.chosen.area_mm2 >= own.chosen.area_mm2


def test_ten_awg_at_hand_does_not_stand_in_for_six_square_millimetres():
    """Under IEC rules, 6 mm² is asked for; 10 AWG has 5.26 mm²."""
    sized = wire_sizing(ask(rules="iec", current_a=10.0, length_m=4.0, allowed_drop_fraction=0.018))
    assert sized.metric.chosen.size == "6 mm²"
    answer = wire_sizing(
        ask(
            rules="iec",
            current_a=10.0,
            length_m=4.0,
            allowed_drop_fraction=0.018,
            conductor_at_hand=ConductorSize(awg="10"),
        )
    )
    assert outcome(answer.at_hand, "equivalent-area").verdict == "fail"
    assert check(answer, "conductor-at-hand").verdict == "fail"
    assert "8 AWG" in check(answer, "conductor-at-hand").remedy
    assert answer.verdict == "fail"


def test_twelve_volts_and_three_percent_over_a_long_run():
    """20 A over 25 m at 12 V in 40 °C: ampacity asks for 10 AWG, the drop for 1/0 AWG."""
    answer = wire_sizing(
        ask(
            circuit="battery-to-load",
            voltage_v=12.0,
            length_m=25.0,
            current_a=20.0,
            allowed_drop_fraction=0.03,
            ambient_c=40.0,
        )
    )
    assert answer.awg.chosen.size == "1/0 AWG"
    assert answer.governing == "voltage-drop"
    smaller = next(n for n in answer.awg.neighbours if n.area_mm2 < answer.awg.chosen.area_mm2)
    assert smaller.size == "1 AWG"
    assert smaller.drop_v > 0.36 >= answer.awg.chosen.drop_v
    twice = wire_sizing(
        ask(
            circuit="battery-to-load",
            voltage_v=24.0,
            length_m=25.0,
            current_a=10.0,
            ambient_c=40.0,
        )
    )
    assert twice.awg.chosen.area_mm2 < answer.awg.chosen.area_mm2 / 3


def test_beyond_the_last_size_the_answer_fails_and_says_what_to_do():
    answer = wire_sizing(
        ask(circuit="battery-to-load", voltage_v=12.0, length_m=60.0, current_a=60.0)
    )
    drop = check(answer, "voltage-drop")
    assert answer.verdict == "fail"
    assert answer.awg.chosen is None
    assert answer.awg.neighbours[-1].size == "4/0 AWG"
    assert drop.subject == "4/0 AWG"
    assert "raise the voltage" in drop.remedy
    assert "in parallel" in drop.remedy


def lithium(**fields):
    return wire_sizing(
        ask(
            circuit="battery-to-load",
            voltage_v=12.0,
            max_voltage_v=14.6,
            current_a=24.0,
            fault_current_a=8000.0,
            **fields,
        )
    )


def test_lithium_battery_and_a_small_fuse():
    answer = lithium(fuse_family="blade")
    breaking = check(answer, "device-interrupting")
    assert breaking.verdict == "fail"
    assert (breaking.demand, breaking.capacity) == (8000.0, 1000.0)
    assert "Class T" in breaking.remedy
    free = lithium()
    assert free.verdict == "pass"
    assert free.protection.family != "blade"
    blade = next(option for option in free.protection.options if option.family == "blade")
    assert not blade.suitable
    assert "1000 A" in blade.why


def strings(fuse_a, rules="nec-2023"):
    panels = PanelsBehind(i_sc_a=8.8, strings_in_parallel=3, max_series_fuse_a=fuse_a)
    return wire_sizing(ask(circuit="pv-string", rules=rules, panels_behind=panels))


def test_three_strings_need_fuses_with_one_rating_and_not_with_another():
    with_15, with_25 = strings(15.0), strings(25.0)
    assert with_15.protection.needed
    assert with_15.protection.rating_a == 15.0
    assert not with_25.protection.needed
    # without fuses the conductor itself must bear the other strings' 22 A
    assert outcome(with_25.awg.chosen, "string-backfeed").demand == pytest.approx(22.0)
    assert outcome(with_25.awg.chosen, "string-backfeed").capacity >= 22.0
    unfused = strings(25.0, "iec").metric.chosen
    assert outcome(unfused, "string-backfeed").demand == pytest.approx(22.0)
    # IEC counts Isc without the quarter: 17.6 A
    assert check(strings(18.0, "iec"), "string-reverse-current").demand == pytest.approx(17.6)
    assert not strings(18.0, "iec").protection.needed
    assert strings(18.0).protection.needed


def test_unknown_panel_rating_is_not_a_pass():
    answer = strings(None)
    assert check(answer, "string-reverse-current").verdict == "not-assessed"
    assert answer.protection.needed
    assert answer.verdict == "not-assessed"


def test_no_fuse_fits_between_load_and_panel_rating():
    answer = strings(12.0)
    failed = check(answer, "string-fuse-rating")
    assert failed.verdict == "fail"
    assert (failed.demand, failed.capacity) == pytest.approx((13.75, 12.0))


def test_four_branch_joined_panels_on_a_30_ampere_plug():
    panels = PanelsBehind(i_sc_a=6.4, strings_in_parallel=4)
    plug = check(wire_sizing(ask(panels_behind=panels)), "connector-current")
    assert plug.verdict == "fail"
    assert (plug.demand, plug.capacity) == (pytest.approx(32.0), 30.0)


def test_a_pv_cable_rated_at_120_c_is_held_by_its_terminals():
    """EN 50618 gives 4 mm² 55 A at a 120 °C conductor; 70 °C terminals allow far less."""
    answer = wire_sizing(
        ask(
            rules="iec",
            current_a=30.0,
            length_m=0.5,
            runs=[Run(where="free-air")],
            ambient_c=40.0,
            connector_rating_a=60.0,
        )
    )
    four = next(n for n in [answer.metric.chosen, *answer.metric.neighbours] if n.size == "4 mm²")
    assert four.runs[0].corrected_a == 55.0
    # 55 A × √((70 − 40) / (120 − 60)) = 38.9 A
    assert four.terminal_limit_a == pytest.approx(38.9, abs=0.05)


def test_free_air_and_raceway_are_different_tables():
    def base(where):
        runs = [Run(where=where)]
        return wire_sizing(ask(current_a=5.0, runs=runs)).awg.chosen.runs[0].base_a

    assert base("free-air") > base("raceway")


def test_two_circuits_in_one_raceway_count_four_conductors():
    run = Run(where="raceway", current_carrying_conductors=4)
    assert wire_sizing(ask(current_a=5.0, runs=[run])).awg.chosen.runs[0].bundling_factor == 0.8


def test_small_conductors_are_held_by_240_4_d():
    """14 AWG carries 20 A at 75 °C, but its device ends at 15 A."""
    answer = wire_sizing(
        ask(
            circuit="battery-to-load",
            current_a=13.0,
            length_m=0.3,
            terminal_temperature_c=75.0,
            fault_current_a=500.0,
            ambient_c=30.0,
        )
    )
    smaller = next(n for n in answer.awg.neighbours if n.size == "14 AWG")
    assert outcome(smaller, "terminal-temperature").verdict == "pass"
    assert outcome(smaller, "small-conductor").verdict == "fail"
    assert answer.awg.chosen.size == "12 AWG"


def test_chassis_return_counts_one_conductor_and_the_body():
    fields = {"current_a": 10.0, "length_m": 5.0, "voltage_v": 12.0, "fault_current_a": 900.0}
    wire = wire_sizing(ask(circuit="battery-to-load", **fields))
    body = wire_sizing(ask(circuit="chassis-return", chassis_resistance_ohm=0.002, **fields))
    same = next(
        n for n in [body.awg.chosen, *body.awg.neighbours] if n.size == wire.awg.chosen.size
    )
    assert same.loop_resistance_ohm - 0.002 == pytest.approx(
        wire.awg.chosen.loop_resistance_ohm / 2, rel=1e-9
    )


def test_aluminium_is_for_review():
    answer = wire_sizing(
        ask(
            circuit="controller-to-battery",
            current_a=40.0,
            conductor=Conductor(material="aluminium"),
        )
    )
    assert check(answer, "conductor-material").verdict == "review"
    assert answer.verdict == "review"


def test_energy_lost_in_a_year():
    answer = wire_sizing(ask(current_a=10.0, hours_per_year=1500.0, energy_price_per_kwh=0.4))
    chosen = answer.awg.chosen
    assert chosen.loss_w == pytest.approx(
        answer.currents.operating_a**2 * chosen.loop_resistance_ohm
    )
    assert chosen.energy_lost_wh_per_year == pytest.approx(chosen.loss_w * 1500.0)
    assert chosen.cost_per_year == pytest.approx(chosen.loss_w * 1.5 * 0.4)
    assert answer.awg.neighbours[-1].energy_lost_wh_per_year < chosen.energy_lost_wh_per_year


def test_rows_from_memory_surface_in_the_basis():
    answer = wire_sizing(ask(current_a=8.0, allowed_drop_fraction=0.03))
    told = f"{answer.awg.chosen.size}: Stranded resistance recalled from memory."
    assert any(source.note.startswith(told) for source in answer.sources)
