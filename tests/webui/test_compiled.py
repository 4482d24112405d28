"""What these tests keep compiled is what the page compiles by itself."""

import pytest
from flask import Flask
from flask.testing import FlaskClient
from werkzeug.routing import AnyConverter, BaseConverter, Rule
from werkzeug.routing.converters import NumberConverter

from sumlight_web.app import create_app
from sumlight_web.services import PageConfig
from tests.webui.compiled import Templates, plain_builder, plain_parser
from tests.webui.fake_control import FakeControl, wait_until
from tests.webui.operating import operator_of


def odd_value(converter: BaseConverter) -> object:
    """One that has to be written with care, as far as the part of the address takes it."""
    if isinstance(converter, AnyConverter):
        return min(converter.items)
    return 7 if isinstance(converter, NumberConverter) else "a b/ü"


def addresses(app: Flask) -> dict[str, object]:
    """What every route writes for odd values, and with one value too many."""
    found: dict[str, object] = {}
    for rule in app.url_map.iter_rules():
        values = {name: odd_value(rule._converters[name]) for name in rule.arguments - set(rule.defaults or {})}
        found[f"{rule.endpoint} {rule.rule}"] = (rule.build(values), rule.build(values | {"more": "ü&"}))
    return found


def test_an_app_of_kept_parts_writes_and_shows_the_same(
    app: Flask, control: FakeControl, client: FlaskClient, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every address, and a page with a form."""
    assert isinstance(app.jinja_env.bytecode_cache, Templates)
    config = PageConfig(control.path, app.extensions["sumlight"].logbook_path.parent)
    second = create_app(config)  # of what was kept of the first, whichever test made that
    second.extensions["sumlight"].close()
    monkeypatch.setattr(Rule, "_compile_builder", plain_builder)
    monkeypatch.setattr(Rule, "_parse_rule", plain_parser)
    monkeypatch.setattr(Flask, "jinja_options", {})
    plain = create_app(config)
    try:
        assert plain.jinja_env.bytecode_cache is None
        assert addresses(plain) == addresses(second)
        assert [(rule._parts, rule.arguments, list(rule._converters)) for rule in plain.url_map.iter_rules()] == [
            (rule._parts, rule.arguments, list(rule._converters)) for rule in second.url_map.iter_rules()
        ]
        assert len(addresses(app)) > 50
        plain.test_client_class = app.test_client_class
        other = operator_of(plain)
        wait_until(lambda: other.get("/recipes/blue-38").text == client.get("/recipes/blue-38").text)  # both have heard
    finally:
        plain.extensions["sumlight"].close()
