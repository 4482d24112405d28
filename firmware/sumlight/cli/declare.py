"""Adds the options of each command to a parser. Each function imports its command: that is when it is needed."""

from argparse import ArgumentParser


def twin(parser: ArgumentParser) -> None:
    """See `cli.start`."""
    from sumlight.cli import start

    start.add_twin(parser)


def run(parser: ArgumentParser) -> None:
    """See `cli.start`."""
    from sumlight.cli import start

    start.add_run(parser)


def control(parser: ArgumentParser) -> None:
    """See `cli.control`."""
    from sumlight.cli import control

    control.add(parser)


def rest(parser: ArgumentParser) -> None:
    """See `cli.rest`."""
    from sumlight.cli import rest

    rest.add(parser)


def display(parser: ArgumentParser) -> None:
    """See `cli.display`."""
    from sumlight.cli import display

    display.add(parser)


def expose(parser: ArgumentParser) -> None:
    """See `cli.expose`."""
    from sumlight.cli import expose

    expose.add(parser)


def strip(parser: ArgumentParser) -> None:
    """See `cli.guided`."""
    from sumlight.cli import guided

    guided.add_strip(parser)


def tablet(parser: ArgumentParser) -> None:
    """See `cli.guided`."""
    from sumlight.cli import guided

    guided.add_tablet(parser)


def teach(parser: ArgumentParser) -> None:
    """See `cli.guided`."""
    from sumlight.cli import guided

    guided.add_teach(parser)


def list_recipes(parser: ArgumentParser) -> None:
    """See `cli.recipes`."""
    from sumlight.cli import recipes

    recipes.add_list(parser)


def show_recipe(parser: ArgumentParser) -> None:
    """See `cli.recipes`."""
    from sumlight.cli import recipes

    recipes.add_show(parser)


def new_recipe(parser: ArgumentParser) -> None:
    """See `cli.recipes`."""
    from sumlight.cli import recipes

    recipes.add_new(parser)


def put_recipe_away(parser: ArgumentParser) -> None:
    """See `cli.recipes`."""
    from sumlight.cli import recipes

    recipes.add_put_away(parser)


def take_recipe_back(parser: ArgumentParser) -> None:
    """See `cli.recipes`."""
    from sumlight.cli import recipes

    recipes.add_take_back(parser)


def shared_recipes(parser: ArgumentParser) -> None:
    """See `cli.sharing`."""
    from sumlight.cli import sharing

    sharing.add_shared(parser)


def adopt_recipe(parser: ArgumentParser) -> None:
    """See `cli.sharing`."""
    from sumlight.cli import sharing

    sharing.add_adopt(parser)


def share_recipe(parser: ArgumentParser) -> None:
    """See `cli.sharing`."""
    from sumlight.cli import sharing

    sharing.add_share(parser)


def scales(parser: ArgumentParser) -> None:
    """See `cli.scales`."""
    from sumlight.cli import scales

    scales.add_scales(parser)


def take_over(parser: ArgumentParser) -> None:
    """See `cli.scales`."""
    from sumlight.cli import scales

    scales.add_take_over(parser)


def check_recipes(parser: ArgumentParser) -> None:
    """See `cli.check`."""
    from sumlight.cli import check

    check.add_recipes(parser)


def calibration(parser: ArgumentParser) -> None:
    """See `cli.metrology`."""
    from sumlight.cli import metrology

    metrology.add_calibration(parser)


def steady(parser: ArgumentParser) -> None:
    """See `cli.metrology`."""
    from sumlight.cli import metrology

    metrology.add_steady(parser)


def radiometer(parser: ArgumentParser) -> None:
    """See `cli.metrology`."""
    from sumlight.cli import metrology

    metrology.add_radiometer(parser)


def self_check(parser: ArgumentParser) -> None:
    """See `cli.metrology`."""
    from sumlight.cli import metrology

    metrology.add_self_check(parser)


def transmission(parser: ArgumentParser) -> None:
    """See `cli.guided`."""
    from sumlight.cli import guided

    guided.add_transmission(parser)


def field(parser: ArgumentParser) -> None:
    """See `cli.guided`."""
    from sumlight.cli import guided

    guided.add_field(parser)


def contact(parser: ArgumentParser) -> None:
    """See `cli.calculators`."""
    from sumlight.cli import calculators

    calculators.add_contact(parser)


def reciprocity(parser: ArgumentParser) -> None:
    """See `cli.calculators`."""
    from sumlight.cli import calculators

    calculators.add_reciprocity(parser)


def show_lamps(parser: ArgumentParser) -> None:
    """See `cli.lamps`."""
    from sumlight.cli import lamps

    lamps.add_show(parser)


def new_lamps(parser: ArgumentParser) -> None:
    """See `cli.lamps`."""
    from sumlight.cli import lamps

    lamps.add_new(parser)


def tubes(parser: ArgumentParser) -> None:
    """See `cli.lamps`."""
    from sumlight.cli import lamps

    lamps.add_tubes(parser)


def recipe_results(parser: ArgumentParser) -> None:
    """See `cli.results`."""
    from sumlight.cli import results

    results.add_results(parser)


