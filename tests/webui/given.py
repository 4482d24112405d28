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
    "/light/dose",
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

JOBS = ("/jobs/", "/jobs/new", "/jobs/3", "/jobs/panels/7", "/jobs/panels/7/sheet")
"""Every page of Jobs, of the fake control's job."""

STOCK = ("/stock/", "/stock/roll", "/stock/metal", "/stock/stencil", "/stock/5")
"""Every page of Stock."""

BATHS = (
    "/baths/",
    "/baths/new",
    "/baths/2",
    "/baths/mix/developer?powder=clear-crystals&volume_l=1&wt_percent=0.85",
    "/baths/mix/stripper",
    "/baths/mix/iron",
    "/baths/mix/persulfate?volume_l=1&g_per_l=250",
    "/baths/mix/peroxide?volume_l=1&bottle=11.9&acid=31&peroxide_wt_percent=1.8&acid_wt_percent=11",
    "/baths/etch-time",
    "/baths/waste",
    "/baths/waste?bath=iron&into=peroxide",
    "/baths/neutralise",
    "/baths/etch-time?metal=copper&bath=peroxide&thickness_um=100&sides=2&rate_um_min=10&load=0&open_cm2=100&volume_l=1",
)
"""Every page of Baths, some with their sums."""

ARTWORK = ("/artwork/",)
"""The page of Artwork; `art_folder.made_by_hand` puts something there."""
