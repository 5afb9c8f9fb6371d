"""Refuse requests that contradict themselves."""

from sunhitch.types.commissioning import (
    ClearSkySun,
    CommissioningCheckRequest,
    Reading,
    ReferencePanelReading,
)
from sunhitch_service.engine.errors import Faults, listed
from sunhitch_service.engine.pv.presets import panel_faults
from sunhitch_service.engine.sky import unix_seconds

_MOST_SUNS = 1.5
_NEEDS: dict[str, tuple[bool, bool]] = {
    "open-circuit": (True, False),
    "short-circuit": (False, True),
    "operating": (True, True),
}
"""Whether a reading needs a voltage, and a current."""


def validate(request: CommissioningCheckRequest) -> None:
    """Check names, figures and moments.

    Parameters
    ----------
    request : CommissioningCheckRequest
        As decoded.

    Raises
    ------
    ContradictionError
        With every fault found.
    """
    faults = Faults()
    array = request.array
    types = [entry.name for entry in array.panel_types]
    strings = [entry.name for entry in array.strings]
    faults.unique(listed("/array/panel_types", types))
    faults.unique(listed("/array/strings", strings))
    faults.unique(listed("/readings", (reading.name for reading in request.readings)))
    wanted = listed("/array/strings", (entry.panel_type for entry in array.strings), "panel_type")
    faults.known(wanted, types, "panel-type")
    for index, entry in enumerate(array.panel_types):
        panel_faults(entry.panel, f"/array/panel_types/{index}/panel", faults)
    for index, string in enumerate(array.strings):
        faults.add_if(
            string.name == "array",
            f"/array/strings/{index}/name",
            "array-is-all-strings",
        )
    for index, reading in enumerate(request.readings):
        _reading_faults(request, reading, f"/readings/{index}", faults)
    measured = [
        *listed("/readings", (r.of for r in request.readings), "of"),
        *listed("/polarity", (r.of for r in request.polarity), "of"),
        *listed("/insulation", (r.of for r in request.insulation), "of"),
    ]
    faults.known(measured, ["array", *strings], "string")
    faults.raise_any()


def _reading_faults(
    request: CommissioningCheckRequest, reading: Reading, at: str, faults: Faults
) -> None:
    volts, amperes = _NEEDS[reading.kind]
    for field, value, needed in (
        ("voltage_v", reading.voltage_v, volts),
        ("current_a", reading.current_a, amperes),
    ):
        called = field.partition("_")[0]
        code = f"reading-needs-{called}" if needed else f"reading-has-no-{called}"
        faults.add_if(needed == (value is None), f"{at}/{field}", code, kind=reading.kind)
    try:
        unix_seconds(reading.taken_at)
    except ValueError:
        faults.add(f"{at}/taken_at", "no-such-moment")
        return
    light = reading.light
    if isinstance(light, ReferencePanelReading):
        for field, read_a in (
            ("current_a", light.current_a),
            ("after_current_a", light.after_current_a or 0.0),
        ):
            faults.add_if(
                round(read_a / light.i_sc_a, 9) > _MOST_SUNS,
                f"{at}/light/{field}",
                "more-suns-than-shine",
                most_suns=_MOST_SUNS,
            )
    if isinstance(light, ClearSkySun):
        faults.add_if(request.site is None, "/site", "clear-sky-needs-site")
