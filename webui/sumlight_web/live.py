"""Routes of the live state for scripts: server-sent events, and the same as one JSON object."""

from flask import Blueprint, Response, jsonify, request
from werkzeug.exceptions import ServiceUnavailable

from sumlight_web.access.gate import visitor
from sumlight_web.bench.view import live_points
from sumlight_web.language import _, reader
from sumlight_web.services import services
from sumlight_web.stream import StreamHall, Viewer, bar_object, fresh, state_object

blueprint = Blueprint("stream", __name__)


def viewer_of_request() -> Viewer:
    """The kind of viewer who sent the present request."""
    return Viewer(reader(), visitor().may_operate)


def _after() -> str:
    return (request.headers.get("Last-Event-ID") or request.args.get("after", ""))[:60]


@blueprint.get("/stream")
def stream() -> Response:
    """The live state as server-sent events; 503 when all places are taken, for which scripts fall back to polling."""
    if request.method == "HEAD":
        return Response(mimetype="text/event-stream")
    hall: StreamHall = services().hall
    leave = hall.enter()
    if leave is None:
        raise ServiceUnavailable(_("All live places are taken. This page now asks once a second instead."))
    gone = request.environ.get("waitress.client_disconnected", lambda: False)
    response = Response(hall.events(viewer_of_request(), _after(), gone), mimetype="text/event-stream")
    response.call_on_close(leave)
    return response


@blueprint.get("/state.json")
def state() -> Response:
    """The live state once, for scripts without a stream."""
    hall: StreamHall = services().hall
    frame = hall.frames.current(viewer_of_request())
    points = hall.backfill(_after())
    points += fresh(live_points(frame.latest), points)
    return jsonify(state_object(frame, None, points))


@blueprint.get("/bar.json")
def bar() -> Response:
    """The bar once, for the pages that have no other news of the box."""
    hall: StreamHall = services().hall
    return jsonify(bar_object(hall.frames.current(viewer_of_request())))
