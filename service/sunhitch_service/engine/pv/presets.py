"""A panel as the engine needs it: cells, diodes and coefficients, given, fitted or assumed."""

import itertools
from dataclasses import dataclass

from msgspec.structs import replace

from sunhitch.texts import statement, together
from sunhitch.types.panel import (
    BypassGroup,
    CellLayout,
    CellModel,
    ConstructionName,
    DiodeModel,
    Panel,
    PanelElectrical,
)
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.tables import Table, number, table

from .cell import BOLTZMANN_OVER_CHARGE_V_K, STC_KELVIN, Array, Diode, Junction
from .nameplate import Fit, Plate, Reverse, fit
from .network import NO_DIODE, LitPanel
from .plausibility import diode_faults, model_faults, plate_faults
from .translate import (
    Coefficients,
    ReferenceCell,
    dim_efficiency,
    dimmed,
    shunt_share,
    translated,
    tuning,
)

_SMALL_PANEL_CELLS = 44
_GAMMA_TOLERANCE = 2e-4
_DIM_TOLERANCE = 1e-3


@dataclass(frozen=True, slots=True)
class ResolvedPanel:
    """Everything about one type of panel that the solver needs.

    Parameters
    ----------
    electrical : PanelElectrical
        Nameplate as given.
    layout : CellLayout
        Cells and bypass groups.
    cell : ReferenceCell
        One cell at standard test conditions.
    coefficients : Coefficients
        Of Isc, Voc and Pmp.
    diode : Diode
        Bypass diode.
    by_nameplate : bool
        Whether the cell was fitted, not given.
    """

    electrical: PanelElectrical
    layout: CellLayout
    cell: ReferenceCell
    coefficients: Coefficients
    diode: Diode
    by_nameplate: bool

    @property
    def groups(self) -> tuple[tuple[int, int, bool], ...]:
        """First and last position of every bypass group, and whether it has a diode."""
        return tuple((g.first, g.last, g.has_diode) for g in self.layout.bypass)

    def at(
        self, irradiance: float, temperature: float, brightest: float = 1.0
    ) -> tuple[float, Junction]:
        """Light current of an unshaded cell, and the junction of the panel's cells.

        Parameters
        ----------
        irradiance, temperature : float
            Of the sun on an unshaded cell [W/m²], and of the cells [°C].
        brightest : float
            Share of the sun on the panel's brightest cell, which the shunt follows where the cell
            was fitted: the same light then counts alike as a weaker sun and as a share of it. The
            shunt of a given cell follows the sun, as the contract says.

        Returns
        -------
        tuple of (float, Junction)
            Light current [A] and junction.
        """
        current, junction = translated(self.cell, self.coefficients, irradiance, temperature)
        if not self.by_nameplate:
            return current, junction
        return current, dimmed(junction, shunt_share(irradiance, brightest))


def resolve_panel(panel: Panel, assumptions: Assumptions, pointer: str) -> ResolvedPanel:
    """Fill in what the caller left open.

    Parameters
    ----------
    panel : Panel
        As given.
    assumptions : Assumptions
        Takes a note of every value chosen.
    pointer : str
        JSON Pointer of the panel.

    Returns
    -------
    ResolvedPanel
        Ready for the solver.

    Raises
    ------
    ContradictionError
        If the panel contradicts itself.
    """
    faults = Faults()
    panel_faults(panel, pointer, faults)
    faults.raise_any()
    return completed(panel, assumptions, pointer)


def completed(panel: Panel, assumptions: Assumptions, pointer: str) -> ResolvedPanel:
    """Fill in what the caller left open in a panel that is known not to contradict itself.

    Parameters
    ----------
    panel : Panel
        As given.
    assumptions : Assumptions
        Takes a note of every value chosen.
    pointer : str
        JSON Pointer of the panel.
    """
    construction = construction_of(panel, assumptions, pointer)
    layout = panel.cells or preset_layout(construction, panel.electrical.cells_in_series)
    coefficients = _coefficients(panel.electrical, assumptions, f"{pointer}/electrical")
    return ResolvedPanel(
        electrical=panel.electrical,
        layout=layout,
        cell=_cell(panel, layout, construction, coefficients, assumptions, pointer),
        coefficients=coefficients,
        diode=_bypass_diode(panel, layout, assumptions, pointer),
        by_nameplate=panel.cell_model is None,
    )


