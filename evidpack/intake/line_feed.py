"""Lines for the csv reader, with what is known of the row that is being read."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator

from evidpack.intake.text_lines import LogText
from evidpack.limits import MAX_ROW_BYTES, MAX_ROW_LINES


class RowTooLongError(Exception):
    """A row goes on for longer than a row may."""


class LineFeed:
    """Hands lines to the csv reader and remembers those of the row that is being read."""

    def __init__(self, text: LogText) -> None:
        self.text = text
        self._source = text.lines()
        self._again: deque[tuple[str, bool]] = deque()
        self._characters = 0
        self.taken: list[tuple[str, bool]] = []
        self.row_starts_at = 1  # number of the first line of the row
        self.single = 0  # that many lines must each be a row of their own

    def __iter__(self) -> Iterator[str]:
        return self

    def __next__(self) -> str:
        if self.taken:
            if self.single or len(self.taken) >= MAX_ROW_LINES:
                raise RowTooLongError
            if self._characters > MAX_ROW_BYTES:
                raise RowTooLongError
        line = self._again.popleft() if self._again else next(self._source)
        self.taken.append(line)
        self._characters += len(line[0])
        if not line[1]:
            raise RowTooLongError
        return line[0]

    def next_row(self) -> None:
        """The row that was being read is done."""
        self.row_starts_at += len(self.taken)
        self.single = max(0, self.single - len(self.taken))
        self.taken = []
        self._characters = 0

    def give_back(self) -> None:
        """Only the first line of the row is done; the others are to be read alone."""
        others = self.taken[1:]
        self._again.extendleft(reversed(others))
        del self.taken[1:]
        self.next_row()
        self.single = max(self.single, len(others))

    @property
    def is_between_blocks(self) -> bool:
        """Whether a row has just ended and no line is to be read again."""
        ended = not (self.taken or self._again or self.single)
        return ended and self.text.is_between_blocks

    @property
    def first_line(self) -> str:
        """The first line of the row, without its end."""
        return self.taken[0][0].rstrip("\r\n") if self.taken else ""

    @property
    def row_text(self) -> str:
        """All lines of the row."""
        return "".join(line for line, _ in self.taken).rstrip("\r\n")
