/* The course of a run: speed with its braking zones in rows like lines of text, disc temperatures with
 * their limits, events on a time line. */
#include "out/page.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define WIDTH    760.0
#define LEFT     44.0
#define KELVIN   273.15
#define ROW      92.0  /* units from one row of the speed to the next */
#define ROW_TIME 240.0 /* s that a row holds at least before a second one begins */
#define ROWS_MAX 8
#define DIGIT    7.0 /* units that a digit of a zone's number needs */

static void scale(bt_series *s, double factor, double shift)
{
    for (size_t i = 0; i < s->n; i++) s->v[i] = (s->v[i] - shift) * factor;
}

/* The points of one row; they stay those of the whole. */
static bt_series cut(const bt_series *s, double from, double to)
{
    size_t first = 0, last;
    while (first < s->n && s->t[first] < from) first++;
    for (last = first; last < s->n && s->t[last] <= to;) last++;
    return (bt_series){last - first, s->t + first, s->v + first};
}

static bool inside(const bt_frame *f, double t)
{
    return t >= f->across.low && t < f->across.high;
}

static void speed_row(bt_bytes *b, const bt_page_run *run, const bt_frame *f,
                      const bt_series *speed)
{
    for (size_t i = 0; i < run->n; i++)
        if (inside(f, run->zone[i].start))
            bt_frame_span(b, f, run->zone[i].start, run->zone[i].start + run->zone[i].duration,
                          bt_page_off_wire(&run->zone[i]) ? "area alert pale" : "span");
    bt_frame_draw(b, f);
    const bt_series part = cut(speed, f->across.low, f->across.high);
    bt_frame_line(b, f, &part, "speed");
    double free_from = 0;
    for (size_t i = 0; i < run->n; i++) {
        const double x = bt_frame_x(f, run->zone[i].start + 0.5 * run->zone[i].duration);
        if (!inside(f, run->zone[i].start) || x < free_from) continue;
        char text[16];
        bt_html_plain(text, sizeof text, "%0f", run->zone[i].zone);
        bt_plot_label(b, x, f->y - 2, "middle", bt_page_off_wire(&run->zone[i]) ? "strong" : "",
                      text);
        free_from = x + DIGIT * (double)(strlen(text) + 1);
    }
    for (size_t i = 0; i < run->n_events; i++)
        if (inside(f, run->events[i].start) && run->events[i].severity == BT_STOP)
            bt_frame_mark(b, f, run->events[i].start, f->up.high, BT_MARK_DIAMOND, "alert");
}

static void speed_picture(bt_report *r, const bt_page_run *run, const bt_series *speed)
{
    bt_range time = BT_RANGE_NONE, height = {0, 0};
    bt_range_cover(&time, speed->t, speed->n);
    bt_range_cover(&height, speed->v, speed->n);
    const double whole = time.high - time.low;
    const int rows = (int)fmin(ROWS_MAX, fmax(1, ceil(whole / ROW_TIME)));
    char finding[160];
    bt_html_plain(finding, sizeof finding, "Up to %0f km/h; %z braking zones over %0f s.",
                  height.high, run->n, whole);
    bt_page_picture(r, WIDTH, 20 + ROW * rows, true, "Speed and braking zones", finding);
    for (int k = 0; k < rows; k++) {
        bt_frame f = {.x = LEFT, .y = 20 + ROW * k, .w = WIDTH - LEFT - 16, .h = ROW - 34};
        f.across = bt_axis_over(
            (bt_range){time.low + whole * k / rows, time.low + whole * (k + 1) / rows}, 8, false);
        f.up = bt_axis_over((bt_range){0, 1.02 * height.high}, 3, false);
        f.unit = k == 0 ? "km/h" : "";
        f.unit_across = k == rows - 1 ? "s" : "";
        speed_row(&r->page, run, &f, speed);
    }
    bt_page_picture_end(
        r, true,
        "Speed over the log's time, row below row. Tinted: braking zones, by number (dark, with "
        "the number in bold: the by-wire axle ran on its bypass). A diamond: an event that "
        "should keep the car in.");
}

/* ---- disc temperatures ---- */

/* What was measured at the zones' ends, as many marks as can be told apart. */
#define MEASURED_MAX 45
static void measured(bt_bytes *b, const bt_page_run *run, const bt_frame *f)
{
    const size_t every = run->n / MEASURED_MAX + 1;
    for (size_t i = 0; i < run->n; i += every) {
        const bt_zone *z = &run->zone[i];
        const double end = z->start + z->duration;
        bt_frame_mark(b, f, end, z->disc_front_final - KELVIN, BT_MARK_RING, "front");
        bt_frame_mark(b, f, end, z->disc_rear_final - KELVIN, BT_MARK_SQUARE, "rear");
    }
}

