"""Messages of templates, put in while a template is compiled: once a process, so that a page pays nothing for them.

`{{ _("Cases") }}` becomes the translated text, `{% trans n=total %}All {{ n }} cases{% endtrans %}` the text with its
expressions between. Where a message has a plural, or is not known before the page is made, gettext does it then.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from typing import Any

from jinja2 import Environment, nodes
from jinja2.ext import InternationalizationExtension
from jinja2.lexer import Token, TokenStream

from leaklore import language

_SLOT = re.compile(r"%\((\w+)\)s")


class Translate(InternationalizationExtension):
    """Jinja's extension `i18n`, with the work done at the time of compiling."""

    def filter_stream(self, stream: TokenStream) -> Iterator[Token]:
        """`_("text")` is the translated text itself."""
        held: list[Token] = []
        for token in stream:
            held.append(token)
            kinds = [t.type for t in held]
            if held[0].value != "_" or kinds != ["name", "lparen", "string", "rparen"][: len(held)]:
                yield from held
                held = []
            elif len(held) == 4:
                yield Token(held[2].lineno, "string", language.gettext(str(held[2].value)))
                held = []
        yield from held

    def _make_node(
        self,
        singular: str,
        plural: str | None,
        context: str | None,
        variables: dict[str, nodes.Expr],
        plural_expr: nodes.Expr | None,
        vars_referenced: bool,
        num_called_num: bool,
    ) -> nodes.Output:
        """Text and expressions in turn; a plural is left to the page."""
        if plural is not None or context is not None:
            return super()._make_node(
                singular, plural, context, variables, plural_expr, vars_referenced, num_called_num
            )
        if (
            not vars_referenced
        ):  # as in the catalogue: only a message with slots doubles its signs of per cent
            return nodes.Output([nodes.TemplateData(language.gettext(singular.replace("%%", "%")))])
        parts: list[nodes.Expr] = []
        for i, piece in enumerate(_SLOT.split(language.gettext(singular))):
            if i % 2:
                parts.append(variables[piece])
            elif piece:
                parts.append(nodes.TemplateData(piece.replace("%%", "%")))
        return nodes.Output(parts)


def install(environment: Environment) -> None:
    """What is left to the page: plurals, and messages that are known only then."""
    made: Any = environment
    made.install_gettext_callables(language.gettext, language.ngettext, newstyle=True)
    environment.globals["_"] = language.gettext
