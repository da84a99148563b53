"""What a browser keeps for its user: the units shown and the name put on saves."""
