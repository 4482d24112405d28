"""The one blueprint that the modules of Light hang their routes on."""

from flask import Blueprint

blueprint = Blueprint("light", __name__, url_prefix="/light", template_folder="templates")

HIGHEST_ID = 2**53
"""Row numbers above this cannot be asked for; SQLite would fail on one beyond 64 bits."""

ID = f"<int(min=1, max={HIGHEST_ID}):exposure_id>"
"""A run's number within a route."""
