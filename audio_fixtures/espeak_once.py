"""eSpeak NG once: `python -m audio_fixtures.espeak_once VOICE SPEED < TEXT`.

Through the C library that the package espeakng-loader brings. Standard output: the rate as four bytes, then 16-bit
samples. The same text gives the same samples, because nothing was spoken before in this process.
"""

from __future__ import annotations

import ctypes
import os
import sys
from typing import Any

import espeakng_loader

_SYNCHRONOUS = 2  # AUDIO_OUTPUT_SYNCHRONOUS of speak_lib.h: the samples come through the callback
_RATE, _WORDS_A_MINUTE = 1, 150  # espeakRATE
_UTF8, _BY_CHARACTER = 1, 1


def main(voice: str, speed: float, text: bytes) -> bytes:
    library = ctypes.CDLL(espeakng_loader.get_library_path())
    folder = os.path.dirname(espeakng_loader.get_data_path()).encode()
    rate = library.espeak_Initialize(_SYNCHRONOUS, 0, folder, 0)
    library.espeak_ng_SetRandSeed(ctypes.c_long(1))
    library.espeak_SetVoiceByName(voice.encode())
    library.espeak_SetParameter(_RATE, round(_WORDS_A_MINUTE * speed), 0)
    chunks: list[bytes] = []

    @ctypes.CFUNCTYPE(ctypes.c_int, ctypes.POINTER(ctypes.c_short), ctypes.c_int, ctypes.c_void_p)
    def keep(wave: Any, count: int, events: Any) -> int:
        if wave and count > 0:
            chunks.append(ctypes.string_at(wave, 2 * count))
        return 0

    library.espeak_SetSynthCallback(keep)
    data = text + b"\0"
    library.espeak_Synth(data, ctypes.c_size_t(len(data)), 0, _BY_CHARACTER, 0, _UTF8, None, None)
    return int(rate).to_bytes(4, "little") + b"".join(chunks)


if __name__ == "__main__":
    sys.stdout.buffer.write(main(sys.argv[1], float(sys.argv[2]), sys.stdin.buffer.read()))
