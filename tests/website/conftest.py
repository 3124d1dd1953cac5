"""Fixtures of the site's tests."""

from __future__ import annotations

from site_fixture import demo

__all__ = ["demo"]
