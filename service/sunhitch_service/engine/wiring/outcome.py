"""A rule applied to one size, in short."""

from sunhitch.types.wiring import RuleOutcome
from sunhitch_service.engine.rules.table import unit_of


def outcome(code: str, demand: float, capacity: float) -> RuleOutcome:
    """`fail` where the demand exceeds the capacity by more than rounding."""
    beyond = demand > capacity and demand > capacity + 1e-9 * abs(capacity)
    return RuleOutcome(
        code=code,
        verdict="fail" if beyond else "pass",
        demand=demand,
        capacity=capacity,
        unit=unit_of(code),
    )
