"""Pictures for dark pages."""

import re
from colorsys import hls_to_rgb, rgb_to_hls

_COLOUR = re.compile(r'(?<==")#([0-9a-f]{6}|[0-9a-f]{3})(?=")')
"""Of an attribute: texts hold no quotes."""
_PAPER, _INK = 0.11, 0.93
"""Lightness that white and black turn into."""


def in_the_dark(svg: str) -> str:
    """The same picture with light lines on dark ground; every colour keeps its hue.

    Parameters
    ----------
    svg : str
        As a `Sheet` gives it out: looks are attributes.
    """
    return _COLOUR.sub(lambda found: _turned(found[1]), svg)


def _turned(colour: str) -> str:
    digits = colour if len(colour) == 6 else "".join(2 * digit for digit in colour)
    red, green, blue = (int(digits[place : place + 2], 16) / 255.0 for place in (0, 2, 4))
    hue, lightness, saturation = rgb_to_hls(red, green, blue)
    turned = _INK - (_INK - _PAPER) * lightness
    told = (round(255 * part) for part in hls_to_rgb(hue, turned, saturation))
    return "#" + "".join(f"{part:02x}" for part in told)
