"""Wind on a panel and the load on its feet."""

import numpy as np

from sunhitch import units
from sunhitch.texts import load_case, statement
from sunhitch.types.mount import (
    MOST_FEET,
    FastenedFeet,
    FootPoint,
    MountCheckRequest,
    MountVehicle,
    PanelWind,
    TravelConditions,
    VehicleKind,
)
from sunhitch.types.panel import PanelBody
from sunhitch.types.quick.winds import (
    DynamicPressureQuestion,
    FootLoadQuestion,
    QuickDynamicPressure,
    QuickFootLoad,
)
from sunhitch.types.shade import PanelPosition
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.mount.air import density, dynamic_pressure
from sunhitch_service.engine.mount.faults import SAME_PLACE_M
from sunhitch_service.engine.mount.figures import choose, figure, why
from sunhitch_service.engine.mount.foot_load import hardest_pull
from sunhitch_service.engine.mount.setup import support_points
from sunhitch_service.engine.sources import basis
from sunhitch_service.engine.tables import table

from .words import assumed, cited, warned


def pressure_of_air(asked: DynamicPressureQuestion) -> QuickDynamicPressure:
    """Dynamic pressure in the standard atmosphere, or at a given temperature."""
    notes = Assumptions()
    altitude = notes.choose(
        "/altitude_m", asked.altitude_m, 0.0, why("travel_default", "altitude_m")
    )
    air = density(altitude, asked.air_c)
    if asked.air_c is None:
        notes.note("/air_c", "standard", statement("standard-air"))
    pressure = dynamic_pressure(air, asked.speed_m_s)
    return QuickDynamicPressure(
        dynamic_pressure_pa=pressure,
        dynamic_pressure_psf=units.to_psf(pressure),
        air_density_kg_m3=air,
        assumed=assumed(notes.listed()),
        basis=cited(basis("iso-2533"), basis("physics", "½·ρ·v²")),
    )


def load_on_feet(asked: FootLoadQuestion) -> QuickFootLoad:
    """Load on the feet of a regular grid, by the mount check's own functions at the worst place."""
    notes = Assumptions()
    request = _mounted(asked, notes)
    _refuse(asked, request)
    worst = hardest_pull(request)
    cases, i, lies = worst.cases, worst.case, worst.place
    uplift = max(0.0, float(cases.lift[0, i] + cases.up[i] - cases.relief[i]))
    across = lies.rotation_deg != 0.0
    return QuickFootLoad(
        worst_foot_n=worst.pull_n,
        worst_foot_lbf=units.to_pounds_force(worst.pull_n),
        equal_share_n=uplift / (asked.rows * asked.columns),
        uplift_n=uplift,
        load_case=load_case(cases.terms[i].name),
        lies="across" if across else "lengthways",
        x_m=lies.x_m - (asked.width_m if across else 0.0),
        y_m=lies.y_m,
        dynamic_pressure_pa=float(cases.q[0, i]),
        air_density_kg_m3=worst.setup.conditions.density,
        assumed=assumed(notes.listed()),
        basis=cited(basis("iso-2533"), table("mount", "suction").basis, basis("beam-theory")),
        caution=warned(cautions("road-safety", "speed-limit")),
    )


def _mounted(asked: FootLoadQuestion, notes: Assumptions) -> MountCheckRequest:
    """The question as a mount check; what the forces of the feet do not depend on is anything."""

    def usual(name: str) -> float:
        given: float | None = getattr(asked, name)
        return choose(notes, f"/{name}", given, "foot_load_default", name)

    coefficient = asked.uplift_coefficient
    if coefficient is None:
        notes.note("/uplift_coefficient", "by zone", statement("suction-of-zones"))
    vehicle: VehicleKind = "trailer" if asked.vehicle is None else asked.vehicle
    if asked.vehicle is None:
        notes.note("/vehicle", vehicle, statement("trailers-thrown"))
    edge = _edge(asked, notes)
    along, across = (
        [edge + (side - 2.0 * edge) * i / (count - 1) for i in range(count)]
        for side, count in ((asked.length_m, asked.rows), (asked.width_m, asked.columns))
    )
    return MountCheckRequest(
        panel=PanelBody(
            length_m=asked.length_m,
            width_m=asked.width_m,
            thickness_m=usual("thickness_m"),
            mass_kg=asked.mass_kg,
            construction="framed",
        ),
        position=PanelPosition(x_m=0.0, y_m=0.0),
        mounting=FastenedFeet(
            feet=[FootPoint(x_m=x, y_m=y) for x in along for y in across],
            fastener="bolt",
            fasteners_per_foot=1,
            base_width_m=usual("foot_m"),
            standoff_m=usual("standoff_m"),
        ),
        vehicle=MountVehicle(
            kind=vehicle,
            roof_length_m=usual("roof_length_m"),
            roof_width_m=usual("roof_width_m"),
            roof_height_m=usual("roof_height_m"),
        ),
        travel=_travel(asked, notes),
        wind=PanelWind(net_uplift_coefficient=coefficient),
    )


def _edge(asked: FootLoadQuestion, notes: Assumptions) -> float:
    """Distance of the outermost feet from the panel's edges [m]."""
    usual, reason = figure("foot_load_default", "edge_m"), why("foot_load_default", "edge_m")
    fitting = min(usual, asked.length_m / 4.0, asked.width_m / 4.0)
    return notes.choose("/edge_m", asked.edge_m, fitting, reason)


def _travel(asked: FootLoadQuestion, notes: Assumptions) -> TravelConditions:
    def usual(given: float | None, name: str, key: str) -> float:
        return choose(notes, f"/{name}", given, "travel_default", key)

    return TravelConditions(
        road_speed_m_s=asked.speed_m_s,
        headwind_gust_m_s=usual(asked.gust_m_s, "gust_m_s", "headwind_gust_m_s"),
        crosswind_gust_m_s=usual(
            asked.crosswind_gust_m_s, "crosswind_gust_m_s", "crosswind_gust_m_s"
        ),
        storm_gust_m_s=usual(asked.storm_gust_m_s, "storm_gust_m_s", "storm_gust_m_s"),
        altitude_m=usual(asked.altitude_m, "altitude_m", "altitude_m"),
        lowest_air_c=usual(asked.air_c, "air_c", "lowest_air_c"),
    )


def _refuse(asked: FootLoadQuestion, request: MountCheckRequest) -> None:
    """Refuse what a mount check would refuse, at the parameter that causes it."""
    faults, vehicle = Faults(), request.vehicle
    faults.add_if(
        asked.rows * asked.columns > MOST_FEET,
        "/rows",
        "too-many-feet",
        most_feet=MOST_FEET,
    )
    feet = support_points(request)
    apart = np.ptp(feet, axis=0) / (asked.rows - 1, asked.columns - 1)
    faults.add_if(
        bool((apart < SAME_PLACE_M).any()) or feet[0, 0] > min(asked.length_m, asked.width_m) / 2.0,
        "/edge_m",
        "feet-too-close",
        same_place_m=SAME_PLACE_M,
    )
    panel, roof = (
        sorted((asked.length_m, asked.width_m)),
        sorted((vehicle.roof_length_m, vehicle.roof_width_m)),
    )
    faults.add_if(
        panel[0] > roof[0] or panel[1] > roof[1],
        "/length_m",
        "panel-off-roof",
        roof_length_m=vehicle.roof_length_m,
        roof_width_m=vehicle.roof_width_m,
    )
    faults.raise_any()
