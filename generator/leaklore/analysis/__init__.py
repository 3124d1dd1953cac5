"""Statistics: pure functions of checked cases. Nothing here knows a screen."""
