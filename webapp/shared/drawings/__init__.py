"""Plan and side views as SVG, and small plans."""