def check_artwork(parser: ArgumentParser) -> None:
    """See `cli.artwork`."""
    from sumlight.cli import artwork

    artwork.add_check(parser)


def clean_artwork(parser: ArgumentParser) -> None:
    """See `cli.artwork`."""
    from sumlight.cli import artwork

    artwork.add_clean(parser)


def predict_part(parser: ArgumentParser) -> None:
    """See `cli.artwork_etch`."""
    from sumlight.cli import artwork_etch

    artwork_etch.add_predict(parser)


def pair_artwork(parser: ArgumentParser) -> None:
    """See `cli.artwork_pair`."""
    from sumlight.cli import artwork_pair

    artwork_pair.add_pair(parser)


def compensate_artwork(parser: ArgumentParser) -> None:
    """See `cli.artwork_etch`."""
    from sumlight.cli import artwork_etch

    artwork_etch.add_compensate(parser)


def compare_artwork(parser: ArgumentParser) -> None:
    """See `cli.artwork_compare`."""
    from sumlight.cli import artwork_compare

    artwork_compare.add_compare(parser)


def learn_artwork(parser: ArgumentParser) -> None:
    """See `cli.artwork_learn`."""
    from sumlight.cli import artwork_learn

    artwork_learn.add_learn(parser)


def find_scanner(parser: ArgumentParser) -> None:
    """See `cli.artwork_compare`."""
    from sumlight.cli import artwork_compare

    artwork_compare.add_scanner(parser)


def show_records(parser: ArgumentParser) -> None:
    """See `cli.logbook`."""
    from sumlight.cli import logbook

    logbook.add_told(parser)


def export(parser: ArgumentParser) -> None:
    """See `cli.export`."""
    from sumlight.cli import export

    export.add(parser)


def put_signs(parser: ArgumentParser) -> None:
    """See `cli.findings`."""
    from sumlight.cli import findings

    findings.add_signs(parser)


def tell_why(parser: ArgumentParser) -> None:
    """See `cli.findings`."""
    from sumlight.cli import findings

    findings.add_why(parser)


def confirm_cause(parser: ArgumentParser) -> None:
    """See `cli.findings`."""
    from sumlight.cli import findings

    findings.add_cause(parser)


def past_faults(parser: ArgumentParser) -> None:
    """See `cli.pastfaults`."""
    from sumlight.cli import pastfaults

    pastfaults.add(parser)


def backup(parser: ArgumentParser) -> None:
    """See `cli.logbook`."""
    from sumlight.cli import logbook

    logbook.add_backup(parser)


def restore(parser: ArgumentParser) -> None:
    """See `cli.logbook`."""
    from sumlight.cli import logbook

    logbook.add_restore(parser)


def replay(parser: ArgumentParser) -> None:
    """See `cli.logbook`."""
    from sumlight.cli import logbook

    logbook.add_replay(parser)


def tidy(parser: ArgumentParser) -> None:
    """See `cli.logbook`."""
    from sumlight.cli import logbook

    logbook.add_tidy(parser)


def compact(parser: ArgumentParser) -> None:
    """See `cli.logbook`."""
    from sumlight.cli import logbook

    logbook.add_compact(parser)


def check(parser: ArgumentParser) -> None:
    """See `cli.check`."""
    from sumlight.cli import check

    check.add(parser)


def commission(parser: ArgumentParser) -> None:
    """See `cli.commission`."""
    from sumlight.cli import commission

    commission.add(parser)


def override(parser: ArgumentParser) -> None:
    """See `cli.commission`."""
    from sumlight.cli import commission

    commission.add_override(parser)


def operators(parser: ArgumentParser) -> None:
    """See `cli.operators`."""
    from sumlight.cli import operators

    operators.add(parser)


def faults(parser: ArgumentParser) -> None:
    """See `cli.faultlist`."""
    from sumlight.cli import faultlist

    faultlist.add(parser)


def completion(parser: ArgumentParser) -> None:
    """See `cli.completion`."""
    from sumlight.cli import completion

    completion.add(parser)


def manual(parser: ArgumentParser) -> None:
    """See `cli.manual`."""
    from sumlight.cli import manual

    manual.add(parser)


def publish(parser: ArgumentParser) -> None:
    """See `cli.fleet`."""
    from sumlight.cli import fleet

    fleet.add_publish(parser)


def collect(parser: ArgumentParser) -> None:
    """See `cli.fleet`."""
    from sumlight.cli import fleet

    fleet.add_collect(parser)


def fleet_rights(parser: ArgumentParser) -> None:
    """See `cli.fleet`."""
    from sumlight.cli import fleet

    fleet.add_rights(parser)


def shop(parser: ArgumentParser) -> None:
    """See `cli.fleet`."""
    from sumlight.cli import fleet

    fleet.add_shop(parser)


def fleet_dark(parser: ArgumentParser) -> None:
    """See `cli.fleet`."""
    from sumlight.cli import fleet

    fleet.add_dark(parser)


def fleet_demo(parser: ArgumentParser) -> None:
    """See `cli.fleet_demo`."""
    from sumlight.cli import fleet_demo

    fleet_demo.add(parser)
