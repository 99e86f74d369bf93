/* JSON (RFC 8259), one object per line, null for no value; and the column table as
 * W3C metadata for the CSV form (Metadata Vocabulary for Tabular Data). */
#include "out/write.h"

#include <stdio.h>
#include <string.h>

void bt_json_string(bt_bytes *b, const char *s, size_t n)
{
    bt_bytes_add(b, "\"", 1);
    for (size_t i = 0; i < n; i++) {
        const unsigned char c = (unsigned char)s[i];
        if (c == '"' || c == '\\') {
            bt_bytes_add(b, "\\", 1);
            bt_bytes_add(b, s + i, 1);
        } else if (c < 0x20 || c == 0x7f) {
            char escape[8];
            bt_bytes_add(b, escape, (size_t)snprintf(escape, sizeof escape, "\\u%04x", c));
        } else {
            bt_bytes_add(b, s + i, 1);
        }
    }
    bt_bytes_add(b, "\"", 1);
}

static bt_status row(bt_writer *w, const void *data, bt_error *err)
{
    for (size_t i = 0; i < w->n; i++) {
        bt_bytes_text(&w->line, i ? ",\"" : "{\"");
        bt_bytes_text(&w->line, w->columns[i].name);
        bt_bytes_text(&w->line, "\":");
        w->cell.n = 0;
        bt_cell_add(&w->cell, &w->columns[i], data);
        if (!bt_cell_is_number(&w->columns[i]))
            bt_json_string(&w->line, w->cell.p, w->cell.n);
        else if (w->cell.n)
            bt_bytes_add(&w->line, w->cell.p, w->cell.n);
        else
            bt_bytes_text(&w->line, "null");
        if (w->cell.failed) w->line.failed = true;
    }
    bt_bytes_text(&w->line, "}\n");
    return bt_bytes_write(&w->line, w->write, w->user, err);
}

const bt_writer_format bt_json_format = {.row = row};

static void add_string(bt_bytes *b, const char *s)
{
    bt_json_string(b, s, strlen(s));
}

static const char *datatype(const bt_column *c)
{
    if (!bt_cell_is_number(c)) return "string";
    return c->decimals ? "decimal" : "integer";
}

bt_status bt_columns_csvw(bt_table_kind table, const char *url, bt_write_fn write, void *user,
                          bt_error *err)
{
    size_t n;
    const bt_column *columns = bt_columns(table, &n);
    if (!columns) return bt_fail(err, BT_MISSING, "expected a table with columns, found none");
    bt_bytes b = {0};
    bt_bytes_text(&b, "{\n  \"@context\": \"http://www.w3.org/ns/csvw\",\n  \"url\": ");
    add_string(&b, url);
    bt_bytes_text(&b, ",\n  \"dialect\": {\"lineTerminators\": [\"\\n\"]},\n"
                      "  \"tableSchema\": {\n    \"columns\": [");
    for (size_t i = 0; i < n; i++) {
        const bt_column *c = &columns[i];
        bt_bytes_text(&b, i ? ",\n      {\"name\": " : "\n      {\"name\": ");
        add_string(&b, c->name);
        bt_bytes_text(&b, ", \"titles\": ");
        add_string(&b, c->name);
        bt_bytes_text(&b, ", \"datatype\": ");
        add_string(&b, datatype(c));
        if (c->kind == BT_CELL_FLAGS) bt_bytes_text(&b, ", \"separator\": \" \"");
        if (c->unit[0]) {
            bt_bytes_text(&b, ",\n       \"http://qudt.org/schema/qudt/ucumCode\": ");
            add_string(&b, c->unit);
        }
        bt_bytes_text(&b, ",\n       \"dc:description\": ");
        add_string(&b, c->meaning);
        bt_bytes_text(&b, "}");
    }
    bt_bytes_text(&b, "\n    ]\n  }\n}\n");
    const bt_status status = bt_bytes_write(&b, write, user, err);
    bt_bytes_free(&b);
    return status;
}
