"""The blueprint that every part of Panels hangs its routes on."""

from flask import Blueprint

blueprint = Blueprint("panels", __name__, url_prefix="/panels", template_folder="templates")

HIGHEST_ID = 2**53
"""Row numbers above this cannot be asked for; SQLite would fail on one beyond 64 bits."""

EXPOSURE = f"/<int(max={HIGHEST_ID}):exposure_id>"
"""The number of an exposure within a route."""