def panel_faults(panel: Panel, pointer: str, faults: Faults) -> None:
    """Note where a panel contradicts itself.

    Parameters
    ----------
    panel : Panel
        As given.
    pointer : str
        JSON Pointer of the panel.
    faults : Faults
        Takes the notes.
    """
    plate = panel.electrical
    plate_faults(plate, f"{pointer}/electrical", faults)
    if panel.cell_model is not None:
        model_faults(given_cell(panel.cell_model), plate, f"{pointer}/cell_model", faults)
    if panel.bypass_diode is not None:
        diode_faults(panel.bypass_diode, plate.i_sc_a, f"{pointer}/bypass_diode", faults)
    if panel.cells is not None:
        _layout_faults(panel.cells, plate.cells_in_series, f"{pointer}/cells", faults)
    faults.add_if(
        panel.cells is not None and panel.construction is not None,
        f"{pointer}/construction",
        "cells-or-construction",
    )


def _layout_faults(layout: CellLayout, in_series: int, pointer: str, faults: Faults) -> None:
    positions = layout.positions_in_series
    if positions != in_series:
        faults.add(
            f"{pointer}/positions_in_series",
            "positions-not-cells",
            cells_in_series=in_series,
        )
    expected = 0
    for index, group in enumerate(layout.bypass):
        if group.first != expected or group.last < group.first:
            faults.add(
                f"{pointer}/bypass/{index}",
                "groups-not-in-order",
                first=expected,
            )
        expected = group.last + 1
    if expected != positions:
        faults.add(
            f"{pointer}/bypass",
            "groups-end-early",
            last=positions - 1,
            end=expected - 1,
        )


def rebuilt(panel: Panel, construction: ConstructionName | None) -> Panel:
    """The same of another construction, if any, its cells laid out anew."""
    return panel if construction is None else replace(panel, cells=None, construction=construction)


def construction_of(panel: Panel, assumptions: Assumptions, pointer: str) -> ConstructionName:
    """Construction of a panel, or the usual one where it is not known; as `completed`."""
    if panel.construction is not None:
        return panel.construction
    if panel.cells is not None:
        return "full-cell-2-diodes"
    small = panel.electrical.cells_in_series <= _SMALL_PANEL_CELLS
    chosen: ConstructionName = "full-cell-2-diodes" if small else "full-cell-3-diodes"
    assumptions.note(
        f"{pointer}/construction",
        chosen,
        statement("usual-construction"),
    )
    return chosen


def preset_layout(construction: ConstructionName, cells_in_series: int) -> CellLayout:
    """Cells and bypass groups of a common construction.

    Parameters
    ----------
    construction : str
        Name in the table of constructions.
    cells_in_series : int
        Series positions.

    Returns
    -------
    CellLayout
        Bypass groups as equal as the number of positions allows.
    """
    row = _constructions().row("construction", construction)
    per_diode, diodes = number(row, "positions_per_diode"), number(row, "diodes")
    if per_diode:
        edges = [*range(0, cells_in_series, int(per_diode)), cells_in_series]
    else:
        count = min(max(1, int(diodes or 0)), cells_in_series)
        edges = [round(k * cells_in_series / count) for k in range(count + 1)]
    return CellLayout(
        paths_in_parallel=int(row["paths_in_parallel"]),
        positions_in_series=cells_in_series,
        bypass=[
            BypassGroup(first=first, last=end - 1, has_diode=diodes != 0.0)
            for first, end in itertools.pairwise(edges)
        ],
    )


def _constructions() -> Table:
    return table("pv", "constructions")


def coefficient(name: str, given: float | None, pointer: str, notes: Assumptions) -> float:
    """A panel's coefficient [1/K]: as given, else the usual one with a note.

    Parameters
    ----------
    name : str
        Its field, such as ``alpha_sc_fraction_per_c``.
    given : float or None
        What the caller said [1/K].
    pointer : str
        JSON Pointer of what holds the field.
    notes : Assumptions
        Takes the note.
    """
    usual = table("pv", "coefficients")
    default = float(usual.row("coefficient", name)["fraction_per_c"])
    why = statement("not-given", source=usual.basis.reference, note=usual.basis.note)
    return notes.choose(f"{pointer}/{name}", given, default, why)


def _coefficients(plate: PanelElectrical, assumptions: Assumptions, pointer: str) -> Coefficients:
    names = "alpha_sc_fraction_per_c", "beta_voc_fraction_per_c", "gamma_pmp_fraction_per_c"
    return Coefficients(
        *(coefficient(name, getattr(plate, name), pointer, assumptions) for name in names)
    )


def _cell(
    panel: Panel,
    layout: CellLayout,
    construction: ConstructionName,
    coefficients: Coefficients,
    assumptions: Assumptions,
    pointer: str,
) -> ReferenceCell:
    if panel.cell_model is not None:
        return given_cell(panel.cell_model)
    reverse = _reverse(construction, panel.cells is not None, assumptions, pointer)
    plate = panel.electrical
    fitted = fit(
        Plate(
            plate.v_mp_v / plate.cells_in_series,
            plate.i_mp_a / layout.paths_in_parallel,
            plate.v_oc_v / plate.cells_in_series,
            plate.i_sc_a / layout.paths_in_parallel,
        ),
        reverse,
        plate.low_light_efficiency_fraction,
    )
    _note_fit(fitted, plate, assumptions, pointer)
    _note_gamma(fitted.cell, coefficients, assumptions, pointer)
    return fitted.cell


