"""What two or more pages use: the base page, partials and their contexts."""