static double last_of(const bt_series *s)
{
    return s->n ? s->v[s->n - 1] : NAN;
}

static double limit_of(const bt_report *r, const char *name)
{
    double value = NAN, u;
    if (r->options.car) (void)bt_car_get(r->options.car, name, &value, &u);
    return value - KELVIN;
}

static void heat_finding(const bt_page_run *run, const double limit[2], char *text, size_t cap)
{
    const double front = run->run.disc_front - KELVIN, rear = run->run.disc_rear - KELVIN;
    bt_html_plain(text, cap, "Front discs reach %0f °C%s, rear discs %0f °C%s.", front,
                  front > limit[0] ? ", over their limit" : "", rear,
                  rear > limit[1] ? ", over their limit" : "");
}

static void heat_picture(bt_report *r, const bt_page_run *run, const bt_series *front,
                         const bt_series *rear)
{
    const double limit[2] = {limit_of(r, "disc_limit_front"), limit_of(r, "disc_limit_rear")};
    bt_range time = BT_RANGE_NONE, height = BT_RANGE_NONE;
    bt_range_cover(&time, front->t, front->n);
    bt_range_cover(&time, rear->t, rear->n);
    bt_range_cover(&height, front->v, front->n);
    bt_range_cover(&height, rear->v, rear->n);
    bt_range_cover(&height, limit, 2);
    bt_range_add(&height, 0);
    char finding[160];
    heat_finding(run, limit, finding, sizeof finding);
    bt_page_picture(r, WIDTH, 220, true, "Disc temperatures", finding);
    bt_frame f = {.x = LEFT, .y = 22, .w = WIDTH - LEFT - 52, .h = 160};
    f.across = bt_axis_over(time, 8, false);
    f.up = bt_axis_over(height, 5, true);
    f.unit = "°C";
    f.unit_across = "s";
    bt_frame_draw(&r->page, &f);
    bt_frame_line(&r->page, &f, front, "front");
    bt_frame_line(&r->page, &f, rear, "rear");
    measured(&r->page, run, &f);
    if (isfinite(limit[0])) bt_frame_level(&r->page, &f, limit[0], "front thin", "limit, front");
    if (isfinite(limit[1])) bt_frame_level(&r->page, &f, limit[1], "rear thin", "limit, rear");
    bt_end_label ends[] = {{last_of(front), "front", "front"}, {last_of(rear), "rear", "rear"}};
    bt_frame_end_labels(&r->page, &f, ends, 2);
    bt_page_picture_end(r, true,
                        "Lines: computed, one disc of each axle. Rings (front) and squares (rear): "
                        "measured at the ends of zones, where logged.");
}

bt_status bt_page_course(bt_report *r, const bt_page_run *run, bt_error *err)
{
    bt_series speed = {0}, front = {0}, rear = {0};
    bt_status status = bt_sketch_course(run->sketch, BT_SKETCH_SPEED, &speed, err);
    if (status == BT_OK) status = bt_sketch_course(run->sketch, BT_SKETCH_DISC_FRONT, &front, err);
    if (status == BT_OK) status = bt_sketch_course(run->sketch, BT_SKETCH_DISC_REAR, &rear, err);
    /* Without its torque a disc only cools, in the samples between the zones: no temperature of it. */
    if (isnan(run->run.disc_front)) bt_series_free(&front);
    if (isnan(run->run.disc_rear)) bt_series_free(&rear);
    if (status == BT_OK) {
        scale(&speed, 3.6, 0);
        scale(&front, 1, KELVIN);
        scale(&rear, 1, KELVIN);
        bt_bytes_text(&r->page, "<h3>Course of the run</h3>\n");
        if (speed.n > 1)
            speed_picture(r, run, &speed);
        else
            bt_page_absent(r, "Speed", "no samples of it");
        status = bt_page_lap(r, run, &speed, err);
        if (front.n > 1 || rear.n > 1)
            heat_picture(r, run, &front, &rear);
        else
            bt_page_absent(r, "Disc temperatures",
                           "neither axle has both a described disc and a torque");
        if (bt_sketch_left_out(run->sketch))
            bt_html(&r->page, "<p>%z samples behind a jump back in time are not drawn here.</p>\n",
                    bt_sketch_left_out(run->sketch));
    }
    bt_series_free(&speed);
    bt_series_free(&front);
    bt_series_free(&rear);
    return status;
}

