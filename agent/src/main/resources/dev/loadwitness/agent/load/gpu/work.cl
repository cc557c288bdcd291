// SPDX-License-Identifier: Apache-2.0
// OpenCL C 1.2, built without relaxed mathematics. Compiled by the driver with -DWIDTH=n (floats in a vector) and
// -DTRAFFIC=0 or 1. What it computes, and why it cannot come out right by accident, is told with MultiplyAdd.java and
// TrafficMemory.java, which compute the same on the processor; change them together.

#define CHAINS 8
#define VARIANTS 256u
#define NEXT_VARIANT 37u
#define CYCLES_A_SEED 128u
#define ODD 0x9E3779B1u
#define WORD_FACTOR 1664525u
#define WORD_ADDEND 1013904223u

#define JOIN_(a, b) a##b
#define JOIN(a, b) JOIN_(a, b)
#if WIDTH == 1
typedef float real;
typedef uint word;
#define AS_REAL as_float
#define AS_WORD as_uint
#define LANE_NUMBERS 0u
#else
typedef JOIN(float, WIDTH) real;
typedef JOIN(uint, WIDTH) word;
#define AS_REAL JOIN(as_float, WIDTH)
#define AS_WORD JOIN(as_uint, WIDTH)
#if WIDTH == 4
#define LANE_NUMBERS (word)(0, 1, 2, 3)
#elif WIDTH == 8
#define LANE_NUMBERS (word)(0, 1, 2, 3, 4, 5, 6, 7)
#elif WIDTH == 16
#define LANE_NUMBERS (word)(0, 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15)
#endif
#endif

#define UP ((real)(as_float(0xC0000419u)))
#define DOWN ((real)(as_float(0xB0000419u)))
#define PLUS ((real)(as_float(0xBBC7E282u)))

#define ALL(f, factor)                                                                                                 \
    x0 = f(x0, factor, PLUS);                                                                                          \
    x1 = f(x1, factor, PLUS);                                                                                          \
    x2 = f(x2, factor, PLUS);                                                                                          \
    x3 = f(x3, factor, PLUS);                                                                                          \
    x4 = f(x4, factor, PLUS);                                                                                          \
    x5 = f(x5, factor, PLUS);                                                                                          \
    x6 = f(x6, factor, PLUS);                                                                                          \
    x7 = f(x7, factor, PLUS);
#define TWICE(s) s s
#define STEP ALL(fma, UP)
// 31 steps up and one that also comes down by 2^32: 32 steps, 256 multiply-adds on vectors.
#define CYCLE TWICE(TWICE(TWICE(STEP STEP STEP) STEP) STEP) STEP ALL(fma, DOWN)

#define SEED(chain) AS_REAL((word)(0x3F800000u) + (((variant + (chain * WIDTH)) & (VARIANTS - 1u)) * 5u + 1640u) * 1024u)
#define SEED_ALL                                                                                                       \
    x0 = SEED(0);                                                                                                      \
    x1 = SEED(1);                                                                                                      \
    x2 = SEED(2);                                                                                                      \
    x3 = SEED(3);                                                                                                      \
    x4 = SEED(4);                                                                                                      \
    x5 = SEED(5);                                                                                                      \
    x6 = SEED(6);                                                                                                      \
    x7 = SEED(7);
#define FOLD(x) fold = rotate(fold ^ AS_WORD(x), (word)(13u)) * ODD + 1u;
#define FOLD_ALL FOLD(x0) FOLD(x1) FOLD(x2) FOLD(x3) FOLD(x4) FOLD(x5) FOLD(x6) FOLD(x7)

#define CYCLES(count)                                                                                                  \
    for (uint c = 0; c < (count); c++) {                                                                               \
        CYCLE                                                                                                          \
        if (++done == CYCLES_A_SEED) {                                                                                 \
            FOLD_ALL                                                                                                   \
            variant += NEXT_VARIANT;                                                                                   \
            SEED_ALL                                                                                                   \
            done = 0;                                                                                                  \
        }                                                                                                              \
    }

// One word of four: counted into both sums, plain and weighted by its place, and written anew.
#define TAKE(v, at)                                                                                                    \
    plain += v;                                                                                                        \
    weighted += v * ((at) * 8u + (uint4)(1u, 3u, 5u, 7u));                                                             \
    memory[at] = v * WORD_FACTOR + WORD_ADDEND;

