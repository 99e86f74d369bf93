/* The reference speed (METHODS 3): a source (the logged speed, the wheels or the motor), held against
 * what a car can do.  Where it cannot be, the speed is bridged and marked until the source is to be
 * believed again.  Causal, so that no sample is held back.  Between samples and smooth. */
#include "signals/speed.h"

#include "signals/carry.h"
#include "signals/wheels.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

/* The source may be this far from what a car can do, and farther by its own noise. */
#define MARGIN_TIME  0.05 /* s of the hardest braking: stamps and converters are that rough */
#define MARGIN_NOISE 8.0  /* times the geometric mean of the mean excursions to either side */
#define NOISE_TIME   2.0  /* s that excursions are averaged over */
#define FASTEST      1e5  /* m/s; beyond what the wrong unit makes of a car's speed */
#define NOISE_LEAST  0.1  /* s of a log; before that all is believed, as its noise is not known */
#define HOLD_MAX     0.25 /* s that a source may hold a value: sensors of 4 Hz and more */
/* Believed again: judged over CHECK_TIME; at once if it rises no faster than CALM_RISE of the grip
 * limit, else after CALM_TIME of possible motion. */
#define CHECK_TIME 0.05 /* s */
#define CALM_RISE  0.15
#define CALM_TIME  0.5 /* s */
/* A locked wheel creeps: below this share of the speed that was lost it is not believed until even a
 * car that slides at SLIDE has come to rest. */
#define LOCKED         0.2
#define SLIDE          2.0  /* m/s2, a locked wheel on a wet road */
#define SLOPE_CONSTANT 0.06 /* s, of the acceleration that decides which wheel leads */
#define U_BELIEVED     0.2  /* m/s, of a speed believed anew */
/* A reading is off by the same for a tenth of a second (carry.h): to correct by it more often tells nothing. */
#define CORRECT_EVERY 0.0045 /* s */
/* Farther off than this the accelerometer has lost its way, not the source. */
#define ASTRAY       1.0 /* m/s */
#define ASTRAY_SHARE 0.12

typedef struct {
    bool started, lost;
    double t, speed;       /* s, m/s: of the sample before */
    double able;           /* m/s, follows the source no faster than a car can */
    double source, news_t; /* what the source said, and since when */
    double known;          /* s, what the next two are the means over */
    double above, below;   /* m/s, mean excursions of the source from it */
    /* while lost: */
    double lost_t, lost_speed; /* last believed */
    bool fell;
    double check_t, check_speed, calm;
} guard;

typedef struct {
    bt_stage stage;
    const bt_channels *channels;
    bt_speed_source source;
    double limit;  /* m/s2 */
    double factor; /* m/s per rad/s of the motor */
    bool has_wheel[BT_WHEELS];
    guard guard;
    bt_track slope;
    bt_wheels wheels;
    bt_carry carry;
    double uncorrected;              /* s, since a logged speed corrected it */
    double dist, dist_t, dist_speed; /* m; s and m/s of the last sample with a speed */
    double v_out[BT_BLOCK_MAX], dist_out[BT_BLOCK_MAX], unsure_out[BT_BLOCK_MAX];
} speedo;

static const bt_channel wheel_channel[BT_WHEELS] = {BT_CH_WHEEL_FL, BT_CH_WHEEL_FR, BT_CH_WHEEL_RL,
                                                    BT_CH_WHEEL_RR};

/* Neither is NaN.  No calls, and nothing for the processor to guess, as both ways are taken all the time. */
static double larger(double a, double b)
{
    return a > b ? a : b;
}

static double smaller(double a, double b)
{
    return a < b ? a : b;
}

/* ---- what a car can do ---- */

static double margin(const guard *g, double limit)
{
    return limit * MARGIN_TIME + MARGIN_NOISE * sqrt(g->above * g->below);
}

static void believe(guard *g, double source)
{
    g->lost = false;
    g->able = source;
}

