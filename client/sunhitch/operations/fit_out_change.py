"""What to do differently on a job, for people."""

from sunhitch.report.amounts import both, figure, top_speed
from sunhitch.report.layout import Page
from sunhitch.report.work_words import change_cost_words
from sunhitch.types.revision import (
    FitOutChangeAnswer,
    FitOutChangeRequest,
    JobChange,
)

from .fit_out import told_part
from .operation import Operation


def present(page: Page, answer: FitOutChangeAnswer) -> list[str]:
    """The changes, the job before and after, and what is to be bought."""
    return [
        page.heading(f"In short: {answer.title}"),
        *page.bullets(answer.summary),
        # Without a blank line: what to do stands on the first screen, too.
        *page.section("What to do differently", [_change(one) for one in answer.changes])[1:],
        *page.columns(
            "Before and after",
            [("Before", answer.before), ("After", answer.after)],
            {
                "": lambda job: job[0],
                "Verdict": lambda job: job[1].verdict,
                "Fails": lambda job: str(len(job[1].failing)),
                "Panels": lambda job: str(job[1].panels),
                "Wired": lambda job: f"{figure(job[1].array_power_w)} W",
                "Averaged": lambda job: f"{figure(job[1].weighted_power_w)} W",
                "Mass": lambda job: both(job[1].panel_mass_kg, "kg"),
                "Passes up to": lambda job: top_speed(job[1].pass_speed_m_s),
            },
        ),
        *page.section(
            "To be bought beyond before", [told_part(part) for part in answer.parts_added]
        ),
        *page.section("No longer needed", [told_part(part) for part in answer.parts_spared]),
        *page.section("What it costs", change_cost_words(answer.cost)),
        *page.section(
            "Nearest that holds",
            [_change(one) for one in answer.nearest.changes] if answer.nearest else [],
        ),
    ]


def _change(one: JobChange) -> str:
    if one.wanted:
        return f"{one.text} (wanted)."
    return f"{one.text} (mends: {one.reason})." if one.reason else f"{one.text}."


FIT_OUT_CHANGE = Operation(
    "fit-out-change",
    FitOutChangeRequest,
    FitOutChangeAnswer,
    "The least change of a job",
    "From a job, how far each part of it is, and what is to be different: what to do differently, "
    "no fixed part touched, as a list and as a JSON Patch; for a job that fails, few changes after "
    "which nothing fails.",
    present,
)
