/* Pictures: see plot.h. */
#include "out/plot.h"

#include <math.h>
#include <stdlib.h>

const bt_tone bt_tones[BT_COLOUR_COUNT] = {
#define X(id, name, light, dark) {name, light, dark},
    BT_COLOUR_LIST(X)
#undef X
};

static void colours(bt_bytes *b, bool dark)
{
    bt_bytes_text(b, ":root{");
    for (size_t i = 0; i < BT_COLOUR_COUNT; i++)
        bt_html(b, "--%r:%r;", bt_tones[i].name, dark ? bt_tones[i].dark : bt_tones[i].light);
    bt_bytes_text(b, "}\n");
}

void bt_plot_style(bt_bytes *b)
{
    colours(b, false);
    bt_bytes_text(b, "@media screen and (prefers-color-scheme:dark){");
    colours(b, true);
    bt_bytes_text(
        b, "}\n"
           ".plot{display:block;max-width:100%;height:auto}\n"
           ".plot text{font:11px system-ui,-apple-system,'Segoe UI',Roboto,'Liberation Sans',"
           "sans-serif;fill:var(--soft);font-variant-numeric:tabular-nums}\n"
           ".plot text.ink{fill:var(--ink)}.plot text.strong{fill:var(--ink);font-weight:600}\n"
           ".plot .grid{stroke:var(--rule);stroke-width:.7;fill:none}\n"
           ".plot .axis{stroke:var(--soft);stroke-width:.8;fill:none}\n"
           ".plot .line{fill:none;stroke-width:1.5;stroke-linejoin:round;stroke-linecap:butt}\n"
           ".plot .span{fill:var(--tint);stroke:var(--rule);stroke-width:.5}\n"
           ".plot .halo{stroke:var(--paper);stroke-width:3px;paint-order:stroke}\n"
           ".plot .mark{stroke-width:1.2}\n");
    static const struct {
        const char *name, *colour, *dash;
    } looks[] = {
        {"front", "front", "none"}, {"rear", "rear", "6 2.5"},  {"motor", "motor", "1.8 2"},
        {"error", "error", "none"}, {"alert", "alert", "none"}, {"soft", "soft", "3 2"},
        {"ink", "ink", "none"},     {"demand", "ink", "none"},  {"speed", "front", "none"},
    };
    for (size_t i = 0; i < sizeof looks / sizeof *looks; i++) {
        const char *n = looks[i].name, *c = looks[i].colour;
        bt_html(b, ".plot .line.%r{stroke:var(--%r);stroke-dasharray:%r}", n, c, looks[i].dash);
        bt_html(b, ".plot .mark.%r{stroke:var(--%r);fill:var(--%r)}", n, c, c);
        bt_html(b, ".plot .mark.open.%r{fill:var(--paper)}", n);
        bt_html(b, ".plot .area.%r{fill:var(--%r)}.plot text.%r{fill:var(--%r)}\n", n, c, n, c);
    }
    bt_bytes_text(b, ".plot .line.demand{stroke-width:1.9}.plot .line.thin{stroke-width:1}\n"
                     ".plot .hollow{fill:none;stroke:var(--soft);stroke-width:.8}"
                     ".plot .area.pale{fill-opacity:.28}.plot .area.front{fill-opacity:.85}\n"
                     ".plot .hatch{stroke:var(--motor);stroke-width:1.6}\n"
                     ".plot .ground{fill:var(--paper)}\n");
}

void bt_plot_begin(bt_bytes *b, int id, double w, double h, const char *title, const char *finding,
                   bool alone)
{
    bt_html(b,
            "<svg %rclass=\"plot\" role=\"img\" viewBox=\"0 0 %0c %0c\" width=\"%0c\" "
            "height=\"%0c\" aria-labelledby=\"t%d d%d\"><title id=\"t%d\">%s</title>"
            "<desc id=\"d%d\">%s</desc>",
            alone ? "xmlns=\"http://www.w3.org/2000/svg\" " : "", w, h, w, h, id, id, id, title, id,
            finding);
    if (alone) {
        bt_bytes_text(b, "<style>");
        bt_plot_style(b);
        bt_html(b, "</style><rect class=\"ground\" width=\"%0c\" height=\"%0c\"/>", w, h);
    }
    bt_html(b,
            "<defs><pattern id=\"h%d\" width=\"4\" height=\"4\" patternUnits=\"userSpaceOnUse\" "
            "patternTransform=\"rotate(45)\"><path class=\"hatch\" d=\"M1 0V4\"/></pattern>"
            "</defs>\n",
            id);
}

void bt_plot_end(bt_bytes *b)
{
    bt_bytes_text(b, "</svg>\n");
}

static double clamp(double x, double low, double high)
{
    return x < low ? low : x > high ? high : x;
}

double bt_frame_x(const bt_frame *f, double x)
{
    const double share = (x - f->across.low) / (f->across.high - f->across.low);
    return f->x + f->w * clamp(share, 0, 1);
}

double bt_frame_y(const bt_frame *f, double y)
{
    const double share = (y - f->up.low) / (f->up.high - f->up.low);
    return f->y + f->h * (1 - clamp(share, 0, 1));
}