kernel void work(
        global uint4 *restrict memory,
        uint first,
        uint end,
        uint steps,
        uint cycles,
        uint plantItem,
        uint plantMask,
        uint launch,
        global uint4 *restrict sums,
        local uint4 *scratch) {
    uint item = get_global_id(0);
    uint items = get_global_size(0);
    word variant = (word)(item * (CHAINS * WIDTH)) + LANE_NUMBERS;
    word fold = (word)(0u);
    uint done = 0;
    real x0, x1, x2, x3, x4, x5, x6, x7;
    SEED_ALL
    if (item == plantItem) {
        x3 = AS_REAL(AS_WORD(x3) ^ plantMask);
    }
    uint4 plain = (uint4)(0u);
    uint4 weighted = (uint4)(0u);
#if TRAFFIC
    uint at = first + item;
    for (uint s = 0; s < steps; s++) {
        uint4 v0 = memory[at];
        uint4 v1 = memory[at + items];
        uint4 v2 = memory[at + 2u * items];
        uint4 v3 = memory[at + 3u * items];
        CYCLES(cycles)
        TAKE(v0, at)
        TAKE(v1, at + items)
        TAKE(v2, at + 2u * items)
        TAKE(v3, at + 3u * items)
        // end is a multiple of what all items take in a step: an item meets only its own words again.
        at += 4u * items;
        at = at >= end ? at - end : at;
    }
#else
    CYCLES(steps)
#endif
    FOLD_ALL
    uint h = 0;
#if WIDTH == 1
    h = fold;
#else
    uint lane[WIDTH];
    JOIN(vstore, WIDTH)(fold, 0, lane);
    for (uint i = 0; i < WIDTH; i++) {
        h = rotate(h ^ lane[i], 7u) * ODD + 1u;
    }
#endif
    uint own = get_local_id(0);
    scratch[own] = (uint4)(
            h,
            h * (2u * item + 1u),
            plain.x + plain.y + plain.z + plain.w,
            weighted.x + weighted.y + weighted.z + weighted.w);
    barrier(CLK_LOCAL_MEM_FENCE);
    for (uint half_ = get_local_size(0) / 2u; half_ > 0u; half_ /= 2u) {
        if (own < half_) {
            scratch[own] += scratch[own + half_];
        }
        barrier(CLK_LOCAL_MEM_FENCE);
    }
    if (own == 0u) {
        // The number of the launch: what an earlier one left behind is no answer.
        sums[get_group_id(0)] = scratch[0] + launch;
    }
}

// Gives every word its first value, which depends on its place.
kernel void fill(global uint4 *restrict memory, uint first) {
    uint at = first + get_global_id(0);
    memory[at] = (at * 4u + (uint4)(0u, 1u, 2u, 3u)) * ODD + WORD_ADDEND;
}

// One element of a march, on a piece of memory: reads what must be there, writes what is next, up or down.
// report: place of the first wrong word found, and what was in it. count: how many places were wrong; how many groups did
// this at all, for memory that nobody looked at has no wrong words either.
kernel void march(
        global ulong2 *restrict memory,
        uint first,
        uint last,
        ulong expected,
        ulong next,
        uint reads,
        uint writes,
        uint down,
        global ulong *restrict report,
        global volatile uint *restrict count) {
    if (get_local_id(0) == 0u) {
        atomic_inc(count + 1);
    }
    uint number = get_global_id(0);
    uint at = down ? last - number : first + number;
    if (reads) {
        ulong2 got = memory[at];
        if (got.x != expected || got.y != expected) {
            if (atomic_inc(count) == 0u) {
                report[0] = 2ul * at + (got.x != expected ? 0ul : 1ul);
                report[1] = got.x != expected ? got.x : got.y;
            }
        }
    }
    if (writes) {
        memory[at] = (ulong2)(next, next);
    }
}

// The same with a word that depends on its place: what is written twice through one address line shows.
kernel void march_places(
        global ulong2 *restrict memory,
        uint first,
        ulong base,
        uint reads,
        global ulong *restrict report,
        global volatile uint *restrict count) {
    if (get_local_id(0) == 0u) {
        atomic_inc(count + 1);
    }
    uint at = first + get_global_id(0);
    ulong2 expected = (base + 2ul * at + (ulong2)(0ul, 1ul)) * 0x9E3779B97F4A7C15ul;
    if (reads) {
        ulong2 got = memory[at];
        if (got.x != expected.x || got.y != expected.y) {
            if (atomic_inc(count) == 0u) {
                report[0] = 2ul * at + (got.x != expected.x ? 0ul : 1ul);
                report[1] = got.x != expected.x ? got.x : got.y;
            }
        }
    } else {
        memory[at] = expected;
    }
}
