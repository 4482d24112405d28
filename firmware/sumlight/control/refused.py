"""The refusal of a command that is sound, but not in this state of the box."""

from sumlight.text.message import Message


class RefusedError(RuntimeError):
    """A command that is not possible now; `remedy` says what to do first."""

    def __init__(self, message: Message, remedy: Message) -> None:
        self.message, self.remedy = message, remedy
        super().__init__(f"{message} {remedy}")
