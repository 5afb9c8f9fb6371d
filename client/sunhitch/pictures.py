"""Pictures in files: what a suffix asks for, and PNG out of SVG."""

from functools import cache
from os import PathLike
from pathlib import Path

_MEDIA_TYPES = {
    ".json": "",
    ".svg": "image/svg+xml",
    ".png": "image/svg+xml",
    ".html": "text/html",
    ".csv": "text/csv",
}
_PROBE = '<svg xmlns="http://www.w3.org/2000/svg" width="20" height="20">{}</svg>'


class NoFontError(RuntimeError):
    """The machine has no font, so that a picture would lose its text."""


def drawn_as(path: str | PathLike[str]) -> str:
    """Media type of the drawing that a file's suffix asks for; empty for the answer itself.

    Raises
    ------
    ValueError
        None of the suffixes that stand for one.
    """
    suffix = Path(path).suffix.lower()
    if suffix not in _MEDIA_TYPES:
        raise ValueError(f"{path}: end the name in one of {', '.join(_MEDIA_TYPES)}")
    return _MEDIA_TYPES[suffix]


def as_file(path: str | PathLike[str], answered: bytes) -> bytes:
    """Content of a file out of what the service answered."""
    return png(answered.decode()) if Path(path).suffix.lower() == ".png" else answered


def png(svg: str, zoom: float = 2.0) -> bytes:
    """A drawing as PNG, on white.

    Parameters
    ----------
    svg : str
        A drawing of this package, or any other SVG.
    zoom : float
        Pixels for one unit of the drawing; 2 is sharp on screens and in reports.

    Raises
    ------
    ModuleNotFoundError
        The extra `pictures` is not installed.
    NoFontError
        This machine has no font.
    """
    try:
        from resvg_py import svg_to_bytes
    except ModuleNotFoundError as missing:
        raise ModuleNotFoundError(
            "PNG needs resvg-py; run pip install 'sunhitch[pictures]', or save as .svg.",
            name="resvg_py",
        ) from missing
    if not _writes():
        raise NoFontError(
            "This machine has no font to write with; install one (on Debian: apt-get install "
            "fonts-dejavu-core), or save as .svg."
        )
    return bytes(
        svg_to_bytes(
            svg_string=svg,
            zoom=zoom,
            background="#ffffff",
            font_family="DejaVu Sans",
            sans_serif_family="DejaVu Sans",
        )
    )


@cache
def _writes() -> bool:
    """Whether text leaves a trace."""
    from resvg_py import svg_to_bytes

    letter = '<text x="2" y="18" font-size="18">M</text>'
    written = svg_to_bytes(svg_string=_PROBE.format(letter))
    return bool(written != svg_to_bytes(svg_string=_PROBE.format("")))
