"""Short titles of contract fields, made from their names, for forms and generated pages."""

import re

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