/* Noise swings both ways, a braking that is harder than the limit only one way. */
static void learn_noise(guard *g, double dt, double excursion)
{
    const double share = dt / (g->known + dt);
    g->known = smaller(g->known + dt, NOISE_TIME);
    g->above += share * (larger(excursion, 0) - g->above);
    g->below += share * (larger(-excursion, 0) - g->below);
}

static void start_check(guard *g, double t, double source)
{
    g->check_t = t;
    g->check_speed = source;
}

static void doubt_source(guard *g, double t, double limit, double source)
{
    /* A slow sensor in a fast log stands still and then makes up for it in one step. */
    const double held[2] = {smaller(larger(g->news_t, t - HOLD_MAX), g->t), g->t};
    const double reach = limit * (t - held[source == g->source]);
    g->able = smaller(larger(source, g->able - reach), g->able + reach);
    const double excursion = source - g->able;
    if (g->known < NOISE_LEAST || fabs(excursion) <= limit * MARGIN_TIME ||
        fabs(excursion) <= margin(g, limit)) { /* mostly without a root */
        learn_noise(g, t - g->t, excursion);
        return;
    }
    g->lost = true;
    g->fell = excursion < 0;
    g->lost_t = g->t;
    g->lost_speed = g->speed;
    g->calm = 0;
    start_check(g, t, source);
}

/* The lowest speed that the car can have by now. */
static double lowest(const guard *g, double t, double limit)
{
    const double v = g->lost_speed - limit * (t - g->lost_t);
    return v > 0 ? v : 0;
}

static bool believable_again(guard *g, double t, double limit, double source)
{
    const double dt = t - g->check_t, rise = source - g->check_speed;
    if (!(fabs(rise) <= limit * (dt + MARGIN_TIME))) {
        g->calm = 0;
        start_check(g, t, source);
        return false;
    }
    if (dt < CHECK_TIME) return false;
    g->calm += dt;
    start_check(g, t, source);
    const bool settled = rise <= CALM_RISE * limit * dt || g->calm >= CALM_TIME;
    const bool turning = source >= LOCKED * g->lost_speed;
    return settled && source >= lowest(g, t, limit) - margin(g, limit) &&
           (turning || t - g->lost_t >= g->lost_speed / SLIDE);
}

/* ---- one sample ---- */

static double sample_of(const bt_block *in, bt_channel c, size_t i)
{
    return in->ch[c] ? in->ch[c][i] : NAN;
}

static double source_of(speedo *s, const bt_block *in, size_t i, double dt, bool carried)
{
    if (s->source == BT_SPEED_LOGGED) return in->ch[BT_CH_SPEED][i];
    if (s->source == BT_SPEED_MOTOR) return fabs(sample_of(in, BT_CH_MOTOR_SPEED, i)) * s->factor;
    double wheel[BT_WHEELS];
    const double *one[BT_WHEELS];
    for (size_t k = 0; k < BT_WHEELS; k++) {
        one[k] = in->ch[wheel_channel[k]] ? in->ch[wheel_channel[k]] + i : NULL;
        wheel[k] = one[k] ? *one[k] : NAN;
    }
    bt_wheels_watch(&s->wheels, in->t + i, one, NULL, 1); /* what it learns counts from here on */
    const double expected = !s->guard.started ? NAN : carried ? s->carry.v : s->guard.able;
    return bt_wheels_fuse(&s->wheels, dt, wheel, expected, s->limit * dt, s->slope.slope);
}

/* The speed is known no more; what was learned of bias, noise and trims stays. */
static void lose_track(speedo *s)
{
    s->guard.started = s->guard.lost = false;
    s->slope = (bt_track){0};
    bt_carry_restart(&s->carry);
}

