/* Braking zones cut from hand-made signals (METHODS 4): where they begin and end, what is dropped,
 * and that every sample comes out once whatever the blocks. */
#include "check_support.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "samples/car.h"
#include "zones/segment.h"

/* ---- a log made by hand ---- */

#define ROOM 40000
static double t[ROOM], pedal[ROOM], line[ROOM], speed[ROOM], decel[ROOM], dist[ROOM], unsure[ROOM],
    lap[ROOM];
static size_t n;
static bt_channel pedal_channel,
    line_channel; /* what opens zones, and one that has half of its pressure */
static bt_car *car;

static void set_up(void)
{
    bt_error err = {0};
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    n = 0;
    pedal_channel = BT_CH_PEDAL_FRONT;
    line_channel = BT_CH_LINE_REAR;
}

static void tear_down(void)
{
    bt_car_free(car);
}

static void add(double at, double p, double v)
{
    ck_assert_uint_lt(n, ROOM);
    t[n] = at;
    pedal[n] = p;
    line[n] = 0.5 * p;
    speed[n] = v;
    decel[n] = 0;
    unsure[n] = 0;
    lap[n] = floor(at);
    dist[n] = n ? dist[n - 1] + 0.5 * (t[n] - t[n - 1]) * (speed[n] + speed[n - 1]) : 0;
    n++;
}

/* Straight lines between corners {time, value}. */
typedef struct {
    double t, x;
} corner;
static double along(const corner *c, double at)
{
    while (c[1].t < at) c++;
    if (at <= c[0].t) return c[0].x;
    return c[0].x + (at - c[0].t) / (c[1].t - c[0].t) * (c[1].x - c[0].x);
}

/* Sampled from 0 to `end`; speed in m/s, pedal in bar. */
static void sample(const corner *pedal_bar, const corner *v, double rate, double end)
{
    for (size_t i = 0; (double)i / rate <= end; i++) {
        const double at = (double)i / rate;
        add(at, 1e5 * along(pedal_bar, at), along(v, at));
    }
}

/* ---- what comes out ---- */

#define ZONES 64
typedef struct {
    double start, end, v0, v1, p0, p1, p_max, d0, d1, lap0, line0;
    double zero[BT_CH_COUNT];
    uint32_t flags;
    size_t n;
    bt_channel pedal;
} seen_zone;
static struct {
    seen_zone zone[ZONES];
    size_t zones, ends, free_n;
    double *tape; /* all that came out, in its order */
    size_t n, cap;
    double latest;
} out;
static size_t keep_zone = ZONES; /* the zone to copy samples of */
static double zt[ROOM], zv[ROOM], za[ROOM], zd[ROOM];

static void tape(double x)
{
    if (out.n == out.cap) {
        out.cap = out.cap ? 2 * out.cap : 4096;
        out.tape = realloc(out.tape, out.cap * sizeof *out.tape);
        ck_assert_ptr_nonnull(out.tape);
    }
    out.tape[out.n++] = x;
}

static void tape_samples(const bt_block *b)
{
    for (size_t i = 0; i < b->n; i++) {
        ck_assert_double_gt(b->t[i], out.latest); /* in the order of time */
        out.latest = b->t[i];
        tape(b->t[i]);
        for (int k = 0; k < BT_SIGNALS; k++)
            if (b->ch[k]) tape(b->ch[k][i]);
    }
}

static bt_status free_run(void *user, const bt_block *b, bt_error *err)
{
    (void)user, (void)err;
    ck_assert_uint_ge(b->n, 1);
    ck_assert_uint_le(b->n, BT_BLOCK_MAX);
    tape_samples(b);
    for (size_t i = 0; i < b->n; i++) { /* as logged */
        size_t j = 0;
        while (j < n && t[j] != b->t[i]) j++;
        ck_assert_uint_lt(j, n);
        if (pedal_channel != BT_CH_COUNT)
            ck_assert(memcmp(&b->ch[pedal_channel][i], &pedal[j], sizeof pedal[j]) == 0);
        out.free_n++;
    }
    return BT_OK;
}

static bt_status braking(void *user, const bt_braking *z, bt_error *err)
{
    (void)user, (void)err;
    ck_assert_uint_lt(out.zones, ZONES);
    const size_t e = z->s.n - 1;
    seen_zone *o = &out.zone[out.zones];
    *o = (seen_zone){.n = z->s.n, .flags = z->flags, .pedal = z->pedal};
    o->start = z->s.t[0], o->end = z->s.t[e];
    o->v0 = z->s.ch[BT_SIG_SPEED][0], o->v1 = z->s.ch[BT_SIG_SPEED][e];
    o->d0 = z->s.ch[BT_SIG_DIST][0], o->d1 = z->s.ch[BT_SIG_DIST][e];
    o->lap0 = z->s.ch[BT_CH_LAP][0];
    memcpy(o->zero, z->zero, sizeof o->zero);
    const double *p = z->s.ch[pedal_channel];
    if (pedal_channel != BT_CH_COUNT) {
        o->p0 = p[0], o->p1 = p[e];
        for (size_t i = 0; i <= e; i++) o->p_max = fmax(o->p_max, p[i]);
    }
    if (z->s.ch[line_channel]) o->line0 = z->s.ch[line_channel][0];
    for (size_t i = 0; out.zones == keep_zone && i <= e; i++) {
        zt[i] = z->s.t[i], zv[i] = z->s.ch[BT_SIG_SPEED][i];
        za[i] = z->s.ch[BT_SIG_DECEL][i], zd[i] = z->s.ch[BT_SIG_DIST][i];
    }
    out.zones++;
    tape(-1);
    tape((double)z->flags);
    tape_samples(&z->s);
    return BT_OK;
}

