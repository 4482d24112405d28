"""`sumlight artwork learn`: from comparisons to what this bench does, and a proposal of what to draw next."""

import argparse
import json
from dataclasses import asdict
from pathlib import Path

from sumlight.cli import typed
from sumlight.cli.answer import Answer
from sumlight.craft.etching.compensation import WANTED_AT
from sumlight.craft.etching.learning import WHAT, Learned, Seen, learn, proposal, sentences
from sumlight.language import _
from sumlight.text.message import say


def add_learn(command: argparse.ArgumentParser) -> None:
    """Declare the options of `learn`."""
    command.add_argument(
        "seen",
        metavar="WHAT=GROWTH",
        nargs="*",
        type=_seen,
        help=_("film, resist, panel, waist or surface, with µm at each edge or a file of compare --json: film=12um"),
    )
    command.add_argument("--thickness", type=typed.of("µm"), required=True, metavar="T", help=_("150um, 0.15mm, 6mil"))
    command.add_argument("--at", choices=WANTED_AT, default="waist", metavar="W", help=_("waist or surface"))
    command.set_defaults(carry_out=_learn)


def _seen(text: str) -> tuple[str, float]:
    """What was compared, and by how much openings grew."""
    what, equals, value = text.partition("=")
    if not equals or what not in WHAT:
        told = _(
            "'{text}' is no comparison; write film=, resist=, panel=, waist= or surface= and µm or a file", text=text
        )
        raise argparse.ArgumentTypeError(told)
    if not value.endswith(".json"):
        return what, typed.of("µm")(value)
    try:
        return what, float(json.loads(Path(value).read_text(encoding="utf-8"))["bias"]["mean_um"])
    except OSError as error:
        raise argparse.ArgumentTypeError(str(error)) from None
    except (ValueError, KeyError, TypeError):
        raise argparse.ArgumentTypeError(say("art_learn_file", name=value)) from None


def _learn(options: argparse.Namespace) -> Answer:
    seen = [Seen(what, growth, options.thickness if what in WANTED_AT else 0.0) for what, growth in options.seen]
    done = learn(seen, thickness_um=options.thickness, wanted_at=options.at)
    use = proposed_options(done, options.thickness, options.at)
    lines = [] if seen else [say("art_learn_guess")]
    lines += [*sentences(done, options.thickness, options.at), say("art_propose_use", options=use)]
    return Answer(asdict(done) | {"options": use}, lines)


def proposed_options(done: Learned, thickness_um: float, at: str) -> str:
    """What to give `compensate`, so that it draws what is proposed: what factor and k leave goes into the bias."""
    use = proposal(done, thickness_um, at)
    # Four decimals: with three, a number could mean thousands.
    words = {
        "--thickness": f"{thickness_um:.4f}um",
        "--factor": f"{use.factor:.4f}",
        "--over-etch": f"{use.over_etch:.4f}",
        "--at": at,
        "--bias": f"{use.bias_um:.1f}um",
    }
    return " ".join(f"{name} {value}" for name, value in words.items())
