/* Plots: round ticks, colours that can be read, gaps, escaping (lib/out/axis.c, html.c, plot.c). */
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "out/plot.h"
#include "tests/check_support.h"

/* ---- axes ---- */

static const struct {
    double low, high;
    int want;
    double step, wide_low, wide_high;
    int decimals;
} axes[] = {
    {0, 10, 5, 2, 0, 10, 0},
    {0, 11, 5, 5, 0, 15, 0},
    {0, 100, 5, 20, 0, 100, 0},
    {-3, 7, 5, 2, -4, 8, 0},
    {0.12, 0.19, 4, 0.02, 0.12, 0.2, 2},
    {0, 1e6, 5, 200000, 0, 1e6, 0},
    {1e-4, 9e-4, 4, 2e-4, 0, 1e-3, 4},
    {61.5, 62.4, 3, 0.5, 61.5, 62.5, 1},
};

START_TEST(ticks_are_one_two_or_five_times_a_power_of_ten)
{
    const bt_axis a = bt_axis_over((bt_range){axes[_i].low, axes[_i].high}, axes[_i].want, true);
    ck_assert_double_eq_tol(a.step, axes[_i].step, 1e-12 * axes[_i].step);
    ck_assert_double_eq_tol(a.low, axes[_i].wide_low, 1e-9 * axes[_i].step);
    ck_assert_double_eq_tol(a.high, axes[_i].wide_high, 1e-9 * axes[_i].step);
    ck_assert_int_eq(a.decimals, axes[_i].decimals);
    double tick[BT_AXIS_TICKS];
    const size_t n = bt_axis_ticks(&a, tick);
    ck_assert_uint_ge(n, 2);
    ck_assert_double_eq_tol(tick[0], axes[_i].wide_low, 1e-9 * axes[_i].step);
    ck_assert_double_eq_tol(tick[n - 1], axes[_i].wide_high, 1e-9 * axes[_i].step);
}
END_TEST

START_TEST(an_axis_of_one_value_or_none_has_a_width)
{
    bt_axis a = bt_axis_over(BT_RANGE_NONE, 5, true);
    ck_assert_double_eq(a.low, 0);
    ck_assert_double_eq(a.high, 1);
    bt_range one = BT_RANGE_NONE;
    bt_range_cover(&one, (const double[]){NAN, 40, INFINITY, 40}, 4);
    a = bt_axis_over(one, 5, true);
    ck_assert_double_lt(a.low, 40);
    ck_assert_double_gt(a.high, 40);
    a = bt_axis_over((bt_range){0, 0}, 5, true);
    ck_assert_double_lt(a.low, a.high);
}
END_TEST

/* Between the largest doubles of either sign lies more than a double holds. */
START_TEST(an_axis_over_absurd_values_is_finite)
{
    bt_range range = BT_RANGE_NONE;
    bt_range_cover(&range, (const double[]){-1e308, 3, 7, 1e308}, 4);
    ck_assert_double_eq(range.low, 3);
    ck_assert_double_eq(range.high, 7);
    bt_range_cover(&range, (const double[]){-1e300, 1e300}, 2);
    const bt_axis a = bt_axis_over(range, 5, true);
    ck_assert_double_eq_tol(a.low, -1e300, 1e288);
    ck_assert_double_eq_tol(a.step, 5e299, 1e287); /* 2e300 over 5 is 4e299: the next 1, 2 or 5 */
}
END_TEST

START_TEST(what_is_counted_has_whole_ticks)
{
    const bt_axis a = bt_axis_count((bt_range){0.6, 3.4}, 6);
    double tick[BT_AXIS_TICKS];
    ck_assert_uint_eq(bt_axis_ticks(&a, tick), 3);
    ck_assert_double_eq(tick[0], 1);
    ck_assert_double_eq(tick[2], 3);
    ck_assert_int_eq(a.decimals, 0);
}
END_TEST

/* ---- colours: WCAG 2.1, relative luminance and contrast ratio ---- */