static bt_status stretch_end(void *user, bt_error *err)
{
    (void)user, (void)err;
    out.ends++;
    tape(-2);
    return BT_OK;
}

static void clear_out(void)
{
    free(out.tape);
    memset(&out, 0, sizeof out);
    out.latest = -INFINITY;
}

static uint64_t run_limited(size_t block, size_t max_samples)
{
    static bt_channels channels;
    for (int c = 0; c < BT_CH_COUNT; c++) channels.ch[c].column = -1;
    if (pedal_channel != BT_CH_COUNT) channels.ch[pedal_channel].column = 1;
    channels.ch[line_channel].column = 2;
    channels.ch[BT_CH_LAP].column = 3;
    clear_out();
    const bt_segment_sink sink = {NULL, free_run, braking, stretch_end};
    bt_error err = {0};
    bt_stage *s;
    ck_assert_int_eq(bt_segment_new(&s, &channels, car, max_samples, &sink, &err), BT_OK);
    ck_assert_int_eq(bt_segment_pedal(s), pedal_channel);
    for (size_t lo = 0; lo < n; lo += block) {
        bt_block b = {.n = n - lo < block ? n - lo : block, .t = t + lo};
        if (pedal_channel != BT_CH_COUNT) b.ch[pedal_channel] = pedal + lo;
        b.ch[line_channel] = line + lo;
        b.ch[BT_CH_LAP] = lap + lo;
        b.ch[BT_SIG_SPEED] = speed + lo;
        b.ch[BT_SIG_DECEL] = decel + lo;
        b.ch[BT_SIG_DIST] = dist + lo;
        b.ch[BT_SIG_UNSURE] = unsure + lo;
        ck_assert_int_eq(s->push(s, &b, &err), BT_OK);
    }
    ck_assert_int_eq(s->end(s, &err), BT_OK);
    ck_assert_uint_eq(out.ends, 1);
    const uint64_t touches = bt_segment_touches(s);
    bt_segment_free(s);
    return touches;
}

static uint64_t run(size_t block)
{
    return run_limited(block, 0);
}

/* ---- one braking ---- */

/* 60 bar within 0.2 s at t = 2, held until 4, let go within 0.2 s; 50 to 30 m/s. */
static const corner one_pedal[] = {{0, 0}, {2, 0}, {2.2, 60}, {4, 60}, {4.2, 0}, {99, 0}};
static const corner one_speed[] = {{0, 50}, {2.1, 50}, {4.1, 30}, {99, 30}};

static const double rates[] = {1000, 200, 100, 50};
START_TEST(a_zone_begins_and_ends_where_the_pedal_crosses_off)
{
    sample(one_pedal, one_speed, rates[_i], 6);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, 1);
    const seen_zone *z = &out.zone[0];
    /* 1.5 of 60 bar in 0.2 s: 5 ms from the foot of the ramp.  Corners fall on samples, so straight
     * lines between samples are exact. */
    ck_assert_double_eq_tol(z->start, 2.005, 1e-9);
    ck_assert_double_eq_tol(z->end, 4.195, 1e-9);
    ck_assert_double_eq_tol(z->p0, 1.5e5, 1e-3);
    ck_assert_double_eq_tol(z->p1, 1.5e5, 1e-3);
    ck_assert_double_eq_tol(z->line0, 0.75e5, 1e-3);
    ck_assert_double_eq_tol(z->p_max, 60e5, 1e-3);
    ck_assert_double_eq_tol(z->v0, 50, 1e-9);
    ck_assert_double_eq_tol(z->v1, 30, 1e-9);
    ck_assert_double_eq_tol(z->d0, 50 * 2.005, 1e-6);
    ck_assert_uint_eq(z->flags, 0);
    ck_assert_int_eq(z->pedal, BT_CH_PEDAL_FRONT);
}
END_TEST

static const double slow_rates[] = {25, 10, 5, 1};
START_TEST(a_slow_log_finds_the_zone_to_within_a_sample)
{
    sample(one_pedal, one_speed, slow_rates[_i], 8);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, 1);
    ck_assert_double_eq_tol(out.zone[0].start, 2.005, 1 / slow_rates[_i]);
    ck_assert_double_eq_tol(out.zone[0].end, 4.195, 1 / slow_rates[_i]);
    ck_assert_uint_eq(out.zone[0].flags, 0);
}
END_TEST

