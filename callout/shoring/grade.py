"""How well a figure is founded."""

from typing import Literal

#: A seen in a primary source, B restated, M from memory, D worked here, P common practice without a source.
Grade = Literal["A", "B", "M", "D", "P"]
