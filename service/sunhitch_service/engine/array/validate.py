"""Refuse requests that contradict themselves, with every fault named."""

from sunhitch.types.array import ArrayConfigurationRequest, PanelTypeCount
from sunhitch.types.panel import Panel
from sunhitch_service.engine.errors import Faults, Named, in_strings, listed
from sunhitch_service.engine.pv.presets import panel_faults
from sunhitch_service.engine.shade.validate import light_faults

MOST_PANELS = 24
_DIGITS = 9
"""Of ratios: 16.8 V are 1.4 times 12 V, though not to a computer."""


def validate(request: ArrayConfigurationRequest) -> None:
    """Check names, counts, weights and temperatures against each other.

    Parameters
    ----------
    request : ArrayConfigurationRequest
        As decoded.

    Raises
    ------
    ContradictionError
        With every fault that was found.
    """
    faults = Faults()
    kinds = _panel_kinds(request, faults)
    faults.unique(listed("/controllers", (c.name for c in request.controllers)))
    faults.unique(listed("/shade", (s.name for s in request.shade)))
    _temperatures(request, faults)
    _battery(request, faults)
    _shade(request, kinds, faults)
    _layout(request, kinds, faults)
    _drawn(request, kinds, faults)
    _removable(request, kinds, faults)
    faults.raise_any()


def instance_names(group: PanelTypeCount) -> list[str]:
    """Names of a type's single panels."""
    return group.instances or [f"{group.name}-{n}" for n in range(1, group.count + 1)]


def _panel_kinds(request: ArrayConfigurationRequest, faults: Faults) -> dict[str, Panel]:
    faults.unique(listed("/panels", (group.name for group in request.panels)))
    kinds: dict[str, Panel] = {}
    instances: list[Named] = []
    for index, group in enumerate(request.panels):
        names = instance_names(group)
        faults.add_if(
            len(names) != group.count,
            f"/panels/{index}/instances",
            "names-per-panel",
            names=len(names),
            panels=group.count,
        )
        at = f"/panels/{index}"
        instances += (
            Named(f"{at}/instances/{n}" if group.instances else f"{at}/name", name)
            for n, name in enumerate(names)
        )
        kinds |= dict.fromkeys(names, group.panel)
        panel_faults(group.panel, f"/panels/{index}/panel", faults)
    faults.unique(instances)
    total = sum(group.count for group in request.panels)
    faults.add_if(
        total > MOST_PANELS,
        "/panels",
        "too-many-panels-enumerated",
        panels=total,
        most_panels=MOST_PANELS,
    )
    return kinds


def _temperatures(request: ArrayConfigurationRequest, faults: Faults) -> None:
    site = request.site
    faults.add_if(
        site.lowest_ambient_c > site.highest_ambient_c,
        "/site/lowest_ambient_c",
        "above-highest-ambient",
        highest_ambient_c=site.highest_ambient_c,
    )
    faults.add_if(
        site.hot_cell_c is not None and site.hot_cell_c < site.highest_ambient_c,
        "/site/hot_cell_c",
        "cells-colder-than-air",
        highest_ambient_c=site.highest_ambient_c,
    )


def _battery(request: ArrayConfigurationRequest, faults: Faults) -> None:
    charge, nominal = request.battery.charge_voltage_v, request.battery.nominal_voltage_v
    faults.add_if(
        charge is not None and not 1.0 <= round(charge / nominal, _DIGITS) <= 1.4,
        "/battery/charge_voltage_v",
        "charge-voltage-of-bank",
        nominal_v=nominal,
        most_v=1.4 * nominal,
    )
    working = request.battery.working_voltage_v
    faults.add_if(
        working is not None and not 0.8 <= round(working / nominal, _DIGITS) <= 1.4,
        "/battery/working_voltage_v",
        "working-voltage-of-bank",
        least_v=0.8 * nominal,
        most_v=1.4 * nominal,
        nominal_v=nominal,
    )


def _shade(request: ArrayConfigurationRequest, kinds: dict[str, Panel], faults: Faults) -> None:
    total = sum(state.weight_fraction for state in request.shade)
    faults.add_if(total > 1.0 + 1e-9, "/shade", "weights-above-one", total=total)
    for index, state in enumerate(request.shade):
        light_faults(state.light, kinds, f"/shade/{index}/light", faults)


def _drawn(request: ArrayConfigurationRequest, kinds: dict[str, Panel], faults: Faults) -> None:
    named = listed("/drawn", (array.controller for array in request.drawn), "controller")
    faults.unique(named)
    faults.known(named, [controller.name for controller in request.controllers], "controller")
    used = [
        panel
        for index, array in enumerate(request.drawn)
        for panel in in_strings(f"/drawn/{index}/strings", array.strings)
    ]
    faults.known(used, kinds, "panel")
    faults.unique(used)


def _removable(request: ArrayConfigurationRequest, kinds: dict[str, Panel], faults: Faults) -> None:
    faults.unique(
        [
            *(Named("/panels", name) for name in kinds),
            *listed("/removable", (r.name for r in request.removable)),
        ]
    )
    named = listed("/removable", (each.controller for each in request.removable), "controller")
    faults.unique(named)
    faults.known(named, [controller.name for controller in request.controllers], "controller")
    for index, each in enumerate(request.removable):
        panel_faults(Panel(electrical=each.electrical), f"/removable/{index}", faults)


def _layout(request: ArrayConfigurationRequest, kinds: dict[str, Panel], faults: Faults) -> None:
    if request.layout is None:
        return
    places = [place.panel for place in request.layout.places]
    named = listed("/layout/places", places, "panel")
    faults.known(named, kinds, "panel")
    faults.unique(named)
    missing = sorted(set(kinds) - set(places))
    faults.add_if(
        bool(missing), "/layout/places", "panels-without-place", panels=", ".join(missing)
    )