void bt_plot_label(bt_bytes *b, double x, double y, const char *anchor, const char *class,
                   const char *text)
{
    bt_html(b, "<text x=\"%1c\" y=\"%1c\" text-anchor=\"%r\" class=\"%r\">%s</text>", x, y, anchor,
            class, text);
}

static void tick_label(bt_bytes *b, double x, double y, const char *anchor, double value,
                       const bt_axis *axis)
{
    bt_html(b, "<text x=\"%1c\" y=\"%1c\" text-anchor=\"%r\">", x, y, anchor);
    const char form[] = {'%', (char)('0' + (axis->decimals > 6 ? 6 : axis->decimals)), 'f', 0};
    bt_html(b, form, value);
    bt_bytes_text(b, "</text>");
}

void bt_frame_draw(bt_bytes *b, const bt_frame *f)
{
    double tick[BT_AXIS_TICKS];
    size_t n = bt_axis_ticks(&f->up, tick);
    for (size_t i = 0; i < n; i++) {
        const double y = bt_frame_y(f, tick[i]);
        bt_html(b, "<path class=\"grid\" d=\"M%1c %1cH%1c\"/>", f->x, y, f->x + f->w);
        if (f->unit) tick_label(b, f->x - 5, y + 3.8, "end", tick[i], &f->up);
    }
    if (f->unit) bt_plot_label(b, f->x - 5, f->y - 8, "end", "ink", f->unit);
    if (f->up.low < 0 && f->up.high > 0)
        bt_html(b, "<path class=\"axis\" d=\"M%1c %1cH%1c\"/>", f->x, bt_frame_y(f, 0),
                f->x + f->w);
    const double floor_y = f->y + f->h;
    bt_html(b, "<path class=\"axis\" d=\"M%1c %1cH%1c\"/>", f->x, floor_y, f->x + f->w);
    if (!f->unit_across) return;
    n = bt_axis_ticks(&f->across, tick);
    for (size_t i = 0; i < n; i++) {
        const double x = bt_frame_x(f, tick[i]);
        bt_html(b, "<path class=\"axis\" d=\"M%1c %1cv4\"/>", x, floor_y);
        tick_label(b, x, floor_y + 15, "middle", tick[i], &f->across);
    }
    bt_plot_label(b, f->x + f->w, floor_y + 28, "end", "ink", f->unit_across);
    bt_bytes_text(b, "\n");
}

void bt_frame_line(bt_bytes *b, const bt_frame *f, const bt_series *s, const char *class)
{
    bool pen = false, any = false;
    for (size_t i = 0; i < s->n; i++) {
        if (isnan(s->v[i])) {
            pen = false;
            continue;
        }
        if (!any) bt_html(b, "<path class=\"line %r\" d=\"", class);
        any = true;
        bt_html(b, pen ? "L%1c %1c" : "M%1c %1c", bt_frame_x(f, s->t[i]), bt_frame_y(f, s->v[i]));
        pen = true;
    }
    if (any) bt_bytes_text(b, "\"/>\n");
}

/* Value of a series at time t, straight between its points; *from is where to look first. */
static double value_at(const bt_series *s, double t, size_t *from)
{
    while (*from + 1 < s->n && s->t[*from + 1] <= t) ++*from;
    const size_t i = *from;
    if (i + 1 >= s->n || t < s->t[i]) return s->n ? s->v[i] : 0;
    const double whole = s->t[i + 1] - s->t[i];
    return whole > 0 ? s->v[i] + (s->v[i + 1] - s->v[i]) * (t - s->t[i]) / whole : s->v[i];
}

/* The floor of an area, back from point `last` to point `first`. */
static void area_floor(bt_bytes *b, const bt_frame *f, const bt_series *top,
                       const bt_series *bottom, size_t first, size_t last)
{
    if (!bottom) {
        bt_html(b, "L%1c %1cH%1cz", bt_frame_x(f, top->t[last]), bt_frame_y(f, 0),
                bt_frame_x(f, top->t[first]));
        return;
    }
    size_t hi = 0;
    while (hi < bottom->n && bottom->t[hi] <= top->t[last]) hi++;
    size_t from = 0;
    double edge = value_at(bottom, top->t[last], &from);
    if (!isnan(edge)) bt_html(b, "L%1c %1c", bt_frame_x(f, top->t[last]), bt_frame_y(f, edge));
    for (; hi > 0 && bottom->t[hi - 1] >= top->t[first]; hi--)
        if (!isnan(bottom->v[hi - 1]))
            bt_html(b, "L%1c %1c", bt_frame_x(f, bottom->t[hi - 1]),
                    bt_frame_y(f, bottom->v[hi - 1]));
    from = 0;
    edge = value_at(bottom, top->t[first], &from);
    if (!isnan(edge)) bt_html(b, "L%1c %1c", bt_frame_x(f, top->t[first]), bt_frame_y(f, edge));
    bt_bytes_text(b, "z");
}

