"""Options of the plugin in mkdocs.yml; the company's settings are in its library's company.yaml."""

from __future__ import annotations

from mkdocs.config import base
from mkdocs.config import config_options as c


class LeakloreConfig(base.Config):
    """`library` is the folder of the case library, relative to mkdocs.yml; the docs_dir by default."""

    library = c.Optional(c.Type(str))
