// The curves that count (FIPS 186-5; SP 800-186, 3.2.1.3 and 3.2.1.4), and whether a key is a point on
// its own.

import * as der from "./der.ts";

export interface Curve {
  name: string;
  /** As browsers call it. */
  web: string;
  /** Of a coordinate. */
  bytes: number;
  prime: bigint;
  b: bigint;
}

const CURVES: Record<string, Curve | undefined> = {
  "1.2.840.10045.3.1.7": {
    name: "secp256r1",
    web: "P-256",
    bytes: 32,
    prime: 2n ** 256n - 2n ** 224n + 2n ** 192n + 2n ** 96n - 1n,
    b: 0x5ac635d8aa3a93e7b3ebbd55769886bc651d06b0cc53b0f63bce3c3e27d2604bn,
  },
  "1.3.132.0.34": {
    name: "secp384r1",
    web: "P-384",
    bytes: 48,
    prime: 2n ** 384n - 2n ** 128n - 2n ** 96n + 2n ** 32n - 1n,
    b: 0xb3312fa7e23ee7e4988e056be3f82d19181d9c6efe8141120314088f5013875ac656398d8a2ed19d2a85c8edd3ec2aefn,
  },
};

export const curveOf = (dotted: string): Curve | null => CURVES[dotted] ?? null;

/** An uncompressed point must satisfy y² = x³ − 3x + b. */
export function requirePoint({ bytes, prime, b }: Curve, point: Uint8Array): void {
  if (point[0] !== 4 || point.length !== 1 + 2 * bytes) {
    throw new der.DerError("a key that is no uncompressed point");
  }
  const [x, y] = [point.subarray(1, 1 + bytes), point.subarray(1 + bytes)].map(number);
  if (x >= prime || y >= prime || (y * y - (x * x * x - 3n * x + b)) % prime !== 0n) {
    throw new der.DerError("a key that is no point of its curve");
  }
}

function number(digits: Uint8Array): bigint {
  let value = 0n;
  for (const byte of digits) value = (value << 8n) | BigInt(byte);
  return value;
}
