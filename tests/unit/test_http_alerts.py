"""Alerts and runbook speak of what the service shows."""

import re
from pathlib import Path

import yaml

from sunhitch_service.http.metrics import Metrics
from sunhitch_service.http.settings import describe

DEPLOY = Path(__file__).parents[2] / "service/deploy"
ALERTS = yaml.safe_load((DEPLOY / "alerts.yml").read_text("utf-8"))["groups"][0]["rules"]
RUNBOOK = (DEPLOY / "runbook.md").read_text("utf-8")


def test_every_metric_of_an_alert_is_shown() -> None:
    told = Metrics().exposition().decode()
    shown = set(re.findall(r"^# TYPE (\w+)", told, re.MULTILINE))
    for alert in ALERTS:
        for name in re.findall(r"sunhitch_\w+", alert["expr"]):
            assert name in shown or name.removesuffix("_bucket") in shown, name


def test_the_runbook_has_a_chapter_for_every_alert() -> None:
    chapters = re.findall(r"^## (Sunhitch\w+)$", RUNBOOK, re.MULTILINE)
    assert chapters == [alert["alert"] for alert in ALERTS]
    for alert in ALERTS:
        assert alert["annotations"]["runbook"] == f"runbook.md#{alert['alert'].lower()}"


def test_the_runbook_names_settings_that_there_are() -> None:
    known = {name.removeprefix("SUNHITCH_HTTP_") for name, _, _ in describe()}
    words = re.findall(r"`([A-Z]+(?:_[A-Z]+)+)(?:=\w+)?`", RUNBOOK)
    named = {word.removeprefix("SUNHITCH_HTTP_") for word in words}
    assert named - {"RLIMIT_DATA", "NUMBA_CACHE_DIR"} <= known
    assert len(named) > 8
