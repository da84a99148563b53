"""The verdict and the candidates side by side."""
