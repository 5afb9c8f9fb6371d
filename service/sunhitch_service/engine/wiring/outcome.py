"""A rule applied to one size, in short."""

from sunhitch.types.wiring import RuleOutcome

from .citation import unit_of


def exceeds(demand: float, capacity: float) -> bool:
    """Whether a demand is above a capacity by more than rounding."""
    return demand > capacity + 1e-9 * abs(capacity)


def outcome(code: str, demand: float, capacity: float) -> RuleOutcome:
    """`fail` where the demand exceeds the capacity."""
    return RuleOutcome(
        code=code,
        verdict="fail" if exceeds(demand, capacity) else "pass",
        demand=demand,
        capacity=capacity,
        unit=unit_of(code),
    )
