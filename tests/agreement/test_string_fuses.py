"""One reverse current, one fuse and one verdict a string, wherever it is asked."""

from string_fuses import run


def test_unequal_strings_are_judged_alike_everywhere():
    seen = run(count=12, seed=7)
    assert seen["shaded"] > 10
    assert seen["unequal"] > 5
    assert all(seen[verdict] for verdict in ("pass", "review", "not-assessed", "fail"))
