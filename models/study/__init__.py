"""The study: one question about one robot, read from a file, checked and described."""
