/* Numbers the quick way: see quick.h. */
#include "base/quick.h"

#include "base/wide.h"

#if BT_WIDE
#include <immintrin.h>
#endif

/* Bytes are numbered as they lie in memory, and doubles rounded once. */
#if defined(__GNUC__) && __BYTE_ORDER__ == __ORDER_LITTLE_ENDIAN__ && FLT_EVAL_METHOD == 0
#define QUICK 1
#else
#define QUICK 0
#endif

#define EVERY UINT64_C(0x0101010101010101)

enum { CELL_MAX = 8, MINUS = '-' ^ '0' };

/* 1 / 10^places as the sum of a double of few digits, whose product with eight digits is exact, and
 * what that one lacks: digits * high + digits * low is rounded once in all but name, and is the
 * double nearest to digits / 10^places for all digits that there are (tests/check_number.c goes
 * through them).  A division takes several times as long. */
static void set_power(bt_form *form, size_t places)
{
    double power = 1;
    for (size_t i = 0; i < places; i++) power *= 10;
    form->high = (double)(float)(1 / power);
    form->low = (1 - form->high * power) / power;
}

bt_form bt_form_of(const char *s, size_t n, char decimal)
{
    const char *point = n > 0 && n <= CELL_MAX ? memchr(s, decimal, n) : NULL;
    const uint64_t last = UINT64_C(0xff) << 56;
    bt_form form = {.pattern = '0' * EVERY, .limit = 9 * EVERY, .need = last, .behind = UINT64_MAX};
    const size_t places = point ? (size_t)(s + n - point) - 1 : 0;
    set_power(&form, places);
    if (!point) return form;
    const uint64_t at = last >> 8 * places; /* of the point */
    form.pattern ^= at & ((uint64_t)('0' ^ (unsigned char)decimal) * EVERY);
    form.limit &= ~at;
    form.need = places > 0 ? at : at | at >> 8; /* "." is no number */
    form.before = (at & -at) - 1;
    form.behind = ~(at | form.before);
    return form;
}

#if QUICK
/* The last n bytes of eight. */
static const uint64_t kept[CELL_MAX + 1] = {
    0,
    UINT64_C(0xff00000000000000),
    UINT64_C(0xffff000000000000),
    UINT64_C(0xffffff0000000000),
    UINT64_C(0xffffffff00000000),
    UINT64_C(0xffffffffff000000),
    UINT64_C(0xffffffffffff0000),
    UINT64_C(0xffffffffffffff00),
    UINT64_MAX,
};

/* Which of eight bytes, none of them less than 0, are more than a limit. */
static inline uint64_t beyond(uint64_t w, uint64_t limit)
{
    return ((w + (0x7f * EVERY - limit)) | w) & 0x80 * EVERY;
}

/* Eight digits, the first one lowest. */
static inline uint32_t value_of(uint64_t w)
{
    const uint64_t pair = UINT64_C(0x000000ff000000ff);
    w = w * 10 + (w >> 8);
    return (uint32_t)(((w & pair) * (100 + (UINT64_C(1000000) << 32)) +
                       (w >> 16 & pair) * (1 + (UINT64_C(10000) << 32))) >>
                      32);
}
#endif

bool bt_number_quick(const char *end, size_t n, const bt_form *form, double *out)
{
#if QUICK
    if (n - 1 >= CELL_MAX) return false;
    uint64_t w, keep = kept[n];
    memcpy(&w, end - CELL_MAX, sizeof w);
    w ^= form->pattern;
    const uint64_t first = keep ^ keep << 8;
    const bool negative = ((w ^ MINUS * EVERY) & first) == 0;
    if (negative) keep ^= first;
    w &= keep;
    if (beyond(w, form->limit) | (form->need & ~keep)) return false;
    /* The point goes, what stands before it moves up: digits alone are left. */
    const double digits = (int32_t)value_of((w & form->behind) | (w & form->before) << 8);
    const double x = digits * form->high + digits * form->low;
    *out = negative ? -x : x;
    return true;
#else
    (void)end, (void)n, (void)form, (void)out;
    return false;
#endif
}

#if QUICK && BT_WIDE
BT_WIDE_TARGET static inline __m256i all_four(uint64_t x)
{
    return _mm256_set1_epi64x((long long)x);
}