START_TEST(one_sample_a_second_is_enough_to_open_and_to_close)
{
    const double p[] = {0, 0, 20, 20, 0, 0}, v[] = {40, 40, 38, 30, 25, 25};
    for (size_t i = 0; i < 6; i++) add((double)i, 1e5 * p[i], v[i]);
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    ck_assert_double_eq_tol(out.zone[0].start, 1.075, 1e-12); /* 1.5 of 20 bar from 1 s on */
    ck_assert_double_eq_tol(out.zone[0].end, 3.925, 1e-12);
    ck_assert_double_eq(out.zone[0].lap0, 1); /* a state holds: floor(1) */
    ck_assert_double_eq_tol(out.zone[0].v0, 40 - 0.075 * 2, 1e-12);
}
END_TEST

START_TEST(what_stays_above_on_for_less_than_50_ms_is_no_zone)
{
    /* 40 ms at 100 Hz counted from the last sample below: four samples above. */
    for (size_t i = 0; i < 400; i++)
        add(0.01 * (double)i,
            i >= 100 && i < 104   ? 10e5
            : i >= 104 && i < 300 ? 2e5
                                  : 0,
            50 - 0.05 * (double)i);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, 0);
    ck_assert_uint_eq(out.free_n, n);
    for (size_t i = 104; i < 106; i++) pedal[i] = 10e5;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
}
END_TEST

/* ---- several, dropped, merged ---- */

START_TEST(zones_closer_than_the_gap_are_one_and_others_two)
{
    static const double gaps[] = {0.24, 0.26};
    const double again = 4 + gaps[_i] - 0.002; /* between crossings, 1 ms flanks */
    const corner p[] = {{0, 0},     {2, 0},     {2.001, 15},         {4, 15},
                        {4.001, 0}, {again, 0}, {again + 0.001, 15}, {6, 15},
                        {6.001, 0}, {99, 0}};
    const corner v[] = {{0, 60}, {2, 60}, {6, 20}, {99, 20}};
    sample(p, v, 1000, 8);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, _i == 0 ? 1 : 2);
    ck_assert_double_eq_tol(out.zone[0].start, 2.0001, 1e-9);
    ck_assert_double_eq_tol(out.zone[out.zones - 1].end, 6.0009, 1e-9);
}
END_TEST

START_TEST(a_dip_below_off_of_less_than_150_ms_does_not_end_a_zone)
{
    sample(one_pedal, one_speed, 100, 6);
    for (size_t i = 300; i < 314; i++) pedal[i] = 0;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    ck_assert_double_eq_tol(out.zone[0].end, 4.195, 1e-9);
}
END_TEST

START_TEST(short_and_light_brakings_are_touches_and_pass_as_free_samples)
{
    /* 0.2 s long; then 2 s long, but 1 m/s light. */
    const corner p[] = {{0, 0}, {2, 0},     {2.01, 20}, {2.2, 20}, {2.21, 0},
                        {4, 0}, {4.01, 20}, {6, 20},    {6.01, 0}, {99, 0}};
    const corner v[] = {{0, 60}, {2, 60}, {2.2, 50}, {4, 50}, {6, 49}, {99, 49}};
    sample(p, v, 100, 8);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 2);
    ck_assert_uint_eq(out.zones, 0);
    ck_assert_uint_eq(out.free_n, n);
}
END_TEST

START_TEST(every_threshold_of_the_car_is_heeded)
{
    bt_error err = {0};
    const corner p[] = {{0, 0}, {2, 0}, {3, 10}, {4, 10}, {5, 0}, {99, 0}};
    sample(p, one_speed, 100, 8);
    ck_assert_int_eq(bt_car_set(car, "zone_on=5 bar", &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "zone_off=4 bar", &err), BT_OK);
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    ck_assert_double_eq_tol(out.zone[0].start, 2.4, 1e-9);
    ck_assert_double_eq_tol(out.zone[0].end, 4.6, 1e-9);
    ck_assert_int_eq(bt_car_set(car, "zone_min_drop=30 m/s", &err), BT_OK);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 1);
    ck_assert_int_eq(bt_car_set(car, "zone_min_drop=2 m/s", &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "zone_min_time=2.3 s", &err), BT_OK);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 1);
    ck_assert_uint_eq(out.zones, 0);
}
END_TEST

/* ---- standing ---- */

START_TEST(a_stop_ends_the_zone_where_the_speed_falls_below_half_a_metre_a_second)
{
    const corner p[] = {{0, 0}, {2, 0}, {2.1, 30}, {20, 30}, {20.1, 0}, {99, 0}};
    const corner v[] = {{0, 20}, {2, 20}, {4, 0}, {25, 0}, {30, 20}, {99, 20}};
    sample(p, v, 100, 30);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, 1); /* and the pedal held while standing is no zone */
    ck_assert_double_eq_tol(out.zone[0].end, 3.95, 1e-9);
    ck_assert_double_eq_tol(out.zone[0].v1, 0.5, 1e-9);
    ck_assert_uint_eq(out.zone[0].flags, 0);
}
END_TEST

START_TEST(pedal_pressure_on_a_standing_car_is_no_zone)
{
    const corner p[] = {{0, 0}, {2, 0}, {2.1, 60}, {8, 60}, {8.1, 0}, {99, 0}};
    const corner v[] = {{0, 0}, {99, 0}};
    sample(p, v, 100, 10);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, 0);
    ck_assert_uint_eq(out.free_n, n);
}
END_TEST

