"""Refuse requests that contradict themselves."""

from collections import Counter

from sunhitch.types.commissioning import (
    ClearSkySun,
    CommissioningCheckRequest,
    Reading,
    ReferencePanelReading,
)
from sunhitch_service.engine.errors import Faults
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
    _unique(types, "/array/panel_types", faults)
    _unique(strings, "/array/strings", faults)
    _unique([reading.name for reading in request.readings], "/readings", faults)
    for index, entry in enumerate(array.panel_types):
        panel_faults(entry.panel, f"/array/panel_types/{index}/panel", faults)
    for index, string in enumerate(array.strings):
        faults.add_if(
            string.panel_type not in types,
            f"/array/strings/{index}/panel_type",
            f"No panel type is named '{string.panel_type}'; known: {', '.join(types)}.",
        )
        faults.add_if(
            string.name == "array",
            f"/array/strings/{index}/name",
            "`array` means all strings together; give the string another name.",
        )
    for index, reading in enumerate(request.readings):
        _reading_faults(request, reading, f"/readings/{index}", faults)
    _of_faults([r.of for r in request.readings], strings, "/readings", faults)
    _of_faults([r.of for r in request.polarity], strings, "/polarity", faults)
    _of_faults([r.of for r in request.insulation], strings, "/insulation", faults)
    faults.raise_any()


def _unique(names: list[str], at: str, faults: Faults) -> None:
    for name, times in Counter(names).items():
        faults.add_if(times > 1, at, f"The name '{name}' is used {times} times; once is right.")


def _of_faults(named: list[str], strings: list[str], at: str, faults: Faults) -> None:
    for index, of in enumerate(named):
        faults.add_if(
            of != "array" and of not in strings,
            f"{at}/{index}/of",
            f"Neither `array` nor a string: '{of}'; known strings: {', '.join(strings)}.",
        )


def _reading_faults(
    request: CommissioningCheckRequest, reading: Reading, at: str, faults: Faults
) -> None:
    volts, amperes = _NEEDS[reading.kind]
    for field, value, needed in (
        ("voltage_v", reading.voltage_v, volts),
        ("current_a", reading.current_a, amperes),
    ):
        called = field.partition("_")[0]
        told = f"needs a {called}" if needed else f"has no {called}; leave it out"
        faults.add_if(
            needed == (value is None), f"{at}/{field}", f"A reading `{reading.kind}` {told}."
        )
    try:
        unix_seconds(reading.taken_at)
    except ValueError as error:
        faults.add(f"{at}/taken_at", f"No such date or time: {error}.")
        return
    light = reading.light
    if isinstance(light, ReferencePanelReading):
        faults.add_if(
            light.current_a > _MOST_SUNS * light.i_sc_a,
            f"{at}/light/current_a",
            f"More than {_MOST_SUNS} times its short-circuit current in full sun; check both.",
        )
    if isinstance(light, ClearSkySun):
        faults.add_if(
            request.site is None, "/site", "Clear-sky readings need the place and the panels' tilt."
        )
