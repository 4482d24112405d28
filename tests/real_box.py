"""The box of hardware/box.yaml, and others that differ from it in a few lines."""

from pathlib import Path

REAL_BOX = Path(__file__).parents[1] / "hardware" / "box.yaml"


def other_box(folder: Path, *changes: tuple[str, str]) -> Path:
    """A file in `folder`: box.yaml with pieces of its text replaced, each of which stands there once."""
    text = REAL_BOX.read_text(encoding="utf-8")
    for old, new in changes:
        assert text.count(old) == 1, old
        text = text.replace(old, new)
    path = folder / "box.yaml"
    path.write_text(text, encoding="utf-8")
    return path
