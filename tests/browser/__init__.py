"""Tests of the built site in a browser."""
