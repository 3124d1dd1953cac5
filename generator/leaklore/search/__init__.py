"""Symptom search: understands what is typed, ranks causes, plans checks, finds cases; and the index for the phone."""
