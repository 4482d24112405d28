"""Who imports what, read from the source: imports within functions and for types alone count like any other."""

import ast
from collections.abc import Iterator
from functools import cache
from pathlib import Path

ROOT = Path(__file__).resolve().parents[2]
PACKAGES = {"sumlight": ROOT / "firmware" / "sumlight", "sumlight_web": ROOT / "webui" / "sumlight_web"}


@cache
def modules() -> dict[str, Path]:
    """Every module and package of ours by its dotted name."""
    found = {}
    for package, folder in PACKAGES.items():
        for path in sorted(folder.rglob("*.py")):
            inner = path.relative_to(folder).with_suffix("").parts
            found[".".join((package, *(part for part in inner if part != "__init__")))] = path
    return found


def imported(name: str, path: Path, source: str | None = None) -> Iterator[str]:
    """The dotted names that a module imports; a module out of a package by its own name, not the package's."""
    package = name.split(".") if path.name == "__init__.py" else name.split(".")[:-1]
    for node in ast.walk(ast.parse(path.read_text(encoding="utf-8") if source is None else source)):
        if isinstance(node, ast.Import):
            yield from (alias.name for alias in node.names)
        elif isinstance(node, ast.ImportFrom):
            above = package[: len(package) - node.level + 1] if node.level else []
            home = ".".join([*above, *([node.module] if node.module else [])])
            for alias in node.names:
                within = f"{home}.{alias.name}"
                yield within if within in modules() else home


@cache
def imports() -> dict[str, frozenset[str]]:
    """What each module imports, ours and others'."""
    return {name: frozenset(imported(name, path)) for name, path in modules().items()}


def is_ours(name: str) -> bool:
    """Whether a dotted name is of one of our packages."""
    return name.split(".")[0] in PACKAGES


def room_of(module: str) -> str:
    """The room that a module belongs to; '' for an empty package around rooms."""
    parts = module.split(".")
    if parts[0] == "sumlight_web":
        return "page"
    if len(parts) == 1:
        return ""
    if parts[1] in ("control", "store"):
        return ".".join(parts[1:3]) if len(parts) > 2 else ""
    return parts[1]


@cache
def arrows() -> frozenset[tuple[str, str]]:
    """From which room to which other one something is imported."""
    found = {
        (room_of(module), room_of(other)) for module, others in imports().items() for other in others if is_ours(other)
    }
    return frozenset((one, other) for one, other in found if one and other and one != other)
