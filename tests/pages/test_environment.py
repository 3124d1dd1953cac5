"""What Jinja does quicker here comes to the same as in Jinja itself; the reference is Jinja's own environment."""

from __future__ import annotations

from functools import partial
from typing import Any

import pytest
from jinja2 import Environment, StrictUndefined, UndefinedError, pass_context, pass_environment
from markupsafe import Markup, escape

from leaklore.pages.environment import QuickEnvironment, shown


class Told:
    """Says its own HTML, as Markup does."""

    def __html__(self) -> str:
        return "<b>&amp;</b>"

    def __repr__(self) -> str:
        return "Told()"


class Word(str):
    """A text of another class."""

    __slots__ = ()


VALUES: list[Any] = [
    "",
    "plain",
    "a & b",
    "<script>",
    "'",
    '"',
    "6 > 5",
    "Größe ½ \u2028",
    Markup("<b>kept</b>"),
    Word("<i>"),
    Told(),
    7,
    0.5,
    None,
    ["<", Markup("<")],
    b"<",
]


@pytest.mark.parametrize("value", VALUES, ids=repr)
def test_a_value_is_escaped_as_markupsafe_does(value: Any) -> None:
    assert str(shown(value)) == str(escape(value))


TEMPLATE = """
{% macro box(value, more=none) %}<p title="{{ value }}">{{ caller() if more is none else more }}</p>{% endmacro %}
{% set kept %}{{ value }}&{% endset %}
{{ value }} {{ kept }} {{ value ~ "<" }} {{ box(value, value) }} {% call box(value) %}{{ value }}<br>{% endcall %}
{% for one in [value, value] %}{{ plain(one) }}{{ loop.index }}{{ of_context("name") }}{% endfor %}
{{ of_environment() }} {{ method("<") }} {{ part("&") }} {{ value | safe }} {{ value | string | upper }} {{ name }}
{% filter upper %}{{ value }}&lt;{% endfilter %} {% autoescape false %}{{ value }}{% endautoescape %}
"""


@pass_context
def _of_context(context: Any, name: str) -> str:
    return f"<{context[name]}>"


@pass_environment
def _of_environment(environment: Any) -> str:
    return f"<{environment.autoescape}>"


@pytest.mark.parametrize("value", [*VALUES[:10], 7], ids=repr)
def test_a_template_gives_the_same_text(value: Any) -> None:
    texts = []
    for kind in (Environment, QuickEnvironment):
        environment = kind(autoescape=True, undefined=StrictUndefined)
        environment.globals.update(
            plain=lambda v: f"[{v}]",
            method="<{}>".format,
            part=partial(str.join, "-"),
            of_context=_of_context,
            of_environment=_of_environment,
        )
        texts.append(environment.from_string(TEMPLATE).render(value=value, name="n&n"))
    assert texts[0] == texts[1]


@pytest.mark.parametrize(
    "text", ["{{ missing }}", "{{ given.missing }}", "{{ missing() }}", "{{ given.missing() }}"]
)
def test_what_is_not_there_is_a_mistake(text: str) -> None:
    template = QuickEnvironment(autoescape=True, undefined=StrictUndefined).from_string(text)
    with pytest.raises(UndefinedError, match="missing"):
        template.render(given={"a": 1})
