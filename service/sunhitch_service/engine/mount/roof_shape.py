"""What the shape of a roof asks of pads and sheets, and what may fall or step on a panel."""

import math

from sunhitch.texts import statement
from sunhitch.types.check import Check
from sunhitch.types.mount import AdhesiveFeet, BondedSheet
from sunhitch_service.engine.roof.surroundings import rise_m
from sunhitch_service.engine.rules import mount as rules
from sunhitch_service.engine.rules.rule import rule

from .figures import figure
from .setup import Setup, by_moisture


def roof_shape_checks(setup: Setup) -> list[Check]:
    """Gap below rigid feet, and bending of a sheet that follows the roof."""
    vehicle, mounting = setup.request.vehicle, setup.request.mounting
    radius, waves = vehicle.roof_radius_m, vehicle.corrugation
    found: list[Check] = []
    if isinstance(mounting, AdhesiveFeet):
        filled = setup.bond_m
        filled *= 1.0 if by_moisture(mounting.adhesive.kind) else figure("limit", "tape_fills")
        side = float(setup.pads.max())
        if radius is not None:
            widest = 2 * math.sqrt(filled * (2 * radius - filled))
            found.append(rules.bond_gap(rise_m(radius, side), filled, widest, waves=False))
        if waves is not None:
            across = float(setup.pads.min(axis=1).max())
            gap = waves.depth_m if across > waves.flat_m else 0.0
            found.append(rules.bond_gap(gap, filled, waves.flat_m, waves=True))
    if isinstance(mounting, BondedSheet) and radius is not None:
        strain = setup.panel.depth / (2 * radius)
        limit = figure("sheet_default", "edge_strain")
        found.append(rule("bow-strain", statement("sheet")).at_most(strain, limit))
    return found


def contact_checks(setup: Setup) -> list[Check]:
    """Steps on the panel and hail, where either is to be expected."""
    travel, sheet = setup.request.travel, setup.request.sheet
    found: list[Check] = []
    if travel is None:
        return found
    if travel.stepped_on:
        person = figure("limit", "person_n")
        found.append(rules.stepped_on(person, sheet.step_rating_n if sheet else None))
    if travel.hailstone_m is not None:
        found.append(rules.hail(travel.hailstone_m, sheet.hail_rating_m if sheet else None))
    return found
