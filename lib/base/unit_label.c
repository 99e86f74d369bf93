/* The unit of a column as people write it, from its UCUM code (unitsofmeasure.org): tables that programs
 * read keep the code, text and pages show this. */
#include "base/text.h"
#include "base/units.h"

#include <string.h>

static const char *glyph(char c)
{
    switch (c) {
    case '.':
        return "·";
    case '2':
        return "²";
    case '3':
        return "³";
    default:
        return NULL; /* stays */
    }
}

const char *bt_unit_label(const char *ucum, char out[BT_UNIT_LABEL_MAX])
{
    static const char *const begins[][2] = {{"Cel", "°C"}, {"deg", "°"}, {"%/", "pp/"}, {"1", ""}};
    size_t n = 0;
    for (size_t i = 0; i < sizeof begins / sizeof *begins; i++) {
        const size_t len = strlen(begins[i][0]);
        if (strncmp(ucum, begins[i][0], len) != 0) continue;
        n = strlen(begins[i][1]);
        memcpy(out, begins[i][1], n);
        ucum += len;
        break;
    }
    for (size_t took; *ucum; ucum += took) {
        const char *as =
            *ucum == '{' || *ucum == '}' ? "" : glyph(*ucum); /* {lap}: an annotation */
        took = as ? 1 : bt_utf8_len(ucum, strlen(ucum));
        if (took == 0) took = 1;
        const size_t len = as ? strlen(as) : took;
        if (n + len >= BT_UNIT_LABEL_MAX) break; /* between characters */
        memcpy(out + n, as ? as : ucum, len);
        n += len;
    }
    out[n] = '\0';
    return out;
}
