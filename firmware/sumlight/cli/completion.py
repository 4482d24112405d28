"""`sumlight setup completion`: a script for bash that completes nouns, verbs and options, made from the commands."""

import argparse
from collections.abc import Iterator

SCRIPT = """\
# Completes sumlight in bash. For this shell: eval "$(sumlight setup completion)"
_sumlight() {{
    local now=${{COMP_WORDS[COMP_CWORD]}} options= words=
    case "$COMP_CWORD ${{COMP_WORDS[*]:1:COMP_CWORD-1}}" in
        "1 ") words="{nouns}" options="--help --version" ;;
{cases}
    esac
    [[ $now == -* ]] && words=$options
    mapfile -t COMPREPLY < <(compgen -W "$words" -- "$now")
}}
complete -o default -F _sumlight sumlight
"""


def add(command: argparse.ArgumentParser) -> None:
    """Declare the options."""
    command.set_defaults(carry_out=carry_out)


def carry_out(options: argparse.Namespace) -> int:
    """Print the script."""
    print(script(options.top), end="")
    return 0


def script(top: argparse.ArgumentParser) -> str:
    """The script for the whole command line; files are completed where nothing else fits."""
    nouns = choices(top)
    cases = []
    for name, noun in nouns.items():
        verbs = choices(noun)
        offered = noun.get_default("offered") or verbs
        cases.append(f'        "2 {name}") words="{" ".join(offered)}" options="--help" ;;')
        for verb, command in verbs.items():
            options, words = (" ".join(found) for found in (_options(command), _words(command)))
            cases.append(f'        *" {name} {verb}"|*" {name} {verb} "*) words="{words}" options="{options}" ;;')
    return SCRIPT.format(nouns=" ".join(nouns), cases="\n".join(cases))


def choices(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The parsers below one, by name, their options declared."""
    found: dict[str, argparse.ArgumentParser] = {}
    for action in parser._actions:
        if isinstance(action, argparse._SubParsersAction):
            found |= action.choices
    for below in found.values():
        below.declare()  # type: ignore[attr-defined]
    return found


def _options(parser: argparse.ArgumentParser) -> Iterator[str]:
    for action in parser._actions:
        yield from (option for option in action.option_strings if option.startswith("--"))


def _words(parser: argparse.ArgumentParser) -> Iterator[str]:
    for action in parser._actions:
        if action.choices and not action.option_strings:
            yield from map(str, action.choices)
