"""Whether a conductor is safe from what enters each of its ends."""

from typing import Literal

import msgspec

from .flows import Flow, Flows
from .tree import End

State = Literal["idle", "proven", "protected", "open"]

_ROUNDING = 1.0 + 1e-9


class Protected(msgspec.Struct, frozen=True):
    """One end of a conductor, judged.

    Parameters
    ----------
    end : {'start', 'end'}
        Where the current enters.
    state : {'idle', 'proven', 'protected', 'open'}
        Nothing enters; no source can overload it; devices hold back what could; nothing does.
    demand_a, capacity_a : float
        Lasting current, and what the conductor bears of it [A].
    devices : tuple of str
        Devices that protect it.
    """

    end: End
    state: State
    demand_a: float
    capacity_a: float
    devices: tuple[str, ...]

    @property
    def used(self) -> float:
        """Share of the capacity [1]."""
        return self.demand_a / self.capacity_a


def protected(found: Flows, name: str, ampacity_a: float, largest_device_a: float) -> Protected:
    """The worse end of a conductor.

    Parameters
    ----------
    found : dict of Flow
        Of the whole circuit.
    name : str
        The conductor.
    ampacity_a : float
        Ampacity [A].
    largest_device_a : float
        Largest device that the rules allow on it [A]: the next standard size above its ampacity
        where they allow that, less on small conductors.

    Returns
    -------
    Protected
        A single device may be as large as the rules allow; what several devices and limited
        sources let pass together must stay within ampacity and that device.

    References
    ----------
    NFPA 70, 240.4 and 240.21; IEC 60364-4-43, 433.
    """
    ends: tuple[End, End] = ("start", "end")
    return max(
        (_judge(end, found[name, end], ampacity_a, largest_device_a) for end in ends),
        key=lambda each: (each.state == "open", each.used),
    )


def _judge(end: End, flow: Flow, ampacity_a: float, largest_device_a: float) -> Protected:
    if flow.lasting_a <= 0.0:
        return Protected(end, "idle", 0.0, ampacity_a, ())
    if flow.limited and flow.design_a <= ampacity_a * _ROUNDING:
        return Protected(end, "proven", flow.design_a, ampacity_a, ())
    common = flow.common_devices
    capacity = largest_device_a if common else min(ampacity_a, largest_device_a)
    devices = common or tuple(
        dict.fromkeys(name for share in flow.shares for name in share.devices[-1:])
    )
    state: State = "protected" if flow.lasting_a <= capacity * _ROUNDING else "open"
    return Protected(end, state, flow.lasting_a, capacity, devices)