BT_WIDE_TARGET static inline __m256i gather(const void *a, const void *b, const void *c,
                                            const void *d)
{
    long long part[4];
    memcpy(&part[0], a, sizeof part[0]);
    memcpy(&part[1], b, sizeof part[1]);
    memcpy(&part[2], c, sizeof part[2]);
    memcpy(&part[3], d, sizeof part[3]);
    return _mm256_set_epi64x(part[3], part[2], part[1], part[0]);
}

/* What bt_number_quick does, to four cells at a time as long as all four are of the form. */
BT_WIDE_TARGET static size_t take_fours(const bt_cells *cells, size_t n, const bt_form *form,
                                        double factor, double shift, double *out)
{
    const __m256i zero = _mm256_setzero_si256(), pattern = all_four(form->pattern),
                  limit = all_four(form->limit), need = all_four(form->need),
                  before = all_four(form->before), behind = all_four(form->behind);
    const __m256d high = _mm256_set1_pd(form->high), low = _mm256_set1_pd(form->low);
    const char *text = cells->text - CELL_MAX;
    const uint32_t *at = cells->end, tail = cells->tail;
    const size_t step = cells->stride;
    size_t i = 0;
    for (; n - i >= 4; i += 4, at += 4 * step) {
        const uint32_t end0 = at[0] - tail, n0 = end0 - at[-1] - 1;
        const uint32_t end1 = at[step] - tail, n1 = end1 - at[step - 1] - 1;
        const uint32_t end2 = at[2 * step] - tail, n2 = end2 - at[2 * step - 1] - 1;
        const uint32_t end3 = at[3 * step] - tail, n3 = end3 - at[3 * step - 1] - 1;
        if (((n0 - 1) | (n1 - 1) | (n2 - 1) | (n3 - 1)) >= CELL_MAX) break;
        __m256i w = gather(text + end0, text + end1, text + end2, text + end3);
        __m256i keep = gather(&kept[n0], &kept[n1], &kept[n2], &kept[n3]);
        w = _mm256_xor_si256(w, pattern);
        const __m256i first = _mm256_xor_si256(keep, _mm256_slli_epi64(keep, 8));
        const __m256i minus =
            _mm256_and_si256(_mm256_cmpeq_epi8(w, _mm256_set1_epi8(MINUS)), first);
        keep = _mm256_andnot_si256(minus, keep);
        w = _mm256_and_si256(w, keep);
        const __m256i odd =
            _mm256_or_si256(_mm256_subs_epu8(w, limit), _mm256_andnot_si256(keep, need));
        if (!_mm256_testz_si256(odd, odd)) break;
        const __m256i sign = _mm256_slli_epi64(_mm256_sad_epu8(minus, zero), 63);
        w = _mm256_or_si256(_mm256_and_si256(w, behind),
                            _mm256_slli_epi64(_mm256_and_si256(w, before), 8));
        w = _mm256_maddubs_epi16(w, _mm256_set1_epi16(1 << 8 | 10));
        w = _mm256_madd_epi16(w, _mm256_set1_epi32(1 << 16 | 100));
        w = _mm256_madd_epi16(_mm256_packs_epi32(w, w), _mm256_set1_epi32(1 << 16 | 10000));
        w = _mm256_permute4x64_epi64(w, 2 << 2);
        const __m256d d = _mm256_cvtepi32_pd(_mm256_castsi256_si128(w));
        __m256d x = _mm256_add_pd(_mm256_mul_pd(d, high), _mm256_mul_pd(d, low));
        x = _mm256_xor_pd(x, _mm256_castsi256_pd(sign));
        x = _mm256_add_pd(_mm256_mul_pd(x, _mm256_set1_pd(factor)), _mm256_set1_pd(shift));
        _mm256_storeu_pd(out + i, x);
    }
    return i;
}
#endif

size_t bt_numbers_quick(const bt_cells *cells, size_t n, const bt_form *form, double factor,
                        double shift, double *out)
{
    size_t i = 0;
#if QUICK && BT_WIDE
    if (bt_is_wide()) i = take_fours(cells, n, form, factor, shift, out);
#endif
    for (; i < n; i++) {
        size_t length;
        const char *start = bt_cells_at(cells, i, &length);
        if (!bt_number_quick(start + length, length, form, &out[i])) break;
        out[i] = out[i] * factor + shift;
    }
    return i;
}
