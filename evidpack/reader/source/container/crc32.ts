// CRC-32 as in ZIP (ISO 3309, reflected polynomial 0xEDB88320), eight bytes at a time.

const TABLES: Int32Array[] = makeTables();

function makeTables(): Int32Array[] {
  const first = new Int32Array(256);
  for (let byte = 0; byte < 256; byte++) {
    let value = byte;
    for (let bit = 0; bit < 8; bit++) value = value & 1 ? (value >>> 1) ^ 0xedb88320 : value >>> 1;
    first[byte] = value;
  }
  const tables = [first];
  for (let number = 1; number < 8; number++) {
    const before = tables[number - 1];
    tables.push(first.map((_, byte) => (before[byte] >>> 8) ^ first[before[byte] & 0xff]));
  }
  return tables;
}

/** The checksum of these bytes, behind bytes whose checksum is `before`. */
export function crc32(data: Uint8Array, before = 0): number {
  const [t0, t1, t2, t3, t4, t5, t6, t7] = TABLES;
  let value = ~before;
  let at = 0;
  for (const stop = data.length - 7; at < stop; at += 8) {
    value ^= data[at] | (data[at + 1] << 8) | (data[at + 2] << 16) | (data[at + 3] << 24);
    value =
      t7[value & 0xff] ^
      t6[(value >>> 8) & 0xff] ^
      t5[(value >>> 16) & 0xff] ^
      t4[value >>> 24] ^
      t3[data[at + 4]] ^
      t2[data[at + 5]] ^
      t1[data[at + 6]] ^
      t0[data[at + 7]];
  }
  for (; at < data.length; at++) value = (value >>> 8) ^ t0[(value ^ data[at]) & 0xff];
  return ~value >>> 0;
}
