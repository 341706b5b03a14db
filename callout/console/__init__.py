"""What is shown: a plain console of lines, or a screen; and the keys that gloves can press."""
