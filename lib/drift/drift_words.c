/* What a row of drift says: see study.h. */
#include <math.h>
#include <string.h>

#include "drift/study.h"

#define LEAST_PCT 0.05 /* % per lap that matters, unless told */

const char *bt_against_word(bt_against against)
{
    return against == BT_AGAINST_LAP ? "lap" : against == BT_AGAINST_TIME ? "min" : "run";
}

/* Least step that matters, in the figure's printed unit per x. */
static double least_of(const bt_study *s, const bt_column *figure)
{
    if (s->least > 0) return s->least;
    return strcmp(figure->unit, "%") == 0 ? LEAST_PCT : 0;
}

static void say_rate(bt_line_text *l, const bt_study *s, const bt_column *figure)
{
    bt_say_unit(l, figure);
    bt_say(l, "/");
    bt_say(l, bt_against_word(s->against));
}

static void say_interval(bt_line_text *l, double low, double high, int decimals, bool turned)
{
    if (isnan(low) || isnan(high)) return;
    bt_say(l, " (");
    bt_say_number(l, turned ? -high : low, decimals, false);
    bt_say(l, "..");
    bt_say_number(l, turned ? -low : high, decimals, false);
    bt_say(l, ")");
}

/* Which force did it: parts of the whole brake force, that of the motor first if it is the one. */
static void say_why(bt_line_text *l, const bt_study *s, const bt_column *figure,
                    const bt_measures *m)
{
    const double b = m->level / 100, motor = -m->by[2] / b, rear = -m->by[1] / b;
    const double largest = fmax(fabs(m->by[0]), fabs(m->by[1]));
    const int decimals = bt_two_digits(m->trend.slope);
    if (isnan(m->by[0] + m->by[1] + m->by[2])) return;
    if (fabs(m->by[2]) >= largest) {
        const double replaced = -rear / motor;
        bt_say(l, motor < 0 ? "; the motor's part of the brake force fell "
                            : "; the motor's part of the brake force rose ");
        bt_say_number(l, fabs(motor), bt_two_digits(motor), false);
        say_rate(l, s, figure);
        bt_say(l, motor < 0 ? " and rear friction replaced " : " and rear friction gave way by ");
        bt_say_number(l, fmax(replaced, 0), 2, false);
        bt_say(l, " of it");
    } else {
        static const char *const words[] = {"; by front friction ", ", rear friction ", ", motor "};
        for (size_t k = 0; k < 3; k++) {
            bt_say(l, words[k]);
            bt_say_number(l, m->by[k], decimals, true);
        }
        say_rate(l, s, figure);
    }
}

static void say_step(bt_line_text *l, const bt_study *s, const bt_column *figure,
                     const bt_measures *m)
{
    bt_say(l, " moved ");
    bt_say_number(l, fabs(m->at.size), bt_two_digits(m->at.size), false);
    bt_say_unit(l, figure);
    bt_say(l, " ");
    bt_say(l, bt_direction(figure, m->at.size));
    bt_say(l, s->against == BT_AGAINST_TIME ? " at minute " : " at ");
    if (s->against != BT_AGAINST_TIME) {
        bt_say(l, bt_against_word(s->against));
        bt_say(l, " ");
    }
    bt_say_number(l, m->break_x, s->against == BT_AGAINST_TIME ? 1 : 0, false);
    bt_say(l, ", ");
    bt_say_p(l, m->at.p_level);
}

static void say_slope(bt_line_text *l, const bt_study *s, const bt_column *figure,
                      const bt_measures *m)
{
    const double slope = m->trend.slope;
    const int decimals = bt_two_digits(slope);
    bt_say(l, m->trend.p < BT_SURE ? " moved " : " probably moved ");
    bt_say_number(l, fabs(slope), decimals, false);
    say_rate(l, s, figure);
    bt_say(l, " ");
    bt_say(l, bt_direction(figure, slope));
    say_interval(l, m->trend.low, m->trend.high, decimals, slope < 0);
    bt_say(l, ", ");
    bt_say_p(l, m->trend.p);
}

void bt_drift_say(bt_drift *row, const bt_study *s, const bt_choice *c, const bt_measures *m,
                  double first_x)
{
    bt_line_text l = {row->finding, sizeof row->finding, 0};
    const double least = least_of(s, c->figure), slope = m->trend.slope;
    const bool drifts = m->trend.p < BT_PROBABLE && fabs(slope) >= least && fabs(slope) > 0;
    const bool steps = bt_step_found(m) && m->at.p_level < BT_SURE && fabs(m->at.size) >= least;
    bt_say(&l, bt_figure_words(c->figure));
    if (steps && m->at.p_line < BT_SURE_STEP) {
        say_step(&l, s, c->figure, m);
        bt_say(&l, ", and not slowly");
        say_why(&l, s, c->figure, m);
    } else if (drifts) {
        say_slope(&l, s, c->figure, m);
        if (bt_study_has_moments(s, c)) {
            bt_say(&l, ", from ");
            bt_say(&l, s->against == BT_AGAINST_TIME ? "the start" : bt_against_word(s->against));
            if (s->against != BT_AGAINST_TIME) {
                bt_say(&l, " ");
                bt_say_number(&l, first_x, 0, false);
            }
        }
        say_why(&l, s, c->figure, m);
    } else if (steps) {
        say_step(&l, s, c->figure, m);
        bt_say(&l, ", or slowly about then");
    } else if (isnan(slope)) {
        bt_say(&l, ": too little to compare, expected two values at one place");
    } else {
        const bool small = m->trend.p < BT_PROBABLE;
        bt_say(&l, small ? ": less than matters, " : ": no drift to be told from chance, ");
        const double half = 0.5 * (m->trend.high - m->trend.low); /* a slope of 0 has no digits */
        const int decimals = bt_two_digits(fmax(fabs(slope), half));
        bt_say_number(&l, slope, decimals, true);
        say_rate(&l, s, c->figure);
        say_interval(&l, m->trend.low, m->trend.high, decimals, false);
        bt_say(&l, ", ");
        bt_say_p(&l, m->trend.p);
    }
}