/* ---- cuts, holes, hovering ---- */

START_TEST(a_zone_under_way_at_either_end_of_the_stretch_is_flagged)
{
    const corner p[] = {{0, 20}, {2, 20}, {2.1, 0}, {4, 0}, {4.1, 20}, {99, 20}};
    const corner v[] = {{0, 60}, {2, 50}, {4, 50}, {9, 20}, {99, 20}};
    sample(p, v, 100, 6);
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 2);
    ck_assert_uint_eq(out.zone[0].flags, BT_FLAG_CUT_START | BT_FLAG_NO_ZERO);
    ck_assert_double_eq(out.zone[0].start, 0);
    ck_assert_uint_eq(out.zone[1].flags, BT_FLAG_CUT_END);
    ck_assert_double_eq(out.zone[1].end, 6);
    ck_assert_double_eq_tol(out.zone[1].start, 4.0075, 1e-9);
}
END_TEST

START_TEST(a_hole_in_the_pedal_cuts_the_zone_on_both_sides)
{
    sample(one_pedal, one_speed, 100, 6);
    for (size_t i = 280; i < 340; i++) pedal[i] = NAN;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 2);
    ck_assert_double_eq(out.zone[0].end, t[279]);
    ck_assert_uint_eq(out.zone[0].flags, BT_FLAG_CUT_END);
    ck_assert_double_eq(out.zone[1].start, t[340]);
    /* The line's 30 bar in the hole are no zero of it. */
    ck_assert_uint_eq(out.zone[1].flags, BT_FLAG_CUT_START);
    ck_assert_double_eq_tol(out.zone[1].end, 4.195, 1e-9);
}
END_TEST

START_TEST(a_foot_resting_between_off_and_on_adds_a_second_at_most)
{
    /* 0.3 s of rest belong to the zone; of 5 s the last one does. */
    static const double rests[] = {0.3, 5};
    const double at = 2.1 + rests[_i];
    const corner p[] = {{0, 0},         {2, 0},       {2.1, 2},      {at, 2},
                        {at + 0.1, 40}, {at + 2, 40}, {at + 2.1, 0}, {99, 0}};
    const corner v[] = {{0, 60}, {at, 60}, {at + 2, 30}, {99, 30}};
    sample(p, v, 100, 12);
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    if (_i == 0) {
        ck_assert_double_eq_tol(out.zone[0].start, 2.075, 1e-9);
    } else {
        /* Above 3 bar from at + 0.1/38 on, so the first sample above is at + 0.01 and the zone
         * opens 40 ms later, 50 ms after the last sample below. */
        ck_assert_double_eq_tol(out.zone[0].start, at + 0.05 - 1.0, 1e-9);
    }
    ck_assert_uint_eq(out.zone[0].flags, 0);
}
END_TEST

/* ---- zeros ---- */

START_TEST(an_offset_up_to_two_bar_moves_nothing)
{
    static const double offsets[] = {-1.5e5, 0.7e5, 1.2e5, 1.9e5};
    sample(one_pedal, one_speed, 100, 6);
    for (size_t i = 0; i < n; i++) pedal[i] += offsets[_i], line[i] -= 1e5;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    ck_assert_double_eq_tol(out.zone[0].start, 2.005, 1e-9);
    ck_assert_double_eq_tol(out.zone[0].end, 4.195, 1e-9);
    ck_assert_double_eq_tol(out.zone[0].p_max, 60e5, 1e-3);
    ck_assert_double_eq_tol(out.zone[0].line0, 0.75e5, 1e-3);
    ck_assert_double_eq_tol(out.zone[0].zero[BT_CH_PEDAL_FRONT], offsets[_i], 1e-6);
    ck_assert_double_eq_tol(out.zone[0].zero[BT_CH_LINE_REAR], -1e5, 1e-6);
    ck_assert_uint_eq(out.zone[0].flags, 0);
}
END_TEST

/* Three brakings of 60 bar like one_pedal, 8 s apart; between them the car gains speed again. */
static const corner three_pedal[] = {{0, 0},     {2, 0},     {2.2, 60}, {4, 60},   {4.2, 0},
                                     {10, 0},    {10.2, 60}, {12, 60},  {12.2, 0}, {18, 0},
                                     {18.2, 60}, {20, 60},   {20.2, 0}, {99, 0}};
static const corner three_speed[] = {{0, 50},    {2.1, 50},  {4.1, 30},  {10.1, 50},
                                     {12.1, 30}, {18.1, 50}, {20.1, 30}, {99, 30}};

static void three_zones_as_true(void)
{
    ck_assert_uint_eq(out.zones, 3);
    for (int k = 0; k < 3; k++) { /* the moved zero is known to the noise there is: none */
        ck_assert_double_eq_tol(out.zone[k].start, 2.005 + 8 * k, 1e-6);
        ck_assert_double_eq_tol(out.zone[k].end, 4.195 + 8 * k, 1e-6);
    }
}

/* {where the pedal's zero moves, where it comes back, by how much}: between brakings, in one, from the start. */
static const double moved[][3] = {
    {7, 15, 1.9}, {7, 15, 3.4}, {3, 15, 3.4}, {7, 99, 12}, {-1, 99, 3.4}};
