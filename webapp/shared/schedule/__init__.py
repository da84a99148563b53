"""When each candidate can be ready, in words and pictures, for editors and for viewers."""
