"""Arrays and readings of an invented panel, and requests about them."""

from typing import get_args

from sunhitch.types.commissioning import (
    CheckedArray,
    CheckedString,
    CommissioningCheckAnswer,
    CommissioningCheckRequest,
    IrradianceReading,
    Reading,
    ReadingKind,
)
from sunhitch.types.panel import Panel, PanelElectrical, PanelType
from sunhitch_service.engine.commissioning.calculation import commissioning_check
from sunhitch_service.engine.commissioning.setup import CommissioningInspection, settle

V_OC, V_MP, I_MP, I_SC = 22.9, 19.2, 5.99, 6.4
PANEL = Panel(
    electrical=PanelElectrical(
        p_mp_w=115.0,
        v_mp_v=V_MP,
        i_mp_a=I_MP,
        v_oc_v=V_OC,
        i_sc_a=I_SC,
        cells_in_series=36,
        alpha_sc_fraction_per_c=0.0005,
        beta_voc_fraction_per_c=-0.0028,
        gamma_pmp_fraction_per_c=-0.0037,
    ),
    construction="half-cell-2-diodes",
)
FULL_SUN = IrradianceReading(irradiance_w_m2=1000.0)
KINDS: tuple[ReadingKind, ...] = get_args(ReadingKind)


def array(
    strings: int, in_series: int, panel: Panel = PANEL, cable_ohm: float = 0.0
) -> CheckedArray:
    return CheckedArray(
        panel_types=[PanelType(name="sheet", panel=panel)],
        strings=[
            CheckedString(name=f"s{k}", panel_type="sheet", panels_in_series=in_series)
            for k in range(strings)
        ],
        cable_resistance_ohm=cable_ohm,
    )


def reading(name: str, kind: str, **figures: object) -> Reading:
    given = {"light": FULL_SUN, "cell_temperature_c": 25.0, "taken_at": "2027-06-01T12:00:00+02:00"}
    return Reading(name=name, kind=kind, **{**given, **figures})


def about(built: CheckedArray, *readings: Reading, **more: object) -> CommissioningCheckRequest:
    return CommissioningCheckRequest(array=built, readings=list(readings), **more)


def asked(built: CheckedArray, *readings: Reading, **more: object) -> CommissioningCheckAnswer:
    return commissioning_check(about(built, *readings, **more))


def settled(built: CheckedArray, *readings: Reading, **more: object) -> CommissioningInspection:
    return settle(about(built, *readings, **more))


def at_nameplate(strings: int, in_series: int, of: str = "array", **more: object) -> list[Reading]:
    """One of each kind, as a sound array shows it in full sun."""
    return [
        reading(f"{of} open", "open-circuit", of=of, voltage_v=in_series * V_OC, **more),
        reading(f"{of} short", "short-circuit", of=of, current_a=strings * I_SC, **more),
        reading(
            f"{of} work",
            "operating",
            of=of,
            voltage_v=in_series * V_MP,
            current_a=strings * I_MP,
            **more,
        ),
    ]
