"""Pictures in files: what a suffix asks for, and PNG out of SVG."""

from os import PathLike
from pathlib import Path

MEDIA_TYPES = {
    ".json": "",
    ".svg": "image/svg+xml",
    ".png": "image/svg+xml",
    ".html": "text/html",
    ".csv": "text/csv",
    ".xlsx": "application/vnd.openxmlformats-officedocument.spreadsheetml.sheet",
    ".ods": "application/vnd.oasis.opendocument.spreadsheet",
}
WORKBOOKS = (MEDIA_TYPES[".xlsx"], MEDIA_TYPES[".ods"])
_FONT = "Arimo"
"""As wide, letter by letter, as the fonts that drawings name."""


def drawn_as(path: str | PathLike[str]) -> str:
    """Media type of the drawing that a file's suffix asks for; empty for the answer itself.

    Raises
    ------
    ValueError
        None of the suffixes that stand for one.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in MEDIA_TYPES:
        raise ValueError(f"{path}: end the name in one of {', '.join(MEDIA_TYPES)}")
    return MEDIA_TYPES[suffix]


def png(svg: str, zoom: float = 2.0) -> bytes:
    """A drawing as PNG, on white; the same bytes whatever fonts the machine has.

    Parameters
    ----------
    svg : str
        A drawing of this package, or any other SVG. All text is written in one font, with Latin,
        Greek and Cyrillic letters; any other character becomes a box.
    zoom : float
        Pixels for one unit of the drawing; 2 is sharp on screens and in reports.

    Raises
    ------
    ModuleNotFoundError
        The extra `pictures` is not installed.
    """
    try:
        from fontpkg import path
        from resvg_py import svg_to_bytes
    except ModuleNotFoundError as missing:
        raise ModuleNotFoundError(
            f"PNG needs {missing.name}; run pip install 'sunhitch[pictures]', or save as .svg.",
            name=missing.name,
        ) from missing
    return bytes(
        svg_to_bytes(
            svg_string=svg,
            zoom=zoom,
            background="#ffffff",
            skip_system_fonts=True,
            font_files=[str(path(_FONT))],
            font_family=_FONT,
            serif_family=_FONT,
            sans_serif_family=_FONT,
            monospace_family=_FONT,
            cursive_family=_FONT,
            fantasy_family=_FONT,
        )
    )
