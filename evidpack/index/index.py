"""The disclosure index of one sealed day, from front to back."""

from __future__ import annotations

import gc
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Final

from evidpack.index.assembly import assemble
from evidpack.index.capture_pages import Thumbnail, draw_captures
from evidpack.index.closing import draw_by_hand, draw_cautions, draw_files, draw_findings
from evidpack.index.content import IndexContent
from evidpack.index.cover import draw_cover
from evidpack.index.flow import Flow, Furniture
from evidpack.index.instruments import draw_instruments
from evidpack.index.paperwork import draw_paperwork
from evidpack.index.sheet import Imprint, paint
from evidpack.index.timeline_pages import draw_timelines
from evidpack.index.wording import WARNING

PAPERWORK, INSTRUMENTS, TIMELINE, CAPTURES, FINDINGS, FILES, BY_HAND, CAUTIONS = range(1, 9)
TITLE: Final = "Disclosure index"


def build_index(content: IndexContent, *, thumbnail: Thumbnail, workers: int = 1) -> bytes:
    """The index as a PDF file.

    `thumbnail` takes the path of a still and gives a JPEG, or None (or an EvidpackError) where it
    can't be shown; with `workers` > 1 it is called from that many threads.  The same content and
    pictures give the same bytes in any process and environment.
    """
    with _collector_paused():
        return _build(content, thumbnail, workers)


@contextmanager
def _collector_paused() -> Iterator[None]:
    """A large day makes millions of objects that all stay in use until the end; looking among
    them for unreachable cycles took a fifth of the time and found none."""
    was_running = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if was_running:
            gc.enable()


def _build(content: IndexContent, thumbnail: Thumbnail, workers: int) -> bytes:
    flow = Flow(paper=content.paper, furniture=_furniture(content))
    day = assemble(content)
    draw_cover(flow, day)
    draw_paperwork(flow, day, PAPERWORK)
    draw_instruments(flow, day, INSTRUMENTS)
    draw_timelines(flow, day, TIMELINE)
    draw_captures(flow, day, CAPTURES, thumbnail=thumbnail, workers=workers)
    draw_findings(flow, day, FINDINGS)
    draw_files(flow, day, FILES)
    draw_by_hand(flow, BY_HAND, files_chapter=FILES)
    draw_cautions(flow, CAUTIONS)
    imprint = Imprint(
        title=f"{TITLE} {content.day_reference}",
        subject=WARNING,
        author=content.unit,
        creator=f"evidpack {content.evidpack_version}",
        moment=content.claimed_sealing_time,
    )
    return paint(flow.finish(), paper=content.paper, imprint=imprint)


def _furniture(content: IndexContent) -> Furniture:
    return Furniture(
        kind=TITLE,
        reference=content.day_reference,
        digest_name="Tree root",
        digest=content.tree_root.hex(),
        warning=WARNING,
        mark=f"Document {content.document_number}  ·  evidpack {content.evidpack_version}",
    )
