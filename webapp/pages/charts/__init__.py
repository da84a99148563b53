"""The charts page."""
