"""Tests of the built site."""
