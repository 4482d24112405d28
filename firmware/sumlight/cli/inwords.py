"""What the command line tells of an error, in the reader's words; and what a program reads instead, in no language."""

from collections.abc import Mapping
from typing import Any

from sumlight.checkedfile import FileProblemsError
from sumlight.control.exposure.plan import PlanError
from sumlight.language import text_of
from sumlight.text.message import AS_WRITTEN, Message, messages_of, packed


def in_words(error: Exception) -> str:
    """Say in the reader's language what is wrong and what helps; what has no code stays as it was written."""
    if isinstance(error, FileProblemsError):
        return "\n".join(text_of(problem.said) for problem in error.problems)
    told, *remedy = map(text_of, messages_of(error))
    if remedy and not told.endswith((".", "!", "?")):
        told += "."
    if isinstance(error, PlanError):
        told = f"{error.field}: {told}"
    return " ".join([told, *remedy])


def with_codes(found: Any) -> Any:
    """Give each message in an answer its code and values beside its English words: `sentence`, `sentence_code`.

    Programs read codes; words may be put better in any version. A list of messages gets a list of codes.
    """
    if isinstance(found, Mapping):
        told = {key: with_codes(value) for key, value in found.items()}
        return told | {f"{key}_code": packed(value) for key, value in found.items() if _is_said(value)}
    return [with_codes(value) for value in found] if isinstance(found, list | tuple) else found


def _is_said(value: object) -> bool:
    if isinstance(value, list | tuple):
        return bool(value) and all(map(_is_said, value))
    return isinstance(value, Message) and value.code != AS_WRITTEN