static double channel(const char *hex)
{
    unsigned value;
    ck_assert_int_eq(sscanf(hex, "%2x", &value), 1);
    const double c = value / 255.0;
    return c <= 0.04045 ? c / 12.92 : pow((c + 0.055) / 1.055, 2.4);
}

static double luminance(const char *colour)
{
    ck_assert_uint_eq(strlen(colour), 7);
    return 0.2126 * channel(colour + 1) + 0.7152 * channel(colour + 3) +
           0.0722 * channel(colour + 5);
}

static double contrast(const char *a, const char *b)
{
    const double p = luminance(a), q = luminance(b);
    return (fmax(p, q) + 0.05) / (fmin(p, q) + 0.05);
}

START_TEST(contrast_is_computed_as_published)
{
    ck_assert_double_eq_tol(contrast("#000000", "#ffffff"), 21, 1e-9);
    ck_assert_double_eq_tol(contrast("#767676", "#ffffff"), 4.54, 0.005); /* the lightest grey that
                                                                             passes */
    ck_assert_double_eq_tol(contrast("#777777", "#ffffff"), 4.48, 0.005);
}
END_TEST

START_TEST(every_colour_that_means_something_can_be_read)
{
    static const bt_colour grounds[] = {BT_COLOUR_PAPER, BT_COLOUR_TINT};
    for (size_t i = 0; i < BT_COLOUR_COUNT; i++) {
        if (i == BT_COLOUR_PAPER || i == BT_COLOUR_RULE || i == BT_COLOUR_TINT) continue;
        for (size_t g = 0; g < 2; g++) {
            const bt_tone *ground = &bt_tones[grounds[g]];
            ck_assert_double_ge(contrast(bt_tones[i].light, ground->light), 4.5);
            ck_assert_double_ge(contrast(bt_tones[i].dark, ground->dark), 4.5);
        }
    }
}
END_TEST

/* Colour as those see it who lack the cones for red or green (Vienot, Brettel and Mollon 1999: linear RGB
 * reduced to the plane they share with others), compared in CIE L*a*b*. */
static void seen(const char *colour, bool no_red, double lab[3])
{
    double rgb[3], lms[3], xyz[3];
    for (size_t i = 0; i < 3; i++) rgb[i] = channel(colour + 1 + 2 * i);
    lms[0] = 17.8824 * rgb[0] + 43.5161 * rgb[1] + 4.11935 * rgb[2];
    lms[1] = 3.45565 * rgb[0] + 27.1554 * rgb[1] + 3.86714 * rgb[2];
    lms[2] = 0.0299566 * rgb[0] + 0.184309 * rgb[1] + 1.46709 * rgb[2];
    if (no_red)
        lms[0] = 2.02344 * lms[1] - 2.52581 * lms[2];
    else
        lms[1] = 0.494207 * lms[0] + 1.24827 * lms[2];
    rgb[0] = 0.080944 * lms[0] - 0.130504 * lms[1] + 0.116721 * lms[2];
    rgb[1] = -0.0102485 * lms[0] + 0.0540194 * lms[1] - 0.113615 * lms[2];
    rgb[2] = -0.000365294 * lms[0] - 0.00412163 * lms[1] + 0.693513 * lms[2];
    xyz[0] = (0.4124 * rgb[0] + 0.3576 * rgb[1] + 0.1805 * rgb[2]) / 0.9505;
    xyz[1] = 0.2126 * rgb[0] + 0.7152 * rgb[1] + 0.0722 * rgb[2];
    xyz[2] = (0.0193 * rgb[0] + 0.1192 * rgb[1] + 0.9505 * rgb[2]) / 1.089;
    for (size_t i = 0; i < 3; i++)
        xyz[i] = xyz[i] > 0.008856 ? cbrt(xyz[i]) : 7.787 * xyz[i] + 16.0 / 116;
    lab[0] = 116 * xyz[1] - 16;
    lab[1] = 500 * (xyz[0] - xyz[1]);
    lab[2] = 200 * (xyz[1] - xyz[2]);
}

