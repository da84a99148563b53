"""Routes over the field as pages show them: sentences, drawing, time bars, tables, limits."""
