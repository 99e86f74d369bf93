/* Pictures alone, as SVG files: zones, trace and drift (braketally.h).  Last in the line, like page. */
#include <math.h>
#include <string.h>

#include "base/units.h"
#include "out/plot.h"
#include "out/sketch.h"

#define WIDTH 760.0
#define LEFT  56.0
#define RIGHT 84.0
#define FRAME 110.0 /* from one frame to the next */
#define TOP   40.0

static bt_frame frame_at(size_t k, size_t n, bt_axis across, const char *unit_across)
{
    return (bt_frame){.x = LEFT,
                      .y = TOP + FRAME * (double)k,
                      .w = WIDTH - LEFT - RIGHT,
                      .h = FRAME - 32,
                      .across = across,
                      .unit_across = k + 1 == n ? unit_across : NULL};
}

static double height_of(size_t n)
{
    return TOP + FRAME * (double)n + 8;
}

static bt_status finish(bt_bytes *b, bt_write_fn write, void *user, bt_error *err)
{
    bt_plot_end(b);
    const bt_status status = bt_bytes_write(b, write, user, err);
    bt_bytes_free(b);
    return status;
}

/* ---- zones ---- */

typedef struct {
    const char *name, *unit;
    size_t offset, u_offset; /* in bt_zone; u_offset 0 = no uncertainty */
    double factor;
} figure;

static const figure figures[] = {
    {"Balance, front", "%", offsetof(bt_zone, balance), offsetof(bt_zone, balance_rnd), 100},
    {"Blend error", "%", offsetof(bt_zone, blend_frac), 0, 100},
    {"Delay", "ms", offsetof(bt_zone, blend_delay), 0, 1000},
    {"Gain", "", offsetof(bt_zone, blend_gain), 0, 1},
};
#define FIGURES (sizeof figures / sizeof *figures)

static double number(const bt_zone *zone, size_t offset, double factor)
{
    double x;
    memcpy(&x, (const char *)zone + offset, sizeof x);
    return x * factor;
}

/* A line where one run ends and the next begins, named on the first frame. */
static void run_borders(bt_bytes *b, const bt_frame *f, const bt_zone *zones, size_t n, bool named)
{
    double free_from = 0;
    for (size_t i = 0; i < n; i++) {
        if (i && strcmp(zones[i].run, zones[i - 1].run) == 0) continue;
        const double x = (double)i + 0.5;
        if (i) bt_frame_segment(b, f, x, f->up.low, x, f->up.high, "soft thin");
        if (!named || bt_frame_x(f, x) < free_from) continue;
        bt_plot_label(b, bt_frame_x(f, x), 14, "start", "strong", zones[i].run);
        free_from = bt_frame_x(f, x) + 7.0 * (double)strlen(zones[i].run) + 8;
    }
}

static void zone_frame(bt_bytes *b, bt_frame *f, const figure *g, const bt_zone *zones, size_t n)
{
    bt_range range = BT_RANGE_NONE;
    for (size_t i = 0; i < n; i++) {
        const double y = number(&zones[i], g->offset, g->factor);
        const double u = g->u_offset ? number(&zones[i], g->u_offset, g->factor) : 0;
        bt_range_add(&range, y - (isnan(u) ? 0 : u));
        bt_range_add(&range, y + (isnan(u) ? 0 : u));
    }
    f->up = bt_axis_over(range, 3, true);
    f->unit = g->unit;
    bt_frame_draw(b, f);
    for (size_t i = 0; i < n; i++) {
        const double x = (double)i + 1, y = number(&zones[i], g->offset, g->factor);
        const double u = g->u_offset ? number(&zones[i], g->u_offset, g->factor) : NAN;
        const bool off =
            strcmp(zones[i].mode, "fallback") == 0 || strcmp(zones[i].mode, "mixed") == 0;
        if (u > 0 && isfinite(y)) bt_frame_segment(b, f, x, y - u, x, y + u, "front thin");
        bt_frame_mark(b, f, x, y, off ? BT_MARK_CROSS : BT_MARK_DOT, off ? "alert" : "front");
    }
    bt_plot_label(b, f->x + f->w + 6, f->y + 10, "start", "ink", g->name);
}

/* Between which values each figure lies. */
static void zones_finding(const bt_zone *zones, size_t n, char *text, size_t cap)
{
    bt_html_plain(text, cap, "%z braking zones", n);
    for (size_t k = 0; k < FIGURES; k++) {
        bt_range range = BT_RANGE_NONE;
        for (size_t i = 0; i < n; i++)
            bt_range_add(&range, number(&zones[i], figures[k].offset, figures[k].factor));
        const size_t at = strlen(text);
        if (isnan(range.low)) continue;
        bt_html_plain(text + at, cap - at, "; %s %2f to %2f%s%s", figures[k].name, range.low,
                      range.high, figures[k].unit[0] ? " " : "", figures[k].unit);
    }
    const size_t at = strlen(text);
    bt_html_plain(text + at, cap - at,
                  ". Crosses: the by-wire axle ran on its bypass. Bars: the random part of the "
                  "standard uncertainty.");
}

