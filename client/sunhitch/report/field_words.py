"""Contract fields in words, made from their names: for forms, generated pages and sheets."""

import re
from collections.abc import Iterable

from sunhitch.types.basis import Assumption

from .amounts import both, percent

_UNITS = {
    **{"w_m2": "W/m²", "wh_m2": "Wh/m²", "n_per_m": "N/m", "n_m": "N·m", "kg_m3": "kg/m³"},
    **{"m_s2": "m/s²", "m_s": "m/s", "mm2": "mm²", "mm3": "mm³", "mm4": "mm⁴", "m2": "m²"},
    **{"lbf_ft": "lbf·ft", "lbf_in": "lbf·in", "psf": "lbf/ft²", "fraction_per_c": "1/K"},
    **{"fraction_per_month": "fraction per month", "per_c": "1/K", "per_kwh": "per kWh"},
    **{"ohm": "Ω", "deg": "°", "pa": "Pa", "wh": "Wh", "ah": "Ah", "c": "°C", "km_h": "km/h"},
    **{name.lower(): name for name in ("A", "K", "N", "V", "W", "h", "m", "s", "mm", "kg", "km")},
    **{name: name for name in ("fraction", "years", "days", "hours", "lbf", "ft", "mph")},
}
_SUFFIX = re.compile(rf"_({'|'.join(sorted(_UNITS, key=len, reverse=True))})$")
_TERMS = {
    **{"v oc": "open-circuit voltage", "v mp": "voltage at maximum power"},
    **{"i sc": "short-circuit current", "i mp": "current at maximum power"},
    **{"p mp": "maximum power", "alpha sc": "temperature coefficient of short-circuit current"},
    "beta voc": "temperature coefficient of open-circuit voltage",
    "gamma pmp": "temperature coefficient of maximum power",
    **{"dni": "direct normal irradiance", "dhi": "diffuse horizontal irradiance"},
    **{"ghi": "global horizontal irradiance", "noct": "NOCT", "awg": "AWG", "pv": "PV"},
    **{"utc": "UTC", "sha256": "SHA-256", "id": "id", "voc": "Voc", "vmp": "Vmp"},
    **{"max": "maximum", "min": "minimum", "soc": "state of charge"},
}
_TERM = re.compile(rf"\b({'|'.join(_TERMS)})\b")


def title_of(name: str) -> str:
    """Title of a field: its name in words, with the unit in brackets.

    Examples
    --------
    >>> title_of("string_v_oc_v")
    'String open-circuit voltage (V)'
    >>> title_of("efficiency_fraction")
    'Efficiency (fraction)'
    """
    found = _SUFFIX.search(name)
    stem = name.removesuffix(found[0]) if found else name
    words = _TERM.sub(lambda term: _TERMS[term[0]], stem.replace("_", " "))
    unit = f" ({_UNITS[found[1]]})" if found else ""
    return f"{words[:1].upper()}{words[1:]}{unit}"


def field_words(pointer: str) -> str:
    """A field of a request in words, what it belongs to first.

    Parameters
    ----------
    pointer : str
        JSON Pointer; places in lists count from 1 where they are told.

    Examples
    --------
    >>> field_words("/roof/obstacles/1/clearance_m")
    'Roof, obstacles 2, clearance'
    """
    words: list[str] = []
    for part in pointer.removeprefix("/").split("/"):
        if part.isdigit():
            words[-1] += f" {int(part) + 1}"
        else:
            words.append(title_of(part).partition(" (")[0])
    first, *rest = words
    return ", ".join([first, *map(_within, rest)])


def _within(word: str) -> str:
    """A title within a sentence; abbreviations stay as they are."""
    return word if word[1:2].isupper() else word[:1].lower() + word[1:]


def value_words(pointer: str, value: float | str | bool) -> str:
    """The value of a field with the unit that its name tells, US customary beside SI.

    Parameters
    ----------
    pointer : str
        JSON Pointer of the field.
    value : float or str or bool
        What it holds.

    Examples
    --------
    >>> value_words("/roof/margins/side_m", 0.05)
    '0.05 m (1 15/16 in)'
    """
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, str):
        return value.replace("-", " ")
    found = _SUFFIX.search(pointer)
    unit = _UNITS[found[1]] if found else ""
    return percent(value) if unit == "fraction" else both(value, unit)


def grouped_assumptions(
    assumptions: Iterable[Assumption],
) -> dict[str, list[tuple[str, str, str]]]:
    """What was assumed, by the part of the request that it belongs to.

    Parameters
    ----------
    assumptions : iterable of Assumption
        As an answer lists them.

    Returns
    -------
    dict of str to list of tuple of str
        Part in words; of each value its fields, the value and why. Fields of one value and one
        reason stand together.
    """
    groups: dict[str, dict[tuple[str, str], list[str]]] = {}
    for one in assumptions:
        group, _, name = field_words(one.field).partition(", ")
        same = groups.setdefault(group if name else "In all", {})
        same.setdefault((value_words(one.field, one.value), one.why), []).append(name or group)
    return {
        group: [("; ".join(names), *told) for told, names in same.items()]
        for group, same in groups.items()
    }
