"""Wording that the fit-out's texts share."""

import math
from collections.abc import Iterable

from msgspec.structs import replace

from sunhitch import units
from sunhitch.report.amounts import none_or
from sunhitch.texts import Text, statement
from sunhitch.texts.templates import Parameter
from sunhitch.types.check import Check
from sunhitch.types.fitout import PanelMount


def about(name: str, checks: Iterable[Check]) -> list[Check]:
    """A part's checks, their subjects opened with its name."""
    return [
        replace(
            each,
            subject=statement("about-part", part=name, subject=each.subject)
            if each.subject
            else name,
        )
        for each in checks
    ]


def pass_speed(mounts: list[PanelMount]) -> float | None:
    """Fastest at which all speed-dependent checks pass [m/s]; none where one never does."""
    return none_or(min, (mount.pass_speed_m_s for mount in mounts))


def passes_up_to(mounts: list[PanelMount]) -> Text:
    """How fast a vehicle with these panels may be driven, and what that leaves out.

    Speeds are rounded down, so that they stay safe.
    """
    slowest = pass_speed(mounts)
    if slowest is None:
        return statement("at-no-speed")
    left_out = dict.fromkeys(title for mount in mounts for title in mount.left_out)
    aside: dict[str, Parameter] = {"left_out": [*left_out]} if left_out else {}
    return statement(
        "all-pass-up-to-but" if aside else "all-pass-up-to",
        km_per_h=math.floor(units.to_km_per_h(slowest) + 1e-9),
        mph=math.floor(units.to_mph(slowest) + 1e-9),
        **aside,
    )