START_TEST(a_pedal_whose_zero_moves_while_its_sister_rests_leaves_no_zone_open)
{
    line_channel = BT_CH_PEDAL_REAR;
    sample(three_pedal, three_speed, 100, 24);
    for (size_t i = 0; i < n; i++)
        if (t[i] > moved[_i][0] && t[i] < moved[_i][1]) pedal[i] += 1e5 * moved[_i][2];
    run(BT_BLOCK_MAX);
    three_zones_as_true();
    const bool beyond = moved[_i][2] > 2; /* not subtracted, but told */
    ck_assert_uint_eq(out.zone[1].flags, beyond ? BT_FLAG_ZERO_OFFSET : 0);
    ck_assert_double_eq_tol(out.zone[1].p_max, 1e5 * (60 + (beyond ? moved[_i][2] : 0)), 1e-3);
    const size_t length = out.n;
    double *whole = out.tape;
    out.tape = NULL;
    run(7); /* where blocks are cut changes nothing */
    ck_assert_uint_eq(out.n, length);
    ck_assert(memcmp(out.tape, whole, length * sizeof *whole) == 0);
    free(whole);
}
END_TEST

START_TEST(a_pedal_alone_whose_zero_moves_is_known_by_the_speed_that_the_car_gains)
{
    line_channel = BT_CH_LINE_REAR; /* hangs on the wire */
    sample(three_pedal, three_speed, 100, 24);
    for (size_t i = 0; i < n; i++) {
        if (t[i] > 7) pedal[i] += 3.4e5;
        decel[i] = along(three_pedal, t[i]) > 1 ? 10 : -3.3;
    }
    run(BT_BLOCK_MAX);
    three_zones_as_true();
}
END_TEST

START_TEST(a_foot_that_rests_lifts_both_and_moves_no_zero)
{
    line_channel = BT_CH_PEDAL_REAR;
    sample(three_pedal, three_speed, 100, 24);
    for (size_t i = 0; i < n; i++)
        if (t[i] > 6 && t[i] < 10.2 && pedal[i] < 2e5) pedal[i] = 2e5, line[i] = 1e5;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 3);
    ck_assert_double_eq_tol(out.zone[1].p_max, 60e5, 1e-3);
    ck_assert_double_lt(out.zone[1].start, 10); /* it belongs to the braking, METHODS 4 */
}
END_TEST

START_TEST(a_line_offset_beyond_two_bar_is_flagged_and_left)
{
    sample(one_pedal, one_speed, 100, 6);
    for (size_t i = 0; i < n; i++) line[i] += 3e5;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zone[0].flags, BT_FLAG_ZERO_OFFSET);
    ck_assert_double_eq(out.zone[0].zero[BT_CH_LINE_REAR], 0);
    ck_assert_double_eq_tol(out.zone[0].line0, 3.75e5, 1e-3);
}
END_TEST

/* ---- pedals that are no pressure, and none ---- */

START_TEST(force_and_travel_open_zones_at_the_trigger_of_j299)
{
    static const struct {
        bt_channel channel;
        double full, off;
    } cases[] = {{BT_CH_PEDAL_FORCE, 440, 11},
                 {BT_CH_PEDAL_TRAVEL, 0.04, 0.001},
                 {BT_CH_PEDAL_REAR, 60e5, 1.5e5},
                 {BT_CH_LINE_FRONT, 60e5, 1.5e5}};
    pedal_channel = cases[_i].channel;
    sample(one_pedal, one_speed, 1000, 6);
    for (size_t i = 0; i < n; i++) pedal[i] *= cases[_i].full / 60e5;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    ck_assert_int_eq(out.zone[0].pedal, cases[_i].channel);
    ck_assert_double_eq_tol(out.zone[0].start, 2 + 0.2 * cases[_i].off / cases[_i].full, 1e-9);
    ck_assert_double_eq_tol(out.zone[0].p_max, cases[_i].full, 1e-9 * cases[_i].full);
}
END_TEST

/* NEDC from its table (UN R83; CHECKS 8.1): corners of the speed trace, km/h. */
static const corner urban[] = {{0, 0},    {11, 0},   {15, 15},  {23, 15},  {25, 10},  {28, 0},
                               {49, 0},   {54, 15},  {56, 15},  {61, 32},  {85, 32},  {93, 10},
                               {96, 0},   {117, 0},  {122, 15}, {124, 15}, {133, 35}, {135, 35},
                               {143, 50}, {155, 50}, {163, 35}, {176, 35}, {178, 32}, {185, 10},
                               {188, 0},  {195, 0},  {999, 0}};
/* From 780 s on: the two falling parts of the extra-urban cycle; the rest does not brake. */
static const corner extra[] = {{780, 0},    {841, 70},   {891, 70},   {899, 50},  {968, 50},
                               {1041, 100}, {1106, 120}, {1126, 120}, {1142, 80}, {1150, 50},
                               {1160, 0},   {1180, 0},   {9999, 0}};
static double nedc(double at)
{
    return at < 780 ? along(urban, fmod(at, 195)) : along(extra, at);
}

