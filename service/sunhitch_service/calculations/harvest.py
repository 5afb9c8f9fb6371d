"""Energy through the year."""

from sunhitch.operations import HARVEST
from sunhitch_service.drawing.energy_chart import energy_chart
from sunhitch_service.drawing.trade_offs import trade_offs, trade_offs_if_any
from sunhitch_service.engine.harvest.calculation import HARVEST as DIVIDED
from sunhitch_service.engine.harvest.calculation import harvest
from sunhitch_service.engine.harvest.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, picture, sheet

CALCULATION = Calculation(
    HARVEST,
    harvest,
    ComputingTime(
        expected_ms,
        "Give fewer days, longer steps, or fewer alternatives, headings, panels or shadows; or ask "
        "for lines of progress (Accept: application/x-ndjson), which may take longer.",
    ),
    (
        picture(
            "energy-chart",
            "Months against loads, battery, losses, what was compared, and typical days.",
            energy_chart,
        ),
        picture(
            "trade-offs",
            "Candidates by energy, hours without power, price and mass; full dots are not beaten.",
            trade_offs,
        ),
        sheet(energy_chart, trade_offs_if_any),
    ),
    DIVIDED,
)
