"""Short ways to write requests."""

import msgspec
import pytest
from service_in_memory import PLATE, REQUEST

from sunhitch import Client, RequestRejectedError, build
from sunhitch.codec import decode_strict, encode
from sunhitch.types.panel import PanelBody
from sunhitch.types.shade import ShadedIvRequest, Sun

NAMEPLATE = msgspec.structs.asdict(PLATE)
GIVEN = {name: value for name, value in NAMEPLATE.items() if value is not None}
BODY = PanelBody(
    length_m=1.18, width_m=0.54, thickness_m=0.003, mass_kg=2.3, construction="flexible"
)
SUN = Sun(irradiance_w_m2=1000.0, cell_temperature_c=25.0)


def test_a_panel_from_its_nameplate_is_the_one_spelled_out() -> None:
    built = build.panel(**GIVEN, construction="half-cell-2-diodes", body=BODY)
    assert (built.electrical, built.body) == (PLATE, BODY)
    assert built.construction == "half-cell-2-diodes"


def test_other_figures_of_the_nameplate_may_follow() -> None:
    built = build.panel(**GIVEN, beta_voc_fraction_per_c=-0.0028)
    assert built.electrical.beta_voc_fraction_per_c == -0.0028
    with pytest.raises(TypeError, match="beta_voc"):
        build.panel(**GIVEN, beta_voc=-0.0028)


def test_an_array_has_equal_strings_of_named_panels() -> None:
    panels, wiring = build.array(build.panel(**GIVEN), 2, 3, light={"3-1": 0.4})
    assert wiring.strings == [["1-1", "1-2"], ["2-1", "2-2"], ["3-1", "3-2"]]
    assert [panel.name for panel in panels] == [name for s in wiring.strings for name in s]
    assert [panel.irradiance_fraction for panel in panels] == [1.0, 1.0, 1.0, 1.0, 0.4, 1.0]


def test_light_on_no_panel_is_refused() -> None:
    with pytest.raises(ValueError, match=r"4-1; there are 1-1"):
        build.array(build.panel(**GIVEN), 2, light={"4-1": 0.4})


def test_what_is_built_is_answered() -> None:
    """Two equal strings give twice the current of one at the same voltage (Kirchhoff)."""
    kind = build.panel(**GIVEN, construction="half-cell-2-diodes")
    with Client.embedded() as client:
        one, two = (
            client.shaded_iv(ShadedIvRequest(panels=panels, wiring=wiring, sun=SUN))
            for panels, wiring in (build.array(kind, 2, n) for n in (1, 2))
        )
    assert two.short_circuit_current_a == pytest.approx(2 * one.short_circuit_current_a, rel=1e-9)
    assert two.open_circuit_voltage_v == pytest.approx(one.open_circuit_voltage_v, rel=1e-9)


def test_a_variant_differs_in_the_places_named_only() -> None:
    varied = build.changed(
        REQUEST,
        {
            "/sun/cell_temperature_c": 60,
            "/panels/0/irradiance_fraction": [[0.5, 1.0]],
            "/panels/0/position/x_m": 0.2,
            "/panels/0/position/y_m": 0.3,
        },
    )
    assert varied.sun.cell_temperature_c == 60.0
    assert varied.panels[0].irradiance_fraction == [[0.5, 1.0]]
    assert varied.panels[0].position.y_m == 0.3
    back = msgspec.structs.replace(
        varied,
        sun=REQUEST.sun,
        panels=[msgspec.structs.replace(varied.panels[0], irradiance_fraction=0.4, position=None)],
    )
    assert back == REQUEST
    assert decode_strict(encode(varied), ShadedIvRequest) == varied


def test_a_variant_takes_parts_of_requests() -> None:
    assert build.changed(REQUEST, {"/sun": SUN}).sun == SUN


@pytest.mark.parametrize(
    ("pointer", "value", "at"),
    [
        ("/sun/cell_temperature_c", 500.0, "/sun/cell_temperature_c"),
        ("/sun/wind", 3.0, "/sun/wind"),
        ("/panels/7/name", "x", "/panels/7/name"),
        ("/panels/first/name", "x", "/panels/first/name"),
        ("/sun/cell_temperature_c/x", 1.0, "/sun/cell_temperature_c/x"),
    ],
)
def test_places_and_values_that_do_not_fit_are_told(pointer: str, value: object, at: str) -> None:
    with pytest.raises(RequestRejectedError) as caught:
        build.changed(REQUEST, {pointer: value})
    assert [fault.pointer for fault in caught.value.errors] == [at]
