"""The trade's own computations: SI in, SI out, sources named, nothing that knows a screen."""
