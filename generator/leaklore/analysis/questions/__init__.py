"""Short questions computed from guide and records, new numbers each time, drawn alike here and in the browser.

Templates compute with `leaklore.trade`; every sentence is in `words`, every round figure in `numbers`, and what
comes from the library in `material`. `site_overrides/js/learn/questions_*.mjs` are the twins.
"""
