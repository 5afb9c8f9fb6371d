"""Paper and answer tell the same build."""

from printed_builds import run


def test_builds_read_back_from_paper_are_judged_alike():
    seen = run(count=4, seed=3)
    assert seen["proven"]
    assert seen["protected"]
    assert seen["panels"] > 4
