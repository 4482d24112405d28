"""What control says, in the reader's language: a message by its code; what has none stays as it was said."""

from sumlight.language import reader, text_of
from sumlight.protocol.snapshot import FaultName
from sumlight.text.message import AS_WRITTEN, Message, say_named

__all__ = ["fault_title", "language_of", "text_of"]


def language_of(text: str) -> str:
    """Name the language that `text_of` leaves `text` in, as HTML does: what has no code stays English."""
    return reader().language if isinstance(text, Message) and text.code != AS_WRITTEN else "en"


def fault_title(name: str) -> str:
    """Call a fault on record by its title; by its name if this version knows no such fault."""
    return text_of(say_named(f"fault_{name}_title")) if name in set(FaultName) else name
