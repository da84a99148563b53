"""What gates, criteria and weights say, and what moves a figure: for editors and viewers."""
