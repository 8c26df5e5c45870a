"""evidpack redact: a preview of what would be blacked out, before it is decided."""

from __future__ import annotations

import re
from pathlib import Path
from typing import Final

import click

from evidpack.cli.new_files import write_new
from evidpack.cli.screen import say, say_command
from evidpack.errors import UsageError

_EXAMPLE = """\b
Example:
  evidpack redact demo/bundle.zip export/stills/C033_0018.jpg --boxes 40,60,220,90 -o preview.png
"""

_BOX: Final = re.compile(r"(-?\d{1,7}),(-?\d{1,7}),(\d{1,7}),(\d{1,7})")


@click.command(name="redact", epilog=_EXAMPLE)
@click.argument(
    "bundle", type=click.Path(exists=True, dir_okay=False, path_type=Path), metavar="BUNDLE"
)
@click.argument("item", metavar="ITEM")
@click.option(
    "--boxes",
    "boxes",
    multiple=True,
    metavar="X,Y,WIDTH,HEIGHT",
    help="A rectangle in pixels; may be given again.",
)
@click.option(
    "--polygon",
    "polygons",
    multiple=True,
    metavar="X,Y X,Y X,Y…",
    help="A polygon in pixels; may be given again.",
)
@click.option(
    "-o",
    "--output",
    required=True,
    type=click.Path(dir_okay=False, path_type=Path),
    metavar="PREVIEW.png",
    help="Where to write. Nothing is overwritten.",
)
def command(
    bundle: Path, item: str, boxes: tuple[str, ...], polygons: tuple[str, ...], output: Path
) -> int:
    """Preview a redaction of ITEM, a still of BUNDLE by its path or its entry number.

    The regions asked for are outlined upon the cover, which is larger: each is grown and rounded out
    to whole tiles, so that nothing around it tells what was inside. Then the [[redact]] table for
    decisions.toml is shown.
    """
    from evidpack.disclosure.redacted_stills import decode_sealed
    from evidpack.disclosure.redaction import preview
    from evidpack.disclosure.regions import Shape, redacted_tiles
    from evidpack.disclosure.sealed_bundle import open_sealed_bundle

    corners = [_box(text) for text in boxes]
    outlines = [_points(text) for text in polygons]
    with bundle.open("rb") as stream:
        sealed = open_sealed_bundle(stream, path=str(bundle))
        number = next(
            (
                entry.number
                for entry in sealed.entries()
                if entry.kind == "file"
                and item in (str(entry.number), entry.values.get("path"))
                and "pixel_root" in entry.values
            ),
            None,
        )
        if number is None:
            raise UsageError(
                "there is no such still in the bundle, or its pixels were not committed to",
                path=item,
                hint=f"evidpack show {bundle}     lists what is inside, data/ left out here",
            )
        still = decode_sealed(sealed, number)
    shapes = [*(Shape.rectangle(*box) for box in corners), *map(Shape.polygon, outlines)]
    tiles = redacted_tiles(shapes, still.width_px, still.height_px)
    png = preview(still.rgb, still.width_px, still.height_px, tiles, shapes)
    write_new(output, png)
    say(f"Wrote {output}: {len(tiles)} tiles would be closed. For decisions.toml:")
    say_command("[[redact]]")
    say_command(f"entry = {number}")
    if corners:
        say_command(f"boxes = {[list(box) for box in corners]}")
    if outlines:
        say_command(f"polygons = {[[list(point) for point in one] for one in outlines]}")
    say_command('reason = "third-party"')
    return 0


def _box(text: str) -> tuple[int, int, int, int]:
    found = _BOX.fullmatch(text.replace(" ", ""))
    if found is None:
        raise UsageError(
            "a box is x, y, width and height in pixels", expected="40,60,220,90", observed=text[:40]
        )
    x, y, width, height = (int(part) for part in found.groups())
    return x, y, width, height


def _points(text: str) -> list[tuple[int, int]]:
    try:
        pairs = [tuple(int(part) for part in point.split(",")) for point in text.split()]
        return [(x, y) for x, y in pairs]
    except ValueError as error:
        raise UsageError(
            "a polygon is points x,y in pixels", expected="10,10 80,10 40,70", observed=text[:60]
        ) from error
