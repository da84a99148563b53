"""The page of breakers, cables and slots."""
