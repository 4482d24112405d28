"""What the tests of the page take as given."""

ORIGIN = {"Origin": "http://localhost"}
"""What a browser sends along with a form of this page."""

BLUE = """\
resist: Invented film 38
thickness_um: 38.0
sides: one
dose_mj_cm2: 60.0
transmission:
  a: 0.82
time_guard_s: 300.0
hold_s: 900.0
interruptions:
  forgiven: 2
  longest_gap_s: 120.0
"""

LIGHT = (
    "/light/",
    "/light/tablet",
    "/light/radiometer",
    "/light/teach",
    "/light/self-check",
    "/light/strip",
    "/light/sheets",
    "/light/window",
    "/light/field",
    "/light/contact",
    "/light/reciprocity",
)
"""Every page of Light that needs nothing chosen before."""
