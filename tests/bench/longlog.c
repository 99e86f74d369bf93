/* A long log for the bench: some columns of a short one over and over, time and laps going on, until
 * it has the bytes that were asked for.
 *
 * usage: longlog BYTES NAME[=NEW]... < SHORT > LONG
 * SHORT is plain CSV without quotes; its first column is time in s with three decimals.  NAME is the
 * beginning of a header up to a blank; NEW takes its place.  `lap` counts on. */
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

enum { COLUMNS = 64, LINE = 4096 };

typedef struct {
    char *bytes;
    size_t n, cap;
} text;

static void add(text *t, const char *s, size_t n)
{
    if (t->n + n > t->cap) {
        t->cap = 2 * (t->n + n);
        t->bytes = realloc(t->bytes, t->cap);
        if (!t->bytes) exit(1);
    }
    memcpy(t->bytes + t->n, s, n);
    t->n += n;
}

/* The fields of a line, which are cut where they lie. */
static int split(char *line, char **field)
{
    int n = 0;
    line[strcspn(line, "\r\n")] = '\0';
    for (char *p = line; p && n < COLUMNS; n++) {
        field[n] = p;
        p = strchr(p, ',');
        if (p) *p++ = '\0';
    }
    return n;
}

static int find(char **header, int n, const char *name, size_t length)
{
    for (int i = 0; i < n; i++)
        if (strncmp(header[i], name, length) == 0 &&
            (header[i][length] == ' ' || !header[i][length]))
            return i;
    fprintf(stderr, "longlog: no column %s\n", name);
    exit(2);
}

/* What is kept of the short log: each row's lap, and the cells behind it as they will be written. */
typedef struct {
    long *lap;
    size_t *end; /* in rest.bytes */
    size_t n, cap;
    text rest;
} rows;

static void keep(rows *r, char **field, const int *column, int n, int lap)
{
    if (r->n == r->cap) {
        r->cap = r->cap ? 2 * r->cap : 1 << 16;
        r->lap = realloc(r->lap, r->cap * sizeof *r->lap);
        r->end = realloc(r->end, r->cap * sizeof *r->end);
        if (!r->lap || !r->end) exit(1);
    }
    for (int i = 0; i < n; i++) {
        add(&r->rest, ",", 1);
        add(&r->rest, field[column[i]], strlen(field[column[i]]));
    }
    add(&r->rest, "\n", 1);
    r->lap[r->n] = strtol(field[lap], NULL, 10);
    r->end[r->n++] = r->rest.n;
}

static void write_rows(const rows *r, uint64_t bytes)
{
    const long laps = r->lap[r->n - 1] - r->lap[0] + 1;
    uint64_t written = 0, ms = 0;
    for (long round = 0; written < bytes; round++)
        for (size_t i = 0; i < r->n && written < bytes; i++, ms++) {
            const size_t from = i ? r->end[i - 1] : 0;
            char head[64];
            const int n =
                snprintf(head, sizeof head, "%llu.%03u,%ld", (unsigned long long)(ms / 1000),
                         (unsigned)(ms % 1000), r->lap[i] + round * laps);
            fwrite(head, 1, (size_t)n, stdout);
            fwrite(r->rest.bytes + from, 1, r->end[i] - from, stdout);
            written += (size_t)n + r->end[i] - from;
        }
}

int main(int argc, char **argv)
{
    static char line[LINE];
    char *field[COLUMNS];
    int column[COLUMNS], n = 0;
    if (argc < 2 || argc > COLUMNS || !fgets(line, sizeof line, stdin)) return 2;
    const int fields = split(line, field);
    const int lap = find(field, fields, "lap", 3);
    printf("%s,%s", field[0], field[lap]);
    for (int i = 2; i < argc; i++) {
        const size_t length = strcspn(argv[i], "=");
        column[n] = find(field, fields, argv[i], length);
        printf(",%s", argv[i][length] ? argv[i] + length + 1 : field[column[n]]);
        n++;
    }
    printf("\n");
    rows r = {0};
    while (fgets(line, sizeof line, stdin))
        if (split(line, field) == fields) keep(&r, field, column, n, lap);
    if (r.n == 0) return 2;
    write_rows(&r, strtoull(argv[1], NULL, 10));
    return fflush(stdout) != 0 || ferror(stdout);
}
