"""Sentences that remember what they were made from, so that the page can say them in another language."""

from typing import Any


class Said(str):
    """A sentence in English, with the `template` and `values` (texts, or sentences again) that it was made from."""

    template: str
    values: dict[str, Any]


def say(template: str, /, **values: Any) -> Said:
    """Fill `{names}` in a text. Keep the text a plain literal: the catalogue's tool looks for it here."""
    said = Said(template.format(**values) if values else template)
    said.template, said.values = template, values
    return said
