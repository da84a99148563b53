"""What the battery goes through, for editors and viewers."""
