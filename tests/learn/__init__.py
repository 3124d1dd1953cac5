"""Assignments, progress, result sheets and packages."""
