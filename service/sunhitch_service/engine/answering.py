"""What every answer tells beside its own results."""

import hashlib
from collections import Counter
from collections.abc import Iterable
from typing import TypedDict

import msgspec

from sunhitch.types.base import Input
from sunhitch.types.basis import Assumption, Basis, Caution, EngineStamp
from sunhitch.types.check import Check, Verdict, VerdictCounts

from .assumptions import Assumptions
from .checks import verdict_of
from .sources import keys_of, sources_of
from .stamp import stamp


class Common(TypedDict):
    """Members that all answers share, by name."""

    verdict: Verdict
    counts: VerdictCounts
    checks: list[Check]
    sources: list[Basis]
    assumptions: list[Assumption]
    cautions: list[Caution]
    engine: EngineStamp
    answer_id: str


def common(
    request: Input,
    checks: list[Check],
    assumptions: Assumptions,
    dangers: list[Caution],
    keys: Iterable[str] = (),
) -> Common:
    """What an answer shares with all others.

    Parameters
    ----------
    request : Input
        What was asked.
    checks : list of Check
        Every rule that was applied.
    assumptions : Assumptions
        Values that the engine chose.
    dangers : list of Caution
        Of this work.
    keys : iterable of str
        Of sources that other parts of the answer refer to.

    Returns
    -------
    Common
        Keywords of the answer's type.
    """
    return Common(
        verdict=verdict_of(checks),
        counts=counts_of(checks),
        checks=checks,
        sources=sources_of([*keys_of(checks), *keys]),
        assumptions=assumptions.listed(),
        cautions=dangers,
        engine=stamp(),
        answer_id=answer_id(request),
    )


def answer_id(request: Input) -> str:
    """Same for the same request to the same engine, on any machine.

    Parameters
    ----------
    request : Input
        As decoded, so that neither order nor spelling of the text matters.

    Returns
    -------
    str
        Hexadecimal digest of kind of request, request and engine.
    """
    engine = stamp()
    asked = msgspec.json.encode(request, order="deterministic", enc_hook=_plain)
    parts = (type(request).__name__, engine.version, engine.data_sha256, "")
    return hashlib.sha256("\n".join(parts).encode() + asked).hexdigest()[:32]


def _plain(value: object) -> float | str:
    """A number of numpy, or a text with a code, without what it knows beyond its value."""
    return str.__str__(value) if isinstance(value, str) else float(value)  # type: ignore[arg-type]


def counts_of(checks: Iterable[Check]) -> VerdictCounts:
    """How many checks have which verdict."""
    found = Counter(check.verdict for check in checks)
    return VerdictCounts(
        passed=found["pass"],
        review=found["review"],
        not_assessed=found["not-assessed"],
        failed=found["fail"],
    )
