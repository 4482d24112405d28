"""What stands on the Bench about light and calibration, besides the warnings."""

from flask.testing import FlaskClient

from sumlight.text.message import say
from sumlight_web.bench.worth import standing_advisories
from sumlight_web.language import Reader, written_for
from sumlight_web.services import AppServices
from tests.webui import fake_answers as answers
from tests.webui import fake_control as fake
from tests.webui.fake_control import FakeControl, hear


def test_a_calibration_that_control_warns_of_is_not_told_twice() -> None:
    """The warning names the bank and tells the same."""
    block = answers.calibration()
    warned = say("of_bank", bank="lower", told=block["sentence"])
    for warnings, expected in (([], 1), ([warned], 0), ([say("doses_are_relative")], 1)):
        snapshot = fake.snapshot(calibration={"lower": block}, warnings=warnings)
        told = standing_advisories(snapshot)  # type: ignore[arg-type]
        assert len([remark for remark in told if "Calibration of lower" in remark]) == expected


def test_remarks_are_said_in_the_readers_language() -> None:
    """The message within them, too."""
    snapshot = fake.snapshot(calibration={"lower": answers.calibration()})
    with written_for(Reader("de")):
        told = standing_advisories(snapshot)  # type: ignore[arg-type]
    assert any("±60\N{NO-BREAK SPACE}%" in remark for remark in told)
    assert not any("step tablet" in remark for remark in told)


def test_the_bench_shows_them(client: FlaskClient, services: AppServices, control: FakeControl) -> None:
    """A template that asks for them by another name would show nothing, and nobody would notice."""
    hear(services.watch, control, fake.snapshot(calibration={"lower": answers.calibration()}))
    assert "Calibration of lower: Nobody has calibrated this box" in client.get("/").text
