/* Findings as sentences: see finding.h. */
#include "drift/finding.h"

#include <math.h>
#include <string.h>

#include "base/number.h"
#include "base/units.h"

void bt_say(bt_line_text *line, const char *text)
{
    size_t n = strlen(text);
    if (line->n + n + 1 > line->cap) n = line->cap - line->n - 1;
    memcpy(line->text + line->n, text, n);
    line->n += n;
    line->text[line->n] = '\0';
}

void bt_say_number(bt_line_text *line, double x, int decimals, bool sign)
{
    char digits[BT_NUMBER_MAX];
    bt_number_format(digits, sizeof digits, x, decimals);
    if (sign && digits[0] != '-') bt_say(line, "+");
    bt_say(line, digits);
}

void bt_say_p(bt_line_text *line, double p)
{
    if (p < 0.001) {
        bt_say(line, "p < 0.001");
    } else {
        bt_say(line, "p = ");
        bt_say_number(line, p, 3, false);
    }
}

int bt_two_digits(double x)
{
    if (!(fabs(x) > 0) || isinf(x)) return 2;
    const double decimals = 1 - floor(log10(fabs(x)));
    return decimals < 0 ? 0 : decimals > 4 ? 4 : (int)decimals;
}

static bool is_balance(const bt_column *figure)
{
    return strcmp(figure->name, "balance_pct") == 0;
}

const char *bt_figure_words(const bt_column *figure)
{
    return is_balance(figure) ? "balance" : figure->name;
}

void bt_say_unit(bt_line_text *line, const bt_column *figure)
{
    char unit[BT_UNIT_LABEL_MAX] = "pp";
    if (strcmp(figure->unit, "%") != 0) bt_unit_label(figure->unit, unit);
    if (unit[0]) bt_say(line, " ");
    bt_say(line, unit);
}

const char *bt_direction(const bt_column *figure, double step)
{
    if (is_balance(figure)) return step > 0 ? "forward" : "rearward";
    return step > 0 ? "up" : "down";
}