/* The accelerometer's speed in place of what the wheels or the motor say, while they agree. */
static double corrected(speedo *s, double dt, double source, bool carried)
{
    const double astray = ASTRAY + ASTRAY_SHARE * source;
    if (!carried || fabs(source - s->carry.v) > astray) {
        bt_carry_set(&s->carry, source, U_BELIEVED);
        return source;
    }
    if (s->source == BT_SPEED_LOGGED) {
        s->uncorrected += dt;
        if (s->uncorrected < CORRECT_EVERY) return source;
        bt_carry_correct(&s->carry, s->uncorrected, source, false, 0);
        s->uncorrected = 0;
        return source;
    }
    bt_carry_correct(&s->carry, dt, source, true, s->slope.slope);
    return s->carry.v;
}

static double bridged(const speedo *s, double t, bool carried)
{
    const guard *g = &s->guard;
    if (carried) return s->carry.v > 0 ? s->carry.v : 0;
    return g->fell ? lowest(g, t, s->limit) : g->lost_speed;
}

static double step(speedo *s, double t, double dt, double source, bool carried)
{
    guard *g = &s->guard;
    if (!g->started) {
        g->started = true;
        g->news_t = t;
        believe(g, source);
        bt_carry_set(&s->carry, source, U_BELIEVED);
        return source;
    }
    if (!g->lost) {
        doubt_source(g, t, s->limit, source);
        if (!g->lost) return corrected(s, dt, source, carried);
    } else if (believable_again(g, t, s->limit, source)) {
        believe(g, source);
        return corrected(s, dt, source, carried);
    }
    return bridged(s, t, carried);
}

static void add_distance(speedo *s, double t, double v)
{
    if (!isnan(s->dist_t)) s->dist += 0.5 * (s->dist_speed + v) * (t - s->dist_t);
    s->dist_t = t;
    s->dist_speed = v;
}

static void take_sample(speedo *s, const bt_block *in, size_t i)
{
    guard *g = &s->guard;
    const double t = in->t[i], dt = g->started ? t - g->t : 0;
    const double accel = sample_of(in, BT_CH_ACCEL_LONG, i);
    const bool carried = bt_carry_predict(&s->carry, dt, accel);
    const double source = source_of(s, in, i, dt, carried);
    if (!(fabs(source) <= FASTEST)) {
        lose_track(s);
        s->v_out[i] = s->dist_out[i] = NAN;
        s->unsure_out[i] = 0;
        return;
    }
    const bool lost = g->lost;
    const double v = step(s, t, dt, source, carried);
    /* cppcheck-suppress incorrectLogicOperator ; step() may find it again */
    if (lost && !g->lost) s->slope.value = v; /* found again: that leap is no motion */
    if (s->source != BT_SPEED_LOGGED) bt_track_add(&s->slope, dt, v, SLOPE_CONSTANT);
    if (!g->lost && in->ch[BT_CH_ACCEL_LONG]) bt_carry_watch(&s->carry, t, source, accel);
    const double news_t[2] = {t, g->news_t};
    g->news_t = news_t[source == g->source];
    g->source = source;
    g->t = t;
    g->speed = v;
    add_distance(s, t, v);
    s->v_out[i] = v;
    s->dist_out[i] = s->dist;
    s->unsure_out[i] = g->lost;
}

/* ---- the stage ---- */

static bt_status speed_push(bt_stage *stage, const bt_block *in, bt_error *err)
{
    speedo *s = (speedo *)stage;
    assert(in->n > 0 && in->n <= BT_BLOCK_MAX);
    if (s->source == BT_SPEED_LOGGED) {
        const double *wheel[BT_WHEELS];
        for (size_t k = 0; k < BT_WHEELS; k++) wheel[k] = in->ch[wheel_channel[k]];
        bt_wheels_watch(&s->wheels, in->t, wheel, in->ch[BT_CH_SPEED], in->n);
    }
    for (size_t i = 0; i < in->n; i++) take_sample(s, in, i);
    bt_block out = *in;
    out.ch[BT_SIG_SPEED] = s->v_out;
    out.ch[BT_SIG_DIST] = s->dist_out;
    out.ch[BT_SIG_UNSURE] = s->unsure_out;
    return s->stage.next->push(s->stage.next, &out, err);
}

