"""Takes in what a phone or an old job sheet brings: checked first, then filed into the library."""
