"""The answer in a few sentences, worst first."""

from sunhitch.report.amounts import infinite, utilisation
from sunhitch.types.check import Check, Verdict
from sunhitch.types.fitout import PanelMount

from .build import Build
from .wording import listed, passes_up_to

_OPENING: dict[Verdict, str] = {
    "pass": "Everything that was checked passes.",
    "review": "Nothing fails; some points want a second look.",
    "not-assessed": "Something important could not be judged; answer it before building.",
    "fail": "Do not build this as it stands: at least one check fails.",
}
_WORDS: dict[Verdict, str] = {
    "fail": "fail",
    "not-assessed": "not assessed",
    "review": "to review",
    "pass": "pass",
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
    counts = [(sum(c.verdict == each for c in checks), word) for each, word in _WORDS.items()]
    tally = ", ".join(f"{number} {word}" for number, word in counts if number)
    return f"{_OPENING[verdict]} Checks: {tally}."


def _wiring(build: Build) -> str:
    best = build.arrangement
    power = ""
    if best.shade:
        low = min(best.shade, key=lambda state: state.charging_power_w)
        power = (
            f": {best.sun.charging_power_w:.0f} W into the battery in full sun, "
            f"{low.charging_power_w:.0f} W in '{low.name}'"
        )
    left = f" Left over: {listed(best.leftover)}." if best.leftover else ""
    return f"Wire it as {best.name}{power}.{left} {best.reasons[0]}"


def _cables(build: Build) -> str:
    sizes = [line.own_ladder.chosen for line in build.lines]
    loss = sum(size.loss_w for size in sizes if size is not None)
    lines = [line.line for line in build.lines if line.answer.verdict == "fail"]
    bad = f" {listed(lines)} cannot be built as asked." if lines else ""
    return f"{len(build.lines)} cables, {loss:.1f} W lost in them in full sun.{bad}"


def _mounts(mounts: list[PanelMount]) -> str:
    weakest = max(mounts, key=lambda mount: infinite(mount.utilisation_fraction))
    helps = f" What helps most: {weakest.improvements[0].change}." if weakest.improvements else ""
    return (
        f"Governing for the mounting: {weakest.panel}, {weakest.governing_title.lower()}, "
        f"{utilisation(weakest.utilisation_fraction)}; {passes_up_to(mounts)}.{helps}"
    )
