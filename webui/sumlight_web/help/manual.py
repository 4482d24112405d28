"""The manual as HTML, made once for each language."""

from collections.abc import Sequence
from dataclasses import dataclass
from functools import cache

from markupsafe import Markup, escape

from sumlight.manual.search import Place, find, named
from sumlight.manual.topics import Topic, topics
from sumlight_web.language import Reader, _, written_for
from sumlight_web.texts import text_of

FILE = ".md"


@dataclass(frozen=True)
class Shown:
    """An entry or a whole topic as it is shown: `name` is its anchor or, of a topic, its place in the address."""

    name: str
    title: str
    html: Markup
    entries: tuple["Shown", ...] = ()
    typed: bool = False


@cache
def manual(language: str) -> tuple[Topic, ...]:
    """All topics in a language of the page."""
    with written_for(Reader(language, as_in_files=True)):
        return topics(language, text_of)


@cache
def shown(name: str, language: str) -> Shown | None:
    """A topic as HTML; None if there is none of that name."""
    one = next((each for each in manual(language) if each.name == name), None)
    if one is None:
        return None
    with written_for(Reader(language)):
        entries = tuple(Shown(each.name, each.title, as_html(each.text)) for each in one.entries)
        return Shown(one.name, one.title, as_html(one.text), entries, one.typed)


def found(query: str, language: str) -> Sequence[Place]:
    """Where something stands: what bears just that name first, then what holds the words."""
    everything = manual(language)
    exact = named(everything, query) if query.strip() else []
    return [*exact, *(place for place in find(everything, query) if place not in exact)]


def as_html(text: str) -> Markup:
    """Markdown as HTML. Links lead from topic to topic; HTML in it is shown, not obeyed."""
    from markdown_it import MarkdownIt  # imported when somebody reads: most pages do without

    reader = MarkdownIt("commonmark", {"html": False})
    tokens = reader.parse(text)
    for token in [each for block in tokens for each in block.children or []]:
        if token.type == "link_open":
            token.attrs["href"] = str(token.attrs["href"]).replace(FILE, "", 1)
    html = reader.renderer.render(tokens, reader.options, {})
    label = escape(_("Example"))
    opened = f'<div class="scroll" tabindex="0" role="group" aria-label="{label}"><pre>'
    return Markup(html.replace("<pre>", opened).replace("</pre>", "</pre></div>"))  # noqa: S704 - made from our own files
