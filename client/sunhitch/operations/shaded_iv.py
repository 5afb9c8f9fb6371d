"""What a shaded array delivers, for people."""

from sunhitch.report.amounts import figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.shade import LossSplit, PowerPoint, ShadedIvAnswer, ShadedIvRequest

from .operation import Operation

_MOST_STATES = 12


def present(page: Page, answer: ShadedIvAnswer) -> list[str]:
    """Operating point, every panel, where the power goes, and the alternatives."""
    return [
        page.heading("Power"),
        *page.bullets(_points(answer)),
        *page.columns(
            "Panels at that point",
            answer.panels,
            {
                "Panel": lambda panel: panel.name,
                "Power": lambda panel: f"{figure(panel.power_w)} W",
                "Voltage": lambda panel: f"{figure(panel.voltage_v)} V",
                "Current": lambda panel: f"{figure(panel.current_a)} A",
                "Diodes conducting": lambda panel: str(panel.conducting_diodes),
                "Hottest cell": lambda panel: f"{figure(panel.hottest_cell_dissipation_w)} W",
            },
        ),
        *page.chapter(
            "Where the power goes", ("Part", "Power", "Share"), _losses(answer.loss_split)
        ),
        *page.columns(
            "Compared",
            answer.comparison,
            {
                "Built as": lambda line: line.name,
                "Highest": lambda line: f"{figure(line.maximum_power_point.power_w)} W",
                "Simple tracker": lambda line: f"{figure(line.tracker_power_w)} W",
                "Of unshaded": lambda line: percent(line.of_unshaded_fraction),
                "Hottest cell": lambda line: f"{figure(line.hottest_cell_dissipation_w)} W",
            },
        ),
        *_states(page, answer),
    ]


def _point(point: PowerPoint) -> str:
    return (
        f"{figure(point.power_w)} W at {figure(point.voltage_v)} V and {figure(point.current_a)} A"
    )


def _points(answer: ShadedIvAnswer) -> list[str]:
    lost = answer.tracker.lost_w
    tracker = (
        "A simple tracker finds it too."
        if lost <= 0.0
        else f"A simple tracker stops at {_point(answer.tracker.found)}: {figure(lost)} W "
        f"({percent(answer.tracker.lost_fraction)}) lost."
    )
    others = answer.local_maxima[1:]
    return [
        f"Highest: {_point(answer.maximum_power_point)}.",
        tracker,
        *(f"Local maximum: {_point(point)}." for point in others),
        f"Open circuit {figure(answer.open_circuit_voltage_v)} V, short circuit "
        f"{figure(answer.short_circuit_current_a)} A.",
    ]


def _losses(split: LossSplit) -> list[tuple[str, str, str]]:
    parts = (
        ("Unshaded", split.unshaded_w),
        ("− less light", split.light_lost_w),
        ("− mismatch", split.mismatch_w),
        ("− bypass diodes", split.bypass_diodes_w),
        ("− blocking diodes, cable", split.blocking_and_cable_w),
        ("= delivered", split.delivered_w),
        ("  a simple tracker loses", split.tracker_w),
    )
    whole = split.unshaded_w or 1.0
    return [(name, f"{figure(power)} W", percent(power / whole)) for name, power in parts]


def _states(page: Page, answer: ShadedIvAnswer) -> list[str]:
    """The weakest moments; where there are more than that, the strongest too."""
    rising = sorted(answer.states, key=lambda one: one.maximum_power_point.power_w)
    shown = rising if len(rising) <= _MOST_STATES else [*rising[: _MOST_STATES - 1], rising[-1]]
    left = len(rising) - len(shown)
    title = "At other moments, weakest first" + (f" ({left} between not shown)" if left else "")
    return page.columns(
        title,
        shown,
        {
            "Moment": lambda one: one.name,
            "Highest": lambda one: f"{figure(one.maximum_power_point.power_w)} W",
            "At": lambda one: f"{figure(one.maximum_power_point.voltage_v)} V",
            "Of unshaded": lambda one: percent(one.of_unshaded_fraction),
        },
    )


SHADED_IV = Operation(
    "shaded-iv",
    ShadedIvRequest,
    ShadedIvAnswer,
    "Power of a partly shaded array",
    "Current and power curves, every local maximum, what a simple tracker finds, the state of "
    "every panel, bypass group and cell, and where the power goes.",
    present,
    has_tables=True,
)
