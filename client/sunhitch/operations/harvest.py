"""Energy through the year, for people."""

from sunhitch.report.amounts import figure, percent
from sunhitch.report.layout import Page
from sunhitch.types.harvest import (
    Autonomy,
    BatteryBalance,
    HarvestAnswer,
    HarvestRequest,
)

from .operation import Operation

_KILO = 1000.0


def present(page: Page, answer: HarvestAnswer) -> list[str]:
    """The energy and how sure it is, by month, lost on the way, and what else was compared."""
    return [
        page.heading("In short"),
        *page.bullets([*answer.summary, _range(answer)]),
        *energy(page, answer),
        *page.section(
            "What each panel sees",
            [
                f"{panel.panel}: {percent(panel.visible_sky_fraction)} of the sky, "
                f"{percent(panel.beam_fraction)} of the direct sun's energy"
                for panel in answer.panels
            ],
        ),
        *page.section(
            "Years of weather",
            [
                f"{year.name}: {watt_hours(year.charged_wh)}, {figure(year.hours_without_power)} h "
                "without"
                for year in answer.years
            ],
        ),
    ]


def energy(page: Page, answer: HarvestAnswer) -> list[str]:
    """Energy by month, lost on the way, through the battery, and of what else was compared."""
    return [
        *page.columns(
            "Months",
            answer.months,
            {
                "Month": lambda month: f"{month.year}-{month.month:02d}",
                "Into battery": lambda month: watt_hours(month.charged_wh),
                "A day": lambda month: (
                    watt_hours(month.charged_wh / month.days) if month.days else ""
                ),
                "Asked for": lambda month: watt_hours(month.load_wh),
                "Served": lambda month: watt_hours(month.served_wh),
                "Hours without": lambda month: f"{figure(month.hours_without_power)} h",
                "Lowest state": lambda month: percent(month.lowest_state_fraction),
            },
        ),
        *page.chapter(
            "From the light to the battery",
            ("Lost", "Of the rest", "Left", "Step"),
            _losses(answer),
        ),
        *page.section("Battery", _battery(answer.battery, answer.autonomy)),
        *_comparison(page, answer),
    ]


def watt_hours(energy_wh: float) -> str:
    """Watt hours, or kilowatt hours of more than a thousand."""
    if abs(energy_wh) >= _KILO:
        return f"{figure(energy_wh / _KILO)} kWh"
    return f"{figure(energy_wh)} Wh"


def _range(answer: HarvestAnswer) -> str:
    sure = answer.range
    return (
        f"{watt_hours(answer.charged_wh)} into the battery from {figure(answer.panel_power_w)} W "
        f"of panels; between {watt_hours(sure.low_wh)} and {watt_hours(sure.high_wh)}. {sure.text}"
    )


def _losses(answer: HarvestAnswer) -> list[tuple[str, ...]]:
    start: list[tuple[str, ...]] = [
        ("", "", watt_hours(answer.light_wh), "Unshaded light at the nameplate's efficiency")
    ]
    return start + [
        (
            watt_hours(step.lost_wh),
            percent(step.lost_fraction),
            watt_hours(step.left_wh),
            step.title,
        )
        for step in answer.losses
    ]


def _battery(balance: BatteryBalance, unpowered: Autonomy | None) -> list[str]:
    without = balance.autonomy_days
    autonomy = [] if without is None else [f"Full to empty without sun: {figure(without)} days."]
    told = [] if unpowered is None else [unpowered.text]
    return [
        *told,
        f"Lowest at {percent(balance.lowest_state_fraction)}, {balance.lowest_at}.",
        *autonomy,
        f"Loads that may be on at once: {figure(balance.peak_load_w)} W.",
        f"Full with sun left over for {figure(balance.full_hours)} h, too cold to charge for "
        f"{figure(balance.frost_hours)} h.",
        f"{watt_hours(balance.charged_wh)} in, {watt_hours(balance.served_wh)} out, "
        f"{watt_hours(balance.storage_lost_wh)} lost in it; from {watt_hours(balance.start_wh)} to "
        f"{watt_hours(balance.end_wh)} held.",
    ]


def _comparison(page: Page, answer: HarvestAnswer) -> list[str]:
    return page.columns(
        "Compared, best first",
        answer.comparison,
        {
            "#": lambda line: str(line.rank),
            "Built or parked as": lambda line: line.name,
            "At the terminals": lambda line: watt_hours(line.available_wh),
            "Against given": lambda line: (
                f"{'+' if line.against_given_fraction > 0.0 else ''}"
                f"{percent(line.against_given_fraction)}"
            ),
            "Into battery": lambda line: watt_hours(line.charged_wh),
            "Without": lambda line: f"{figure(line.hours_without_power)} h",
            "Price": lambda line: "" if line.price is None else figure(line.price),
            "Mass": lambda line: "" if line.mass_kg is None else f"{figure(line.mass_kg)} kg",
            "Reason": lambda line: (
                f"Beaten by {line.beaten_by}. {line.reason}" if line.beaten_by else line.reason
            ),
        },
    )


HARVEST = Operation(
    "harvest",
    HarvestRequest,
    HarvestAnswer,
    "Energy through the year, with shade and battery",
    "From place, headings, weather, shade around the vehicle, panels, battery and loads to energy "
    "by month and typical day, every loss, the battery's state, hours without power, and a "
    "comparison of wirings, constructions, headings and tilts with the reason for the best.",
    present,
    in_pieces=True,
)
