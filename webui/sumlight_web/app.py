"""The Flask application: pages and guards."""

from flask import Flask
from werkzeug.exceptions import HTTPException

from sumlight.protocol.press import FIRST_LEG
from sumlight.protocol.snapshot import OF_LIGHT, WITHOUT_PANEL
from sumlight.store.operators import access_folder
from sumlight.store.recipes import RecipeStore
from sumlight_web import choices, guard, language, live, offline, scale, seen, texts, words
from sumlight_web.access import gate
from sumlight_web.access import views as access
from sumlight_web.access.backoff import Backoff
from sumlight_web.access.operators import OperatorStore
from sumlight_web.access.sessions import SessionKeeper
from sumlight_web.artwork import views as artwork
from sumlight_web.artwork.worktable import ArtworkDesk
from sumlight_web.bar.act import in_box_units, start_about, start_trouble, start_words
from sumlight_web.bar.offers import OfferKeeper
from sumlight_web.baths import inuse, neutralising
from sumlight_web.baths import views as baths
from sumlight_web.bench import views as bench
from sumlight_web.bench.view import current_side
from sumlight_web.box import views as box
from sumlight_web.errors import answer_error
from sumlight_web.help import views as manual
from sumlight_web.hosts import FreshAddresses
from sumlight_web.inpage import HOLD, STYLE
from sumlight_web.jobs import views as jobs
from sumlight_web.lamps import views as lamps
from sumlight_web.light import views as light
from sumlight_web.light.places import PlacesKeeper
from sumlight_web.link import ControlLink, SnapshotWatch
from sumlight_web.panels import export, verdicts
from sumlight_web.panels import views as panels
from sumlight_web.recipes import results, scales, shared, versions
from sumlight_web.recipes import views as recipes
from sumlight_web.services import AppServices, PageConfig, services, usable_recipes
from sumlight_web.stock import views as stock
from sumlight_web.stream import StreamHall


def create_app(config: PageConfig) -> Flask:
    """Build the application and start its watch on control; `app.extensions["sumlight"].close()` ends it."""
    app = Flask(__name__)
    config.own.mkdir(mode=0o700, parents=True, exist_ok=True)
    guard.install(app, config.trusted_hosts)
    choices.install(app)
    folder = access_folder(config.data)
    gate.install(app, gate.Access(OperatorStore(folder), SessionKeeper(folder), Backoff()))
    link, watch = ControlLink(config.socket), SnapshotWatch(config.socket)
    shelf, logbook = RecipeStore(config.data / "recipes"), config.data / "logbook.sqlite"
    offers = OfferKeeper(shelf, logbook)
    hall = StreamHall(
        watch, link, app.jinja_env, offers, PlacesKeeper(logbook), config.stream_limit, config.stream_life_s
    )
    app.extensions["sumlight"] = AppServices(
        link, watch, hall, shelf, logbook, ArtworkDesk(config.own / "artwork", watch), config.shared
    )
    app.jinja_env.globals.update(words=words, scale_now=scale, _=language._, n_=language.n_)
    app.jinja_env.globals.update(
        text_of=texts.text_of, language_of=texts.language_of, fault_title=texts.fault_title, current_side=current_side
    )
    app.jinja_env.globals.update(
        start_words=start_words, start_about=start_about, start_trouble=start_trouble, in_box_units=in_box_units
    )
    app.jinja_env.globals.update(sheet=STYLE, hold=HOLD)
    app.jinja_env.globals.update(state_number=seen.state_number, usable_recipes=usable_recipes, first_leg=FIRST_LEG)
    app.jinja_env.globals.update(without_panel=WITHOUT_PANEL, faults_of_light=OF_LIGHT)
    views = (
        bench,
        live,
        offline,
        jobs,
        recipes,
        scales,
        versions,
        shared,
        results,
        panels,
        verdicts,
        export,
        light,
        lamps,
        baths,
        inuse,
        neutralising,
        stock,
        artwork,
        box,
        access,
        manual,
    )
    for pages in views:
        app.register_blueprint(pages.blueprint)
    app.context_processor(_page_frame)
    app.register_error_handler(HTTPException, answer_error)
    app.wsgi_app = FreshAddresses(app, app.wsgi_app)  # type: ignore[method-assign]
    watch.start()
    return app


def _page_frame() -> dict[str, object]:
    """What every page shows around its own content."""
    snapshot = services().watch.latest().snapshot
    return {
        "theme": choices.theme(),
        "reader": language.reader(),
        "languages": language.LANGUAGES,
        "visitor": gate.visitor(),
        "bar": services().hall.frames.current(live.viewer_of_request()),
        "dark_lost": f"{bench.dark_lost()} {bench.dark_lost_remedy()}",
        "dark_slow": f"{bench.dark_slow()} {bench.dark_lost_remedy()}",
        "box_name": snapshot["box"] if snapshot else "",
        "zone": words.zone(),
        "simulated": bool(snapshot and snapshot["simulated"]),
    }
