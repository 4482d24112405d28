"""`sumlight fleet`: the processes and files of several boxes. Needs the extra `fleet`."""

import argparse
import contextlib
import signal
import threading
from collections.abc import Iterator
from pathlib import Path
from types import FrameType
from typing import TYPE_CHECKING

from sumlight.box.description import LOCAL_BROKERS, load_box
from sumlight.cli import options as shared
from sumlight.control.daemon import LOGBOOK, SOCKET
from sumlight.language import _

if TYPE_CHECKING:
    from sumlight.fleet.wire import Broker

HOST, SHOP_PORT = "127.0.0.1", 8766
DATABASE = "sqlite:///sumlight-fleet.sqlite"


@contextlib.contextmanager
def needing_fleet() -> Iterator[None]:
    """Say which extra is missing. Raises ValueError."""
    try:
        yield
    except ImportError as error:
        why = _("{library} is missing: pip install 'sumlight[fleet]'", library=error.name)
        raise ValueError(why) from error


def add_publish(command: argparse.ArgumentParser) -> None:
    """Declare the options of `publish`."""
    command.add_argument("--box", type=Path, required=True, metavar="FILE", help=_("box.yaml of this box"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_publish)


def add_collect(command: argparse.ArgumentParser) -> None:
    """Declare the options of `collect`."""
    _add_database(command)
    _add_broker(command)
    command.set_defaults(carry_out=_collect)


def add_dark(command: argparse.ArgumentParser) -> None:
    """Declare the options of `dark`."""
    command.add_argument("box_id", metavar="BOX", help=_("the box's name: fleet.box_id in its box.yaml"))
    command.add_argument("--key-file", type=Path, required=True, metavar="FILE", help=_("the key that this box knows"))
    command.add_argument("--user", required=True, metavar="NAME", help=_("who asks: your user name at the broker"))
    _add_broker(command)
    command.set_defaults(carry_out=_dark)


def add_shop(command: argparse.ArgumentParser) -> None:
    """Declare the options of `shop`."""
    _add_database(command)
    command.add_argument(
        "--port", type=int, default=SHOP_PORT, metavar="P", help=_("port of the page (default: %(default)s)")
    )
    command.add_argument(
        "--listen", default=HOST, metavar="ADDRESS", help=_("own address of the page; 0.0.0.0 for all (%(default)s)")
    )
    command.set_defaults(carry_out=_shop)


def add_rights(command: argparse.ArgumentParser) -> None:
    """Declare the options of `rights`."""
    command.add_argument(
        "--dark-from",
        action="append",
        default=[],
        metavar="NAME",
        help=_("a user of the broker who may ask boxes for dark; may be given again"),
    )
    command.set_defaults(carry_out=_rights)


def _add_broker(command: argparse.ArgumentParser) -> None:
    command.add_argument("--broker", default="127.0.0.1", metavar="HOST", help=_("where the broker is"))
    command.add_argument("--port", type=int, default=8883, metavar="P", help=_("the broker's port (%(default)s)"))
    command.add_argument("--ca-file", type=Path, metavar="FILE", help=_("the authority that signed its certificate"))
    command.add_argument("--password-file", type=Path, metavar="FILE", help=_("the password there"))


def _add_database(command: argparse.ArgumentParser) -> None:
    command.add_argument(
        "--database", default=DATABASE, metavar="URL", help=_("sqlite:///FILE or postgresql://… (%(default)s)")
    )


def _publish(options: argparse.Namespace) -> int:
    with needing_fleet():
        from sumlight.fleet.run import publish
    link = load_box(options.box).fleet
    if link is None:
        raise ValueError(_("{file} has no block fleet, so there is no broker to tell", file=options.box))
    publish(link, options.data, options.data / LOGBOOK, options.data / SOCKET, ended())
    return 0


def _collect(options: argparse.Namespace) -> int:
    with needing_fleet():
        from sqlalchemy.exc import SQLAlchemyError

        from sumlight.fleet.run import collect
        from sumlight.fleet.topics import COLLECTOR
    try:
        collect(_broker(options, COLLECTOR), options.database, ended())
    except SQLAlchemyError as error:
        raise ValueError(_("{database}: {why}", database=options.database, why=error)) from error
    return 0


def _shop(options: argparse.Namespace) -> int:
    """The collector alone makes the tables: two who did it at once would be in each other's way."""
    with needing_fleet():
        from sqlalchemy.exc import SQLAlchemyError

        from sumlight.fleet.collector.tables import connected
        from sumlight.fleet.shop.page import serve
    try:
        engine = connected(options.database)
    except SQLAlchemyError as error:
        raise ValueError(_("{database}: {why}", database=options.database, why=error)) from error
    stop = ended()
    with serve(engine, options.listen, options.port) as server:
        threading.Thread(target=server.serve_forever, daemon=True).start()
        print(f"http://{options.listen}:{options.port}", flush=True)
        stop.wait()
        server.shutdown()
    engine.dispose()
    return 0


def _dark(options: argparse.Namespace) -> int:
    """0 if the box says that its controller took it, 1 if not or if nothing is heard."""
    with needing_fleet():
        from sumlight.fleet.dark import key_of
        from sumlight.fleet.run import send_dark
    if send_dark(_broker(options, options.user), key_of(options.key_file), options.box_id):
        print(_("{box}: the controller took it", box=options.box_id))
        return 0
    print(_("{box}: nothing was heard. Go there: this is not an emergency stop.", box=options.box_id))
    return 1


def _broker(options: argparse.Namespace, user: str) -> "Broker":
    from sumlight.fleet.wire import Broker

    if options.ca_file is None and options.broker not in LOCAL_BROKERS:
        raise ValueError(_("--ca-file is missing: the password would go over the network for all to read"))
    return Broker(options.broker, options.port, user, options.password_file, options.ca_file)


def _rights(options: argparse.Namespace) -> int:
    from sumlight.fleet.topics import rights

    print(rights(dark_senders=tuple(options.dark_from)), end="")
    return 0


def ended() -> threading.Event:
    """Set as soon as somebody ends this process."""
    stop = threading.Event()

    def told(_number: int, _frame: FrameType | None) -> None:
        stop.set()

    for number in (signal.SIGTERM, signal.SIGINT, signal.SIGHUP):
        signal.signal(number, told)
    return stop
