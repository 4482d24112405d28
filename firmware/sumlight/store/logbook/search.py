"""Which exposures somebody looks for, as a condition for the logbook. Pure.

Texts are compared without regard to capitals of plain Latin letters, as SQLite's LIKE does.
"""

from collections.abc import Mapping

LIKE_ESCAPE = "\\"

TEXT_COLUMNS = {"panel": "label", "recipe": "recipe_name"}
TIME_COLUMNS = {"from_utc": "started_utc >= ?", "until_utc": "started_utc < ?"}


def condition(wanted: Mapping[str, str]) -> tuple[str, list[str]]:
    """The condition and its values.

    `wanted` may hold `panel` and `recipe` (part of the name), `text` (part of note or result), `kind` (a kind, or
    `series` for all but panels), `outcome` (or `unfinished`), `doubtful` (`yes` or `no`), `recipe_sha256`, `from_utc`
    and `until_utc` (ISO times, the latter excluded). Empty values and other names ask for nothing.
    """
    parts: list[str] = []
    values: list[str] = []

    def ask(part: str, *more: str) -> None:
        parts.append(part)
        values.extend(more)

    for name, text in wanted.items():
        if not text:
            continue
        if name in TEXT_COLUMNS:
            ask(f"{TEXT_COLUMNS[name]} LIKE ? ESCAPE '{LIKE_ESCAPE}'", _part_of(text))
        elif name == "text":
            ask(f"(note LIKE ? ESCAPE '{LIKE_ESCAPE}' OR result LIKE ? ESCAPE '{LIKE_ESCAPE}')", *[_part_of(text)] * 2)
        elif name == "kind":
            ask("kind <> 'panel'") if text == "series" else ask("kind = ?", text)
        elif name == "outcome":
            ask("outcome IS NULL") if text == "unfinished" else ask("outcome = ?", text)
        elif name == "doubtful":
            ask("doubtful = 1" if text == "yes" else "doubtful = 0")
        elif name == "recipe_sha256":
            ask("recipe_sha256 = ?", text)
        elif name in TIME_COLUMNS:
            ask(TIME_COLUMNS[name], text)
    return " AND ".join(parts) or "1", values


def _part_of(text: str) -> str:
    for letter in (LIKE_ESCAPE, "%", "_"):
        text = text.replace(letter, LIKE_ESCAPE + letter)
    return f"%{text}%"
