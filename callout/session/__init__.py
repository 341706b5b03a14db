"""One running conversation: journal, sources, voices and ears, opened and held together; it may also only read."""
