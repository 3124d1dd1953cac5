"""Reads, checks and models the company's records."""
