"""Tests of pages, formats and data files."""
