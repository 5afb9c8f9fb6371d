"""Settle every default of a request, and note it."""

from collections.abc import Iterable
from dataclasses import replace

from sunhitch.texts import statement
from sunhitch.types.array import ArrayConfigurationRequest
from sunhitch.types.panel import Panel, PanelElectrical
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.battery.cold import ColdLimits
from sunhitch_service.engine.battery.settings import battery_settings
from sunhitch_service.engine.controller.settings import controller_settings
from sunhitch_service.engine.pv import voltage
from sunhitch_service.engine.pv.presets import resolve_panel
from sunhitch_service.engine.pv.temperature import cell_in_sun_c, hot_cell_c
from sunhitch_service.engine.rules.limits import usual_limit

from .design import ArrayDesign, DesignLight, Member, PanelKind, Share
from .practice import PRACTICE
from .validate import instance_names, validate

_COLDER_K = 10.0


def settle(request: ArrayConfigurationRequest) -> ArrayDesign:
    """Settle every default and note it.

    Parameters
    ----------
    request : ArrayConfigurationRequest
        As given.

    Returns
    -------
    ArrayDesign
        Ready to enumerate.

    Raises
    ------
    ContradictionError
        If the request contradicts itself.
    """
    validate(request)
    notes = Assumptions()
    hot = hot_cell_c(request.site, request.mounting_heat, notes)
    battery = battery_settings(request.battery, notes)
    target, plugs = request.target, request.connectors
    return ArrayDesign(
        request=request,
        assumptions=notes,
        rules=notes.choose(
            "/rules", request.rules, "nec-2023", statement("newest-edition-string-fuses")
        ),
        kinds=tuple(
            _kind(
                request,
                each.name,
                each.panel,
                each.lead_length_m,
                f"/panels/{index}/panel",
                hot,
                notes,
            )
            for index, each in enumerate(request.panels)
        ),
        members=tuple(_members(request)),
        controllers=tuple(
            controller_settings(controller, f"/controllers/{index}", notes)
            for index, controller in enumerate(request.controllers)
        ),
        lights=tuple(_lights(request, hot, notes)),
        hot_cell_c=hot,
        charge_voltage_v=battery.charge_v,
        working_voltage_v=battery.working_v,
        charge_limit_a=battery.charge_limit_a,
        charge_limit_given=request.battery.max_charge_current_a is not None,
        cold=ColdLimits(request.battery, battery, notes),
        voltage_reserve=usual_limit(
            notes,
            "/target/voltage_reserve_fraction",
            target.voltage_reserve_fraction,
            "voltage-reserve",
        ),
        plug_a=usual_limit(
            notes, "/connectors/plug_current_a", plugs.plug_current_a, "plug-current"
        ),
        branch_a=usual_limit(
            notes, "/connectors/branch_current_a", plugs.branch_current_a, "branch-current"
        ),
        removable=_removable(request, hot, notes),
    )


def _removable(
    request: ArrayConfigurationRequest, hot: float, notes: Assumptions
) -> dict[str, tuple[PanelKind, ...]]:
    found: dict[str, tuple[PanelKind, ...]] = {}
    for index, each in enumerate(request.removable):
        panel = Panel(electrical=each.electrical)
        kind = _kind(request, each.name, panel, None, f"/removable/{index}", hot, notes)
        found[each.controller] = (kind,) * each.in_series
    return found


def _kind(
    request: ArrayConfigurationRequest,
    name: str,
    panel: Panel,
    lead_length_m: float | None,
    at: str,
    hot: float,
    notes: Assumptions,
) -> PanelKind:
    plate = panel.electrical
    resolved = resolve_panel(panel, notes, at)
    assumed = resolved.coefficients
    beta = plate.beta_voc_fraction_per_c
    slope = voltage.vmp_coefficient(assumed.gamma_pmp, assumed.alpha_sc)
    coefficient, by_table = _cold(plate, request.site.lowest_ambient_c)
    return PanelKind(
        name=name,
        panel=panel,
        resolved=resolved,
        cold_coefficient_v=coefficient,
        cold_table_v=by_table,
        hot_vmp_v=voltage.hot_vmp_v(plate.v_mp_v, slope, hot),
        hot_voc_v=voltage.cold_voc_v(plate.v_oc_v, slope if beta is None else beta, hot),
        lead_length_m=lead_length_m,
    )


def _cold(plate: PanelElectrical, air_c: float) -> tuple[float | None, float | None]:
    """Voc in the cold by coefficient and by table; None where the method does not apply."""
    beta, factor = plate.beta_voc_fraction_per_c, voltage.voc_table_factor(air_c)
    by_coefficient = None if beta is None else voltage.cold_voc_v(plate.v_oc_v, beta, air_c)
    return by_coefficient, None if factor is None else factor * plate.v_oc_v


def colder(design: ArrayDesign) -> ArrayDesign:
    """The same design at a site where it gets 10 K colder.

    Parameters
    ----------
    design : ArrayDesign
        Settled request.

    Returns
    -------
    ArrayDesign
        With other cold voltages; all else stays.
    """
    air = design.request.site.lowest_ambient_c - _COLDER_K

    def cold(kinds: Iterable[PanelKind]) -> tuple[PanelKind, ...]:
        volts = ((kind, *_cold(kind.panel.electrical, air)) for kind in kinds)
        return tuple(
            replace(kind, cold_coefficient_v=by_coefficient, cold_table_v=by_table)
            for kind, by_coefficient, by_table in volts
        )

    plugged = {name: cold(kinds) for name, kinds in design.removable.items()}
    kinds = cold(design.kinds)
    return replace(design, kinds=kinds, removable=plugged, strings={}, voltages={}, currents={})


def _members(request: ArrayConfigurationRequest) -> list[Member]:
    shaded = [{entry.panel: entry.irradiance_fraction for entry in s.light} for s in request.shade]
    return [
        Member(name, kind, tuple(_frozen(state.get(name, 1.0)) for state in shaded))
        for kind, group in enumerate(request.panels)
        for name in instance_names(group)
    ]


def _frozen(light: float | list[list[float]]) -> Share:
    return tuple(map(tuple, light)) if isinstance(light, list) else float(light)


def _lights(
    request: ArrayConfigurationRequest, hot: float, notes: Assumptions
) -> list[DesignLight]:
    sun = request.sun
    estimate = cell_in_sun_c(
        request.mounting_heat, sun.irradiance_w_m2, PRACTICE.figure("mild-air"), notes
    )
    mild = notes.choose(
        "/sun/cell_temperature_c",
        sun.cell_temperature_c,
        round(estimate, 1),
        statement("estimated-as-hot-cell", why=PRACTICE.why("mild-air")),
    )
    rest = max(0.0, 1.0 - sum(state.weight_fraction for state in request.shade))
    return [
        DesignLight(statement("sun"), rest, sun.irradiance_w_m2, mild, None),
        *(
            DesignLight(s.name, s.weight_fraction, s.irradiance_w_m2, s.cell_temperature_c, index)
            for index, s in enumerate(request.shade)
        ),
        DesignLight("hot", 0.0, 1000.0, hot, None),
    ]
