"""Recordings with known words and meanings, and the tools that make them again."""
