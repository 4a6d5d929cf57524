"""One ring, from top to bottom."""
