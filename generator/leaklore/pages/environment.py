"""Jinja's environment with what it does hundreds of times a page done in less time; what comes out is the same."""

from __future__ import annotations

import re
from collections.abc import MutableMapping
from types import FunctionType, MethodType
from typing import Any

from jinja2 import BytecodeCache, Environment, nodes
from jinja2.bccache import Bucket
from jinja2.compiler import CodeGenerator, Frame
from jinja2.runtime import Context
from markupsafe import Markup, escape

from leaklore.pages.recall import Recall

_SPECIAL = re.compile("[&<>'\"]")
_ORDINARY: frozenset[Any] = frozenset({FunctionType, MethodType})


def shown(value: Any) -> str:
    """As `markupsafe.escape`, but a text that needs no escaping comes back as it is: it is joined to others at once."""
    if value.__class__ is str:
        return value if _SPECIAL.search(value) is None else escape(value)
    return value if value.__class__ is Markup else escape(value)


class _Code(CodeGenerator):
    """Writes a template's `{{ }}` by way of `shown`."""

    def _output_child_pre(self, node: nodes.Expr, frame: Frame, finalize: Any) -> None:
        if frame.eval_ctx.volatile or not frame.eval_ctx.autoescape or finalize.src is not None:
            super()._output_child_pre(node, frame, finalize)
        else:
            self.write("environment.shown(")


class _Context(Context):
    """Calls an ordinary function without asking first what it wants besides."""

    def call(self, called: Any, /, *args: Any, **named: Any) -> Any:
        """As in `Context`."""
        if called.__class__ in _ORDINARY and not hasattr(called, "jinja_pass_arg"):
            named.pop("_block_vars", None)
            named.pop("_loop_vars", None)
            return called(*args, **named)
        return super().call(called, *args, **named)


class QuickEnvironment(Environment):
    """Looks through no globals at every page that imports a macro: a plain dict takes a third of the time."""

    code_generator_class = _Code
    context_class = _Context
    shown = staticmethod(shown)

    def make_globals(self, d: MutableMapping[str, Any] | None) -> MutableMapping[str, Any]:
        """As in `Environment`."""
        return super().make_globals(d) if d else self.globals


class Compiled(BytecodeCache):
    """Compiled templates, kept from process to process; the basis of `kept` is the program that compiles them, and
    the language whose words are put in."""

    def __init__(self, kept: Recall) -> None:
        self._kept = kept

    def load_bytecode(self, bucket: Bucket) -> None:
        """As in `BytecodeCache`."""
        code = self._kept.found(bucket.key, bytes)
        if code is not None:
            bucket.bytecode_from_string(code)

    def dump_bytecode(self, bucket: Bucket) -> None:
        """As in `BytecodeCache`."""
        self._kept.keep(bucket.key, bucket.bytecode_to_string())
