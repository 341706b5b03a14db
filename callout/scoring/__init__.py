"""Recorded audio against what was said in it: how often right, wrongly accepted, asked again, or not heard."""
