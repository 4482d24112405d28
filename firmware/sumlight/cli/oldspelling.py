"""The flat commands of 0.1.0's beginnings: they work for one version more, and say how they are written now."""

import argparse
import shlex
import sys

from sumlight.language import _

RENAMED = {
    "twin": ("box", "twin"),
    "run": ("box", "run"),
    "control": ("box", "control"),
    "rest": ("box", "rest"),
    "expose": ("panel", "expose"),
    "strip": ("panel", "strip"),
    "tablet": ("panel", "tablet"),
    "teach": ("panel", "teach"),
    "selfcheck": ("light", "self-check"),
    "transmission": ("light", "transmission"),
    "field": ("light", "field"),
    "contact": ("light", "contact"),
    "reciprocity": ("light", "reciprocity"),
    "logbook": ("records", "show"),
    "export": ("records", "export"),
    "backup": ("records", "backup"),
    "restore": ("records", "restore"),
    "replay": ("records", "replay"),
    "check": ("setup", "check"),
    "operators": ("setup", "operators"),
    "faults": ("setup", "faults"),
}


def renewed(asked: list[str]) -> list[str]:
    """The command line as it is written now; told on standard error where that differs."""
    name, rest = asked[0], asked[1:]
    if name in RENAMED:
        new = [*RENAMED[name], *rest]
    elif name in ("calibrate", "commission", "tidy"):
        new = {"calibrate": _calibrate, "commission": _commission, "tidy": _tidy}[name](rest)
    elif name == "lamps" and (not rest or (rest[0].startswith("--") and rest[0] != "--help")):
        new = _lamps(rest)
    else:
        return asked
    command = shlex.join(["sumlight", *new])
    told = _("sumlight: this is now written: {command}\nThe old spelling goes with the next version.", command=command)
    print(told, file=sys.stderr)
    return new


def _told(rest: list[str], *names: str) -> tuple[argparse.Namespace, list[str]]:
    """Values of some options, and the rest as it stands."""
    parser = argparse.ArgumentParser(add_help=False)
    for name in names:
        parser.add_argument(f"--{name}")
    return parser.parse_known_args(rest)


def _also(options: argparse.Namespace, *names: str) -> list[str]:
    return [part for name in names if (value := getattr(options, name)) for part in (f"--{name}", value)]


def _calibrate(rest: list[str]) -> list[str]:
    options, more = _told(rest, "recipe", "steady", "radiometer", "uncertainty", "bank")
    recipe = [options.recipe] if options.recipe else []
    if options.steady:
        return ["light", "steady", *recipe, "--seconds", options.steady, *more]
    if options.radiometer:
        return ["light", "radiometer", options.radiometer, *_also(options, "uncertainty", "bank"), *more]
    return ["light", "calibration", *recipe, *more]


def _commission(rest: list[str]) -> list[str]:
    options, more = _told(rest, "override")
    if options.override is None:
        return ["setup", "commission", *rest]
    return ["setup", "override", options.override, *more]


def _tidy(rest: list[str]) -> list[str]:
    if "--compact" in rest:
        return ["records", "compact", *(part for part in rest if part not in ("--compact", "--yes"))]
    return ["records", "tidy", *rest]


def _lamps(rest: list[str]) -> list[str]:
    options, more = _told(rest, "new", "fitted", "csv", "bank")
    if options.fitted:
        return ["lamps", "tubes", options.fitted, *more]
    if options.new:
        return ["lamps", "new", options.new, *_also(options, "bank"), *more]
    if options.csv:
        return ["records", "export", "lamps", options.csv, *more]
    return ["lamps", "show", *more]
