"""Leaklore: leak cases in, a searchable field guide and case library out."""

__version__ = "0.1.0"
