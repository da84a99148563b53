"""Speed and push in all directions, and turning in place: for editors and viewers."""
