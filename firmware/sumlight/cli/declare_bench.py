"""Declares the options of the bench: jobs, stock, baths. As in `declare`, a command is imported when it runs."""

from argparse import ArgumentParser


def new_job(parser: ArgumentParser) -> None:
    """See `cli.job`."""
    from sumlight.cli import job

    job.add_new(parser)


def list_jobs(parser: ArgumentParser) -> None:
    """See `cli.job`."""
    from sumlight.cli import job

    job.add_list(parser)


def show_card(parser: ArgumentParser) -> None:
    """See `cli.job`."""
    from sumlight.cli import job

    job.add_show(parser)


def note_step(parser: ArgumentParser) -> None:
    """See `cli.job`."""
    from sumlight.cli import job

    job.add_step(parser)


def share_job(parser: ArgumentParser) -> None:
    """See `cli.jobsharing`."""
    from sumlight.cli import jobsharing

    jobsharing.add_share(parser)


def adopt_job(parser: ArgumentParser) -> None:
    """See `cli.jobsharing`."""
    from sumlight.cli import jobsharing

    jobsharing.add_adopt(parser)


def list_stock(parser: ArgumentParser) -> None:
    """See `cli.stock`."""
    from sumlight.cli import stock

    stock.add_list(parser)


def new_roll(parser: ArgumentParser) -> None:
    """See `cli.stock`."""
    from sumlight.cli import stock

    stock.add_roll(parser)


def new_metal(parser: ArgumentParser) -> None:
    """See `cli.stock`."""
    from sumlight.cli import stock

    stock.add_metal(parser)


def new_stencil(parser: ArgumentParser) -> None:
    """See `cli.stock`."""
    from sumlight.cli import stock

    stock.add_stencil(parser)


def note_stock(parser: ArgumentParser) -> None:
    """See `cli.stock`."""
    from sumlight.cli import stock

    stock.add_note(parser)


def end_stock(parser: ArgumentParser) -> None:
    """See `cli.stock`."""
    from sumlight.cli import stock

    stock.add_end(parser)


def new_bath(parser: ArgumentParser) -> None:
    """See `cli.baths`."""
    from sumlight.cli import baths

    baths.add_new(parser)


def list_baths(parser: ArgumentParser) -> None:
    """See `cli.baths`."""
    from sumlight.cli import baths

    baths.add_list(parser)


def bath_panel(parser: ArgumentParser) -> None:
    """See `cli.baths`."""
    from sumlight.cli import baths

    baths.add_panel(parser)


def mix(parser: ArgumentParser) -> None:
    """See `cli.bath`."""
    from sumlight.cli import bath

    bath.add_mix(parser)


def dwell(parser: ArgumentParser) -> None:
    """See `cli.bath`."""
    from sumlight.cli import bath

    bath.add_dwell(parser)


def etch_time(parser: ArgumentParser) -> None:
    """See `cli.etch`."""
    from sumlight.cli import etch

    etch.add_time(parser)


def compensate(parser: ArgumentParser) -> None:
    """See `cli.etch`."""
    from sumlight.cli import etch

    etch.add_compensate(parser)


def smallest(parser: ArgumentParser) -> None:
    """See `cli.etch`."""
    from sumlight.cli import etch

    etch.add_smallest(parser)


def meet(parser: ArgumentParser) -> None:
    """See `cli.bath`."""
    from sumlight.cli import bath

    bath.add_meet(parser)


def waste(parser: ArgumentParser) -> None:
    """See `cli.bath`."""
    from sumlight.cli import bath

    bath.add_waste(parser)


def neutralise(parser: ArgumentParser) -> None:
    """See `cli.bath`."""
    from sumlight.cli import bath

    bath.add_neutralise(parser)