START_TEST(colours_of_one_plot_differ_for_the_colour_blind)
{
    /* Drawn together: both axles; friction, motor, demand; mark of the bypass among the others. */
    static const bt_colour pairs[][2] = {{BT_COLOUR_FRONT, BT_COLOUR_REAR},
                                         {BT_COLOUR_REAR, BT_COLOUR_MOTOR},
                                         {BT_COLOUR_FRONT, BT_COLOUR_MOTOR},
                                         {BT_COLOUR_MOTOR, BT_COLOUR_INK},
                                         {BT_COLOUR_FRONT, BT_COLOUR_ALERT}};
    for (int blind = 0; blind < 2; blind++)
        for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++)
            for (int dark = 0; dark < 2; dark++) {
                double a[3], b[3];
                const bt_tone *p = &bt_tones[pairs[i][0]], *q = &bt_tones[pairs[i][1]];
                seen(dark ? p->dark : p->light, blind, a);
                seen(dark ? q->dark : q->light, blind, b);
                const double apart = hypot(hypot(a[0] - b[0], a[1] - b[1]), a[2] - b[2]);
                ck_assert_msg(apart > 11, "%s and %s are only %.1f apart (blind %d, dark %d)",
                              p->name, q->name, apart, blind, dark);
            }
}
END_TEST

/* ---- drawing ---- */

static const bt_frame unit_frame = {0, 0, 100, 100, {0, 10, 5, 0}, {0, 10, 5, 0}, NULL, NULL};

static const char *text_of(bt_bytes *b)
{
    bt_bytes_add(b, "", 1);
    ck_assert(!b->failed);
    return b->p;
}

START_TEST(a_gap_in_a_line_stays_a_gap)
{
    bt_bytes b = {0};
    double t[] = {0, 1, 2, 3, 4}, v[] = {0, 10, NAN, 10, 0};
    bt_frame_line(&b, &unit_frame, &(bt_series){5, t, v}, "front");
    ck_assert_str_eq(text_of(&b), "<path class=\"line front\" d=\"M0 100L10 0M30 0L40 100\"/>\n");
    bt_bytes_free(&b);
}
END_TEST

START_TEST(an_area_stands_on_zero_or_on_the_series_below)
{
    bt_bytes b = {0};
    double t[] = {0, 5, 10}, top[] = {4, 4, 4}, low[] = {1, 2, 1};
    bt_frame_area(&b, &unit_frame, &(bt_series){3, t, top}, NULL, "rear", 0);
    ck_assert_str_eq(text_of(&b),
                     "<path class=\"area rear\" d=\"M0 60L50 60L100 60L100 100H0z\"/>\n");
    b.n = 0;
    bt_frame_area(&b, &unit_frame, &(bt_series){3, t, top}, &(bt_series){3, t, low}, "", 7);
    ck_assert_str_eq(text_of(&b), "<path fill=\"url(#h7)\" d=\"M0 60L50 60L100 60L100 90L100 90"
                                  "L50 80L0 90L0 90z\"/>\n");
    bt_bytes_free(&b);
}
END_TEST

START_TEST(a_straight_line_ends_at_the_frame_and_keeps_its_slope)
{
    bt_bytes b = {0};
    bt_frame_segment(&b, &unit_frame, 0, -10, 10, 20,
                     "ink");                                 /* leaves the frame at 10/3 and 20/3 */
    bt_frame_segment(&b, &unit_frame, 0, 11, 10, 11, "ink"); /* above it */
    bt_frame_segment(&b, &unit_frame, 0, 5, 10, 5, "ink");
    ck_assert_str_eq(text_of(&b), "<path class=\"line ink\" d=\"M33.3 100L66.7 0\"/>"
                                  "<path class=\"line ink\" d=\"M0 50L100 50\"/>");
    bt_bytes_free(&b);
}
END_TEST

