/* Balance over laps, a small picture for each place, with its trend and what that may be. */
#include "out/page.h"
#include "laps/places.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#define PLACES_MAX 24
#define WIDTH      250.0
#define HEIGHT     150.0

static size_t places_of(const bt_page_run *run, const char *place[PLACES_MAX], size_t *more)
{
    size_t n = 0;
    *more = 0;
    for (size_t i = 0; i < run->n; i++) {
        const char *label = run->zone[i].place;
        size_t k = 0;
        while (k < n && strcmp(place[k], label) != 0) k++;
        if (!label[0] || isnan(run->zone[i].balance) || k < n) continue;
        if (n < PLACES_MAX)
            place[n++] = label;
        else
            ++*more;
    }
    return n;
}

static int by_label(const void *a, const void *b)
{
    return bt_place_order(*(const char *const *)a, *(const char *const *)b);
}

static int by_size(const void *a, const void *b)
{
    const double p = *(const double *)a, q = *(const double *)b;
    return p < q ? -1 : p > q;
}

static double median(double *x, size_t n)
{
    if (n == 0) return NAN;
    qsort(x, n, sizeof *x, by_size);
    return n % 2 ? x[n / 2] : 0.5 * (x[n / 2 - 1] + x[n / 2]);
}

static bool at(const bt_zone *z, const char *place)
{
    return strcmp(z->place, place) == 0 && isfinite(z->balance) && isfinite(z->lap);
}

static const bt_drift *drift_at(const bt_page_run *run, const char *place)
{
    for (size_t i = 1; i < run->n_drift; i++)
        if (strcmp(run->drift[i].figure, "balance_pct") == 0 &&
            strcmp(run->drift[i].place, place) == 0)
            return &run->drift[i];
    return NULL;
}

static bool same_setting(double a, double b)
{
    return (isnan(a) && isnan(b)) || (a <= b && a >= b);
}

/* The bias setting of most zones there: others have a level of their own. */
static double usual_setting(const bt_page_run *run, const char *place)
{
    double usual = NAN;
    size_t most = 0;
    for (size_t i = 0; i < run->n; i++) {
        size_t n = 0;
        if (!at(&run->zone[i], place)) continue;
        for (size_t k = 0; k < run->n; k++)
            n += at(&run->zone[k], place) &&
                 same_setting(run->zone[k].bias_setting, run->zone[i].bias_setting);
        if (n > most) {
            most = n;
            usual = run->zone[i].bias_setting;
        }
    }
    return usual;
}

/* The trend through the middle of the points, and the steepest and flattest that the interval allows
 * about that middle. */
static void trend(bt_bytes *b, const bt_frame *f, const bt_page_run *run, const char *place,
                  const bt_drift *d)
{
    double *x = malloc((2 * run->n + 1) * sizeof *x);
    if (!x) {
        b->failed = true;
        return;
    }
    double *rest = x + run->n;
    const double setting = usual_setting(run, place);
    size_t n = 0;
    for (size_t i = 0; i < run->n; i++) {
        if (!at(&run->zone[i], place) || !same_setting(run->zone[i].bias_setting, setting))
            continue;
        x[n] = run->zone[i].lap;
        rest[n++] = 100 * run->zone[i].balance - d->slope * run->zone[i].lap;
    }
    bt_range laps = BT_RANGE_NONE;
    bt_range_cover(&laps, x, n);
    const double level = median(rest, n), middle = 0.5 * (laps.low + laps.high);
    const double y = level + d->slope * middle;
    const double slopes[] = {d->low, d->high, d->slope};
    static const char *const classes[] = {"soft thin", "soft thin", "ink"};
    for (size_t i = 0; i < 3; i++)
        if (isfinite(slopes[i]))
            bt_frame_segment(b, f, laps.low, y + slopes[i] * (laps.low - middle), laps.high,
                             y + slopes[i] * (laps.high - middle), classes[i]);
    free(x);
}

static void place_picture(bt_report *r, const bt_page_run *run, const char *place, bt_range laps,
                          bt_range height)
{
    const bt_drift *d = drift_at(run, place);
    char finding[160] = "Too few laps for a trend";
    char title[64];
    if (d && isfinite(d->slope))
        bt_html_plain(finding, sizeof finding, "%+3f pp/lap, 95\u00a0%% interval %+3f to %+3f",
                      d->slope, d->low, d->high);
    if (d && isfinite(d->slope) && !(isfinite(d->low) && isfinite(d->high)))
        bt_html_plain(finding, sizeof finding, "%+3f pp/lap, too few laps for an interval",
                      d->slope);
    bt_html_plain(title, sizeof title, "Balance at %s", place);
    bt_page_picture(r, WIDTH, HEIGHT, false, title, finding);
    bt_frame f = {.x = 34, .y = 22, .w = WIDTH - 40, .h = HEIGHT - 54};
    f.across = bt_axis_count((bt_range){laps.low - 0.4, laps.high + 0.4}, 6);
    f.up = bt_axis_over(height, 3, true);
    f.unit = "%";
    f.unit_across = "lap";
    bt_frame_draw(&r->page, &f);
    bt_plot_label(&r->page, f.x + 4, 13, "start", "strong", place);
    for (size_t i = 0; i < run->n; i++) {
        const bt_zone *z = &run->zone[i];
        const bool off = bt_page_off_wire(z);
        if (at(z, place))
            bt_frame_mark(&r->page, &f, z->lap, 100 * z->balance, off ? BT_MARK_CROSS : BT_MARK_DOT,
                          off ? "alert" : "front");
    }
    if (d && isfinite(d->slope)) trend(&r->page, &f, run, place, d);
    bt_page_picture_end(r, false, finding);
}

void bt_page_places(bt_report *r, const bt_page_run *run)
{
    const char *place[PLACES_MAX];
    size_t more;
    const size_t n = places_of(run, place, &more);
    bt_range laps = BT_RANGE_NONE, height = BT_RANGE_NONE;
    bt_bytes_text(&r->page, "<h3>Balance at each place, lap by lap</h3>\n");
    for (size_t i = 0; i < run->n; i++) {
        if (!run->zone[i].place[0] || isnan(run->zone[i].balance)) continue;
        bt_range_add(&laps, run->zone[i].lap);
        bt_range_add(&height, 100 * run->zone[i].balance);
    }
    if (n == 0) {
        bt_page_absent(r, "Balance over laps",
                       "no balance, or no place where the car brakes twice");
        return;
    }
    qsort(place, n, sizeof *place, by_label);
    bt_bytes_text(&r->page, "<p>Front share of the brake force. Line: the trend at the usual bias "
                            "setting; dashed: the ends of its "
                            "95\u00a0% interval. A cross: the rear was on its bypass.</p>\n"
                            "<div class=\"many\">\n");
    for (size_t i = 0; i < n; i++) place_picture(r, run, place[i], laps, height);
    bt_bytes_text(&r->page, "</div>\n");
    if (more)
        bt_html(&r->page, "<p>The first %d places; %z zones are at others.</p>\n", PLACES_MAX,
                more);
}
