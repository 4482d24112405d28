"""How a request fails: one vocabulary of codes for control, page and command line. Pure."""

from typing import Literal, get_args

from sumlight.text.message import Message, joined, say

ErrorCode = Literal["bad_request", "unknown_command", "bad_value", "not_found", "refused", "internal"]
"""`bad_request`: not a request at all. `unknown_command`: no command of that name. `bad_value`: a field's value is not
allowed. `not_found`: what a field names does not exist. `refused`: sound, but not in this state of the box.
`internal`: control itself failed at it."""

CODES: tuple[ErrorCode, ...] = get_args(ErrorCode)


class BadRequestError(ValueError):
    """What is wrong with a request; becomes the error of its reply.

    `number` is the request's own, where it could be read: the reply carries it, so that the caller waits no longer.
    """

    number: int | None = None

    def __init__(
        self, code: ErrorCode, message: Message, *, field: str | None = None, remedy: Message | None = None
    ) -> None:
        self.code: ErrorCode = code
        self.message, self.field, self.remedy = message, field, remedy
        super().__init__(message)

    @property
    def in_full(self) -> Message:
        """The message and what helps: `exposure 3 has not ended. Let it end first.`"""
        if not self.remedy or self.message.endswith((".", "!", "?")):
            return joined(self.message, self.remedy)
        return say("refused_and_remedy", told=self.message, remedy=self.remedy)
