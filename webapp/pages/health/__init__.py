"""Whether the server answers; for start scripts and monitors."""