START_TEST(labels_at_line_ends_keep_their_distance)
{
    bt_bytes b = {0};
    bt_end_label labels[] = {{5, "a", "x"}, {5.1, "b", "x"}, {NAN, "c", "x"}, {0, "d", "x"}};
    bt_frame_end_labels(&b, &unit_frame, labels, 4);
    const char *text = text_of(&b);
    ck_assert_ptr_null(strstr(text, ">c<"));
    double y[3];
    const char *at = text;
    for (size_t i = 0; i < 3; i++) {
        at = strstr(at, " y=\"");
        ck_assert_ptr_nonnull(at);
        ck_assert_int_eq(sscanf(at, " y=\"%lf", &y[i]), 1);
        at++;
    }
    ck_assert_double_ge(y[1] - y[0], 12);
    ck_assert_double_ge(y[2] - y[1], 12);
    bt_bytes_free(&b);
}
END_TEST

START_TEST(names_stay_text)
{
    bt_bytes b = {0};
    bt_plot_begin(&b, 1, 10, 10, "<script>alert(1)</script>", "a & b \"c\" 'd'", false);
    const char *text = text_of(&b);
    ck_assert_ptr_null(strstr(text, "<script"));
    ck_assert_ptr_nonnull(strstr(text, "&lt;script&gt;alert(1)&lt;/script&gt;"));
    ck_assert_ptr_nonnull(strstr(text, "a &amp; b &quot;c&quot; &#39;d&#39;"));
    ck_assert_ptr_nonnull(strstr(text, "role=\"img\""));
    bt_bytes_free(&b);
}
END_TEST

START_TEST(what_is_no_text_is_replaced)
{
    bt_bytes b = {0};
    bt_html_text(&b, "a\x01z\xff\xc3\xa9\xed\xa0\x80.\xef\xbf\xbf");
    const char *text = text_of(&b);
    ck_assert_ptr_nonnull(strstr(text, "a\xef\xbf\xbdz\xef\xbf\xbd\xc3\xa9"));
    for (const char *p = text; *p; p++) ck_assert((unsigned char)*p >= 0x20);
    ck_assert_ptr_null(strstr(text, "\xed\xa0\x80"));
    ck_assert_ptr_null(strstr(text, "\xef\xbf\xbf"));
    bt_bytes_free(&b);
}
END_TEST

START_TEST(numbers_are_written_for_readers_and_for_machines)
{
    char text[64];
    bt_html_plain(text, sizeof text, "%1f|%0f|%+2f|%+2f|%2f", -0.25, 1e3, 0.5, 0.001, (double)NAN);
    ck_assert_str_eq(text, "−0.3|1000|+0.50|0.00|–");
    bt_html_plain(text, sizeof text, "%1c %2c %1c %d %z %% %s", -0.5, 12.50, 3.0, -7, (size_t)8,
                  "<");
    ck_assert_str_eq(text, "-0.5 12.5 3 -7 8 % <");
    bt_html_plain(text, 5, "%s", "abc\xc3\xa9");
    ck_assert_str_eq(text, "abc"); /* never half a character */
}
END_TEST

static Suite *suite(void)
{
    Suite *s = suite_create("plot");
    TCase *c = tcase_create("plot");
    tcase_add_loop_test(c, ticks_are_one_two_or_five_times_a_power_of_ten, 0,
                        sizeof axes / sizeof *axes);
    tcase_add_test(c, an_axis_of_one_value_or_none_has_a_width);
    tcase_add_test(c, an_axis_over_absurd_values_is_finite);
    tcase_add_test(c, what_is_counted_has_whole_ticks);
    tcase_add_test(c, contrast_is_computed_as_published);
    tcase_add_test(c, every_colour_that_means_something_can_be_read);
    tcase_add_test(c, colours_of_one_plot_differ_for_the_colour_blind);
    tcase_add_test(c, a_gap_in_a_line_stays_a_gap);
    tcase_add_test(c, an_area_stands_on_zero_or_on_the_series_below);
    tcase_add_test(c, a_straight_line_ends_at_the_frame_and_keeps_its_slope);
    tcase_add_test(c, labels_at_line_ends_keep_their_distance);
    tcase_add_test(c, names_stay_text);
    tcase_add_test(c, what_is_no_text_is_replaced);
    tcase_add_test(c, numbers_are_written_for_readers_and_for_machines);
    suite_add_tcase(s, c);
    return s;
}
BT_CHECK_MAIN(suite)
