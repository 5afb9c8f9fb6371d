"""Wind on a panel and the load on its feet."""

from typing import Annotated

from sunhitch import units
from sunhitch.types.base import Input, Output
from sunhitch.types.mount import (
    AdhesiveKind,
)
from sunhitch.types.quantity import choice, count, quantity
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.mount.air import density, dynamic_pressure
from sunhitch_service.engine.mount.figures import choose, figure, why
from sunhitch_service.engine.mount.foot_load import foot_load
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

from .question import Assumed, Beware, Question, Source, assumed, cited, warned

_TAPE = "acrylic-foam-tape"
_N = 1e9
_INCHES_PER_FOOT = 12.0

Altitude = Annotated[float, quantity("m", -450.0, 5500.0, "Above sea level.", 0.0)]
Air = Annotated[float, quantity("°C", -60.0, 60.0, "Air; cold air is dense.", -20.0)]
Glue = Annotated[AdhesiveKind, choice("Kind of adhesive.", "acrylic-foam-tape")]
_Pressure = Annotated[float, quantity("Pa", 0.0, 50_000.0, "Dynamic pressure.", 1456.0)]
_Density = Annotated[float, quantity("kg/m³", 0.1, 3.0, "Density of the air.", 1.395)]


class DynamicPressureQuestion(Input):
    """Pressure of moving air."""

    speed_m_s: Annotated[float, quantity("m/s", 0.0, 120.0, "Speed of the air.", 27.8)]
    altitude_m: Altitude | None = None
    air_c: Air | None = None


class QuickDynamicPressure(Output):
    """Pressure of moving air."""

    dynamic_pressure_pa: _Pressure
    dynamic_pressure_psf: Annotated[
        float, quantity("lbf/ft²", 0.0, 1000.0, "The same per square foot.", 9.87)
    ]
    air_density_kg_m3: _Density
    assumed: Assumed
    basis: Source


def pressure_of_air(asked: DynamicPressureQuestion) -> QuickDynamicPressure:
    """Dynamic pressure in the standard atmosphere, or at a given temperature."""
    notes = Assumptions()
    altitude = notes.choose(
        "/altitude_m", asked.altitude_m, 0.0, why("travel_default", "altitude_m")
    )
    air = density(altitude, asked.air_c)
    if asked.air_c is None:
        notes.note("/air_c", "standard", "Temperature of the standard atmosphere.")
    pressure = dynamic_pressure(air, asked.speed_m_s)
    return QuickDynamicPressure(
        dynamic_pressure_pa=pressure,
        dynamic_pressure_psf=units.to_psf(pressure),
        air_density_kg_m3=air,
        assumed=assumed(notes.listed()),
        basis=cited(basis("iso-2533"), basis("physics", "½·ρ·v²")),
    )


class FootLoadQuestion(Input):
    """Load on the feet of a panel while driving."""

    length_m: Annotated[float, quantity("m", 0.1, 4.0, "Panel along its rows of feet.", 1.2)]
    width_m: Annotated[float, quantity("m", 0.1, 3.0, "Panel across.", 0.54)]
    mass_kg: Annotated[float, quantity("kg", 0.05, 100.0, "Panel.", 2.3)]
    rows: Annotated[
        int, count(2, 20, "Rows of feet at equal distances along the length, ends included.", 3)
    ]
    columns: Annotated[int, count(1, 20, "Feet in a row.", 2)]
    speed_m_s: Annotated[float, quantity("m/s", 0.0, 45.0, "Road speed.", 31.3)]
    gust_m_s: Annotated[float, quantity("m/s", 0.0, 40.0, "Headwind gust on top.", 15.0)] | None = (
        None
    )
    uplift_coefficient: (
        Annotated[float, quantity("1", 0.0, 8.0, "Net suction over the panel.", 3.0)] | None
    ) = None
    altitude_m: Altitude | None = None
    air_c: Air | None = None


class QuickFootLoad(Output):
    """Load on the feet of a panel while driving."""

    worst_foot_n: Annotated[float, quantity("N", 0.0, _N, "Pull on the worst foot.", 282.0)]
    worst_foot_lbf: Annotated[float, quantity("lbf", 0.0, _N, "The same.", 63.4)]
    equal_share_n: Annotated[
        float, quantity("N", 0.0, _N, "If every foot carried the same.", 163.0)
    ]
    uplift_n: Annotated[
        float, quantity("N", 0.0, _N, "On the whole panel, less 0.6 of its weight.", 977.0)
    ]
    dynamic_pressure_pa: _Pressure
    air_density_kg_m3: _Density
    assumed: Assumed
    basis: Source
    caution: Beware


def load_on_feet(asked: FootLoadQuestion) -> QuickFootLoad:
    """Load on the feet by one coefficient and a regular grid."""
    notes = Assumptions()
    gust = choose(notes, "/gust_m_s", asked.gust_m_s, "travel_default", "headwind_gust_m_s")
    altitude = choose(notes, "/altitude_m", asked.altitude_m, "travel_default", "altitude_m")
    air_c = choose(notes, "/air_c", asked.air_c, "travel_default", "lowest_air_c")
    air = density(altitude, air_c)
    load = foot_load(
        length_m=asked.length_m,
        width_m=asked.width_m,
        mass_kg=asked.mass_kg,
        rows=asked.rows,
        columns=asked.columns,
        air_speed_m_s=asked.speed_m_s + gust,
        uplift_coefficient=_suction(asked.uplift_coefficient, notes),
        air_density_kg_m3=air,
    )
    return QuickFootLoad(
        worst_foot_n=load.worst_foot_n,
        worst_foot_lbf=units.to_pounds_force(load.worst_foot_n),
        equal_share_n=load.equal_share_n,
        uplift_n=load.uplift_n,
        dynamic_pressure_pa=load.dynamic_pressure_pa,
        air_density_kg_m3=air,
        assumed=assumed(notes.listed()),
        basis=cited(basis("iso-2533"), table("mount", "suction").basis, basis("beam-theory")),
        caution=warned(cautions("road-safety", "speed-limit")),
    )


def _suction(given: float | None, notes: Assumptions) -> float:
    """Suction of the leading strip over an open gap."""
    strip = next(
        float(one["peak"])
        for one in table("mount", "suction").rows
        if (one["front"], one["zone"]) == ("sharp", "leading-strip")
    )
    default = strip * figure("wind_default", "edge_factor")
    told = (
        "The whole panel in the strip behind a sharp front edge, over an open gap: conservative. "
        "mount-check counts the zones."
    )
    return notes.choose("/uplift_coefficient", given, default, told)


WINDS = (
    Question(
        "foot-load",
        "How hard does a foot pull?",
        "Uplift on a panel at road speed with a gust, and the pull on its worst foot on a regular "
        "grid; one suction for the whole panel. mount-check does it with zones, statics and every "
        "other load.",
        FootLoadQuestion,
        QuickFootLoad,
        load_on_feet,
    ),
    Question(
        "dynamic-pressure",
        "How hard does the wind push?",
        "Dynamic pressure of moving air at an altitude.",
        DynamicPressureQuestion,
        QuickDynamicPressure,
        pressure_of_air,
    ),
)
"""Questions about wind and feet."""
