# SPDX-License-Identifier: Apache-2.0
"""The right results of ChaoticBlock by exact rational arithmetic: one hexadecimal number a line, a line a seed.

Every step is computed as a fraction and rounded once to the nearest double, ties to even, which is what IEEE 754-2008
demands of fusedMultiplyAdd. Also prints the mean of log|2x| of each chain: above 0 the map is chaotic there.
"""
import math
import struct
import sys
from fractions import Fraction

STEPS, HASH_EVERY, CHAINS, MASK = 20_000, 4, 8, (1 << 64) - 1


def mix(value, x):
    bits = struct.unpack(">Q", struct.pack(">d", x))[0]
    mixed = ((value ^ bits) * 0x9E3779B97F4A7C15) & MASK
    return mixed ^ (mixed >> 29)


def fma(x, c):
    return float(Fraction(x) ** 2 + Fraction(c))


for seed in range(4):
    c = [-1.90625 - k / 128 for k in range(CHAINS)]
    x = [(1 + seed) / 16 + k / 128 for k in range(CHAINS)]
    exponent = [0.0] * CHAINS
    digest = seed
    for _ in range(STEPS // HASH_EVERY):
        for _ in range(HASH_EVERY):
            x = [fma(x[k], c[k]) for k in range(CHAINS)]
            exponent = [e + math.log(abs(2 * v)) for e, v in zip(exponent, x)]
        digest = mix(digest, x[0] + x[1])
        digest = mix(digest, x[2] + x[3])
    for v in x:
        digest = mix(digest, v)
    print("%016x %.3f" % (digest, min(exponent) / STEPS))
    sys.stdout.flush()
