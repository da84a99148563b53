"""The ballot itself: what a member opens on a phone through the link of a round."""
