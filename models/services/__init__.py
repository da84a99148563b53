"""One function for each thing a user does: load, compute, save."""
