"""How the ears are trained: corpus, noise, channel, networks, export. An extra; nothing else imports it.

`python -m ears_training --help` lists the steps; docs/training.md walks through them.
"""
