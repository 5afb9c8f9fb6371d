"""The answer in a few sentences, worst first."""

from sunhitch.report.amounts import infinite
from sunhitch.texts import statement, together
from sunhitch.types.check import VERDICTS, Check, Verdict
from sunhitch.types.fitout import PanelMount

from .build import Build
from .wording import passes_up_to

_OPENING: dict[Verdict, str] = {
    "pass": "all-passes",
    "review": "some-want-a-look",
    "not-assessed": "something-not-judged",
    "fail": "do-not-build",
}


def sentences(build: Build, verdict: Verdict, checks: list[Check]) -> list[str]:
    """Say what comes out.

    Parameters
    ----------
    build : Build
        The checked build.
    verdict : Verdict
        Worst verdict of all checks.
    checks : list of Check
        All checks.

    Returns
    -------
    list of str
        Verdict, wiring, cables, hold.
    """
    return [
        opening(verdict, checks),
        _wiring(build),
        _cables(build),
        _mounts(build.mounts),
    ]


def opening(verdict: Verdict, checks: list[Check]) -> str:
    """The verdict, and how many checks have which."""
    numbers = [(each, sum(c.verdict == each for c in checks)) for each in reversed(VERDICTS)]
    counts: list[str] = [statement(f"count-{each}", checks=n) for each, n in numbers if n]
    return statement("checks-counted", opening=statement(_OPENING[verdict]), counts=counts)


def _wiring(build: Build) -> str:
    best = build.arrangement
    fails = best.verdict == "fail"
    wired = statement("no-wiring-passes" if fails else "wire-it-as", arrangement=best.name)
    if best.shade and not fails:
        low = min(best.shade, key=lambda state: state.charging_power_w)
        wired = statement(
            "wire-it-as-shade",
            arrangement=best.name,
            sun_w=best.sun.charging_power_w,
            shade_w=low.charging_power_w,
            state=low.name,
        )
    left = statement("left-over", panels=best.leftover) if best.leftover else ""
    return together("space", [wired, left, best.reasons[0]])


def _cables(build: Build) -> str:
    loss = sum(line.loss_w for line in build.lines)
    lines = [line.line for line in build.lines if line.answer.verdict == "fail"]
    bad = statement("cannot-be-built-as-asked", lines=lines) if lines else ""
    told = statement("cables-and-loss", cables=len(build.lines), loss_w=loss)
    return together("space", [told, bad])


def _mounts(mounts: list[PanelMount]) -> str:
    weakest = max(mounts, key=lambda mount: infinite(mount.utilisation_fraction))
    used = weakest.utilisation_fraction
    told = statement(
        "governing-mounting-none" if used is None else "governing-mounting",
        panel=weakest.panel,
        title=weakest.governing_title,
        passes=passes_up_to(mounts),
        **{} if used is None else {"used": used},
    )
    helps = [statement("what-helps-most", change=one.change) for one in weakest.improvements[:1]]
    return together("space", [told, *helps])
