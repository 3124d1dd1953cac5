"""What each page shows: page models, templates, charts and data files. Jinja2 only here."""
