"""How good the search is: the script behind `make evaluate` and its tests."""
