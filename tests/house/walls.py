"""What may be imported from where: lists of the allowed. Whatever is on none of them is refused."""

BOTTOM = ("sumlight.bounds", "sumlight.checkedfile", "sumlight.clock", "sumlight.quantity")

OURS = {
    "sumlight.light": (),
    "sumlight.craft": (),
    "sumlight.checkedfile": (),
    "sumlight.clock": (),
    "sumlight.bounds": (),
    "sumlight.quantity": ("sumlight.bounds",),
    "sumlight.protocol": ("sumlight.craft", "sumlight.bounds"),
    "sumlight.box": ("sumlight.light", "sumlight.checkedfile"),
    "sumlight.store": ("sumlight.light", "sumlight.craft", "sumlight.checkedfile"),
    "sumlight.twin": ("sumlight.box", "sumlight.light", *BOTTOM),
    "sumlight.control": (
        *("sumlight.box", "sumlight.store", "sumlight.protocol", "sumlight.light", "sumlight.craft"),
        *BOTTOM,
    ),
    "sumlight.cli": (
        *("sumlight.control", "sumlight.twin", "sumlight.box", "sumlight.store", "sumlight.protocol"),
        *("sumlight.light", "sumlight.craft", *BOTTOM),
    ),
    "sumlight_web": (
        "sumlight.protocol",
        "sumlight.light",
        "sumlight.craft",
        *BOTTOM,  # what a broken file is called, and the label of a copy
        "sumlight.store.recipe",
        "sumlight.store.recipes",
        "sumlight.store.rewriting",
        "sumlight.store.operators",  # who may operate: files of the page's own
        "sumlight.store.lamp_settings",  # read only: control writes it
        "sumlight.store.logbook.database",  # its errors
        "sumlight.store.logbook.reading",
        "sumlight.store.logbook.lamps",
        "sumlight.store.logbook.export",
        "sumlight.store.logbook.weekly_statistics",
        "sumlight.store.logbook.threshold_runs",
        "sumlight.store.maintenance.backup",  # a copy to download
    ),
}
"""For each package of ours, beside itself: other packages, or single modules of them."""

PURE = (
    *("bisect", "collections", "dataclasses", "datetime", "functools", "itertools", "math", "operator", "statistics"),
    "typing",
    "__future__",
)
"""What pure code takes from Python itself: no clock, no pins, no disk, no database, no socket."""

OTHERS = {
    "sumlight.light": (),
    "sumlight.craft": (),
    "sumlight.checkedfile": ("pydantic", "yaml"),
    "sumlight.clock": (),
    "sumlight.bounds": (),
    "sumlight.quantity": (),
    "sumlight.protocol": ("pydantic", "pydantic_core", "annotated_types", "typing_extensions"),
    "sumlight.box": ("gpiozero", "adafruit_as7341", "adafruit_extended_bus", "pydantic"),
    "sumlight.store": ("pydantic", "yaml", "ruamel"),
    "sumlight.twin": ("gpiozero", "pydantic"),
    "sumlight.control": ("gpiozero",),
    "sumlight.cli": ("rich",),
    "sumlight_web": ("flask", "jinja2", "markupsafe", "werkzeug", "waitress"),
}
"""Libraries that are not part of Python."""
