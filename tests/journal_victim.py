"""A program that writes a journal until it is killed. On standard output: every line's number once it is confirmed."""

import os
import sys

from callout.dialogue.records import Record
from callout.journal import Journal


def main(path: str, run: str) -> None:
    with Journal.open(path) as journal:
        if not journal.writable:
            sys.exit(journal.notice)
        count = 0
        while True:
            count += 1
            text = f"run {run} word {count}"
            size = 400 * (count % 50)  # up to 20 KB: most lines take several pages
            written = journal.append(Record(event="heard", text=text, data={"x": "y" * size}))
            os.write(1, f"{written.seq} {text}\n".encode())


if __name__ == "__main__":
    main(sys.argv[1], sys.argv[2])
