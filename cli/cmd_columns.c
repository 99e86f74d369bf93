/* columns: the tables describe themselves (CONTRACT 10).  `flags` is the list of words
 * in the tables' flags columns. */
#include "cli.h"

#include <string.h>

static const bt_column flags[] = {
#define X(id, word, text) {.name = word, .unit = "", .meaning = text},
    BT_FLAG_LIST(X)
#undef X
};

size_t table_names(const char *names[TABLES_MAX])
{
    size_t n = 0, columns;
    for (int t = 0; t < BT_TABLE_COUNT; t++)
        if (bt_columns((bt_table_kind)t, &columns)) names[n++] = bt_table_name((bt_table_kind)t);
    names[n++] = "flags";
    return n;
}

static bt_table_kind find_table(const char *word)
{
    size_t n;
    for (int t = 0; t < BT_TABLE_COUNT; t++)
        if (strcmp(word, bt_table_name((bt_table_kind)t)) == 0 && bt_columns((bt_table_kind)t, &n))
            return (bt_table_kind)t;
    return BT_TABLE_COUNT;
}

static int print_csvw(cli *c, bt_table_kind table)
{
    char url[32];
    snprintf(url, sizeof url, "%s.csv", bt_table_name(table));
    int status = output_open(c);
    if (status != 0) return status;
    bt_error err = {0};
    if (bt_columns_csvw(table, url, output_write, &c->out, &err) != BT_OK)
        status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, NULL, status, false);
}

static int print_rows(cli *c, const bt_column *rows, size_t n)
{
    bt_writer *w;
    int status = output_table(c, BT_TABLE_COLUMNS, &w);
    if (status != 0) return status;
    bt_error err = {0};
    for (size_t i = 0; i < n && status == 0; i++)
        if (bt_writer_row(w, &rows[i], &err) != BT_OK) status = say_error(&err, NULL, EXIT_OUTPUT);
    return output_finish(c, w, status, false);
}

int cmd_columns(cli *c, int n, char **tables)
{
    (void)n;
    if (strcmp(tables[0], "flags") == 0) {
        if (!c->csvw) return print_rows(c, flags, sizeof flags / sizeof flags[0]);
        say("--csvw: expected a table, found 'flags'");
        return EXIT_USAGE;
    }
    const bt_table_kind table = find_table(tables[0]);
    if (table == BT_TABLE_COUNT) {
        const char *names[TABLES_MAX];
        const size_t known = table_names(names);
        say_unknown("table", tables[0], NULL, names, known);
        return EXIT_USAGE;
    }
    if (c->csvw) return print_csvw(c, table);
    size_t rows;
    const bt_column *columns = bt_columns(table, &rows);
    return print_rows(c, columns, rows);
}
