"""The formulas of the trade by hand, and what they refuse. Checks against published values are in tests/published."""
