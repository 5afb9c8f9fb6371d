"""How hot cells get."""

from typing import Annotated, Literal

from sunhitch.types.base import Input, Output
from sunhitch.types.quantity import choice, quantity
from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.array.temperature import cell_in_sun_c
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.sources import basis

from .question import Assumed, Beware, Question, Source, assumed, cited, warned


class CellTemperatureQuestion(Input):
    """Temperature of cells in the sun."""

    ambient_c: Annotated[float, quantity("°C", -60.0, 60.0, "Air.", 38.0)]
    mounting: (
        Annotated[
            Literal["bonded", "spacer-sheet", "open-gap", "open-rack"],
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


class QuickCellTemperature(Output):
    """Temperature of cells in the sun."""

    cell_c: Annotated[float, quantity("°C", -60.0, 200.0, "Cells in calm air.", 76.0)]
    above_air_k: Annotated[float, quantity("K", 0.0, 200.0, "Above the air.", 38.0)]
    assumed: Assumed
    basis: Source
    caution: Beware


def cell_temperature(asked: CellTemperatureQuestion) -> QuickCellTemperature:
    """Cell temperature in calm air, rather too high than too low."""
    notes = Assumptions()
    back = asked.mounting or "open-gap"
    if asked.mounting is None:
        notes.note("/mounting", back, "Feet over a gap, the usual way.")
    light = notes.choose("/irradiance_w_m2", asked.irradiance_w_m2, 1000.0, "Full sun.")
    heat = PanelMountingHeat(back=back, gap_m=asked.gap_m, noct_c=asked.noct_c)
    _refuse_idle(asked, back)
    cell = cell_in_sun_c(heat, light, asked.ambient_c, notes)
    source = basis("sapm-2004") if back == "bonded" else basis("noct-adder")
    return QuickCellTemperature(
        cell_c=cell,
        above_air_k=cell - asked.ambient_c,
        assumed=assumed(notes.listed()),
        basis=cited(source),
        caution=warned(cautions("heat-under-panel")),
    )


def _refuse_idle(asked: CellTemperatureQuestion, back: str) -> None:
    faults = Faults()
    faults.add_if(
        asked.gap_m is not None and back != "open-gap", "/gap_m", "Belongs to mounting=open-gap."
    )
    faults.add_if(
        asked.noct_c is not None and back == "bonded",
        "/noct_c",
        "NOCT is measured on an open rack; a bonded panel's back is insulated. Leave it out.",
    )
    faults.raise_any()


HEATS = (
    Question(
        "cell-temperature",
        "Cell temperature in the sun",
        "How hot the cells of a panel get in calm air, by how it is mounted.",
        CellTemperatureQuestion,
        QuickCellTemperature,
        cell_temperature,
    ),
)
"""Questions about heat."""
