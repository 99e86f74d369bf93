/* The bare libcsv pass over a file: callbacks that do nothing.  What any program on top of libcsv pays. */
#include <csv.h>
#include <stdio.h>

static void take_field(void *field, size_t n, void *user)
{
    (void)field, (void)n, (void)user;
}

static void take_row(int terminator, void *user)
{
    (void)terminator, (void)user;
}

int main(int argc, char **argv)
{
    static char bytes[1 << 18];
    struct csv_parser csv;
    FILE *f = argc == 2 ? fopen(argv[1], "rb") : NULL;
    if (!f || csv_init(&csv, 0) != 0) return 2;
    setvbuf(f, NULL, _IONBF, 0);
    for (size_t n; (n = fread(bytes, 1, sizeof bytes, f)) > 0;)
        if (csv_parse(&csv, bytes, n, take_field, take_row, NULL) != n) return 1;
    csv_fini(&csv, take_field, take_row, NULL);
    csv_free(&csv);
    return ferror(f) != 0;
}
