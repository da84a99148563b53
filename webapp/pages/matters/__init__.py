"""The page that says which input moves a figure most."""
