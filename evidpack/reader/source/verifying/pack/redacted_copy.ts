// Step 4 for a redacted copy: all that it shows is what was sealed, and it shows nothing else. The
// leaves of open tiles are computed from the copy's pixels and their salts; with the leaf digests of
// the closed tiles they must give the pixel root that the still's entry commits to.

import { TILE_EDGE_PX } from "../../limits.ts";
import type { Digester } from "../../proof/digests.ts";
import type { TileOpenings } from "../../proof/pack_parts.ts";
import { type Grid, PIXEL_BYTES, tileGrid, tileOfBand } from "../../proof/tiles.ts";
import { TreeBuilder } from "../../proof/tree.ts";
import { Refusal } from "../../refusal.ts";
import { hex, same } from "../../text.ts";
import { readPlainPng } from "./png.ts";

const FLAT = 0x80;

export interface SealedStill {
  path: string;
  width: number;
  height: number;
  pixelRoot: Uint8Array;
  openings: TileOpenings;
}

/** Throws a Refusal where the copy is not the sealed still outside its closed tiles. */
export async function requireRedactedCopy(
  png: Uint8Array, still: SealedStill, digester: Digester,
): Promise<void> {
  const { path, width, height, pixelRoot } = still;
  const grid = tileGrid(width, height);
  requireEachOnce(still, grid);
  const bands = new Bands(still, grid, digester);
  await readPlainPng(png, { path, width, height }, (row) => bands.take(row));
  const root = bands.root();
  if (same(root, pixelRoot)) return;
  throw new Refusal("outside the redaction the copy is not the still that was sealed", {
    path,
    expected: `pixel root ${hex(pixelRoot)}`,
    observed: hex(root),
    hint: "Ask the discloser for the copy again: its pixels or their openings were changed.",
  });
}

function requireEachOnce({ path, openings: { salts, closed } }: SealedStill, grid: Grid): void {
  const count = grid.columns * grid.rows;
  const stated = salts.size + closed.size;
  if (stated === count) return;
  // The lines of the tiles' file are numbered by their place, so none is there twice or left out.
  const [message, expected, observed] = stated > count
    ? [`there is an opening for tile ${stated - 1}, which the picture has not`, `tiles 0 to ${count - 1}`, stated - 1]
    : [`tile ${stated} is neither open nor closed`, `${count} tiles`, stated];
  throw new Refusal(message, { path, expected, observed: String(observed) });
}

/** Gathers rows into bands of one tile's height, and leaves out of each band's tiles. */
class Bands {
  readonly #tree: TreeBuilder;
  readonly #stride: number;
  readonly #band: Uint8Array;
  #rows = 0;
  #done = 0;
  #tile = 0;
  #shows: Refusal | null = null;

  constructor(
    private readonly still: SealedStill, private readonly grid: Grid, private readonly digester: Digester,
  ) {
    this.#tree = new TreeBuilder(digester);
    this.#stride = still.width * PIXEL_BYTES;
    this.#band = new Uint8Array(this.#stride * TILE_EDGE_PX);
  }

  take(row: Uint8Array): void {
    this.#band.set(row, this.#rows++ * this.#stride);
    this.#done++;
    if (this.#rows < TILE_EDGE_PX && this.#done < this.still.height) return;
    const band = this.#band.subarray(0, this.#rows * this.#stride);
    for (let column = 0; column < this.grid.columns; column++) {
      this.#tree.append(this.#leaf(this.#tile++, tileOfBand(band, this.still.width, column)));
    }
    this.#rows = 0;
  }

  #leaf(tile: number, pixels: Uint8Array): Uint8Array {
    const { salts, closed } = this.still.openings;
    const salt = salts.get(tile);
    if (salt !== undefined) return this.digester.tile(salt, pixels);
    if (pixels.some((byte) => byte !== FLAT)) this.#shows ??= this.#showsSomething(tile);
    return closed.get(tile)!;
  }

  #showsSomething(tile: number): Refusal {
    const { columns } = this.grid;
    return new Refusal(
      `tile ${tile} (column ${tile % columns}, row ${Math.floor(tile / columns)}) is closed and shows something`,
      { path: this.still.path, expected: "the flat colour of redactions", observed: "other pixels" },
    );
  }

  root(): Uint8Array {
    if (this.#shows !== null) throw this.#shows;
    return this.#tree.root();
  }
}
