"""Wording that the fit-out's texts share."""

from sunhitch import units


def speed(value: float) -> str:
    """Road speed [m/s] as ``120 km/h (74 mph)``; rounded down, so that it stays safe."""
    return f"{int(units.to_km_per_h(value) + 1e-9)} km/h ({int(units.to_mph(value) + 1e-9)} mph)"


def listed(names: list[str]) -> str:
    """Names in a sentence: ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
