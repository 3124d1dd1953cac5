"""Patterns: what keeps recurring, where, and whether it is real; pages, charts, tables and a report to print."""
