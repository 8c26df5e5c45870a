// The pixel commitment of a still: a tree over salted tiles of 32 × 32 pixels (docs/format.md, Pixel
// commitment).

import { MAX_STILL_PIXELS, TILE_EDGE_PX } from "../limits.ts";
import { Refusal } from "../refusal.ts";

export const PIXEL_BYTES = 3;

export interface Grid {
  columns: number;
  rows: number;
}

/** Tile columns and rows. Throws a Refusal for a picture without pixels or with too many. */
export function tileGrid(width: number, height: number): Grid {
  if (width < 1 || height < 1 || width * height > MAX_STILL_PIXELS) {
    throw new Refusal("a picture of this size has no tiles", {
      expected: `1 to ${MAX_STILL_PIXELS} pixels`, observed: `${width} × ${height}`,
    });
  }
  return { columns: Math.ceil(width / TILE_EDGE_PX), rows: Math.ceil(height / TILE_EDGE_PX) };
}

export interface Area {
  left: number;
  top: number;
  width: number;
  height: number;
}

/** Where a tile lies in the picture, in pixels. */
export function tileArea(width: number, height: number, tile: number): Area {
  const { columns } = tileGrid(width, height);
  const left = (tile % columns) * TILE_EDGE_PX;
  const top = Math.floor(tile / columns) * TILE_EDGE_PX;
  return {
    left, top, width: Math.min(TILE_EDGE_PX, width - left), height: Math.min(TILE_EDGE_PX, height - top),
  };
}

/** The bytes of one tile out of a band of at most 32 pixel rows, its rows one after the other. */
export function tileOfBand(band: Uint8Array, width: number, column: number): Uint8Array {
  const stride = width * PIXEL_BYTES;
  const from = column * TILE_EDGE_PX * PIXEL_BYTES;
  const length = Math.min(TILE_EDGE_PX * PIXEL_BYTES, stride - from);
  const rows = band.length / stride;
  const tile = new Uint8Array(rows * length);
  for (let row = 0; row < rows; row++) {
    tile.set(band.subarray(row * stride + from, row * stride + from + length), row * length);
  }
  return tile;
}
