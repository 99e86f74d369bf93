/* Tables of a page: columns by name, from the column table. */
#include "out/page.h"

#include "base/units.h"

#include <math.h>
#include <string.h>

static const bt_column *find(bt_table_kind kind, const char *name, size_t *index)
{
    size_t n;
    const bt_column *columns = bt_columns(kind, &n);
    for (*index = 0; name && *index < n; ++*index)
        if (strcmp(columns[*index].name, name) == 0) return &columns[*index];
    return NULL;
}

static double number(const bt_column *column, const void *row)
{
    double x;
    memcpy(&x, (const char *)row + column->offset, sizeof x);
    return (x - column->shift) * column->factor;
}

static bool blank(bt_report *r, const bt_column *column, const void *row)
{
    if (column->kind == BT_CELL_NUMBER) return !isfinite(number(column, row));
    const size_t before = r->page.n;
    bt_cell_add(&r->page, column, row);
    const bool none = r->page.n == before;
    r->page.n = before;
    return none;
}

static void add_number(bt_bytes *b, const bt_column *column, int fewer, const void *row)
{
    const int decimals = column->decimals < fewer ? 0 : column->decimals - fewer;
    const char form[] = {'%', (char)('0' + (decimals > 9 ? 9 : decimals)), 'f', 0};
    bt_html(b, form, number(column, row));
}

#define LONG_TEXT 40 /* bytes from which a cell needs room to be read on a phone */

static void add_text(bt_report *r, const bt_column *column, const char *tag, const void *row)
{
    bt_bytes plain = {0};
    bt_cell_add(&plain, column, row);
    bt_html(&r->page, "<%r class=\"text%r\">", tag, plain.n > LONG_TEXT ? " long" : "");
    bt_bytes_add(&plain, "", 1);
    if (plain.failed)
        r->page.failed = true;
    else
        bt_html_text(&r->page, plain.p);
    bt_bytes_free(&plain);
}

static void cell(bt_report *r, const bt_column *column, const bt_column *u, int fewer, bool first,
                 const void *row)
{
    bt_bytes *b = &r->page;
    const char *tag = first ? "th scope=\"row\"" : "td";
    if (column->kind != BT_CELL_NUMBER) {
        add_text(r, column, tag, row);
    } else {
        bt_html(b, "<%r>", tag);
        if (!blank(r, column, row)) add_number(b, column, fewer, row);
        if (u && !blank(r, u, row)) {
            bt_bytes_text(b, "<small> ± ");
            add_number(b, u, fewer, row);
            bt_bytes_text(b, "</small>");
        }
    }
    bt_bytes_text(b, first ? "</th>" : "</td>");
}

static void head(bt_report *r, bt_table_kind kind, const bt_column *column,
                 const bt_page_column *as, size_t index)
{
    if (index < BT_PAGE_COLUMNS_MAX) r->used[kind][index] = true;
    char unit[BT_UNIT_LABEL_MAX];
    bt_unit_label(column->unit, unit);
    bt_html(&r->page, "<th scope=\"col\"%r>%s",
            column->kind == BT_CELL_NUMBER ? "" : " class=\"text\"", as->label);
    if (unit[0]) bt_html(&r->page, " <span class=\"unit\">%s</span>", unit);
    bt_bytes_text(&r->page, "</th>");
}

#define SHOWN_MAX 24
#define TALL      24 /* rows from which a table scrolls on a screen, its headings in sight */

void bt_page_table(bt_report *r, const char *caption, bt_table_kind kind,
                   const bt_page_column *columns, size_t n, const void *rows, size_t step,
                   size_t n_rows)
{
    const bt_column *shown[SHOWN_MAX], *u[SHOWN_MAX];
    const char *row = rows;
    int fewer[SHOWN_MAX];
    size_t n_shown = 0;
    bt_bytes *b = &r->page;
    bt_html(b,
            "<div class=\"scroll%r\" role=\"group\" tabindex=\"0\" aria-label=\"%s\"><table>"
            "<caption><span>%s</span></caption><thead><tr>",
            n_rows > TALL ? " tall" : "", caption, caption);
    for (size_t i = 0; i < n && n_shown < SHOWN_MAX; i++) {
        size_t index, u_index;
        const bt_column *column = find(kind, columns[i].column, &index);
        bool any = false;
        for (size_t k = 0; column && k < n_rows && !any; k++)
            any = !blank(r, column, row + k * step);
        if (!any) continue;
        u[n_shown] = find(kind, columns[i].u, &u_index);
        fewer[n_shown] = columns[i].fewer;
        shown[n_shown++] = column;
        head(r, kind, column, &columns[i], index);
    }
    bt_bytes_text(b, "</tr></thead>\n<tbody>\n");
    for (size_t k = 0; k < n_rows; k++) {
        bt_bytes_text(b, "<tr>");
        for (size_t i = 0; i < n_shown; i++)
            cell(r, shown[i], u[i], fewer[i], i == 0, row + k * step);
        bt_bytes_text(b, "</tr>\n");
    }
    bt_bytes_text(b, "</tbody></table></div>\n");
}
