"""`sumlight job`: new jobs, what is due on each panel, a panel's card, and notes on its steps."""

import argparse
from typing import Any

from sumlight.cli import options as shared
from sumlight.cli.answer import Answer
from sumlight.control.daemon import SOCKET
from sumlight.craft.chemistry import hazards
from sumlight.craft.jobs import plans
from sumlight.language import N_, _, text_of
from sumlight.protocol.client import ControlClient
from sumlight.protocol.job_commands import JobNew, JobStep

ACTS = ("begin", "clear", "done", "skip", "wrong", "again")
STATES = {"begun": N_("begun"), "done": N_("done"), "skipped": N_("skipped"), "wrong": N_("went wrong")}
OUTCOMES = {"finished": N_("finished"), "given_up": N_("given up")}


def add_new(command: argparse.ArgumentParser) -> None:
    """Declare the options of `new`."""
    command.description = _("Begin a job. What is left out is as in the last one.")
    command.add_argument("recipe", metavar="RECIPE", nargs="?", default="", help=_("which recipe lights it"))
    command.add_argument("--plan", default="", choices=tuple(plans.PLANS), metavar="PLAN", help=", ".join(plans.PLANS))
    command.add_argument("--metal", default="", choices=hazards.METALS, metavar="METAL", help="brass, copper, steel …")
    shared.add_amount(command, "--thickness", JobNew, "thickness_um", "µm", metavar="T", help="150um, 0.15mm, 6mil")
    shared.add_amount(command, "--wanted", JobNew, "wanted", metavar="N", help=_("how many panels (default: 1)"))
    command.add_argument("--artwork", default="", metavar="TEXT", help=_("a word to recognise it by"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_new)


def add_list(command: argparse.ArgumentParser) -> None:
    """Declare the options of `list`."""
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_list)


def add_show(command: argparse.ArgumentParser) -> None:
    """Declare the options of `show`."""
    command.add_argument("panel", metavar="PANEL", help=_("its label, such as 'blue-38 · 7'"))
    command.add_argument("--all", action="store_true", help=_("every step, not only the one that is due"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_show)


def add_step(command: argparse.ArgumentParser) -> None:
    """Declare the options of `step`."""
    command.add_argument("panel", metavar="PANEL", help=_("its label"))
    command.add_argument("act", metavar="ACT", choices=ACTS, help=", ".join(ACTS))
    command.add_argument("--step", type=int, metavar="N", help=_("number of the step (default: the one that is due)"))
    command.add_argument("--word", default="", metavar="TEXT", help=_("a note to keep with it"))
    shared.add_amount(command, "--warmth", JobStep, "bath_c", "°C", metavar="T", help=_("of the bath: 22C"))
    shared.add_data(command, twin=False)
    command.set_defaults(carry_out=_step)


def _new(options: argparse.Namespace) -> Answer:
    asked = {"recipe": options.recipe, "plan": options.plan, "metal": options.metal, "artwork": options.artwork}
    asked |= {"wanted": options.wanted, "thickness_um": options.thickness}
    with ControlClient(options.data / SOCKET) as client:
        made = client.ask("job_new", **asked)
    return Answer(made, [_("job {number}: {labels}", number=made["job_id"], labels=", ".join(made["labels"]))])


def _list(options: argparse.Namespace) -> Answer:
    with ControlClient(options.data / SOCKET) as client:
        told = client.ask("jobs")
    lines = []
    for job in told["jobs"]:
        what = text_of(job["artwork"] or job["plan_name"])
        lines.append(
            _("job {number}: {what}, {recipe}", number=job["job_id"], what=what, recipe=job["numbers"]["recipe"])
        )
        lines += [f"  {panel['label']}: {_due(panel)}" for panel in job["panels"] if panel["outcome"] is None]
    lines += _rings(told["timers"], "panel")
    return Answer(told, lines or [_("No job is open.")])


def _due(panel: dict[str, Any]) -> str:
    if not panel["title"]:
        return _("nothing is due")
    state = f" ({_(STATES[panel['state']])})" if panel["state"] else ""
    where = {"number": panel["gone"] + 1, "count": panel["of"], "title": panel["title"]}
    return _("step {number} of {count}, {title}", **where) + state


def _rings(timers: list[dict[str, Any]], name: str) -> list[str]:
    """Timers that ring, called by what is there under `name`, or by their title."""
    return [f"! {text_of(each[name] or each['title'])}: {text_of(each['rings'])}" for each in timers if each["rings"]]


def _show(options: argparse.Namespace) -> Answer:
    with ControlClient(options.data / SOCKET) as client:
        card = client.ask("card", panel_id=_panel_of(client, options.panel))
    return Answer(card, _told(card, everything=options.all))


def _step(options: argparse.Namespace) -> Answer:
    with ControlClient(options.data / SOCKET) as client:
        panel_id = _panel_of(client, options.panel)
        step_id = options.step
        if step_id is None:
            step_id = client.ask("card", panel_id=panel_id)["step_id"]
        if step_id is None:
            raise ValueError(_("nothing is due on '{panel}'; name a step by --step", panel=options.panel))
        asked = {"act": options.act, "word": options.word, "bath_c": options.warmth}
        card = client.ask("job_step", panel_id=panel_id, step_id=step_id, **asked)
    return Answer(card, _told(card, everything=False))


def _panel_of(client: ControlClient, label: str) -> int:
    """The number of a panel in an open job. Raises ValueError."""
    panels = [panel for job in client.ask("jobs")["jobs"] for panel in job["panels"] if panel["outcome"] is None]
    for panel in reversed(panels):
        if panel["label"] == label:
            return int(panel["panel_id"])
    known = ", ".join(f"'{panel['label']}'" for panel in panels) or _("none")
    raise ValueError(_("no panel of an open job is called '{label}'; there are: {known}", label=label, known=known))


def _told(card: dict[str, Any], *, everything: bool) -> list[str]:
    if "steps" not in card or card["outcome"] is not None:
        return [f"{card['label']}: {_(OUTCOMES[card['outcome']])}"]
    lines = [f"{card['label']}: {_due(card)}"]
    for number, step in enumerate(card["steps"], 1):
        if step["step_id"] == card["step_id"]:
            lines += [f"! {text_of(caution)}" for caution in step["cautions"]]
            lines += [step["sentence"], *step["more"]]
        elif everything:
            state = _(STATES[step["state"]]) if step["state"] else _("open")
            lines.append(f"{number:2}. [{step['step_id']}] {text_of(step['title'])}: {state}")
    return lines + _rings(card["timers"], "title")
