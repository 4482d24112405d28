"""A photo of a panel. The browser shrinks it and sends it in pieces, for no request here is large; it lies in the
page's own folder, one a panel, without what the camera wrote beside it."""

import shutil
from pathlib import Path

from flask import Response, jsonify, redirect, request, url_for
from werkzeug.exceptions import NotFound
from werkzeug.wrappers import Response as BaseResponse

from sumlight.store.files import replace_file
from sumlight_web.language import N_, _
from sumlight_web.logbook import reader
from sumlight_web.panels.blueprint import EXPOSURE, blueprint
from sumlight_web.panels.jpeg import LARGEST_BYTES, NoPictureError, without_metadata
from sumlight_web.services import services

PIECE_BYTES = 48 * 1024
SPARE_BYTES = 50_000_000
"""Room that must be left on the disk: control must be able to write on."""
NOT_KEPT = N_("The picture was not kept: {why}.")


def path_of(exposure_id: int) -> Path:
    """Where the photo of an exposure lies, if it has one."""
    return services().own / "photos" / f"{exposure_id}.jpg"


def has_photo(exposure_id: int) -> bool:
    """Whether there is one."""
    return path_of(exposure_id).is_file()


@blueprint.get(f"{EXPOSURE}/photo.jpg")
def photo(exposure_id: int) -> Response:
    """The picture."""
    try:
        return Response(path_of(exposure_id).read_bytes(), mimetype="image/jpeg")
    except OSError as error:
        raise NotFound(_("There is no photo of this panel.")) from error


@blueprint.post(f"{EXPOSURE}/photo")
def put_photo(exposure_id: int) -> tuple[Response, int]:
    """Take one piece; the `last` one makes the picture, or is told why it does not."""
    with reader() as logbook:
        if logbook is None or logbook.exposure(exposure_id) is None:
            raise NotFound(_("There is no exposure number {n} in the logbook.", n=exposure_id))
    piece, number = request.get_data(cache=False), request.args.get("piece", default=-1, type=int)
    path = path_of(exposure_id)
    part = path.with_suffix(".part")
    if not 0 <= number * PIECE_BYTES <= LARGEST_BYTES or not piece or len(piece) > PIECE_BYTES:
        return _no(_("A piece of the picture is missing. Send it again."), 400)
    try:
        path.parent.mkdir(mode=0o700, parents=True, exist_ok=True)
        if shutil.disk_usage(path.parent).free < SPARE_BYTES:
            return _no(_("There is no room on the card for a picture."), 507)
        if number and (not part.is_file() or part.stat().st_size != number * PIECE_BYTES):
            return _no(_("A piece of the picture is missing. Send it again."), 409)
        with part.open("ab" if number else "wb") as file:
            file.write(piece)
        if "last" not in request.args:
            return jsonify(taken=number), 200
        raw = part.read_bytes()
        part.unlink()
        replace_file(path, without_metadata(raw), mode=0o600)
    except NoPictureError as error:
        return _no(_(str(error)), 422)
    except OSError as error:
        return _no(_(NOT_KEPT, why=error.strerror or str(error)), 507)
    return jsonify(taken=number), 201


@blueprint.post(f"{EXPOSURE}/photo/remove")
def remove_photo(exposure_id: int) -> BaseResponse:
    """Take the picture away for good."""
    path_of(exposure_id).unlink(missing_ok=True)
    return redirect(url_for("panels.record", exposure_id=exposure_id), 303)


def _no(told: str, status: int) -> tuple[Response, int]:
    return jsonify(message=told), status
