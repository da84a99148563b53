"""The list of studies, and how a new one begins: from the example, a file, or a copy."""
