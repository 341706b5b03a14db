"""The radio channel, simulated: what lies between a talker's mouth and the staging area's loudspeaker."""

from callout.channel.noises import NOISES, make_noise
from callout.channel.radio import simulate

__all__ = ["NOISES", "make_noise", "simulate"]