/* ---- events ---- */

#define LANES_MAX 16
#define MARKS_MAX 300

static void event_mark(bt_bytes *b, const bt_frame *f, const bt_event *e, double lane)
{
    static const bt_mark marks[] = {BT_MARK_RING, BT_MARK_SQUARE, BT_MARK_DIAMOND};
    static const char *const classes[] = {"ink", "rear", "alert", 0};
    const unsigned s = (unsigned)e->severity < 3 ? (unsigned)e->severity : 0;
    if (e->duration > 0)
        bt_frame_segment(b, f, e->start, lane, fmin(e->start + e->duration, f->across.high), lane,
                         classes[s]);
    bt_frame_mark(b, f, e->start, lane, marks[s], classes[s]);
}

static size_t lanes_of(const bt_page_run *run, const char *kind[LANES_MAX])
{
    size_t n = 0;
    for (size_t i = 0; i < run->n_events; i++) {
        size_t k = 0;
        while (k < n && strcmp(kind[k], run->events[i].kind) != 0) k++;
        if (k == n && n < LANES_MAX) kind[n++] = run->events[i].kind;
    }
    return n;
}

static void timeline_picture(bt_report *r, const bt_page_run *run)
{
    const char *kind[LANES_MAX];
    const size_t n = lanes_of(run, kind);
    bt_range time = BT_RANGE_NONE;
    size_t stops = 0;
    for (size_t i = 0; i < run->n_events; i++) {
        bt_range_add(&time, run->events[i].start);
        stops += run->events[i].severity == BT_STOP;
    }
    if (run->n) {
        bt_range_add(&time, run->zone[0].start);
        bt_range_add(&time, run->zone[run->n - 1].start + run->zone[run->n - 1].duration);
    }
    char finding[120];
    bt_html_plain(finding, sizeof finding, "%z events of %z kinds, %z of them to stop for.",
                  run->n_events, n, stops);
    bt_page_picture(r, WIDTH, 22.0 * (double)n + 48, true, "Events on a time line", finding);
    bt_frame f = {.x = 118, .y = 8, .w = WIDTH - 118 - 12, .h = 22.0 * (double)n};
    f.across = bt_axis_over(time, 8, false);
    f.up = (bt_axis){0, (double)n, 1, 0};
    f.unit_across = "s";
    bt_frame_draw(&r->page, &f);
    for (size_t k = 0; k < n; k++) {
        const double lane = (double)(n - k) - 0.5;
        bt_plot_label(&r->page, 110, bt_frame_y(&f, lane) + 4, "end", "ink", kind[k]);
        size_t drawn = 0;
        for (size_t i = 0; i < run->n_events && drawn < MARKS_MAX; i++)
            if (strcmp(kind[k], run->events[i].kind) == 0 && ++drawn)
                event_mark(&r->page, &f, &run->events[i], lane);
    }
    bt_page_picture_end(r, true,
                        "Rings: notes. Squares: to be watched. Diamonds: look at the car before "
                        "it goes out. A line shows how long it went on.");
}

#define EVENT_ROWS 60

void bt_page_timeline(bt_report *r, const bt_page_run *run)
{
    static const bt_page_column columns[] = {
        {"event", "Event", NULL, 0},       {"severity", "Severity", NULL, 0},
        {"zone", "Zone", NULL, 0},         {"lap", "Lap", NULL, 0},
        {"place", "Place", NULL, 0},       {"start_s", "Start", NULL, 1},
        {"duration_s", "Lasted", NULL, 2}, {"reason", "Why", NULL, 0},
    };
    bt_bytes_text(&r->page, "<h3>Events</h3>\n");
    if (run->n_events == 0) {
        bt_bytes_text(&r->page, "<p>No events.</p>\n");
        return;
    }
    timeline_picture(r, run);
    const size_t shown = run->n_events < EVENT_ROWS ? run->n_events : EVENT_ROWS;
    bt_page_table(r, "Events, in the order of the log", BT_TABLE_EVENTS, columns,
                  sizeof columns / sizeof *columns, run->events, sizeof *run->events, shown);
    if (shown < run->n_events)
        bt_html(&r->page,
                "<p>The first %z of %z events; <code>braketally events</code> prints all.</p>\n",
                shown, run->n_events);
}
