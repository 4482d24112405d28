"""Pages as people read them: without the style sheet and the script that stand in each page's head."""

from typing import Any

from flask.testing import FlaskClient
from werkzeug.test import TestResponse

from sumlight_web.inpage import HOLD, STYLE


class ReadPage(TestResponse):
    """An answer whose `text` says nothing that only a browser reads; `get_data` has all of it.

    Otherwise a word in a comment of the script would stand for one that a person sees.
    """

    @property
    def text(self) -> str:
        """The answer without our sheet and our script."""
        return super().text.replace(STYLE, "").replace(HOLD, "")


class Reader(FlaskClient):
    """A client that gets such answers."""

    def __init__(self, *args: Any, **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.response_wrapper = type("ReadAnswer", (ReadPage, self.application.response_class), {})
