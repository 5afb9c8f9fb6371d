"""Wording that the fit-out's texts share."""

from collections.abc import Iterable

from msgspec.structs import replace

from sunhitch import units
from sunhitch.report.amounts import none_or
from sunhitch.types.check import Check
from sunhitch.types.fitout import PanelMount


def speed(value: float) -> str:
    """Road speed [m/s] as ``120 km/h (74 mph)``; rounded down, so that it stays safe."""
    return f"{int(units.to_km_per_h(value) + 1e-9)} km/h ({int(units.to_mph(value) + 1e-9)} mph)"


def listed(names: list[str]) -> str:
    """Names in a sentence: ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"


def about(name: str, checks: Iterable[Check]) -> list[Check]:
    """A part's checks, their subjects opened with its name."""
    return [
        replace(item, subject=f"{name}: {item.subject}" if item.subject else name)
        for item in checks
    ]


def pass_speed(mounts: list[PanelMount]) -> float | None:
    """Fastest at which all speed-dependent checks pass [m/s]; none where one never does."""
    return none_or(min, (mount.pass_speed_m_s for mount in mounts))


def passes_up_to(mounts: list[PanelMount]) -> str:
    """How fast a vehicle with these panels may be driven, and what that leaves out."""
    slowest = pass_speed(mounts)
    if slowest is None:
        return "at no speed do all checks pass"
    left_out = dict.fromkeys(title for mount in mounts for title in mount.left_out)
    aside = f", left out for review: {'; '.join(left_out)}" if left_out else ""
    return f"all speed-dependent checks pass up to {speed(slowest)}{aside}"