bt_status bt_svg_zones(const bt_zone *zones, size_t n, bt_write_fn write, void *user, bt_error *err)
{
    bt_bytes b = {0};
    char finding[400];
    zones_finding(zones, n, finding, sizeof finding);
    bt_plot_begin(&b, 1, WIDTH, height_of(FIGURES), "Balance and blend of the braking zones",
                  finding, true);
    const bt_axis across = bt_axis_count((bt_range){0.5, (double)n + 0.5}, 8);
    for (size_t k = 0; k < FIGURES; k++) {
        bt_frame f = frame_at(k, FIGURES, across, "zone, counted over all runs");
        zone_frame(&b, &f, &figures[k], zones, n);
        run_borders(&b, &f, zones, n, k == 0);
    }
    return finish(&b, write, user, err);
}

/* ---- trace ---- */

static void trace_frames(bt_bytes *b, const bt_sketch_zone *s, const bt_series *speed)
{
    bt_range time = BT_RANGE_NONE, fast = {0, 0}, torque = {0, 0}, error = {0, 0};
    bt_range_cover(&time, speed->t, speed->n);
    bt_range_cover(&fast, speed->v, speed->n);
    for (size_t i = 0; s && i < BT_SKETCH_ERROR; i++)
        bt_range_cover(&torque, s->series[i].v, s->series[i].n);
    if (s) bt_range_cover(&error, s->series[BT_SKETCH_ERROR].v, s->series[BT_SKETCH_ERROR].n);
    const bt_axis across = bt_axis_over(time, 8, false);
    bt_frame f = frame_at(0, 3, across, "s");
    f.up = bt_axis_over(fast, 3, true);
    f.unit = "km/h";
    bt_frame_draw(b, &f);
    bt_frame_line(b, &f, speed, "speed");
    bt_end_label end[] = {{0.5 * f.up.high, "speed", "front"}};
    bt_frame_end_labels(b, &f, end, 1);
    f = frame_at(1, 3, across, "s");
    f.up = bt_axis_over(torque, 3, true);
    f.unit = "N·m";
    bt_frame_draw(b, &f);
    if (s) {
        bt_frame_area(b, &f, &s->series[BT_SKETCH_DELIVERED], &s->series[BT_SKETCH_FRICTION], "",
                      1);
        bt_frame_area(b, &f, &s->series[BT_SKETCH_FRICTION], NULL, "rear pale", 0);
        bt_frame_line(b, &f, &s->series[BT_SKETCH_FRICTION], "rear");
        bt_frame_line(b, &f, &s->series[BT_SKETCH_DELIVERED], "motor");
        bt_frame_line(b, &f, &s->series[BT_SKETCH_DEMAND], "demand");
    }
    bt_end_label ends[] = {{0.9 * f.up.high, "demand", "ink"},
                           {0.6 * f.up.high, "friction +", "motor"},
                           {0.5 * f.up.high, "motor", "motor"},
                           {0.1 * f.up.high, "friction", "rear"}};
    bt_frame_end_labels(b, &f, ends, 4);
    f = frame_at(2, 3, across, "s");
    f.up = bt_axis_over(error, 3, true);
    f.unit = "N·m";
    bt_frame_draw(b, &f);
    if (s) bt_frame_area(b, &f, &s->series[BT_SKETCH_ERROR], NULL, "error pale", 0);
    if (s) bt_frame_line(b, &f, &s->series[BT_SKETCH_ERROR], "error");
    bt_end_label name[] = {{0, "error", "error"}};
    bt_frame_end_labels(b, &f, name, 1);
}

static void trace_finding(const bt_sketch_zone *s, const bt_series *speed, char *text, size_t cap)
{
    bt_range fast = BT_RANGE_NONE, demand = BT_RANGE_NONE, error = BT_RANGE_NONE;
    bt_range_cover(&fast, speed->v, speed->n);
    if (s) {
        const bt_series *d = &s->series[BT_SKETCH_DEMAND], *e = &s->series[BT_SKETCH_ERROR];
        bt_range_cover(&demand, d->v, d->n);
        bt_range_cover(&error, e->v, e->n);
    }
    bt_html_plain(text, cap, "Speed up to %0f km/h; demand is not known.", fast.high);
    if (isnan(demand.low)) return;
    bt_html_plain(
        text, cap,
        "Speed up to %0f km/h; the by-wire axle's torque: demand up to %0f N·m, delivered "
        "less demand from %0f to %0f N·m.",
        fast.high, demand.high, error.low, error.high);
}

