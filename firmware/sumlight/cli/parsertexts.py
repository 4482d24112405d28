"""What argparse says by itself, for the catalogue of texts; it looks these up in the process's own domain.

`cli.main` points that domain at our catalogue. Nobody reads the tuple at run time: the tests compare it with argparse.
"""

from sumlight.language import N_

TEXTS = (
    N_("usage: "),
    N_("options"),
    N_("positional arguments"),
    N_("show this help message and exit"),
    N_("%(prog)s: error: %(message)s\n"),
    N_("argument %(argument_name)s: %(message)s"),
    N_("the following arguments are required: %s"),
    N_("one of the arguments %s is required"),
    N_("unrecognized arguments: %s"),
    N_("ambiguous option: %(option)s could match %(matches)s"),
    N_("invalid choice: %(value)r (choose from %(choices)s)"),
    N_("invalid %(type)s value: %(value)r"),
    N_("expected one argument"),
    N_("expected at most one argument"),
    N_("expected at least one argument"),
    N_("not allowed with argument %s"),
    N_("unknown parser %(parser_name)r (choices: %(choices)s)"),
    N_("ignored explicit argument %r"),
)