/* Start and end of the 18 published zones. */
static void expect_nedc_zone(size_t k, double *start, double *end)
{
    static const double cycle[4][2] = {{23, 28}, {85, 96}, {155, 163}, {176, 188}};
    static const double last[2][2] = {{891, 899}, {1126, 1160}};
    *start = k < 16 ? cycle[k % 4][0] + 195.0 * (double)(k / 4) : last[k - 16][0];
    *end = k < 16 ? cycle[k % 4][1] + 195.0 * (double)(k / 4) : last[k - 16][1];
}

/* The exact slope of the step behind each sample, none before. */
static void sample_nedc(double rate, double scale)
{
    for (size_t i = 0; (double)i / rate <= 1180; i++)
        add((double)i / rate, 0, scale * nedc((double)i / rate) / 3.6);
    for (size_t i = 0; i + 1 < n; i++) decel[i] = (speed[i] - speed[i + 1]) * rate;
}

START_TEST(the_nedc_has_eighteen_zones_and_slopes_do_not_split_them)
{
    static const double nedc_rates[] = {1, 20};
    bt_error err = {0};
    pedal_channel = BT_CH_COUNT;
    /* Half as fast again: all 18 zones begin above the 5 m/s that a zone needs, the steps stay. */
    sample_nedc(nedc_rates[_i], 1.5);
    ck_assert_int_eq(bt_car_set(car, "zone_on_decel=0.5 m/s2", &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "zone_off_decel=0.3 m/s2", &err), BT_OK);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, 18);
    for (size_t k = 0; k < 18; k++) {
        double start, end;
        expect_nedc_zone(k, &start, &end);
        /* One step for the crossing of off; a stop ends at 0.5 m/s, 0.36 s or less before standing.
         */
        ck_assert_double_eq_tol(out.zone[k].start, start, 1 / nedc_rates[_i]);
        ck_assert_double_eq_tol(out.zone[k].end, end, 0.37 + 1 / nedc_rates[_i]);
        ck_assert_int_eq(out.zone[k].pedal, BT_CH_COUNT);
    }
}
END_TEST

START_TEST(at_its_own_speed_the_nedc_loses_the_four_stops_from_15_kmh)
{
    bt_error err = {0};
    pedal_channel = BT_CH_COUNT;
    sample_nedc(1, 1);
    ck_assert_int_eq(bt_car_set(car, "zone_on_decel=0.4 m/s2", &err), BT_OK);
    ck_assert_int_eq(bt_car_set(car, "zone_off_decel=0.2 m/s2", &err), BT_OK);
    ck_assert_uint_eq(run(BT_BLOCK_MAX), 0);
    ck_assert_uint_eq(out.zones, 14); /* 15 km/h = 4.2 m/s, and a zone needs 5 m/s */
}
END_TEST

/* ---- a speed not to be believed ---- */

/* Wheels lock 0.5 s into the braking: the speed falls by 15 m/s2 to nothing and comes back when the
 * pedal is let go.  Truth: 30 to 9 m/s at 6 m/s2 from 2.5 to 6 s. */
static void sample_lock(double back)
{
    const corner p[] = {{0, 0}, {2.5, 0}, {2.6, 40}, {5.9, 40}, {6, 0}, {99, 0}};
    const corner truth[] = {{0, 30}, {2.5, 30}, {6, 9}, {99, 9}};
    sample(p, truth, 100, 12);
    for (size_t i = 0; i < n; i++) {
        decel[i] = t[i] > 2.5 && t[i] < 6 ? 6 : 0;
        if (!(t[i] > 3 && t[i] < back)) continue;
        unsure[i] = 1;
        speed[i] = fmax(0, 27 - 15 * (t[i] - 3));
        decel[i] = speed[i] > 0 ? 15 : 0;
    }
    for (size_t i = 1; i < n; i++)
        dist[i] = dist[i - 1] + 0.5 * (t[i] - t[i - 1]) * (speed[i] + speed[i - 1]);
}

START_TEST(a_slip_is_bridged_by_the_line_between_believed_speeds)
{
    static const double backs[] = {5.0, 6.3}; /* inside the zone, and behind its end */
    sample_lock(backs[_i]);
    keep_zone = 0;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    const seen_zone *z = &out.zone[0];
    ck_assert_uint_eq(z->flags, BT_FLAG_SPEED_UNSURE);
    ck_assert_double_eq_tol(z->start, 2.50375, 1e-9);
    ck_assert_double_eq_tol(z->end, 5.99625, 1e-9);
    /* Inside, the truth is a straight line and so is the bridge.  Behind the end, half a smoothing
     * window, its ends included, is left out on either side of 3.01 to 6.29 s: from (2.90, 27.6) to
     * (6.40, 9). */
    const double slope = _i == 0 ? 6 : (27.6 - 9) / (6.40 - 2.90);
    double d = zd[0];
    for (size_t i = 0; i < z->n; i++) {
        const double v = zt[i] <= 2.90 ? 30 - 6 * (zt[i] - 2.5) : 27.6 - slope * (zt[i] - 2.90);
        ck_assert_double_eq_tol(zv[i], v, 1e-9);
        if (zt[i] > 2.95 && zt[i] < 4.9) ck_assert_double_eq_tol(za[i], slope, 1e-9);
        if (i > 0) d += 0.5 * (zt[i] - zt[i - 1]) * (zv[i] + zv[i - 1]);
        ck_assert_double_eq_tol(zd[i], d, 2e-3); /* the first step is cut off the log's own */
    }
}
END_TEST

