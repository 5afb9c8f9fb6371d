"""Figures as people read them: SI first, US customary beside it."""

from sunhitch import units


def metres(value: float) -> str:
    """Length, for example ``2.50 m (8.2 ft)``."""
    return f"{value:.2f} m ({units.to_feet(value):.1f} ft)"


def millimetres(value_m: float) -> str:
    """Short length given in metres, for example ``100 mm (3.94 in)``."""
    return f"{value_m * 1000:.0f} mm ({units.to_inches(value_m):.2f} in)"


def speed(value: float) -> str:
    """Road speed, for example ``120 km/h (75 mph)``; rounded down, so that it stays safe."""
    return f"{int(units.to_km_per_h(value) + 1e-9)} km/h ({int(units.to_mph(value) + 1e-9)} mph)"


def torque(value: float) -> str:
    """Tightening torque, for example ``2.6 N·m (1.9 lbf·ft)``."""
    return f"{value:.1f} N·m ({units.to_feet(units.to_pounds_force(value)):.1f} lbf·ft)"


def temperature(value: float) -> str:
    """Temperature, for example ``21 °C (70 °F)``."""
    return f"{value:.0f} °C ({units.to_fahrenheit(value):.0f} °F)"


def mass(value: float) -> str:
    """Mass, for example ``9.2 kg (20 lb)``."""
    return f"{value:.1f} kg ({units.to_pounds(value):.0f} lb)"


def listed(names: list[str]) -> str:
    """Names in a sentence: ``a, b and c``."""
    if len(names) < 2:
        return "".join(names)
    return f"{', '.join(names[:-1])} and {names[-1]}"