bt_status bt_svg_trace(const bt_sketch *sketch, const char *name, bt_write_fn write, void *user,
                       bt_error *err)
{
    bt_series speed;
    BT_TRY(bt_sketch_course(sketch, BT_SKETCH_SPEED, &speed, err));
    for (size_t i = 0; i < speed.n; i++) speed.v[i] *= 3.6;
    bt_bytes b = {0};
    char finding[200];
    trace_finding(bt_sketch_find(sketch, 1), &speed, finding, sizeof finding);
    bt_plot_begin(&b, 1, WIDTH, height_of(3), name, finding, true);
    bt_plot_label(&b, LEFT, 14, "start", "strong", name);
    trace_frames(&b, bt_sketch_find(sketch, 1), &speed);
    bt_series_free(&speed);
    return finish(&b, write, user, err);
}

/* ---- drift ---- */

#define LINE 20.0

#define LABEL_MAX 20 /* characters beside the frame */

/* The end of a name that is too long: runs of a day begin alike. */
static const char *tail(const char *name)
{
    size_t characters = 0;
    for (const char *p = name; *p; p++) characters += ((unsigned char)*p & 0xc0) != 0x80;
    for (; characters > LABEL_MAX; name++) characters -= ((unsigned char)name[1] & 0xc0) != 0x80;
    return name;
}

static void drift_line(bt_bytes *b, const bt_frame *f, const bt_drift *d, double y)
{
    char label[BT_NAME_MAX + BT_LABEL_MAX + 8], text[40];
    const bool pooled = strcmp(d->place, "all") == 0;
    if (pooled)
        bt_html_plain(label, sizeof label, "%s",
                      strcmp(d->run, "all") == 0 ? "all places" : tail(d->run));
    else
        bt_html_plain(label, sizeof label, "%s", d->place);
    bt_plot_label(b, f->x - 8, bt_frame_y(f, y) + 4, "end", pooled ? "strong" : "", label);
    if (isfinite(d->low) && isfinite(d->high))
        bt_frame_segment(b, f, d->low, y, d->high, y, "front");
    bt_frame_mark(b, f, d->slope, y, pooled ? BT_MARK_DIAMOND : BT_MARK_DOT, "front");
    bt_html_plain(text, sizeof text,
                  !isfinite(d->p) ? ""
                  : d->p < 0.001  ? "p < 0.001"
                                  : "p = %3f",
                  d->p);
    bt_plot_label(b, f->x + f->w + 6, bt_frame_y(f, y) + 4, "start", "", text);
}

bt_status bt_svg_drift(const bt_drift *rows, size_t n, bt_write_fn write, void *user, bt_error *err)
{
    bt_bytes b = {0};
    bt_range range = {0, 0};
    size_t lines = 0;
    for (size_t i = 0; i < n; i++) {
        if (strcmp(rows[i].figure, rows[0].figure) != 0 || isnan(rows[i].slope)) continue;
        bt_range_add(&range, rows[i].slope);
        bt_range_add(&range, rows[i].low);
        bt_range_add(&range, rows[i].high);
        lines++;
    }
    const double height = LINE * (double)lines;
    char title[80], unit[BT_UNIT_LABEL_MAX] = "";
    bt_html_plain(title, sizeof title, "Drift of %s", n ? rows[0].figure : "nothing");
    if (n) bt_unit_label(rows[0].unit, unit);
    bt_plot_begin(&b, 1, WIDTH, TOP + height + 44, title, n ? rows[0].finding : "", true);
    bt_plot_label(&b, 12, 16, "start", "strong", title);
    bt_frame f = {.x = 150, .y = TOP - 10, .w = WIDTH - 150 - 76, .h = height > 0 ? height : 1};
    f.across = bt_axis_over(range, 6, true);
    f.up = (bt_axis){0, lines ? (double)lines : 1, 1e9, 0};
    f.unit_across = unit;
    bt_frame_draw(&b, &f);
    bt_frame_segment(&b, &f, 0, 0, 0, f.up.high, "soft thin");
    double y = (double)lines - 0.5;
    for (size_t i = 0; i < n; i++) {
        if (strcmp(rows[i].figure, rows[0].figure) != 0 || isnan(rows[i].slope)) continue;
        drift_line(&b, &f, &rows[i], y);
        y -= 1;
    }
    return finish(&b, write, user, err);
}
