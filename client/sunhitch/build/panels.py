"""Panels from their nameplate, and arrays of them."""

from collections.abc import Mapping

from sunhitch.types.panel import (
    CellMaterial,
    ConstructionName,
    Panel,
    PanelBody,
    PanelElectrical,
)
from sunhitch.types.shade import ArrayPanel, ArrayWiring


def sheet(length_m: float, width_m: float, mass_kg: float, thickness_m: float = 0.003) -> PanelBody:
    """A flexible sheet as a thing to carry.

    Parameters
    ----------
    length_m, width_m : float
        Its size [m].
    mass_kg : float
        Mass [kg].
    thickness_m : float
        3 mm is the usual thickness of a laminate [m].
    """
    return PanelBody(
        length_m=length_m,
        width_m=width_m,
        thickness_m=thickness_m,
        mass_kg=mass_kg,
        construction="flexible",
    )


def framed(
    length_m: float, width_m: float, mass_kg: float, thickness_m: float = 0.035
) -> PanelBody:
    """Glass in a frame as a thing to carry.

    Parameters
    ----------
    length_m, width_m : float
        Its size [m].
    mass_kg : float
        Mass [kg].
    thickness_m : float
        35 mm is a usual height of the frame [m].
    """
    return PanelBody(
        length_m=length_m,
        width_m=width_m,
        thickness_m=thickness_m,
        mass_kg=mass_kg,
        construction="framed",
    )


def panel(  # noqa: PLR0913
    *,
    p_mp_w: float,
    v_mp_v: float,
    i_mp_a: float,
    v_oc_v: float,
    i_sc_a: float,
    cells_in_series: int,
    construction: ConstructionName | None = None,
    body: PanelBody | None = None,
    cell_material: CellMaterial = "silicon",
    **more: float,
) -> Panel:
    """A panel from its nameplate and the name of a common construction.

    Parameters
    ----------
    p_mp_w, v_mp_v, i_mp_a, v_oc_v, i_sc_a : float
        Power [W], voltages [V] and currents [A] at standard test conditions.
    cells_in_series : int
        Cells in series between the terminals: 36 for 72 half cells.
    construction : str or None
        How cells and bypass diodes are arranged, for example ``"half-cell-2-diodes"``.
    body : PanelBody or None
        Size and mass, where the calculation needs them.
    cell_material : str
        ``"other"`` where the cells are no silicon.
    **more : float
        Other fields of `PanelElectrical`, such as ``beta_voc_fraction_per_c``.
    """
    electrical = PanelElectrical(
        p_mp_w=p_mp_w,
        v_mp_v=v_mp_v,
        i_mp_a=i_mp_a,
        v_oc_v=v_oc_v,
        i_sc_a=i_sc_a,
        cells_in_series=cells_in_series,
        cell_material=cell_material,
        **more,
    )
    return Panel(electrical=electrical, construction=construction, body=body)


def array(
    kind: Panel,
    in_series: int,
    in_parallel: int = 1,
    light: Mapping[str, float | list[list[float]]] | None = None,
) -> tuple[list[ArrayPanel], ArrayWiring]:
    """Equal panels in equal strings, for `ShadedIvRequest(panels=…, wiring=…)`.

    Parameters
    ----------
    kind : Panel
        The panel.
    in_series, in_parallel : int
        Panels in a string, and strings.
    light : mapping or None
        Share of the sun by panel name, where it is not 1: a number, or a grid ``[path][position]``.
        Panels are named ``1-1``, ``1-2``, … : string and place in it.

    Raises
    ------
    ValueError
        Light for a panel that does not exist.
    """
    strings = [
        [f"{string}-{place}" for place in range(1, in_series + 1)]
        for string in range(1, in_parallel + 1)
    ]
    names = [name for string in strings for name in string]
    light = light or {}
    if unknown := [name for name in light if name not in names]:
        raise ValueError(f"no panel is named {', '.join(unknown)}; there are {', '.join(names)}")
    panels = [
        ArrayPanel(name=name, panel=kind, irradiance_fraction=light.get(name, 1.0))
        for name in names
    ]
    return panels, ArrayWiring(strings=strings)
