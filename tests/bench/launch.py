"""Run one command and tell what it cost: wall time, processor seconds, peak memory.

Usage: python -S -E launch.py WHERE COMMAND…; one line of JSON goes to the file WHERE.

A process of its own, and a small one: the system counts what the parent held when it made the
child as the child's peak, so a parent that holds much would hide what the child needed.
"""

from __future__ import annotations

import os
import sys
import time


def main(where: str, command: list[str]) -> int:
    started = time.perf_counter()
    child = os.posix_spawnp(command[0], command, os.environ)
    _, status, usage = os.wait4(child, 0)
    wall_s = time.perf_counter() - started
    code = os.waitstatus_to_exitcode(status)
    processor_s = usage.ru_utime + usage.ru_stime
    with open(where, "w", encoding="ascii") as stream:  # noqa: PTH123 - pathlib would weigh more
        stream.write(
            f'{{"wall_s": {wall_s!r}, "processor_s": {processor_s!r}, '
            f'"peak_kib": {usage.ru_maxrss}, "code": {code}}}\n'
        )
    return 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1], sys.argv[2:]))
