"""Tests of the symptom search."""
