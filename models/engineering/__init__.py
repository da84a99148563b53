"""Engineering figures in SI units: pure numpy on arrays of designs, no web and no database."""
