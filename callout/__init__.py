"""callout: the voice of the staging area for teams that shore up damaged buildings."""

__version__ = "0.1.0"
