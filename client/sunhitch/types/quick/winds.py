"""Wind on a panel and the load on its feet."""

from typing import Annotated, Literal

from sunhitch.types.base import Input
from sunhitch.types.mount import (
    AdhesiveKind,
    VehicleKind,
)
from sunhitch.types.quantity import choice, count, prose, quantity

from .texts import FlatAnswer, WarnedAnswer

PanelLie = Literal["lengthways", "across"]

_N = 1e9
Altitude = Annotated[float, quantity("m", -450.0, 5500.0, "Above sea level.", 0.0)]
Air = Annotated[float, quantity("°C", -60.0, 60.0, "Air; cold air is dense.", -20.0)]
Glue = Annotated[AdhesiveKind, choice("Kind of adhesive.", "acrylic-foam-tape")]
_Pressure = Annotated[float, quantity("Pa", 0.0, 50_000.0, "Dynamic pressure.", 1456.0)]
_Density = Annotated[float, quantity("kg/m³", 0.1, 3.0, "Density of the air.", 1.395)]


class DynamicPressureQuestion(Input, kw_only=True):
    """Pressure of moving air."""

    speed_m_s: Annotated[float, quantity("m/s", 0.0, 120.0, "Speed of the air.", 27.8)]
    altitude_m: Altitude | None = None
    air_c: Air | None = None


class QuickDynamicPressure(FlatAnswer):
    """Pressure of moving air."""

    dynamic_pressure_pa: _Pressure
    dynamic_pressure_psf: Annotated[
        float, quantity("lbf/ft²", 0.0, 1000.0, "The same per square foot.", 9.87)
    ]
    air_density_kg_m3: _Density


class FootLoadQuestion(Input, kw_only=True):
    """Load on the feet of a panel while driving."""

    length_m: Annotated[float, quantity("m", 0.1, 3.0, "Panel along its rows of feet.", 1.2)]
    width_m: Annotated[float, quantity("m", 0.1, 3.0, "Panel across.", 0.54)]
    mass_kg: Annotated[float, quantity("kg", 0.05, 100.0, "Panel.", 2.3)]
    rows: Annotated[int, count(2, 20, "Rows of feet at equal distances along the length.", 3)]
    columns: Annotated[int, count(2, 20, "Feet in a row, at equal distances.", 2)]
    speed_m_s: Annotated[float, quantity("m/s", 0.0, 45.0, "Road speed.", 31.3)]
    gust_m_s: Annotated[float, quantity("m/s", 0.0, 40.0, "Headwind gust on top.", 15.0)] | None = (
        None
    )
    crosswind_gust_m_s: (
        Annotated[float, quantity("m/s", 0.0, 40.0, "Gust from the side.", 20.0)] | None
    ) = None
    storm_gust_m_s: (
        Annotated[float, quantity("m/s", 0.0, 90.0, "3 s gust of a storm while parked.", 40.0)]
        | None
    ) = None
    uplift_coefficient: (
        Annotated[float, quantity("1", 0.0, 8.0, "Net suction, the same all over.", 3.0)] | None
    ) = None
    thickness_m: (
        Annotated[float, quantity("m", 0.0005, 0.1, "Sheet, or height of the frame.", 0.035)] | None
    ) = None
    edge_m: (
        Annotated[float, quantity("m", 0.0, 1.0, "Outermost feet from the edges.", 0.08)] | None
    ) = None
    standoff_m: Annotated[float, quantity("m", 0.0, 0.3, "Gap below.", 0.03)] | None = None
    foot_m: Annotated[float, quantity("m", 0.005, 0.3, "Width of a foot.", 0.1)] | None = None
    vehicle: Annotated[VehicleKind, choice("Kind of vehicle.", "trailer")] | None = None
    roof_length_m: Annotated[float, quantity("m", 0.5, 20.0, "Roof.", 5.0)] | None = None
    roof_width_m: Annotated[float, quantity("m", 0.5, 4.0, "Roof across.", 2.1)] | None = None
    roof_height_m: Annotated[float, quantity("m", 0.8, 4.5, "Roof above the road.", 2.6)] | None = (
        None
    )
    altitude_m: Altitude | None = None
    air_c: Air | None = None


class QuickFootLoad(WarnedAnswer):
    """Load on the feet of a panel while driving."""

    worst_foot_n: Annotated[float, quantity("N", 0.0, _N, "Pull on the worst foot.", 282.0)]
    worst_foot_lbf: Annotated[float, quantity("lbf", 0.0, _N, "The same.", 63.4)]
    equal_share_n: Annotated[
        float, quantity("N", 0.0, _N, "If every foot carried the same.", 163.0)
    ]
    uplift_n: Annotated[
        float, quantity("N", 0.0, _N, "On the whole panel, less 0.6 of its weight.", 977.0)
    ]
    load_case: Annotated[str, prose("What pulls hardest.", "Road speed with a gust from ahead")]
    lies: Annotated[PanelLie, choice("How the panel lies where it pulls.", "lengthways")]
    x_m: Annotated[float, quantity("m", 0.0, 20.0, "Its front edge behind the roof's.", 0.0)]
    y_m: Annotated[float, quantity("m", 0.0, 4.0, "Its left edge beside the roof's.", 0.0)]
    dynamic_pressure_pa: _Pressure
    air_density_kg_m3: _Density
