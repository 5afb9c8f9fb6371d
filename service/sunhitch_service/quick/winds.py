"""Wind on a panel and the load on its feet."""

from sunhitch import units
from sunhitch.types.quick.winds import (
    DynamicPressureQuestion,
    FootLoadQuestion,
    QuickDynamicPressure,
    QuickFootLoad,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.mount.air import density, dynamic_pressure
from sunhitch_service.engine.mount.figures import choose, figure, why
from sunhitch_service.engine.mount.foot_load import foot_load
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

from .question import Question, assumed, cited, warned


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