void bt_frame_area(bt_bytes *b, const bt_frame *f, const bt_series *top, const bt_series *bottom,
                   const char *class, int hatch)
{
    bool any = false;
    for (size_t i = 0; i < top->n;) {
        if (isnan(top->v[i])) {
            i++;
            continue;
        }
        const size_t first = i;
        if (!any && hatch) bt_html(b, "<path fill=\"url(#h%d)\" d=\"", hatch);
        if (!any && !hatch) bt_html(b, "<path class=\"area %r\" d=\"", class);
        any = true;
        for (; i < top->n && !isnan(top->v[i]); i++)
            bt_html(b, i == first ? "M%1c %1c" : "L%1c %1c", bt_frame_x(f, top->t[i]),
                    bt_frame_y(f, top->v[i]));
        area_floor(b, f, top, bottom, first, i - 1);
    }
    if (any) bt_bytes_text(b, "\"/>\n");
}

void bt_frame_span(bt_bytes *b, const bt_frame *f, double from, double to, const char *class)
{
    if (to < f->across.low || from > f->across.high) return;
    const double x = bt_frame_x(f, from), w = bt_frame_x(f, to) - x;
    bt_html(b, "<rect class=\"%r\" x=\"%1c\" y=\"%1c\" width=\"%1c\" height=\"%1c\"/>", class, x,
            f->y, fmax(w, 0.8), f->h);
}

/* Where in 0..1 of the way from y0 to y1 the range from low to high is entered and left. */
static void cut_part(double y0, double y1, double low, double high, double part[2])
{
    const double rise = y1 - y0;
    if (!(rise < 0 || rise > 0)) {
        if (y0 < low || y0 > high) part[1] = part[0] - 1;
        return;
    }
    const double a = (low - y0) / rise, b = (high - y0) / rise;
    part[0] = fmax(part[0], fmin(a, b));
    part[1] = fmin(part[1], fmax(a, b));
}

void bt_frame_segment(bt_bytes *b, const bt_frame *f, double x0, double y0, double x1, double y1,
                      const char *class)
{
    double part[2] = {0, 1};
    cut_part(x0, x1, f->across.low, f->across.high, part);
    cut_part(y0, y1, f->up.low, f->up.high, part);
    if (!(part[0] <= part[1])) return;
    bt_html(b, "<path class=\"line %r\" d=\"M%1c %1cL%1c %1c\"/>", class,
            bt_frame_x(f, x0 + part[0] * (x1 - x0)), bt_frame_y(f, y0 + part[0] * (y1 - y0)),
            bt_frame_x(f, x0 + part[1] * (x1 - x0)), bt_frame_y(f, y0 + part[1] * (y1 - y0)));
}

void bt_frame_level(bt_bytes *b, const bt_frame *f, double y, const char *class, const char *label)
{
    bt_frame_segment(b, f, f->across.low, y, f->across.high, y, class);
    bt_html(b, "<text x=\"%1c\" y=\"%1c\" class=\"halo %r\">%s</text>", f->x + 4,
            bt_frame_y(f, y) - 3, class, label);
}

void bt_frame_mark(bt_bytes *b, const bt_frame *f, double px, double py, bt_mark mark,
                   const char *class)
{
    if (!isfinite(px) || !isfinite(py)) return;
    const double x = bt_frame_x(f, px), y = bt_frame_y(f, py);
    switch (mark) {
    case BT_MARK_DOT:
    case BT_MARK_RING:
        bt_html(b, "<circle class=\"mark%r %r\" cx=\"%1c\" cy=\"%1c\" r=\"2.6\"/>",
                mark == BT_MARK_RING ? " open" : "", class, x, y);
        break;
    case BT_MARK_SQUARE:
        bt_html(b, "<path class=\"mark %r\" d=\"M%1c %1ch5v5h-5z\"/>", class, x - 2.5, y - 2.5);
        break;
    case BT_MARK_DIAMOND:
        bt_html(b, "<path class=\"mark %r\" d=\"M%1c %1cl4 4-4 4-4-4z\"/>", class, x, y - 4);
        break;
    case BT_MARK_CROSS:
        bt_html(b, "<path class=\"mark line %r\" d=\"M%1c %1cl6 6m0-6l-6 6\"/>", class, x - 3,
                y - 3);
        break;
    }
}

#define LABEL_STEP 12.5 /* units between base lines of labels */

static int by_height(const void *a, const void *b)
{
    const bt_end_label *p = a, *q = b;
    return p->y > q->y ? -1 : p->y < q->y;
}

void bt_frame_end_labels(bt_bytes *b, const bt_frame *f, bt_end_label *labels, size_t n)
{
    size_t known = 0;
    for (size_t i = 0; i < n; i++)
        if (!isnan(labels[i].y)) labels[known++] = labels[i];
    qsort(labels, known, sizeof *labels, by_height);
    double lowest = f->y + f->h - LABEL_STEP * (double)(known ? known - 1 : 0);
    double y = -INFINITY;
    for (size_t i = 0; i < known; i++, lowest += LABEL_STEP) {
        y = fmax(y + LABEL_STEP, fmin(bt_frame_y(f, labels[i].y), lowest));
        bt_plot_label(b, f->x + f->w + 5, y + 3.8, "start", labels[i].class, labels[i].text);
    }
}
