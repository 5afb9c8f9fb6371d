"""Three rooftop cases whose answer differs by edition of NFPA 70.

Heights: below 7/8 in (23 mm) the air counts 33 °C hotter in 2017 and 2020 (Electrical Code Academy,
on 310.15(B)(3)(c); electricallicenserenewal.com, sections 277 and 879), below 3/4 in (19 mm) in
2023 (electricallicenserenewal.com, section 1315). Ampacities and factors: Tables 310.16, 310.17 and
310.15(B)(1)(1), worked by hand below.
"""

import pytest

from sunhitch.types.wiring import Run, WireSizingRequest
from sunhitch_service.engine.wiring.calculation import wire_sizing

HEIGHT_M = 0.020
"""Between 3/4 in and 7/8 in: on the roof for 2017 and 2020, off it for 2023."""


def sized(rules, current_a, insulation, run, ambient_c):
    return wire_sizing(
        WireSizingRequest(
            circuit="pv-output",
            rules=rules,
            voltage_v=38.0,
            length_m=1.0,
            current_a=current_a,
            insulation=insulation,
            runs=[run],
            ambient_c=ambient_c,
            terminal_temperature_c=90.0,
            allowed_drop_fraction=0.1,
            max_voltage_v=60.0,
        )
    ).awg


def roof(in_raceway):
    return Run(where="on-roof", height_above_roof_m=HEIGHT_M, in_raceway=in_raceway)


CASES = [
    # current, insulation, in raceway, air, size and ampacity of 2017/2020, of 2023
    # 10 AWG 40 A × 0.50 (73 °C) = 20 A fails 23 A, 8 AWG 55 A × 0.50 = 27.5 A; off the roof 12 AWG
    # 30 A × 0.91 = 27.3 A, and 1.25 × 23 = 28.75 A is within its 30 A (no device: no 240.4(D))
    (23.0, "90c", True, 40.0, ("8 AWG", 27.5), ("12 AWG", 27.3)),
    # free air, 66 °C: 10 AWG 50 A × 0.33 = 16.5 A fails 18 A, 8 AWG 70 A × 0.33 = 23.1 A; off the
    # roof 14 AWG 30 A × 0.94 = 28.2 A, held to the 25 A of its 90 °C terminals in Table 310.16
    (18.0, "75c", False, 33.0, ("8 AWG", 23.1), ("14 AWG", 25.0)),
    # 60 °C insulation ends at 55 °C: nothing on the roof, 40 A × 0.91 at 35 °C off it
    (30.0, "60c", True, 35.0, None, ("8 AWG", 36.4)),
]


@pytest.mark.parametrize(("current", "insulation", "raceway", "air", "older", "newer"), CASES)
def test_editions_differ(current, insulation, raceway, air, older, newer, outside):
    for rules, expected in (("nec-2017", older), ("nec-2020", older), ("nec-2023", newer)):
        found = sized(rules, current, insulation, roof(raceway), air)
        if expected is None:
            assert found.chosen is None
            assert "ambient-in-table" in found.governing
        else:
            size, ampacity = expected
            assert found.chosen.size == size
            outside(
                found.chosen.ampacity_a,
                ampacity,
                abs=0.005,
                of=f"{size} on a roof, {insulation}, {air:g} °C, {rules}",
                source="NFPA 70, tables 310.16, 310.17, 310.15(B)(1) and the edition's addition",
                unit="A",
                kind="hand-worked",
            )


def test_on_the_skin_all_editions_agree():
    """A cable on the roof's skin takes 33 °C under every edition: 12 AWG 40 A × 0.50 = 20 A."""
    sizes = {
        rules: sized(rules, 20.0, "90c", Run(where="on-roof"), 40.0).chosen
        for rules in ("nec-2017", "nec-2020", "nec-2023")
    }
    assert {chosen.size for chosen in sizes.values()} == {"12 AWG"}
    assert {chosen.runs[0].temperature_c for chosen in sizes.values()} == {73.0}
