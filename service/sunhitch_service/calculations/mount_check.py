"""Whether a panel stays on the roof."""

from sunhitch.operations import MOUNT_CHECK
from sunhitch_service.drawing.free_body import free_body
from sunhitch_service.drawing.load_chart import load_chart
from sunhitch_service.drawing.mount_plan import mount_plan
from sunhitch_service.engine.mount.calculation import governing_mount_check
from sunhitch_service.engine.mount.computing_time import expected_ms

from .calculation import Calculation, ComputingTime, picture, sheet

CALCULATION = Calculation(
    MOUNT_CHECK,
    governing_mount_check,
    ComputingTime(expected_ms, "Give fewer feet."),
    (
        picture("load-chart", "Utilisation over road speed and by load case.", load_chart),
        picture(
            "mount-plan", "Panel and feet from above, with forces and utilisation.", mount_plan
        ),
        picture("free-body", "Load and reactions in the governing load case.", free_body),
        sheet(load_chart, mount_plan, free_body),
    ),
)
