"""How hot cells get."""

from typing import Annotated

from sunhitch.types.base import Input
from sunhitch.types.quantity import choice, quantity
from sunhitch.types.system import PanelBack

from .texts import WarnedAnswer


class CellTemperatureQuestion(Input, kw_only=True):
    """Temperature of cells in the sun."""

    ambient_c: Annotated[float, quantity("°C", -60.0, 60.0, "Air.", 38.0)]
    mounting_heat: (
        Annotated[
            PanelBack,
            choice(
                "Bonded flat, on a spacer sheet with open ends, on feet over a gap, or on a rack.",
                "open-gap",
            ),
        ]
        | None
    ) = None
    gap_m: (
        Annotated[float, quantity("m", 0.0, 0.5, "Air gap behind an `open-gap` panel.", 0.03)]
        | None
    ) = None
    noct_c: (
        Annotated[
            float, quantity("°C", 30.0, 70.0, "Nominal operating cell temperature (NOCT).", 45.0)
        ]
        | None
    ) = None
    irradiance_w_m2: (
        Annotated[float, quantity("W/m²", 1.0, 1500.0, "Light in the panel's plane.", 1000.0)]
        | None
    ) = None


class QuickCellTemperature(WarnedAnswer):
    """Temperature of cells in the sun."""

    cell_c: Annotated[float, quantity("°C", -60.0, 200.0, "Cells in calm air.", 76.0)]
    above_air_k: Annotated[float, quantity("K", 0.0, 200.0, "Above the air.", 38.0)]
