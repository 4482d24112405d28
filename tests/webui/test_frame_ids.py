"""Nothing on a page takes over the id, the key or the place of *Lamps off* or of the act that lights."""

import re
from pathlib import Path

import pytest

import sumlight_web
from sumlight.manual.topics import topics
from sumlight_web.forms import Input
from sumlight_web.language import LANGUAGES

WEB = Path(sumlight_web.__file__).parent
FRAME = {WEB / "templates" / "base.html", WEB / "templates" / "bar" / "_bar.html"}
ALONE = WEB / "templates" / "offline.html"
"""A page without the frame; it has a *Lamps off* of its own."""

ID = re.compile(r'\bid="([^"]*)"')
OURS = {name for file in FRAME for name in ID.findall(file.read_text(encoding="utf-8"))}
SCRIPTS = ("hold.js", "commands.js", "bar.js", "reach.js")
"""Run on every page; what they look for by its id alone is theirs, too."""

SOUGHT = {
    name
    for script in SCRIPTS
    for name in re.findall(r'getElementById\("([^"]+)"\)', (WEB / "static" / script).read_text(encoding="utf-8"))
}
MADE_OF = {"{{ each.html_id }}": Input("dark", "").html_id, "{{ id }}": "f-word-"}
"""What stands for a whole id: forms put a prefix of their own first, and the page of faults sets one beside it."""

OF_THE_MANUAL = "{{ entry.name }}"


def templates() -> list[Path]:
    """Of all that stands inside the frame."""
    return [file for file in WEB.rglob("*.html") if file not in FRAME and file != ALONE]


def test_no_page_has_an_id_of_the_frame() -> None:
    """Written out, or begun with what could become one."""
    assert {"dark", "act", "light", "bar", "told", "answer"} <= OURS
    found = [(file, name) for file in templates() for name in ID.findall(file.read_text(encoding="utf-8"))]
    assert len(found) > 50
    for file, name in found:
        for made, example in MADE_OF.items():
            name = name.replace(made, example)
        begins, value, _ = name.partition("{{")
        if not value:
            assert name not in OURS, (file.name, name)
        elif name != OF_THE_MANUAL:
            assert begins, (file.name, name)
            assert not any(ours.startswith(begins) for ours in OURS), (file.name, name)


@pytest.mark.parametrize("language", LANGUAGES)
def test_no_entry_of_the_manual_has_an_id_of_the_frame(language: str) -> None:
    """Its name is the id of its section, also while the bar shows an act that the other tests of Help never see."""
    names = {entry.name for topic in topics(language) for entry in topic.entries}
    assert len(names) > 100
    assert {"bar", "answer", "awake"} <= SOUGHT
    assert not names & (OURS | SOUGHT)


def test_esc_and_the_place_of_lamps_off_belong_to_the_frame() -> None:
    """Only the frame's script and that of the page without a frame hear Esc; nothing is laid over the bar."""
    for file in WEB.rglob("static/*.js"):
        heard = "Escape" in file.read_text(encoding="utf-8")
        assert heard == (file.name in ("hold.js", "offline.js")), file.name
    for file in templates():
        text = file.read_text(encoding="utf-8")
        assert not re.search(r'accesskey|aria-keyshortcuts|<dialog|popover|data-command="dark"', text), file.name


def test_a_script_that_sent_a_file_empties_its_form_before_it_leaves() -> None:
    """Else the browser's question about a form that was begun stands over *Lamps off*, and takes Esc for itself."""
    scripts = [file.read_text(encoding="utf-8") for file in WEB.rglob("static/*.js")]
    senders = [script for script in scripts if "input[type=file]" in script]
    assert len(senders) == 2
    for script in senders:
        assert re.search(r"await send\(.*\);\n\s*form\.reset\(\);.*\n\s*location\.", script)
