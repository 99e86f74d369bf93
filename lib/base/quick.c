/* Numbers the quick way: see quick.h. */
#include "base/quick.h"

#ifdef __SSE2__
#include <emmintrin.h>
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

static inline bool fits(size_t n)
{
    return n - 1 < CELL_MAX;
}
#endif

bool bt_number_quick(const char *end, size_t n, const bt_form *form, double *out)
{
#if QUICK
    if (!fits(n)) return false;
    uint64_t w, keep = kept[n];
    memcpy(&w, end - CELL_MAX, sizeof w);
    w ^= form->pattern;
    const uint64_t first = keep ^ keep << 8;
    const bool negative = ((w ^ MINUS * EVERY) & first) == 0;
    if (negative) keep ^= first;
    w &= keep;
    const uint64_t odd = ((w + (0x7f * EVERY - form->limit)) | w) & 0x80 * EVERY;
    if (odd | (form->need & ~keep)) return false;
    /* The point goes, what stands before it moves up: digits alone are left. */
    w = (w & form->behind) | (w & form->before) << 8;
    const uint64_t pair = UINT64_C(0x000000ff000000ff);
    w = w * 10 + (w >> 8);
    w = (w & pair) * (100 + (UINT64_C(1000000) << 32)) +
        (w >> 16 & pair) * (1 + (UINT64_C(10000) << 32));
    const double digits = (double)(int32_t)(w >> 32);
    const double x = digits * form->high + digits * form->low;
    *out = negative ? -x : x;
    return true;
#else
    (void)end, (void)n, (void)form, (void)out;
    return false;
#endif
}

#if QUICK && defined(__SSE2__)
/* A form for two cells in a register. */
typedef struct {
    __m128i pattern, limit, need, before, behind;
} wide_form;

static inline __m128i twice(uint64_t x)
{
    return _mm_set1_epi64x((long long)x);
}

static inline __m128i both(const void *low, const void *high)
{
    long long half[2];
    memcpy(&half[0], low, sizeof half[0]);
    memcpy(&half[1], high, sizeof half[1]);
    return _mm_set_epi64x(half[1], half[0]);
}

/* Two cells as bt_number_quick takes one, up to numbers of four digits each; *odd gets bits where
 * something is wrong, *sign the sign bits. */
static inline __m128i take_two(const char *end0, size_t n0, const char *end1, size_t n1,
                               const wide_form *form, __m128i *odd, __m128i *sign)
{
    __m128i w = _mm_xor_si128(both(end0 - CELL_MAX, end1 - CELL_MAX), form->pattern);
    __m128i keep = both(&kept[n0], &kept[n1]);
    const __m128i first = _mm_xor_si128(keep, _mm_slli_epi64(keep, 8));
    const __m128i minus = _mm_and_si128(_mm_cmpeq_epi8(w, _mm_set1_epi8(MINUS)), first);
    keep = _mm_andnot_si128(minus, keep);
    w = _mm_and_si128(w, keep);
    *odd = _mm_or_si128(_mm_subs_epu8(w, form->limit), _mm_andnot_si128(keep, form->need));
    *sign = _mm_slli_epi64(_mm_sad_epu8(minus, _mm_setzero_si128()), 63); /* 0 or 255, an odd one */
    w = _mm_or_si128(_mm_and_si128(w, form->behind),
                     _mm_slli_epi64(_mm_and_si128(w, form->before), 8));
    w = _mm_srli_epi16(_mm_mullo_epi16(w, _mm_set1_epi16(10 * 256 + 1)), 8);
    return _mm_madd_epi16(w, _mm_set1_epi32(1 << 16 | 100));
}

/* Digits to values, for two cells. */
static inline void put_two(__m128i digits, __m128i sign, const bt_form *form, double factor,
                           double shift, double *out)
{
    const __m128d d = _mm_cvtepi32_pd(digits);
    const __m128d x =
        _mm_add_pd(_mm_mul_pd(d, _mm_set1_pd(form->high)), _mm_mul_pd(d, _mm_set1_pd(form->low)));
    const __m128d value = _mm_xor_pd(x, _mm_castsi128_pd(sign));
    _mm_storeu_pd(out, _mm_add_pd(_mm_mul_pd(value, _mm_set1_pd(factor)), _mm_set1_pd(shift)));
}

/* Four cells at a time as long as all four are of the form. */
static size_t take_fours(const bt_cells *cells, size_t n, const bt_form *form, double factor,
                         double shift, double *out)
{
    const wide_form wide = {twice(form->pattern), twice(form->limit), twice(form->need),
                            twice(form->before), twice(form->behind)};
    const char *text = cells->text;
    const uint32_t *at = cells->end;
    const size_t step = cells->stride;
    size_t i = 0;
    for (; n - i >= 4; i += 4, at += 4 * step) {
        const uint32_t end0 = at[0] - cells->tail, n0 = end0 - at[-1] - 1;
        const uint32_t end1 = at[step] - cells->tail, n1 = end1 - at[step - 1] - 1;
        const uint32_t end2 = at[2 * step] - cells->tail, n2 = end2 - at[2 * step - 1] - 1;
        const uint32_t end3 = at[3 * step] - cells->tail, n3 = end3 - at[3 * step - 1] - 1;
        if (((n0 - 1) | (n1 - 1) | (n2 - 1) | (n3 - 1)) >= CELL_MAX) break;
        __m128i odd0, odd1, sign0, sign1;
        const __m128i a = take_two(text + end0, n0, text + end1, n1, &wide, &odd0, &sign0);
        const __m128i b = take_two(text + end2, n2, text + end3, n3, &wide, &odd1, &sign1);
        const __m128i odd = _mm_cmpeq_epi8(_mm_or_si128(odd0, odd1), _mm_setzero_si128());
        if (_mm_movemask_epi8(odd) != 0xffff) break;
        const __m128i digits =
            _mm_madd_epi16(_mm_packs_epi32(a, b), _mm_set1_epi32(1 << 16 | 10000));
        put_two(digits, sign0, form, factor, shift, out + i);
        put_two(_mm_shuffle_epi32(digits, 0xee), sign1, form, factor, shift, out + i + 2);
    }
    return i;
}
#else
static size_t take_fours(const bt_cells *cells, size_t n, const bt_form *form, double factor,
                         double shift, double *out)
{
    (void)cells, (void)n, (void)form, (void)factor, (void)shift, (void)out;
    return 0;
}
#endif

size_t bt_numbers_quick(const bt_cells *cells, size_t n, const bt_form *form, double factor,
                        double shift, double *out)
{
    size_t i = take_fours(cells, n, form, factor, shift, out);
    for (; i < n; i++) {
        size_t length;
        const char *start = bt_cells_at(cells, i, &length);
        if (!bt_number_quick(start + length, length, form, &out[i])) break;
        out[i] = out[i] * factor + shift;
    }
    return i;
}
