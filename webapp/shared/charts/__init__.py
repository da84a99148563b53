"""Charts of the candidates' curves, with the table of values behind each."""
