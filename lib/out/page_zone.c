/* Demand against delivered in chosen zones, and delay and gain of all. */
#include "out/page.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PICTURES_MAX 36 /* zones drawn in a run */
#define WIDTH        380.0
#define SLIGHT       0.05 /* of the peak */

typedef struct {
    const bt_zone *zone;
    char why[48];
} choice;

static bool chosen(const choice *list, size_t n, const bt_zone *zone)
{
    for (size_t i = 0; i < n; i++)
        if (list[i].zone == zone) return true;
    return false;
}

static int by_size(const void *a, const void *b)
{
    const double p = *(const double *)a, q = *(const double *)b;
    return p < q ? -1 : p > q;
}

/* Of the zones whose samples were kept, the one closest to the median of all. */
static const bt_zone *median_of(bt_report *r, const bt_page_run *run)
{
    double *x = malloc((run->n + 1) * sizeof *x);
    r->page.failed = r->page.failed || !x;
    size_t n = 0;
    for (size_t i = 0; x && i < run->n; i++)
        if (isfinite(run->zone[i].blend_rms)) x[n++] = run->zone[i].blend_rms;
    const bt_zone *best = NULL;
    if (n) {
        qsort(x, n, sizeof *x, by_size);
        const double middle = x[(n - 1) / 2];
        for (size_t i = 0; i < run->n; i++) {
            const bt_zone *z = &run->zone[i];
            if (!isfinite(z->blend_rms) || !bt_sketch_find(run->sketch, z->zone)) continue;
            if (!best || fabs(z->blend_rms - middle) < fabs(best->blend_rms - middle)) best = z;
        }
    }
    free(x);
    return best;
}

/* The worst, the median, and those with events, the gravest first. */
static size_t choose(bt_report *r, const bt_page_run *run, choice list[PICTURES_MAX], size_t *more)
{
    size_t n = 0;
    const bt_zone *first[] = {bt_page_zone(run, run->run.worst_zone), median_of(r, run)};
    static const char *const why[] = {"largest blend error", "median blend error"};
    *more = 0;
    for (size_t i = 0; i < 2; i++) {
        if (!first[i] || chosen(list, n, first[i])) continue;
        list[n].zone = first[i];
        bt_html_plain(list[n++].why, sizeof list->why, "%s", why[i]);
    }
    for (int severity = BT_STOP; severity >= BT_NOTE; severity--)
        for (size_t i = 0; i < run->n_events; i++) {
            const bt_event *e = &run->events[i];
            const bt_zone *zone = bt_page_zone(run, e->zone);
            if ((int)e->severity != severity || !zone || chosen(list, n, zone)) continue;
            if (n == PICTURES_MAX) {
                ++*more;
                continue;
            }
            list[n].zone = zone;
            bt_html_plain(list[n++].why, sizeof list->why, "%s", e->kind);
        }
    return n;
}

static double at_peak(const bt_series *s)
{
    bt_range range = BT_RANGE_NONE;
    bt_range_cover(&range, s->v, s->n);
    return range.high;
}

static bool any_value(const bt_series *s)
{
    for (size_t i = 0; i < s->n; i++)
        if (isfinite(s->v[i])) return true;
    return false;
}

static void torque_frame(bt_bytes *b, const bt_frame *f, const bt_sketch_zone *s, int id)
{
    const bt_series *friction = &s->series[BT_SKETCH_FRICTION];
    const bt_series *delivered = &s->series[BT_SKETCH_DELIVERED];
    bt_frame_draw(b, f);
    bt_frame_area(b, f, delivered, friction, "", id);
    bt_frame_area(b, f, friction, NULL, "rear pale", 0);
    bt_frame_line(b, f, friction, "rear");
    bt_frame_line(b, f, delivered, "motor");
    bt_frame_line(b, f, &s->series[BT_SKETCH_DEMAND], "demand");
}

static void error_frame(bt_bytes *b, const bt_frame *f, const bt_sketch_zone *s)
{
    bt_frame_draw(b, f);
    bt_frame_area(b, f, &s->series[BT_SKETCH_ERROR], NULL, "error pale", 0);
    bt_frame_line(b, f, &s->series[BT_SKETCH_ERROR], "error");
}

