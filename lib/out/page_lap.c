/* The lap over its distance: where the places are that the other pictures name.  Speed is that of one lap;
 * its distance is measured from where the log has the lap's first braking. */
#include "out/page.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#define WIDTH  760.0
#define HEIGHT 176.0
#define MS     (1 / 3.6) /* km/h */

/* A lap of the run: its zones, and when and where it begins. */
typedef struct {
    const bt_zone *zone;
    size_t n;
    double start, length; /* m of the first zone's start within the lap; m of the whole lap */
} lap;

/* m between two times, along the line that is drawn. */
static double way(const bt_series *speed, double from, double to)
{
    double sum = 0;
    for (size_t i = 1; i < speed->n; i++) {
        const double t0 = speed->t[i - 1], t1 = speed->t[i];
        const double a = fmax(t0, from), b = fmin(t1, to);
        if (!(b > a) || isnan(speed->v[i - 1] + speed->v[i])) continue;
        const double slope = (speed->v[i] - speed->v[i - 1]) / (t1 - t0);
        const double middle = speed->v[i - 1] + slope * (0.5 * (a + b) - t0);
        sum += middle * MS * (b - a);
    }
    return sum;
}

/* The zones with the lap number of zone i, and whether the way starts anew with the next lap: it does
 * not where the log has no distance within the lap. */
static bool lap_at(const bt_page_run *run, const bt_series *speed, size_t i, lap *out)
{
    const bt_zone *first = &run->zone[i];
    size_t n = 1;
    while (i + n < run->n && run->zone[i + n].lap <= first->lap) n++;
    const bt_zone *next = i + n < run->n ? first + n : NULL;
    if (!next || n < 2 || !(next->start_dist < first[n - 1].start_dist)) return false;
    *out = (lap){first, n, first->start_dist,
                 way(speed, first->start, next->start) + first->start_dist - next->start_dist};
    return out->length > first[n - 1].start_dist && first->start_dist >= 0;
}

/* The lap with the most zones that have a place; of equal ones the one in the middle. */
static bool choose(const bt_page_run *run, const bt_series *speed, lap *out)
{
    size_t most = 0, equal = 0, seen = 0;
    for (int pass = 0; pass < 2; pass++)
        for (size_t i = 0; i < run->n; i++) {
            lap this;
            size_t named = 0;
            if (i > 0 && !(run->zone[i].lap > run->zone[i - 1].lap)) continue;
            if (isnan(run->zone[i].lap) || !lap_at(run, speed, i, &this)) continue;
            for (size_t k = 0; k < this.n; k++) named += this.zone[k].place[0] != '\0';
            if (pass == 0 && named > most) {
                most = named;
                equal = 0;
            }
            if (named < most || named == 0) continue;
            if (pass == 0) equal++;
            if (pass == 1 && seen++ == equal / 2) {
                *out = this;
                return true;
            }
        }
    return false;
}

/* The speed of the lap over its distance, from 0 to its length. */
static bt_status over_distance(const bt_series *speed, const lap *l, bt_series *out, bt_error *err)
{
    BT_TRY(bt_series_new(out, speed->n, err));
    const double t0 = l->zone->start;
    double s = l->start - way(speed, -INFINITY, t0); /* of the series' first point */
    size_t n = 0;
    for (size_t i = 0; i < speed->n; i++) {
        if (i > 0)
            s += way(&(bt_series){2, speed->t + i - 1, speed->v + i - 1}, -INFINITY, INFINITY);
        if (s < 0 || s > l->length) continue;
        out->t[n] = s;
        out->v[n++] = speed->v[i];
    }
    out->n = n;
    return BT_OK;
}

static void draw(bt_report *r, const lap *l, const bt_series *s)
{
    bt_range up = {0, 0};
    bt_range_cover(&up, s->v, s->n);
    size_t hardest = 0, named = 0;
    for (size_t k = 0; k < l->n; k++) {
        if (l->zone[k].decel_mean > l->zone[hardest].decel_mean) hardest = k;
        named += l->zone[k].place[0] != '\0';
    }
    const bt_zone *hard = &l->zone[hardest];
    char finding[200];
    bt_html_plain(finding, sizeof finding,
                  "%z places on a lap of %0f m; hardest braking %s%sfrom %0f to %0f km/h at %0f m",
                  named, l->length, hard->place, hard->place[0] ? " " : "", hard->entry / MS,
                  hard->exit / MS, hard->start_dist);
    bt_page_picture(r, WIDTH, HEIGHT, true, "Speed over the lap, and its places", finding);
    bt_frame f = {.x = 44, .y = 34, .w = WIDTH - 44 - 16, .h = HEIGHT - 34 - 42};
    f.across = bt_axis_over((bt_range){0, l->length}, 8, false);
    f.up = bt_axis_over((bt_range){0, up.high}, 4, true);
    f.unit = "km/h";
    f.unit_across = "m of the lap";
    for (size_t k = 0; k < l->n; k++)
        bt_frame_span(&r->page, &f, l->zone[k].start_dist,
                      l->zone[k].start_dist + l->zone[k].distance, "span");
    bt_frame_draw(&r->page, &f);
    bt_frame_line(&r->page, &f, s, "speed");
    double free_from = f.x;
    for (size_t k = 0; k < l->n; k++) {
        const double x = bt_frame_x(&f, l->zone[k].start_dist + 0.5 * l->zone[k].distance);
        const double half = 3.6 * (double)strlen(l->zone[k].place);
        if (!l->zone[k].place[0] || x - half < free_from) continue;
        bt_plot_label(&r->page, x, f.y - 4, "middle", "strong", l->zone[k].place);
        free_from = x + half + 4;
    }
    char caption[320];
    bt_html_plain(caption, sizeof caption,
                  "Lap %0f over its distance, its braking zones tinted. %s.", l->zone->lap,
                  finding);
    bt_page_picture_end(r, true, caption);
}

bt_status bt_page_lap(bt_report *r, const bt_page_run *run, const bt_series *speed, bt_error *err)
{
    lap l;
    bt_series s = {0};
    if (speed->n < 2 || !choose(run, speed, &l)) return BT_OK;
    const bt_status status = over_distance(speed, &l, &s, err);
    if (status == BT_OK && s.n > 1) draw(r, &l, &s);
    bt_series_free(&s);
    return status;
}