START_TEST(a_speed_that_never_comes_back_stays_as_bridged_before)
{
    sample_lock(11);
    keep_zone = 0;
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 1);
    ck_assert_uint_eq(out.zone[0].flags, BT_FLAG_SPEED_UNSURE);
    ck_assert_double_eq(out.zone[0].v1, 0); /* and a standing axle is no standing car */
    ck_assert_double_eq_tol(out.zone[0].end, 5.99625, 1e-9);
}
END_TEST

/* ---- blocks and memory ---- */

/* Everything that can happen, 25 to 1000 Hz: offset, touches, a merge, resting foot, hole, slip,
 * stop. */
static void sample_everything(void)
{
    const corner p[] = {{0, 30},   {0.8, 30}, {0.9, 0},  {2, 0},    {2.1, 50},  {3, 50},
                        {3.05, 0}, {3.2, 0},  {3.3, 40}, {4, 40},   {4.1, 0},   {4.3, 0},
                        {4.4, 20}, {4.5, 20}, {4.6, 0},  {6, 0},    {6.1, 2.2}, {7.6, 2.2},
                        {7.7, 60}, {9, 60},   {9.1, 0},  {10, 0},   {10.1, 30}, {14, 30},
                        {14.1, 0}, {15, 0},   {15.1, 3}, {15.2, 0}, {15.3, 30}, {99, 30}};
    const corner v[] = {{0, 70},  {0.8, 62}, {2, 65}, {4.5, 45}, {7.7, 60}, {9, 48},
                        {10, 48}, {13, 0},   {14, 0}, {15, 30},  {16, 20},  {99, 20}};
    double at = 0;
    for (size_t i = 0; at < 16; i++, at += i % 7 == 0 ? 0.001 : 0.02 + 0.005 * (double)(i % 3))
        add(at, 1e5 * (along(p, at) + 0.9 + 0.05 * sin(37 * at)), along(v, at));
    for (size_t i = 0; i < n; i++) {
        if (t[i] > 8.0 && t[i] < 8.2) pedal[i] = NAN;
        if (t[i] > 8.6 && t[i] < 9.4) unsure[i] = 1;
        if (t[i] > 3.0 && t[i] < 3.2) line[i] = NAN;
    }
}

static const size_t limits[] = {0, 16};
START_TEST(block_size_never_changes_what_comes_out_bit_by_bit)
{
    sample_everything();
    const uint64_t touches = run_limited(BT_BLOCK_MAX, limits[_i]);
    ck_assert_uint_ge(out.zones, 4);
    const size_t size = out.n * sizeof *out.tape;
    double *whole = malloc(size);
    ck_assert_ptr_nonnull(whole);
    memcpy(whole, out.tape, size);
    for (size_t block = 1; block <= n; block++) {
        ck_assert_uint_eq(run_limited(block, limits[_i]), touches);
        ck_assert_uint_eq(out.n * sizeof *out.tape, size);
        ck_assert(memcmp(out.tape, whole, size) == 0);
    }
    free(whole);
}
END_TEST

START_TEST(every_sample_comes_out_once)
{
    sample_everything();
    run(64);
    /* Walk the tape: each t of the log must be there once; what else is there are starts and ends.
     */
    const size_t width = 1 + 7;
    size_t found = 0, extra_samples = 0, j = 0;
    for (size_t i = 0; i < out.n;) {
        if (out.tape[i] == -2) break;
        if (out.tape[i] == -1) {
            i += 2;
            continue;
        }
        if (j < n && out.tape[i] == t[j])
            found++, j++;
        else
            extra_samples++;
        i += width;
    }
    ck_assert_uint_eq(found, n);
    ck_assert_uint_le(extra_samples, 2 * out.zones);
    ck_assert_uint_ge(extra_samples, out.zones);
}
END_TEST

START_TEST(a_long_zone_is_thinned_evenly_and_says_so)
{
    const corner p[] = {{0, 0}, {2, 0}, {2.1, 20}, {30, 20}, {30.1, 0}, {99, 0}};
    const corner v[] = {{0, 90}, {2, 90}, {30, 6}, {99, 6}};
    sample(p, v, 100, 35);
    keep_zone = 0;
    run_limited(BT_BLOCK_MAX, 256);
    ck_assert_uint_eq(out.zones, 1);
    const seen_zone *z = &out.zone[0];
    ck_assert_uint_eq(z->flags, BT_FLAG_THINNED);
    ck_assert_uint_le(z->n, 256 + 20);
    ck_assert_uint_ge(z->n, 128);
    ck_assert_double_eq_tol(z->start, 2.0075, 1e-9);
    ck_assert_double_eq_tol(z->end, 30.0925, 1e-9);
    for (size_t i = 1; i < z->n; i++) {
        /* 2808 samples in 256: four halvings of 0.01 s do. */
        ck_assert_double_le(zt[i] - zt[i - 1], 0.16 + 1e-9);
        ck_assert_double_eq_tol(zv[i], fmax(6, 90 - 3 * (zt[i] - 2)), 1e-9);
    }
}
END_TEST

