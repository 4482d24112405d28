"""The one blueprint that the modules of Light hang their routes on."""

from flask import Blueprint

from sumlight.protocol.fields import LARGEST_ID

blueprint = Blueprint("light", __name__, url_prefix="/light", template_folder="templates")

ID = f"<int(min=1, max={LARGEST_ID}):exposure_id>"
"""A run's number within a route."""