static void torque_picture(bt_report *r, const choice *c, const bt_sketch_zone *s)
{
    const bt_zone *z = c->zone;
    char title[128], finding[160], caption[320];
    bt_html_plain(title, sizeof title, "Zone %0f%s%s", z->zone, z->place[0] ? " at " : "",
                  z->place);
    if (isfinite(z->blend_frac))
        bt_html_plain(finding, sizeof finding,
                      "Blend error %0f N·m RMS, %1f %% of the demand, at most %0f N·m; peak demand "
                      "%0f N·m",
                      z->blend_rms, 100 * z->blend_frac, z->blend_peak,
                      at_peak(&s->series[BT_SKETCH_DEMAND]));
    else
        bt_html_plain(finding, sizeof finding, "Delivered up to %0f N·m; demand is not known",
                      at_peak(&s->series[BT_SKETCH_DELIVERED]));
    bt_range time = BT_RANGE_NONE, up = {0, 0}, error = {0, 0};
    for (size_t i = 0; i < BT_SKETCH_ERROR; i++) {
        bt_range_cover(&time, s->series[i].t, s->series[i].n);
        bt_range_cover(&up, s->series[i].v, s->series[i].n);
    }
    bt_range_cover(&error, s->series[BT_SKETCH_ERROR].v, s->series[BT_SKETCH_ERROR].n);
    const bool with_error = any_value(&s->series[BT_SKETCH_ERROR]);
    const double height = with_error ? 286 : 200;
    const int id = bt_page_picture(r, WIDTH, height, false, title, finding);
    bt_frame f = {.x = 46, .y = 22, .w = WIDTH - 46 - 58, .h = 140};
    f.across = bt_axis_over(time, 5, false);
    if (up.low > -SLIGHT * up.high) up.low = 0; /* noise about zero needs no room of its own */
    f.up = bt_axis_over(up, 4, true);
    f.unit = "N·m";
    f.unit_across = with_error ? NULL : "s";
    torque_frame(&r->page, &f, s, id);
    const double high = f.up.high;
    bt_end_label ends[] = {
        {any_value(&s->series[BT_SKETCH_DEMAND]) ? 0.92 * high : NAN, "demand", "ink"},
        {0.72 * high, "+ motor", "motor"},
        {0.2 * high, "friction", "rear"}};
    bt_frame_end_labels(&r->page, &f, ends, 3);
    if (with_error) {
        f.y = 186;
        f.h = 56;
        f.up = bt_axis_over(error, 3, true);
        f.unit = "";
        f.unit_across = "s";
        error_frame(&r->page, &f, s);
        bt_end_label name[] = {{0, "error", "error"}};
        bt_frame_end_labels(&r->page, &f, name, 1);
    }
    char lap[16] = "";
    if (isfinite(z->lap)) bt_html_plain(lap, sizeof lap, ", lap %0f", z->lap);
    bt_html_plain(caption, sizeof caption, "%s%s: %s. %s.", title, lap, c->why, finding);
    bt_page_picture_end(r, false, caption);
}

void bt_page_torques(bt_report *r, const bt_page_run *run)
{
    choice list[PICTURES_MAX];
    size_t more, missing = 0;
    bt_bytes_text(&r->page, "<h3>Demand against delivered</h3>\n");
    if (!run->sketch) {
        bt_page_absent(r, "Demand against delivered", "no samples were kept");
        return;
    }
    const size_t n = choose(r, run, list, &more);
    if (n == 0) {
        bt_page_absent(r, "Demand against delivered",
                       "no blend error is known and no zone has an event");
        return;
    }
    bt_bytes_text(&r->page,
                  "<p>Torque of the by-wire axle: friction (tinted) and the motor's part on top "
                  "(hatched), against the demand (solid line); below, delivered less demand.</p>\n"
                  "<div class=\"pair\">\n");
    for (size_t i = 0; i < n; i++) {
        const bt_sketch_zone *s = bt_sketch_find(run->sketch, list[i].zone->zone);
        if (s && any_value(&s->series[BT_SKETCH_DELIVERED]))
            torque_picture(r, &list[i], s);
        else
            missing++;
    }
    bt_bytes_text(&r->page, "</div>\n");
    if (more) bt_html(&r->page, "<p>%z more zones with events are not drawn.</p>\n", more);
    if (missing)
        bt_html(&r->page,
                "<p>%z of the chosen zones are not drawn: of a long log not all samples are "
                "kept, or its torques are not known.</p>\n",
                missing);
}

