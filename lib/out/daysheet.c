/* The day sheet, read, added to and written again (CONTRACT 8).  What somebody else did to it stays: its
 * cells are kept as text, and only rows that are put are made anew.  Public: bt_daysheet_* in braketally.h. */
#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>

#include "base/grow.h"
#include "base/text.h"
#include "out/write.h"
#include "saved/cells.h"

static const char mark[] = "\xef\xbb\xbf";

typedef struct {
    const char *name;
    const bt_column *column; /* NULL = somebody else's */
} field;

struct bt_daysheet {
    bt_style style;
    field *field;
    size_t fields;
    bt_run *run;        /* a line without run and status, as spreadsheets leave, is blank here */
    const char ***cell; /* of each row, as many as fields */
    size_t rows, runs_room, cells_room;
    bt_arena arena; /* of names and cells */
};

void bt_daysheet_free(bt_daysheet *sheet)
{
    if (!sheet) return;
    free(sheet->field);
    free(sheet->run);
    free(sheet->cell);
    bt_arena_free(&sheet->arena);
    free(sheet);
}

static bt_status keep(bt_daysheet *s, const char **out, const char *text, size_t n, bt_error *err)
{
    *out = bt_arena_text(&s->arena, text, n, BT_UTF8);
    return *out ? BT_OK : bt_fail(err, BT_NOMEM, "no memory for a cell of %zu bytes", n);
}

/* ---- columns ---- */

static bool has_column(const bt_daysheet *s, const bt_column *column)
{
    for (size_t i = 0; i < s->fields; i++)
        if (s->field[i].column == column) return true;
    return false;
}

/* The header's columns, and behind them those of the table that it lacks. */
static bt_status set_columns(bt_daysheet *s, const bt_grid *grid, const bt_column *const *found,
                             size_t n_found, bt_error *err)
{
    size_t n;
    const bt_column *column = bt_columns(BT_TABLE_RUNS, &n);
    s->field = calloc(n_found + n, sizeof *s->field);
    if (!s->field) return bt_fail(err, BT_NOMEM, "no memory for %zu columns", n_found + n);
    for (size_t i = 0; i < n_found; i++) {
        const char *name = bt_grid_cell(grid, 0, i);
        BT_TRY(keep(s, &s->field[i].name, name, strlen(name), err));
        s->field[i].column = found[i];
        s->fields++;
    }
    for (size_t i = 0; i < n; i++)
        if (!has_column(s, &column[i])) s->field[s->fields++] = (field){column[i].name, &column[i]};
    return BT_OK;
}

/* ---- rows ---- */

/* One more, with blank cells. */
static bt_status new_row(bt_daysheet *s, bt_error *err)
{
    void *run = s->run, *cell = s->cell;
    BT_TRY(bt_grow(&run, &s->runs_room, s->rows + 1, sizeof *s->run, "runs", err));
    s->run = run;
    BT_TRY(bt_grow(&cell, &s->cells_room, s->rows + 1, sizeof *s->cell, "runs", err));
    s->cell = cell;
    const char **cells = bt_arena_new(&s->arena, s->fields * sizeof *cells);
    if (!cells) return bt_fail(err, BT_NOMEM, "no memory for %zu cells", s->fields);
    for (size_t i = 0; i < s->fields; i++) cells[i] = "";
    bt_row_blank(BT_TABLE_RUNS, &s->run[s->rows]);
    s->cell[s->rows++] = cells;
    return BT_OK;
}

static bool has_comma(const bt_grid *grid, size_t row, const bt_column *const *column, size_t n)
{
    for (size_t i = 0; i < n && i < grid->row[row].fields; i++)
        if (column[i] && bt_cell_is_number(column[i]) && strchr(bt_grid_cell(grid, row, i), ','))
            return true;
    return false;
}

static bt_status read_rows(bt_daysheet *s, const bt_grid *grid, const bt_column *const *column,
                           size_t n, bt_error *err)
{
    const bool may_have_commas = s->style.delimiter != ',';
    for (size_t row = 1; row < grid->rows; row++) {
        BT_TRY(new_row(s, err));
        BT_TRY(bt_saved_row(&s->run[s->rows - 1], column, n, grid, row, may_have_commas, err));
        for (size_t i = 0; i < n && i < grid->row[row].fields; i++) {
            const char *text = bt_grid_cell(grid, row, i);
            BT_TRY(keep(s, &s->cell[s->rows - 1][i], text, strlen(text), err));
        }
        s->style.decimal_comma = s->style.decimal_comma || has_comma(grid, row, column, n);
    }
    return BT_OK;
}

static bt_status read_grid(bt_daysheet *s, const bt_grid *grid, bt_error *err)
{
    static const char *const words[] = {"run", "status", "zones"};
    const bt_column **column = NULL;
    if (grid->open_quote)
        return bt_fail(err, BT_SYNTAX, "expected a closing quote, found the end of the file");
    if (grid->rows == 0) return set_columns(s, grid, NULL, 0, err);
    if (!bt_saved_header(grid, 0, words, 3)) {
        bt_fail(err, BT_SYNTAX, "expected a runs table, its header with run, status and zones");
        return bt_at(err, BT_SYNTAX, NULL, grid->row[0].line, 0);
    }
    const size_t n = grid->row[0].fields;
    s->style.decimal_comma = false;
    bt_status status = bt_saved_columns(BT_TABLE_RUNS, grid, 0, &column, err);
    if (status == BT_OK) status = set_columns(s, grid, column, n, err);
    if (status == BT_OK) status = read_rows(s, grid, column, n, err);
    free(column);
    return status;
}

