/* The end of the page: the car sheet as it was used, and what the figures mean. */
#include "out/page.h"

#include "base/units.h"

#include <math.h>

/* Four digits that count, no zeros behind the point for show. */
static void add_value(bt_bytes *b, double x)
{
    const int power = x > 0 || x < 0 ? (int)floor(log10(fabs(x))) : 0;
    const int decimals = 4 - power < 0 ? 0 : 4 - power > 9 ? 9 : 4 - power;
    const char form[] = {'%', (char)('0' + decimals), 'c', 0};
    bt_html(b, form, x);
}

static void quantity_row(bt_bytes *b, const bt_car *car, bt_car_quantity q)
{
    double factor, offset;
    char label[BT_UNIT_LABEL_MAX];
    const char *unit = bt_car_quantity_unit(q, &factor, &offset);
    if (isnan(car->value[q])) return;
    bt_html(b, "<tr><th scope=\"row\" class=\"text\">%s</th><td>", bt_car_quantity_name(q));
    add_value(b, (car->value[q] - offset) / factor);
    bt_bytes_text(b, "</td><td>");
    if (car->u[q] > 0) {
        bt_bytes_text(b, "± ");
        add_value(b, car->u[q] / factor);
    }
    bt_html(b, "</td><td class=\"text\">%s</td><td class=\"text\">%r</td></tr>\n",
            bt_unit_label(unit, label), car->given[q] ? "given" : "default");
}

void bt_page_sheet(bt_report *r)
{
    bt_bytes *b = &r->page;
    const bt_report_options *o = &r->options;
    bt_bytes_text(
        b, "<section id=\"sheet\" aria-labelledby=\"h-sheet\"><h2 id=\"h-sheet\">Car sheet</h2>\n");
    bt_html(b, "<p>Car sheet: %s. Channel map: %s.", o->car_name ? o->car_name : "none given",
            o->map_name ? o->map_name : "none given, columns served by their names");
    if (o->car)
        bt_html(b, " By wire: %r axle; the motor brakes the %r axle.",
                o->car->bywire_axle == BT_FRONT ? "front" : "rear",
                o->car->motor_axle == BT_FRONT ? "front" : "rear");
    if (o->car && o->car->curve_n) bt_html(b, " Demand by a curve of %z points.", o->car->curve_n);
    bt_bytes_text(b, "</p>\n");
    if (o->car) {
        bt_bytes_text(
            b, "<details open><summary>Every quantity used</summary>\n<div class=\"scroll\" "
               "role=\"group\" tabindex=\"0\" aria-label=\"Car sheet\"><table><caption><span>± is "
               "the standard uncertainty as given</span></caption><thead><tr>"
               "<th scope=\"col\" class=\"text\">Quantity</th><th scope=\"col\">Value</th>"
               "<th scope=\"col\">Tolerance</th><th scope=\"col\" class=\"text\">Unit</th>"
               "<th scope=\"col\" class=\"text\">From</th></tr></thead>\n<tbody>\n");
        for (int q = 0; q < BT_CAR_COUNT; q++) quantity_row(b, o->car, (bt_car_quantity)q);
        bt_bytes_text(b, "</tbody></table></div></details>\n");
    }
    bt_bytes_text(b, "</section>\n");
}

void bt_page_meanings(bt_report *r)
{
    bt_bytes *b = &r->page;
    bt_bytes_text(
        b, "<section id=\"meaning\" aria-labelledby=\"h-meaning\"><h2 id=\"h-meaning\">What the "
           "figures mean</h2>\n<p>Names are those of the tables that braketally prints, so that "
           "each figure here can be found there.  pp: percentage points.  ±: one standard "
           "uncertainty (k = 1).</p>\n");
    for (int kind = 0; kind < BT_TABLE_COUNT; kind++) {
        size_t n;
        const bt_column *columns = bt_columns((bt_table_kind)kind, &n);
        bool any = false;
        for (size_t i = 0; i < n && i < BT_PAGE_COLUMNS_MAX; i++) {
            if (!r->used[kind][i]) continue;
            if (!any) bt_html(b, "<h3>Table %s</h3>\n<dl>\n", bt_table_name((bt_table_kind)kind));
            any = true;
            bt_html(b, "<dt>%s</dt><dd>%s", columns[i].name, columns[i].meaning);
            char unit[BT_UNIT_LABEL_MAX];
            if (bt_unit_label(columns[i].unit, unit)[0]) bt_html(b, " (%s)", unit);
            bt_bytes_text(b, "</dd>\n");
        }
        if (any) bt_bytes_text(b, "</dl>\n");
    }
    bt_bytes_text(b, "</section>\n");
}
