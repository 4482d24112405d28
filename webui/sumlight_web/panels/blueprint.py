"""The blueprint that every part of Panels hangs its routes on."""

from flask import Blueprint

from sumlight.protocol.fields import LARGEST_ID

blueprint = Blueprint("panels", __name__, url_prefix="/panels", template_folder="templates")

EXPOSURE = f"/<int(max={LARGEST_ID}):exposure_id>"
"""The number of an exposure within a route."""
