"""Tests of the records layer; most are example records, see helpers.py."""
