"""hardware/install as the guide has it: a look first, then twice, since the second time switches the services on."""

from pathlib import Path

import pytest

from tests.guest.inside.installed import CONTROL, PAGE, systemctl
from tests.guest.inside.typed import INSTALLING, type_line
from tests.userlands.booted import Typed


@pytest.mark.parametrize("typed", INSTALLING, ids=lambda typed: typed.line)
def test_a_line_of_the_guide_that_installs(typed: Typed) -> None:
    """As it stands there."""
    type_line(typed)
    assert Path("/opt/sumlight").exists() == ("--dry-run" not in typed.line)


def test_the_services_are_switched_on() -> None:
    """Both."""
    assert systemctl("is-enabled", CONTROL, PAGE).split() == ["enabled", "enabled"]
