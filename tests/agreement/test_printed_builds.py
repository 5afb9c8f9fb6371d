"""Paper and answer tell the same build."""

from printed_builds import run


def test_builds_read_back_from_paper_are_judged_alike():
    seen = run(count=4, seed=3)
    assert seen["proven"] > 3
    assert seen["protected"] > 3
    assert seen["panels"] > 4
