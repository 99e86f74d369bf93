/* Fuzz target: rows of numbers through all stages.
 *
 * The first bytes choose columns and car, the rest are values: two bytes each on a scale that suits the
 * channel, or a word for what is odd (none, infinite, huge), and a byte of time step.  Fed one by one
 * and all at once, the rows tell the same. */
#include "result.h"

enum { CHANNELS = 24, ROWS_MAX = 3000 };

static const struct {
    const char *name;
    double scale, shift;
} channels[CHANNELS] = {
    {"time [s]", 0, 0},
    {"pedal_front [bar]", 0.004, -20},
    {"speed [m/s]", 0.002, -2},
    {"pedal_rear [bar]", 0.004, -20},
    {"line_rear [bar]", 0.004, -20},
    {"motor_torque [Nm]", 0.02, -655},
    {"wheel_fl [m/s]", 0.002, -2},
    {"wheel_fr [m/s]", 0.002, -2},
    {"wheel_rl [m/s]", 0.002, -2},
    {"wheel_rr [m/s]", 0.002, -2},
    {"accel_long [m/s2]", 0.001, -32},
    {"line_front [bar]", 0.004, -20},
    {"line_request [bar]", 0.004, -20},
    {"motor_request [Nm]", 0.02, -655},
    {"battery_voltage [V]", 0.02, -100},
    {"battery_current [A]", 0.02, -655},
    {"bywire_state", 0.0001, 0},
    {"bias_setting [%]", 0.002, 0},
    {"disc_fl [Cel]", 0.02, -50},
    {"disc_rr [Cel]", 0.02, -50},
    {"lap", 0.0005, 0},
    {"lap_distance [m]", 0.1, 0},
    {"latitude [deg]", 0.00001, 52},
    {"longitude [deg]", 0.00001, 1},
};

typedef struct {
    const uint8_t *at, *end;
} cursor;

static unsigned take_byte(cursor *c)
{
    return c->at < c->end ? *c->at++ : 0;
}

static double take_value(cursor *c, size_t channel)
{
    static const double odd[] = {NAN, INFINITY, -INFINITY, 1e308, -1e308, 0, 1e-308, NAN};
    const unsigned high = take_byte(c), low = take_byte(c);
    if (high == 255 && low >= 248) return odd[low - 248];
    return (high * 256 + low) * channels[channel].scale + channels[channel].shift;
}

/* Mostly what is like the row before: a byte says how many channels change, and which. */
static size_t make_rows(cursor c, const bool *has, size_t columns, double *rows)
{
    double value[CHANNELS] = {0}, t = 0;
    size_t n = 0;
    for (; c.at < c.end && n < ROWS_MAX; n++) {
        const unsigned step = take_byte(&c);
        t += step == 255 ? -1 : step == 254 ? 30 : (step & 31) * 0.01;
        for (unsigned changes = step == 255 ? 0 : step >> 5; changes > 0; changes--) {
            const size_t channel = 1 + take_byte(&c) % (CHANNELS - 1);
            value[channel] = take_value(&c, channel);
        }
        value[0] = t;
        double *row = rows + n * columns;
        for (size_t i = 0; i < CHANNELS; i++)
            if (has[i]) *row++ = value[i];
    }
    return n;
}

static bt_status feed_all(const char *const *names, size_t columns, const double *rows, size_t n,
                          size_t piece, bt_setup setup, watcher *w, bt_result *r)
{
    bt_error err = {0};
    bt_feed *feed;
    *w = (watcher){.hash = UINT64_C(14695981039346656037)};
    must(bt_sketch_new(&w->sketch, setup.car, NULL) == BT_OK);
    setup.trace = watch_sample;
    setup.zone = watch_zone;
    setup.user = w;
    must(bt_feed_new(&feed, "fed", names, columns, &setup, &err) == BT_OK);
    bt_status status = BT_OK;
    for (size_t at = 0; at < n && status == BT_OK; at += piece)
        status = bt_feed_push(feed, rows + at * columns, n - at < piece ? n - at : piece, &err);
    status = bt_feed_end(feed, r, &err);
    must_explain(status, &err);
    bt_feed_free(feed);
    check_result(r, w);
    return status;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t n)
{
    static bt_car *car;
    static double rows[ROWS_MAX * CHANNELS];
    if (!car) car = full_car();
    cursor c = {data, data + n};
    const unsigned choice = take_byte(&c), missing = take_byte(&c) << 8 | take_byte(&c);
    bool has[CHANNELS];
    const char *names[CHANNELS];
    size_t columns = 0;
    for (size_t i = 0; i < CHANNELS; i++) {
        has[i] = i < 2 || !(missing >> (i % 16) & 1);
        if (has[i]) names[columns++] = channels[i].name;
    }
    /* Without any speed there is nothing to do. */
    if (!has[2] && !has[6] && !has[7] && !has[8] && !has[9]) return 0;
    const size_t count = make_rows(c, has, columns, rows);
    const bt_setup setup = {.car = choice & 1 ? NULL : car, .nominal = choice & 2 ? 28 : 0};
    watcher one, two;
    bt_result r, s;
    const bt_status status = feed_all(names, columns, rows, count, ROWS_MAX, setup, &one, &r);
    must(feed_all(names, columns, rows, count, 1, setup, &two, &s) == status);
    must(one.hash == two.hash && r.n_zones == s.n_zones && r.n_events == s.n_events);
    if (choice & 4) { /* they take longer than all the rest */
        check_page(&r, &one, setup.car);
        check_tables(&r);
    }
    bt_sketch_free(one.sketch);
    bt_sketch_free(two.sketch);
    bt_result_clear(&r);
    bt_result_clear(&s);
    return 0;
}
