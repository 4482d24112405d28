"""What may be imported from where: lists of the allowed. Whatever is on none of them is refused."""

BOTTOM = (
    *("sumlight.bounds", "sumlight.checkedfile", "sumlight.clock", "sumlight.days", "sumlight.quantity"),
    "sumlight.text",
)

OURS = {
    "sumlight.light": ("sumlight.text",),
    "sumlight.craft": ("sumlight.text",),
    "sumlight.artwork": ("sumlight.craft", "sumlight.text"),
    "sumlight.checkedfile": ("sumlight.text",),
    "sumlight.clock": (),
    "sumlight.bounds": ("sumlight.text",),
    "sumlight.text": (),
    "sumlight.language": ("sumlight.text",),
    "sumlight.quantity": ("sumlight.bounds", "sumlight.text"),
    "sumlight.days": ("sumlight.text",),
    "sumlight.protocol": ("sumlight.craft", "sumlight.bounds", "sumlight.text"),
    "sumlight.box": ("sumlight.light", "sumlight.checkedfile", "sumlight.text"),
    "sumlight.store": ("sumlight.light", "sumlight.craft", "sumlight.checkedfile", "sumlight.text"),
    "sumlight.manual": ("sumlight.box", "sumlight.store", "sumlight.protocol", "sumlight.craft", *BOTTOM),
    "sumlight.twin": ("sumlight.box", "sumlight.light", *BOTTOM),
    "sumlight.control": (
        *("sumlight.box", "sumlight.store", "sumlight.protocol", "sumlight.light", "sumlight.craft"),
        *BOTTOM,
    ),
    "sumlight.fleet": (
        *("sumlight.box", "sumlight.store", "sumlight.protocol", "sumlight.light", "sumlight.craft"),
        *("sumlight.language", "sumlight.clock", "sumlight.text"),
    ),
    "sumlight.cli": (
        *(
            "sumlight.artwork",
            "sumlight.control",
            "sumlight.fleet",
            "sumlight.twin",
            "sumlight.box",
            "sumlight.store",
            "sumlight.protocol",
        ),
        *("sumlight.manual", "sumlight.light", "sumlight.craft", "sumlight.language", *BOTTOM),
    ),
    "sumlight_web": (
        "sumlight.language",
        "sumlight.manual",
        "sumlight.protocol",
        "sumlight.light",
        "sumlight.craft",
        *BOTTOM,  # what a broken file is called, and the label of a copy
        "sumlight.store.new_recipe",
        "sumlight.store.recipe",
        "sumlight.store.recipes",
        "sumlight.store.rewriting",
        "sumlight.store.sharing",  # recipes of several boxes, one at a time
        "sumlight.store.lamplight",
        "sumlight.store.worktree",  # what git calls a version of one
        "sumlight.store.files",  # photos of panels: files of the page's own
        "sumlight.store.operators",  # who may operate: files of the page's own
        "sumlight.store.lamp_settings",  # read only: control writes it
        "sumlight.store.logbook.database",  # its errors
        "sumlight.store.logbook.reading",
        "sumlight.store.logbook.findings",
        "sumlight.store.logbook.labels",  # what the next panel is called
        "sumlight.store.logbook.lamps",
        "sumlight.store.logbook.export",
        "sumlight.store.logbook.results",
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
    "sumlight.artwork": ("numpy", "cv2", "PIL", "pypdfium2", "resvg_py", "gerbonara"),
    "sumlight.checkedfile": ("pydantic", "yaml"),
    "sumlight.clock": (),
    "sumlight.bounds": (),
    "sumlight.text": ("pydantic_core",),
    "sumlight.language": (),
    "sumlight.quantity": (),
    "sumlight.days": (),
    "sumlight.protocol": ("pydantic", "pydantic_core", "annotated_types", "typing_extensions"),
    "sumlight.box": (
        "gpiozero",
        "adafruit_as7331",
        "adafruit_as7341",
        "adafruit_mcp9808",
        "adafruit_extended_bus",
        "pydantic",
    ),
    "sumlight.store": ("pydantic", "yaml", "ruamel"),
    "sumlight.manual": ("pydantic",),
    "sumlight.twin": ("gpiozero", "pydantic"),
    "sumlight.control": ("gpiozero",),
    "sumlight.fleet": ("alembic", "paho", "prometheus_client", "pydantic", "sqlalchemy"),
    "sumlight.cli": ("rich", "sqlalchemy", "cv2", "PIL", "pypdfium2", "resvg_py"),
    "sumlight_web": ("flask", "jinja2", "markdown_it", "markupsafe", "segno", "werkzeug", "waitress"),
}
"""Libraries that are not part of Python."""
