"""The work sheet of a fit-out: one page of HTML that needs nothing else and prints well."""

from collections.abc import Callable
from dataclasses import dataclass

from sunhitch.report.amounts import infinite
from sunhitch.report.current_paths import EXPLAINED, HEAD, conductor_rows
from sunhitch.types.fitout import FitOutAnswer, FitOutRequest
from sunhitch.types.mount import Improvement

from .marking_out import marks
from .roof_plan import roof_plan
from .sheets import page
from .wiring_diagram import fit_out_wiring_diagram


@dataclass(frozen=True, slots=True)
class Picture:
    """A drawing on the sheet.

    Parameters
    ----------
    title, caption : str
        Heading, and what it shows.
    draw : callable
        From request and answer to SVG.
    wide : bool
        Whether paper is turned for it.
    """

    title: str
    caption: str
    draw: Callable[[FitOutRequest, FitOutAnswer], str]
    wide: bool = False


PICTURES: tuple[Picture, ...] = (
    Picture(
        "Roof plan",
        "To scale, forward is up. Every point to mark is in the list after the pictures.",
        roof_plan,
    ),
    Picture(
        "Wiring diagram",
        "Thick lines are plus, thin lines minus; numbers as in the schedules.",
        fit_out_wiring_diagram,
        wide=True,
    ),
)


def draw_work_sheet(request: FitOutRequest, answer: FitOutAnswer) -> str:
    """Draw the work sheet.

    Parameters
    ----------
    request : FitOutRequest
        What was asked, for the drawings.
    answer : FitOutAnswer
        The checked build.

    Returns
    -------
    str
        HTML with its styles and drawings inside.
    """
    from markupsafe import Markup

    return page(
        "work_sheet.html.j2",
        answer,
        best=answer.configurations[0],
        # Our own drawings, with every text in them escaped.
        pictures=[(p, Markup(p.draw(request, answer))) for p in PICTURES],  # noqa: S704
        marks=marks(answer.plan),
        head=HEAD,
        explained=EXPLAINED,
        conductors=conductor_rows(answer.current_paths),
        unique_changes=_changes(answer),
        first_told=_first_told(answer),
    )


def _changes(answer: FitOutAnswer) -> list[Improvement]:
    """Improvements of all panels, each change once with its least favourable figures."""
    changes = [change for mount in answer.mounts for change in mount.improvements]
    names, backwards = dict.fromkeys(c.change for c in changes), changes[::-1]
    worst = {one.change: one for one in sorted(backwards, key=_used)}
    return sorted((worst[name] for name in names), key=_used)


def _used(change: Improvement) -> float:
    return infinite(change.utilisation_fraction)


def _first_told(answer: FitOutAnswer) -> set[tuple[int, str]]:
    """Where each caution appears first, so that it is printed once."""
    backwards = answer.work_steps[::-1]
    first = {code: step.number for step in backwards for code in step.cautions}
    return {(number, code) for code, number in first.items()}