static bt_status speed_end(bt_stage *stage, bt_error *err)
{
    speedo *s = (speedo *)stage;
    lose_track(s);
    bt_wheels_restart(&s->wheels);
    s->dist_t = NAN;
    return s->stage.next->end(s->stage.next, err);
}

static bt_status pick_source(speedo *s, const bt_car *car, bt_error *err)
{
    bool wheels = false;
    for (size_t k = 0; k < BT_WHEELS; k++) {
        s->has_wheel[k] = bt_channels_has(s->channels, wheel_channel[k]);
        wheels = wheels || s->has_wheel[k];
    }
    s->source = bt_channels_has(s->channels, BT_CH_SPEED) ? BT_SPEED_LOGGED
                : wheels                                  ? BT_SPEED_WHEELS
                                                          : BT_SPEED_MOTOR;
    if (s->source != BT_SPEED_MOTOR) return BT_OK;
    if (!bt_channels_has(s->channels, BT_CH_MOTOR_SPEED))
        return bt_fail(err, BT_MISSING,
                       "no speed: expected a channel speed, wheel_fl, wheel_fr, wheel_rl, wheel_rr "
                       "or motor_speed");
    const double ratio = car->value[BT_CAR_MOTOR_RATIO];
    const double radius = bt_car_axle(car, BT_CAR_ROLLING_RADIUS_FRONT, car->motor_axle);
    s->factor = radius / ratio;
    if (ratio > 0 && radius > 0) return BT_OK;
    const char *radius_name = bt_car_quantity_name(
        car->motor_axle == BT_REAR ? BT_CAR_ROLLING_RADIUS_REAR : BT_CAR_ROLLING_RADIUS_FRONT);
    return bt_fail(err, BT_MISSING, "no speed: motor_speed needs the car-sheet rows %s%s%s",
                   ratio > 0 ? "" : "motor_ratio", ratio > 0 || radius > 0 ? "" : " and ",
                   radius > 0 ? "" : radius_name);
}

bt_status bt_speed_new(bt_stage **out, const bt_channels *channels, const bt_car *car,
                       bt_stage *next, bt_error *err)
{
    *out = NULL;
    assert(channels && car && next);
    speedo *s = calloc(1, sizeof *s);
    if (!s) return bt_fail(err, BT_NOMEM, "no memory for the reference speed");
    s->stage = (bt_stage){.push = speed_push, .end = speed_end, .next = next};
    s->channels = channels;
    s->limit = car->value[BT_CAR_GRIP_LIMIT];
    s->dist_t = NAN;
    bt_wheels_init(&s->wheels, car);
    bt_carry_init(&s->carry);
    const bt_status status = pick_source(s, car, err);
    if (status != BT_OK) {
        bt_speed_free(&s->stage);
        return status;
    }
    assert(s->limit > 0);
    *out = &s->stage;
    return BT_OK;
}

bt_speed_source bt_speed_source_of(const bt_stage *stage)
{
    return ((const speedo *)stage)->source;
}

void bt_speed_trim(const bt_stage *stage, double trim[4], bool *beyond)
{
    const speedo *s = (const speedo *)stage;
    *beyond = false;
    for (size_t k = 0; k < BT_WHEELS; k++) {
        const bt_wheel *w = &s->wheels.wheel[k];
        trim[k] = s->has_wheel[k] && !w->left_out ? w->trim : NAN;
        if (s->has_wheel[k] && (w->left_out || fabs(w->needed - 1) > BT_TRIM_MAX)) *beyond = true;
    }
}

void bt_speed_free(bt_stage *stage)
{
    free((speedo *)stage);
}
