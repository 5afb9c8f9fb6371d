"""What to do differently on a job, for people."""

from sunhitch.report.amounts import both, figure, speed_limit
from sunhitch.report.layout import Page
from sunhitch.report.work_words import change_cost_words
from sunhitch.types.revision import (
    FitOutChangeAnswer,
    FitOutChangeRequest,
    JobChange,
    JobFigures,
    NearestChange,
)

from .fit_out import told_part
from .operation import Operation


def present(page: Page, answer: FitOutChangeAnswer) -> list[str]:
    """The changes, the job before and after, and what is to be bought."""
    rows = [_row("Before", answer.before), _row("After", answer.after)]
    head = ("", "Verdict", "Fails", "Panels", "Wired", "Averaged", "Mass", "Passes up to")
    return [
        page.heading(f"In short: {answer.title}"),
        *page.bullets(answer.summary),
        *page.section("What to do differently", [_change(one) for one in answer.changes]),
        *page.chapter("Before and after", head, rows),
        *page.section(
            "To be bought beyond before", [told_part(part) for part in answer.parts_added]
        ),
        *page.section("No longer needed", [told_part(part) for part in answer.parts_spared]),
        *page.section("What it costs", change_cost_words(answer.cost)),
        *_nearest(page, answer.nearest),
    ]


def _nearest(page: Page, nearest: NearestChange | None) -> list[str]:
    if nearest is None:
        return []
    changes = [_change(one) for one in nearest.changes]
    return page.section("Nearest that holds", changes)


def _change(one: JobChange) -> str:
    if one.wanted:
        return f"{one.text} (wanted)."
    return f"{one.text} (mends: {one.reason})." if one.reason else f"{one.text}."


def _row(name: str, job: JobFigures) -> tuple[str, ...]:
    return (
        name,
        job.verdict,
        str(len(job.failing)),
        str(job.panels),
        f"{figure(job.array_power_w)} W",
        f"{figure(job.weighted_power_w)} W",
        both(job.panel_mass_kg, "kg"),
        "no speed" if job.pass_speed_m_s is None else speed_limit(job.pass_speed_m_s),
    )


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
