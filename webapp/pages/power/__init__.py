"""The page of batteries, the sag in sprint, push and match, and a day of matches."""