static bt_status read_file(bt_daysheet *s, const char *path, bt_error *err)
{
    bt_source *source;
    bt_grid grid = {0};
    char *bytes = NULL;
    size_t n = 0;
    bt_status status = bt_source_open(&source, path, err);
    if (status == BT_OK) status = bt_saved_bytes(source, SIZE_MAX, &bytes, &n, err);
    const size_t skip = bt_saved_mark(bytes, n);
    if (status == BT_OK && n) {
        s->style.delimiter = bt_saved_delimiter(bytes, n);
        s->style.bom = skip > 0;
    }
    if (status == BT_OK)
        status = bt_grid_read(&grid, bytes + skip, n - skip, 1, s->style.delimiter, false, SIZE_MAX,
                              err);
    if (status == BT_OK) status = read_grid(s, &grid, err);
    bt_grid_free(&grid);
    bt_source_free(source);
    free(bytes);
    return status == BT_OK ? BT_OK : bt_at(err, status, path, 0, 0);
}

bt_status bt_daysheet_read(bt_daysheet **out, const char *path, const bt_style *style,
                           bt_error *err)
{
    struct stat there;
    *out = NULL;
    bt_daysheet *s = calloc(1, sizeof *s);
    if (!s) return bt_fail(err, BT_NOMEM, "no memory for a day sheet");
    if (style) s->style = *style;
    if (!s->style.delimiter) s->style.delimiter = s->style.decimal_comma ? ';' : ',';
    const bt_grid none = {0};
    const bool absent = stat(path, &there) != 0 && errno == ENOENT;
    const bt_status status = absent ? read_grid(s, &none, err) : read_file(s, path, err);
    if (status == BT_OK)
        *out = s;
    else
        bt_daysheet_free(s);
    return status;
}

const bt_run *bt_daysheet_rows(const bt_daysheet *sheet, size_t *n)
{
    *n = sheet->rows;
    return sheet->run;
}

/* ---- putting ---- */

static bool is_day(const bt_run *run)
{
    return strcmp(run->digest, BT_DAY) == 0;
}

static size_t find(const bt_daysheet *s, const bt_run *row)
{
    for (size_t i = 0; i < s->rows; i++)
        if (is_day(&s->run[i]) == is_day(row) && strcmp(s->run[i].run, row->run) == 0) return i;
    return s->rows;
}

/* The last row goes before the day's, if there is one. */
static size_t before_day(bt_daysheet *s)
{
    const size_t last = s->rows - 1;
    size_t at = 0;
    while (at < last && !is_day(&s->run[at])) at++;
    const bt_run run = s->run[last];
    const char **cell = s->cell[last];
    memmove(&s->run[at + 1], &s->run[at], (last - at) * sizeof *s->run);
    memmove(&s->cell[at + 1], &s->cell[at], (last - at) * sizeof *s->cell);
    s->run[at] = run;
    s->cell[at] = cell;
    return at;
}

bt_status bt_daysheet_put(bt_daysheet *sheet, const bt_run *row, bt_error *err)
{
    size_t at = find(sheet, row);
    if (at == sheet->rows) {
        BT_TRY(new_row(sheet, err));
        at = before_day(sheet);
    }
    bt_bytes cell = {0};
    bt_status status = BT_OK;
    for (size_t i = 0; i < sheet->fields && status == BT_OK; i++) {
        if (!sheet->field[i].column) continue;
        bt_csv_make_cell(&cell, sheet->field[i].column, row, sheet->style.decimal_comma);
        if (cell.failed) status = bt_fail(err, BT_NOMEM, "no memory for a cell");
        if (status == BT_OK) status = keep(sheet, &sheet->cell[at][i], cell.p, cell.n, err);
    }
    sheet->run[at] = *row;
    bt_bytes_free(&cell);
    return status;
}

/* ---- writing ---- */

bt_status bt_daysheet_write(const bt_daysheet *sheet, bt_write_fn write, void *user, bt_error *err)
{
    bt_bytes line = {0};
    bt_status status = BT_OK;
    if (sheet->style.bom) bt_bytes_text(&line, mark);
    for (size_t row = 0; row <= sheet->rows && status == BT_OK; row++) {
        for (size_t i = 0; i < sheet->fields; i++) {
            const char *text = row ? sheet->cell[row - 1][i] : sheet->field[i].name;
            if (i) bt_bytes_add(&line, &sheet->style.delimiter, 1);
            bt_csv_cell(&line, text, strlen(text), sheet->style.delimiter);
        }
        bt_bytes_add(&line, "\n", 1);
        status = bt_bytes_write(&line, write, user, err);
    }
    bt_bytes_free(&line);
    return status;
}