START_TEST(a_log_without_a_sample_ends_in_peace)
{
    run(BT_BLOCK_MAX);
    ck_assert_uint_eq(out.zones, 0);
}
END_TEST

START_TEST(stretches_are_strangers_to_each_other)
{
    static bt_channels channels;
    for (int c = 0; c < BT_CH_COUNT; c++) channels.ch[c].column = -1;
    channels.ch[BT_CH_PEDAL_FRONT].column = 1;
    sample(one_pedal, one_speed, 100, 3);
    clear_out();
    const bt_segment_sink sink = {NULL, free_run, braking, stretch_end};
    bt_error err = {0};
    bt_stage *s;
    ck_assert_int_eq(bt_segment_new(&s, &channels, car, 0, &sink, &err), BT_OK);
    for (int stretch = 0; stretch < 2; stretch++) {
        out.latest = -INFINITY;
        const bt_block b = {.n = n,
                            .t = t,
                            .ch = {[BT_CH_PEDAL_FRONT] = pedal,
                                   [BT_CH_LAP] = lap,
                                   [BT_SIG_SPEED] = speed,
                                   [BT_SIG_DECEL] = decel,
                                   [BT_SIG_DIST] = dist}};
        ck_assert_uint_le(b.n, BT_BLOCK_MAX);
        ck_assert_int_eq(s->push(s, &b, &err), BT_OK);
        ck_assert_int_eq(s->end(s, &err), BT_OK);
    }
    ck_assert_uint_eq(out.zones, 2);
    ck_assert_uint_eq(out.ends, 2);
    ck_assert_uint_eq(out.zone[0].flags, BT_FLAG_CUT_END);
    ck_assert_double_eq(out.zone[0].start, out.zone[1].start);
    ck_assert_uint_eq(out.zone[1].flags, BT_FLAG_CUT_END);
    bt_segment_free(s);
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("segment");
    TCase *c = tcase_create("zones");
    tcase_add_checked_fixture(c, set_up, tear_down);
    tcase_set_timeout(c, 60);
    tcase_add_loop_test(c, a_zone_begins_and_ends_where_the_pedal_crosses_off, 0, 4);
    tcase_add_loop_test(c, a_slow_log_finds_the_zone_to_within_a_sample, 0, 4);
    tcase_add_test(c, one_sample_a_second_is_enough_to_open_and_to_close);
    tcase_add_test(c, what_stays_above_on_for_less_than_50_ms_is_no_zone);
    tcase_add_loop_test(c, zones_closer_than_the_gap_are_one_and_others_two, 0, 2);
    tcase_add_test(c, a_dip_below_off_of_less_than_150_ms_does_not_end_a_zone);
    tcase_add_test(c, short_and_light_brakings_are_touches_and_pass_as_free_samples);
    tcase_add_test(c, every_threshold_of_the_car_is_heeded);
    tcase_add_test(c, a_stop_ends_the_zone_where_the_speed_falls_below_half_a_metre_a_second);
    tcase_add_test(c, pedal_pressure_on_a_standing_car_is_no_zone);
    tcase_add_test(c, a_zone_under_way_at_either_end_of_the_stretch_is_flagged);
    tcase_add_test(c, a_hole_in_the_pedal_cuts_the_zone_on_both_sides);
    tcase_add_loop_test(c, a_foot_resting_between_off_and_on_adds_a_second_at_most, 0, 2);
    tcase_add_loop_test(c, an_offset_up_to_two_bar_moves_nothing, 0, 4);
    tcase_add_loop_test(c, a_pedal_whose_zero_moves_while_its_sister_rests_leaves_no_zone_open, 0,
                        sizeof moved / sizeof *moved);
    tcase_add_test(c, a_pedal_alone_whose_zero_moves_is_known_by_the_speed_that_the_car_gains);
    tcase_add_test(c, a_foot_that_rests_lifts_both_and_moves_no_zero);
    tcase_add_test(c, a_line_offset_beyond_two_bar_is_flagged_and_left);
    tcase_add_loop_test(c, force_and_travel_open_zones_at_the_trigger_of_j299, 0, 4);
    tcase_add_loop_test(c, the_nedc_has_eighteen_zones_and_slopes_do_not_split_them, 0, 2);
    tcase_add_test(c, at_its_own_speed_the_nedc_loses_the_four_stops_from_15_kmh);
    tcase_add_loop_test(c, a_slip_is_bridged_by_the_line_between_believed_speeds, 0, 2);
    tcase_add_test(c, a_speed_that_never_comes_back_stays_as_bridged_before);
    tcase_add_loop_test(c, block_size_never_changes_what_comes_out_bit_by_bit, 0, 2);
    tcase_add_test(c, every_sample_comes_out_once);
    tcase_add_test(c, a_long_zone_is_thinned_evenly_and_says_so);
    tcase_add_test(c, a_log_without_a_sample_ends_in_peace);
    tcase_add_test(c, stretches_are_strangers_to_each_other);
    suite_add_tcase(s, c);
    return s;
}

BT_CHECK_MAIN(suite)
