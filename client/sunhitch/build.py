"""Short ways to write requests: panels from their nameplate, arrays, and variants of a request."""

from collections.abc import Mapping
from typing import Any, TypeVar

import msgspec

from .codec import MalformedBody, decode_strict
from .errors import service_error
from .problems import malformed
from .types.base import Input
from .types.panel import ConstructionName, Panel, PanelBody, PanelElectrical
from .types.problem import FieldError
from .types.shade import ArrayPanel, ArrayWiring

Q = TypeVar("Q", bound=Input)


def panel(
    *,
    p_mp_w: float,
    v_mp_v: float,
    i_mp_a: float,
    v_oc_v: float,
    i_sc_a: float,
    cells_in_series: int,
    construction: ConstructionName | None = None,
    body: PanelBody | None = None,
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


def changed(request: Q, changes: Mapping[str, Any]) -> Q:
    """The same request with other values in some places, checked against the contract.

    Parameters
    ----------
    request : Input
        Any request; it stays as it is.
    changes : mapping
        New values by JSON Pointer, written as in checks, assumptions and errors:
        ``{"/sun/cell_temperature_c": 60.0}``. A pointer may name a field that was not given.

    Raises
    ------
    RequestRejectedError
        A place that does not exist, or a value that does not fit.

    Examples
    --------
    >>> hotter = changed(request, {"/sun/cell_temperature_c": 60.0})  # doctest: +SKIP
    """
    plain = msgspec.to_builtins(request)
    for pointer, value in changes.items():
        _set(plain, pointer, msgspec.to_builtins(value))
    try:
        return decode_strict(msgspec.json.encode(plain), type(request))
    except MalformedBody as fault:
        raise service_error(malformed(fault.faults)) from None


def _set(plain: Any, pointer: str, value: Any) -> None:  # noqa: ANN401
    """Put a value where a JSON Pointer (RFC 6901) says."""
    *way, last = (part.replace("~1", "/").replace("~0", "~") for part in pointer.split("/")[1:])
    place = plain
    try:
        for part in way:
            key = _key(place, part)
            if isinstance(key, str) and place.get(key) is None:
                place[key] = {}
            place = place[key]
        place[_key(place, last)] = value
    except (AttributeError, IndexError, TypeError, ValueError):
        message = "There is no such place in the request."
        at = FieldError(pointer=pointer, message=message, location="body")
        raise service_error(malformed([at])) from None


def _key(place: Any, part: str) -> str | int:  # noqa: ANN401
    return int(part) if isinstance(place, list) else part