/* ---- delay and gain ---- */

typedef double (*pick)(const bt_zone *zone); /* NaN = no value */

static double delay_ms(const bt_zone *z)
{
    return 1000 * z->blend_delay;
}

static double gain(const bt_zone *z)
{
    return z->blend_gain;
}

/* Of the zones by wire: on the bypass it is another system. */
static double median_figure(bt_report *r, const bt_page_run *run, pick value)
{
    double *x = malloc((run->n + 1) * sizeof *x);
    r->page.failed = r->page.failed || !x;
    size_t n = 0;
    for (size_t i = 0; x && i < run->n; i++)
        if (isfinite(value(&run->zone[i])) && !bt_page_off_wire(&run->zone[i]))
            x[n++] = value(&run->zone[i]);
    if (n) qsort(x, n, sizeof *x, by_size);
    const double middle = n ? x[(n - 1) / 2] : NAN;
    free(x);
    return middle;
}

static void zone_figure(bt_report *r, const bt_page_run *run, pick value, double fixed,
                        const char *title, const char *unit, int decimals)
{
    bt_range height = {fixed, fixed}, values = BT_RANGE_NONE;
    for (size_t i = 0; i < run->n; i++) bt_range_add(&values, value(&run->zone[i]));
    bt_range_add(&height, values.low);
    bt_range_add(&height, values.high);
    const double middle = median_figure(r, run, value);
    char finding[160], label[40];
    char number[3][16];
    const double shown[3] = {middle, values.low, values.high};
    const char form[] = {'%', (char)('0' + decimals), 'f', 0};
    for (size_t i = 0; i < 3; i++) bt_html_plain(number[i], sizeof number[i], form, shown[i]);
    bool off_wire = false;
    for (size_t i = 0; i < run->n; i++) off_wire |= bt_page_off_wire(&run->zone[i]);
    bt_html_plain(finding, sizeof finding, "%s per zone: median %s%s%s%s, %s to %s%s", title,
                  number[0], unit[0] ? " " : "", unit, off_wire ? " by wire" : "", number[1],
                  number[2], off_wire ? ". Crosses: on the bypass" : "");
    bt_html_plain(label, sizeof label, "median %s", number[0]);
    bt_page_picture(r, WIDTH, 190, false, title, finding);
    bt_frame f = {.x = 46, .y = 22, .w = WIDTH - 46 - 92, .h = 128};
    f.across = bt_axis_count((bt_range){0.5, (double)run->n + 0.5}, 6);
    f.up = bt_axis_over(height, 4, true);
    f.unit = unit;
    f.unit_across = "zone";
    bt_frame_draw(&r->page, &f);
    bt_plot_label(&r->page, f.x + 4, 13, "start", "strong", title);
    for (size_t i = 0; i < run->n; i++) {
        const bool off = bt_page_off_wire(&run->zone[i]);
        bt_frame_mark(&r->page, &f, run->zone[i].zone, value(&run->zone[i]),
                      off ? BT_MARK_CROSS : BT_MARK_DOT, off ? "alert" : "front");
    }
    bt_frame_segment(&r->page, &f, f.across.low, middle, f.across.high, middle, "ink");
    bt_end_label end[] = {{middle, label, "ink"}};
    bt_frame_end_labels(&r->page, &f, end, 1);
    bt_page_picture_end(r, false, finding);
}

void bt_page_delay(bt_report *r, const bt_page_run *run)
{
    bt_bytes_text(&r->page, "<h3>Delay and gain of the by-wire axle</h3>\n");
    bt_range known = BT_RANGE_NONE;
    for (size_t i = 0; i < run->n; i++) {
        bt_range_add(&known, gain(&run->zone[i]) + delay_ms(&run->zone[i]));
    }
    if (isnan(known.low)) {
        bt_page_absent(r, "Delay and gain", "no zone has both a demand and a delivered torque");
        return;
    }
    bt_bytes_text(&r->page, "<div class=\"pair\">\n");
    zone_figure(r, run, delay_ms, 0, "Delay", "ms", 0);
    zone_figure(r, run, gain, 1, "Gain", "", 3);
    bt_bytes_text(&r->page, "</div>\n");
}
