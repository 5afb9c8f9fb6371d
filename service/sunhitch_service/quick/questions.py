"""Every quick question, in the order of the work."""

from .controllers import CONTROLLERS
from .drops import DROPS
from .fixings import FIXINGS
from .fuses import FUSES
from .heat import HEATS
from .question import AnyQuestion
from .readings import READINGS
from .shades import SHADES
from .voltages import VOLTAGES
from .winds import WINDS
from .wires import WIRES

QUESTIONS: tuple[AnyQuestion, ...] = (
    *VOLTAGES,
    *HEATS,
    *CONTROLLERS,
    *SHADES,
    *WIRES,
    *DROPS,
    *FUSES,
    *WINDS,
    *FIXINGS,
    *READINGS,
)
"""All questions; HTTP and the schema are driven by this table."""

BY_NAME: dict[str, AnyQuestion] = {question.name: question for question in QUESTIONS}
"""Question by name."""
