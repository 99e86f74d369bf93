/* Scanning: see scan.h.  A bit for each byte, then the bits one by one, without a guess at how many
 * there are (Langdale, Lemire, "Parsing gigabytes of JSON per second", 2019, section 3.1.5). */
#include "rows/scan.h"

#include "base/wide.h"

#ifdef __SSE2__
#include <emmintrin.h>
#endif

enum { PIECE = 64, BATCH = 8 };

/* A bit for each of s[0..PIECE) that is c. */
static inline uint64_t find_all(const char *s, char c)
{
    uint64_t found = 0;
#ifdef __SSE2__
    const __m128i wanted = _mm_set1_epi8(c);
    for (int i = 0; i < PIECE; i += 16) {
        const __m128i bytes = _mm_loadu_si128((const __m128i *)(const void *)(s + i));
        found |= (uint64_t)(unsigned)_mm_movemask_epi8(_mm_cmpeq_epi8(bytes, wanted)) << i;
    }
#else
    for (int i = 0; i < PIECE; i++) found |= (uint64_t)(s[i] == c) << i;
#endif
    return found;
}

static inline size_t count_bits(uint64_t x, bool wide)
{
#if BT_WIDE
    if (wide) return (size_t)__builtin_popcountll(x);
#endif
    (void)wide;
    x -= x >> 1 & UINT64_C(0x5555555555555555);
    x = (x & UINT64_C(0x3333333333333333)) + (x >> 2 & UINT64_C(0x3333333333333333));
    x = (x + (x >> 4)) & UINT64_C(0x0f0f0f0f0f0f0f0f);
    return (size_t)(x * UINT64_C(0x0101010101010101) >> 56);
}

/* 63 if there is none. */
static inline unsigned lowest_bit(uint64_t bits)
{
    bits |= (uint64_t)1 << 63;
#ifdef __GNUC__
    return (unsigned)__builtin_ctzll(bits);
#else
    unsigned at = 0;
    while (!(bits >> at & 1)) at++;
    return at;
#endif
}

/* The next of the bits found. */
#define NEXT(k)                                                                                    \
    to[k] = (uint32_t)i + lowest_bit(found);                                                       \
    found &= found - 1;

static inline __attribute__((always_inline)) size_t
scan(const char *s, size_t n, char delimiter, uint32_t *at, size_t room, size_t *lines, bool wide)
{
    _Static_assert(PIECE <= BT_SCAN_SLACK && PIECE <= BT_SCAN_SPARE, "a piece fits");
    size_t count = 0, ends = 0;
    for (size_t i = 0; i < n && room - count >= PIECE; i += PIECE) {
        uint64_t end = find_all(s + i, '\n'), found = find_all(s + i, delimiter) | end;
        if (n - i < PIECE) {
            const uint64_t inside = ((uint64_t)1 << (n - i)) - 1;
            end &= inside;
            found &= inside;
        }
        ends += count_bits(end, wide);
        const size_t more = count_bits(found, wide);
        uint32_t *to = at + count;
        /* What is too much is written over. */
        for (size_t done = 0; done < more; done += 8) {
            NEXT(0) NEXT(1) NEXT(2) NEXT(3) NEXT(4) NEXT(5) NEXT(6) NEXT(7) to += 8;
        }
        count += more;
    }
    *lines = ends;
    return count;
}

#if BT_WIDE
BT_WIDE_TARGET static size_t scan_wide(const char *s, size_t n, char delimiter, uint32_t *at,
                                       size_t room, size_t *lines)
{
    return scan(s, n, delimiter, at, room, lines, true);
}
#endif

size_t bt_scan(const char *s, size_t n, char delimiter, uint32_t *at, size_t room, size_t *lines)
{
#if BT_WIDE
    if (bt_is_wide()) return scan_wide(s, n, delimiter, at, room, lines);
#endif
    return scan(s, n, delimiter, at, room, lines, false);
}
