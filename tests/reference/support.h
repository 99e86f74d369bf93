/* What the reference checks share: published tables read, logs written, logs analysed by the whole
 * program's own call, and figures held against their source.
 *
 * With BRAKETALLY_TABLE=FILE every held figure is also appended to that file as a row of the table in
 * README.md here (table.sh does that). */
#ifndef BT_REFERENCE_SUPPORT_H
#define BT_REFERENCE_SUPPORT_H

#include <math.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "braketally.h"
#include "tests/check_support.h"

#define REF_G   9.80665
#define REF_KMH (1 / 3.6)

/* ---- figures ---- */

/* `got` within `tolerance` of `want`.  `sure`: text, second or memory (how the source was seen) or
 * derived (follows from it by algebra). */
static inline void ref_held(const char *test, const char *figure, const char *source,
                            const char *sure, double want, double got, double tolerance)
{
    const char *path = getenv("BRAKETALLY_TABLE");
    FILE *f = path ? fopen(path, "a") : NULL;
    if (f) {
        const size_t name = strlen(test) - (strlen(test) > 3 ? 3 : 0); /* Check adds "_fn" */
        /* To a hundredth of the tolerance: further digits are the compiler's. */
        const int decimals = tolerance > 0 ? (int)fmin(10, fmax(0, ceil(2 - log10(tolerance)))) : 0;
        const double shown = fabs(got) < 0.5 * pow(10, -decimals) ? 0 : got; /* no -0.000 */
        fprintf(f, "| %s | %s | %.11g | %.*f | %.2g | %s | `%.*s` |\n", figure, source, want,
                decimals, shown, tolerance, sure, (int)name, test);
        fclose(f);
    }
    ck_assert_msg(fabs(got - want) <= tolerance, "%s (%s): expected %.9g within %.3g, found %.9g",
                  figure, source, want, tolerance, got);
}
#define REF_HELD(figure, source, sure, want, got, tolerance)                                       \
    ref_held(__func__, figure, source, sure, want, got, tolerance)

/* The difference of two figures farthest from 0 so far. */
static inline void ref_worst(double *worst, double want, double got)
{
    if (!(fabs(got - want) <= fabs(*worst))) *worst = got - want;
}

/* ---- published tables ---- */

enum { REF_FIELDS = 16, REF_LINE = 400 };
typedef struct {
    char line[REF_LINE];
    char *field[REF_FIELDS];
    int n;
} ref_row;

/* Cut a line at its commas, but for those in quotes; the quotes go. */
static inline void ref_split(ref_row *row)
{
    char *out = row->line;
    bool quoted = false;
    row->n = 0;
    row->field[row->n++] = out;
    for (const char *in = row->line; *in && *in != '\n' && *in != '\r'; in++) {
        if (*in == '"') {
            quoted = !quoted;
        } else if (*in == ',' && !quoted && row->n < REF_FIELDS) {
            *out++ = '\0';
            row->field[row->n++] = out;
        } else {
            *out++ = *in;
        }
    }
    *out = '\0';
}

/* The table tests/reference/NAME.csv, behind its header. */
static inline FILE *ref_table(const char *name)
{
    char path[128];
    ref_row header;
    snprintf(path, sizeof path, "tests/reference/%s.csv", name);
    FILE *f = fopen(path, "r");
    ck_assert_msg(f != NULL, "no %s", path);
    ck_assert_ptr_nonnull(fgets(header.line, REF_LINE, f));
    return f;
}

static inline bool ref_next(FILE *f, ref_row *row)
{
    if (!fgets(row->line, REF_LINE, f)) return false;
    ref_split(row);
    return true;
}

/* A field as a number, NaN if it is blank. */
static inline double ref_number(const ref_row *row, int field)
{
    return field < row->n && row->field[field][0] ? strtod(row->field[field], NULL) : NAN;
}

/* ---- logs ---- */

typedef struct {
    char path[40];
    FILE *f;
} ref_file;

static inline ref_file ref_open(void)
{
    ref_file l = {.path = "/tmp/braketally-ref-XXXXXX"};
    const int fd = mkstemp(l.path);
    ck_assert_int_ge(fd, 0);
    l.f = fdopen(fd, "w");
    return l;
}

static inline ref_file ref_text(const char *text)
{
    ref_file l = ref_open();
    fputs(text, l.f);
    fclose(l.f);
    return l;
}

/* Analyse the log and remove it.  sheet, map: their text, NULL = none.  nominal: m/s, 0 = none. */
static inline bt_result ref_analyse(ref_file *log, const char *sheet, const char *map,
                                    double nominal)
{
    bt_error err = {0};
    bt_car *car = NULL;
    bt_map *channels = NULL;
    fclose(log->f);
    ck_assert_int_eq(bt_car_new(&car, &err), BT_OK);
    if (sheet) {
        const ref_file s = ref_text(sheet);
        ck_assert_msg(bt_car_read(car, s.path, &err) == BT_OK, "%d: %s", (int)err.line,
                      err.message);
        unlink(s.path);
    }
    if (map) {
        const ref_file m = ref_text(map);
        ck_assert_msg(bt_map_read(&channels, m.path, &err) == BT_OK, "%d: %s", (int)err.line,
                      err.message);
        unlink(m.path);
    }
    const bt_setup setup = {.car = car, .map = channels, .nominal = nominal};
    bt_result result;
    ck_assert_msg(bt_analyse(log->path, &setup, &result, &err) == BT_OK, "%s", err.message);
    unlink(log->path);
    bt_map_free(channels);
    bt_car_free(car);
    return result;
}

#endif
