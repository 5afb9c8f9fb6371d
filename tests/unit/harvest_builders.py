"""Small studies for the harvest's tests."""

from typing import Any

import numpy as np

from sunhitch.types.harvest import (
    ClearSkyWeather,
    HarvestArray,
    HarvestRequest,
    HourlyWeather,
    ParkedHeading,
    Parking,
)
from sunhitch.types.panel import CellModel, Panel, PanelBody, PanelElectrical, PanelType
from sunhitch.types.place import Place
from sunhitch.types.roof import PlacedPanel, Roof, RoofRectangle
from sunhitch.types.shade import ArrayWiring
from sunhitch.types.system import Battery, Controller
from sunhitch_service.engine.sky import sun_at, unix_seconds

PLATE = PanelElectrical(
    p_mp_w=115.0,
    v_mp_v=19.2,
    i_mp_a=5.99,
    v_oc_v=22.9,
    i_sc_a=6.4,
    cells_in_series=36,
    alpha_sc_fraction_per_c=0.0005,
    beta_voc_fraction_per_c=-0.0028,
    gamma_pmp_fraction_per_c=-0.0037,
)
BODY = PanelBody(
    length_m=1.2,
    width_m=0.6,
    thickness_m=0.003,
    mass_kg=2.0,
    construction="flexible",
    cell_edge_margin_m=0.0,
)
ROOF = Roof(outline=RoofRectangle(length_m=5.0, width_m=2.0))


def panel(construction: str = "half-cell-2-diodes", cell_model: CellModel | None = None) -> Panel:
    return Panel(electrical=PLATE, construction=construction, cell_model=cell_model, body=BODY)


def placed(*places: tuple[float, float]) -> list[PlacedPanel]:
    return [
        PlacedPanel(name=f"p{k}", panel_type="sheet", x_m=x, y_m=y)
        for k, (x, y) in enumerate(places)
    ]


def array(strings: list[list[str]], **controller: Any) -> HarvestArray:
    given = {
        "name": "controller",
        "kind": "mppt",
        "max_input_voltage_v": 150.0,
        "max_output_current_a": 60.0,
        **controller,
    }
    return HarvestArray(controller=Controller(**given), wiring=ArrayWiring(strings=strings))


def heading(degrees: float, **more: float) -> Parking:
    return Parking(headings=[ParkedHeading(heading_deg=degrees)], **more)


def study(**changes: Any) -> HarvestRequest:
    """Two panels in parallel on a level roof that looks north, a clear day in June."""
    given: dict[str, Any] = {
        "place": Place(latitude_deg=47.6, longitude_deg=9.5, altitude_m=400.0),
        "weather": ClearSkyWeather(
            first_day="2027-06-21",
            days=1,
            utc_offset_h=1.0,
            monthly_clearness_fraction=[1.0] * 12,
            monthly_air_c=[15.0] * 12,
            wind_m_s=2.0,
        ),
        "parking": heading(0.0),
        "roof": ROOF,
        "roof_height_m": 2.5,
        "panel_types": [PanelType(name="sheet", panel=panel())],
        "placements": placed((1.0, 0.2), (1.0, 1.2)),
        "arrays": [array([["p0"], ["p1"]])],
        "battery": Battery(
            chemistry="lithium-iron-phosphate", nominal_voltage_v=12, capacity_ah=5000.0
        ),
    }
    return HarvestRequest(**{**given, **changes})


def beam_all_day() -> HourlyWeather:
    """Beam alone, so that a cell's light is what shadows leave."""
    middles = unix_seconds("2027-06-21T00:30:00+01:00") + 3600.0 * np.arange(24)
    up = np.cos(np.radians(sun_at(study().place, middles).apparent_zenith_deg))
    return HourlyWeather(
        start="2027-06-21T00:00:00+01:00",
        ghi_w_m2=(700.0 * np.maximum(up, 0.0)).tolist(),
        dni_w_m2=[700.0] * 24,
        dhi_w_m2=[0.0] * 24,
        air_c=[15.0] * 24,
    )