def given_cell(model: CellModel) -> ReferenceCell:
    """A cell model of the contract in the solver's form."""
    return ReferenceCell(
        model.photocurrent_a,
        Junction(
            model.saturation_current_a,
            model.ideality_factor * BOLTZMANN_OVER_CHARGE_V_K * STC_KELVIN,
            model.series_resistance_ohm,
            1.0 / model.shunt_resistance_ohm,
            model.breakdown_voltage_v,
            model.breakdown_factor,
            model.breakdown_exponent,
        ),
    )


def given_diode(model: DiodeModel | None) -> Diode:
    """A diode of the contract in the solver's form; `NO_DIODE` for none."""
    if model is None:
        return NO_DIODE
    return Diode(
        model.saturation_current_a,
        model.ideality_factor * BOLTZMANN_OVER_CHARGE_V_K * STC_KELVIN,
        model.series_resistance_ohm,
    )


def _reverse(
    construction: ConstructionName, assumed_kind: bool, assumptions: Assumptions, pointer: str
) -> Reverse:
    kind = _constructions().row("construction", construction)["cell_kind"]
    kinds = table("pv", "cell_kinds")
    row = kinds.row("cell_kind", kind)
    assumptions.note(
        f"{pointer}/cell_model/breakdown_voltage_v",
        float(row["breakdown_voltage_v"]),
        statement(
            "reverse-of-assumed-cells" if assumed_kind else "reverse-of-cells",
            cells=kind,
            note=row["row_note"],
        ),
    )
    return Reverse(
        float(row["breakdown_voltage_v"]),
        float(row["breakdown_factor"]),
        float(row["breakdown_exponent"]),
    )


def _note_fit(fitted: Fit, plate: PanelElectrical, assumptions: Assumptions, pointer: str) -> None:
    fill = plate.v_mp_v * plate.i_mp_a / (plate.v_oc_v * plate.i_sc_a)
    ideality, measured = fitted.ideality, plate.low_light_efficiency_fraction
    if measured is not None:
        reached = dim_efficiency(fitted.cell)
        if abs(reached - measured) > _DIM_TOLERANCE:
            assumptions.note(
                f"{pointer}/electrical/low_light_efficiency_fraction",
                round(reached, 4),
                statement("nearest-low-light", measured_fraction=measured),
            )
    if fitted.exact:
        usual = "fitted-below-usual" if ideality < 0.9 else "fitted-to-nameplate"
        why = statement(usual if measured is None else "fitted-to-low-light")
    else:
        why = statement("no-physical-set", fill_fraction=fill)
    assumptions.note(f"{pointer}/cell_model/ideality_factor", ideality, why)


def _note_gamma(
    cell: ReferenceCell, coefficients: Coefficients, assumptions: Assumptions, pointer: str
) -> None:
    reached = tuning(cell, coefficients).gamma_pmp
    if abs(reached - coefficients.gamma_pmp) > _GAMMA_TOLERANCE:
        assumptions.note(
            f"{pointer}/electrical/gamma_pmp_fraction_per_c",
            reached,
            statement("coefficients-do-not-fit", given_per_c=coefficients.gamma_pmp),
        )


def _bypass_diode(
    panel: Panel, layout: CellLayout, assumptions: Assumptions, pointer: str
) -> Diode:
    if panel.bypass_diode is not None:
        return given_diode(panel.bypass_diode)
    if not any(group.has_diode for group in layout.bypass):
        return NO_DIODE
    diodes = table("pv", "diodes")
    row = diodes.row("use", "bypass")
    assumptions.note(
        f"{pointer}/bypass_diode/saturation_current_a",
        float(row["saturation_current_a"]),
        together("space", [*diodes.notes]),
    )
    return Diode(
        float(row["saturation_current_a"]),
        float(row["ideality_factor"]) * BOLTZMANN_OVER_CHARGE_V_K * STC_KELVIN,
        float(row["series_resistance_ohm"]),
    )


def lit_panel(
    resolved: ResolvedPanel, irradiance: float, temperature: float, light: Array
) -> LitPanel:
    """A panel under given light.

    Parameters
    ----------
    resolved : ResolvedPanel
        Type of panel.
    irradiance : float
        Of the sun, on an unshaded cell [W/m²].
    temperature : float
        Of the cells [°C].
    light : ndarray, shape (paths, positions)
        Share of the sun on every cell.
    """
    current, junction = resolved.at(irradiance, temperature, float(light.max()))
    _, full_sun = resolved.at(irradiance, temperature)
    return LitPanel(junction, full_sun, current, light, resolved.groups, resolved.diode)
