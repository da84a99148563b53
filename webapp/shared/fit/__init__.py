"""The fit of one candidate in one pose."""
