"""The language of callouts: one grammar as data, from words to values and from values to words."""
