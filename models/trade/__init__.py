"""What is made of the figures: evaluation of a study, curves, comparison and verdict; pure."""
