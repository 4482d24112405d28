"""The blueprint that the pages of Box share."""

from flask import Blueprint

blueprint = Blueprint("box", __name__, url_prefix="/box", template_folder="templates")
