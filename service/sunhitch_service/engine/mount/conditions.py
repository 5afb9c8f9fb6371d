"""Speed, weather and road, settled: given by the caller, or chosen and noted."""

from dataclasses import dataclass

from sunhitch.texts import statement
from sunhitch.types.mount import BondedSheet, MountCheckRequest, TravelConditions
from sunhitch_service.engine.assumptions import Assumptions

from .air import GRAVITY, density, pressure, storm_pressure
from .figures import choose, figure, why


@dataclass(frozen=True, slots=True)
class Conditions:
    """Speed, weather and road, settled; SI units, accelerations in m/s²."""

    altitude: float
    road_speed: float
    headwind: float
    crosswind: float
    passing: float
    density: float
    hot_density: float
    outside_pa: float
    lowest_air_c: float
    highest_air_c: float
    storm_gust: float
    storm_pa: float
    snow_pa: float
    driving_c: float
    parked_c: float
    forward: float
    rearward: float
    sideways: float
    up: float
    down: float
    slope_deg: float


def settle_conditions(request: MountCheckRequest, notes: Assumptions) -> Conditions:
    """Settle speed, weather and road of a request; notes what was chosen."""
    given = request.travel or TravelConditions()

    def pick(key: str) -> float:
        return choose(notes, f"/travel/{key}", getattr(given, key), "travel_default", key)

    altitude, lowest = pick("altitude_m"), pick("lowest_air_c")
    highest = pick("highest_air_c")
    gust = pick("storm_gust_m_s")
    pushes = {
        key: _acceleration(request, given, key, notes)
        for key in ("forward", "rearward", "sideways", "up", "down")
    }
    return Conditions(
        altitude=altitude,
        road_speed=pick("road_speed_m_s"),
        headwind=pick("headwind_gust_m_s"),
        crosswind=pick("crosswind_gust_m_s"),
        passing=pick("passing_gust_m_s"),
        density=density(altitude, lowest),
        hot_density=density(altitude, highest),
        outside_pa=pressure(altitude),
        lowest_air_c=lowest,
        highest_air_c=highest,
        storm_gust=gust,
        storm_pa=storm_pressure(gust, given.storm_exposure, given.topographic_factor),
        snow_pa=pick("ground_snow_pa"),
        driving_c=pick("bond_driving_c"),
        parked_c=_parked_bond_c(request, given.bond_parked_c, highest, notes),
        slope_deg=choose(
            notes,
            "/vehicle/roof_slope_deg",
            request.vehicle.roof_slope_deg,
            "travel_default",
            "roof_slope_deg",
        ),
        **pushes,
    )


def _parked_bond_c(
    request: MountCheckRequest, given_c: float | None, highest_air_c: float, notes: Assumptions
) -> float:
    """Hottest bond of a parked vehicle: below a sheet it is as hot as the sheet, at a foot not."""
    usual_c, reason = (
        figure("travel_default", "bond_parked_c"),
        why("travel_default", "bond_parked_c"),
    )
    if isinstance(request.mounting, BondedSheet) and sheet_c(highest_air_c) > usual_c:
        usual_c, reason = sheet_c(highest_air_c), statement("bond-hot-as-sheet")
    return notes.choose("/travel/bond_parked_c", given_c, usual_c, reason)


def sheet_c(highest_air_c: float) -> float:
    """Hottest sheet bonded to a roof, in still summer air [°C]."""
    return highest_air_c + figure("sheet_default", "rise_bonded_k")


def _acceleration(
    request: MountCheckRequest, given: TravelConditions, key: str, notes: Assumptions
) -> float:
    column = "trailer_g" if request.vehicle.kind == "trailer" else "motor_vehicle_g"
    field = f"{key}_m_s2"
    value: float | None = getattr(given.accelerations, field) if given.accelerations else None
    default = figure("acceleration", key, column) * GRAVITY
    return notes.choose(f"/travel/accelerations/{field}", value, default, why("acceleration", key))
