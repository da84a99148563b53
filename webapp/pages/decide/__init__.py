"""The page on which gates, criteria and weights are set, and what they say."""
