"""How hot cells get."""

from sunhitch.texts import statement
from sunhitch.types.quick.heat import CellTemperatureQuestion, QuickCellTemperature
from sunhitch.types.system import PanelMountingHeat
from sunhitch_service.engine.assumptions import Assumptions
from sunhitch_service.engine.cautions import cautions
from sunhitch_service.engine.errors import Faults
from sunhitch_service.engine.pv.temperature import cell_in_sun_c
from sunhitch_service.engine.sources import basis

from .words import assumed, cited, warned


def cell_temperature(asked: CellTemperatureQuestion) -> QuickCellTemperature:
    """Cell temperature in calm air, rather too high than too low."""
    notes = Assumptions()
    back = asked.mounting_heat or "open-gap"
    if asked.mounting_heat is None:
        notes.note("/mounting_heat", back, statement("feet-over-gap"))
    light = notes.choose("/irradiance_w_m2", asked.irradiance_w_m2, 1000.0, statement("full-sun"))
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
        asked.gap_m is not None and back != "open-gap",
        "/gap_m",
        "open-gap-only",
    )
    faults.add_if(
        asked.noct_c is not None and back == "bonded",
        "/noct_c",
        "noct-of-bonded",
    )
    faults.raise_any()
