"""The study file: reading, validation, units as typed, odd-input remarks, changes and merges."""
