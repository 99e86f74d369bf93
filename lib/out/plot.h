/* Pictures in SVG: frames with axes, and what is drawn in them.  A picture reads without colour: lines
 * differ in dashes, areas in lightness and hatching, marks in shape, and labels stand at what they name.
 * Pictures take their colours from the style sheet of the page, or carry it when they stand alone. */
#ifndef BT_PLOT_H
#define BT_PLOT_H

#include "out/axis.h"
#include "out/decimate.h"
#include "out/html.h"

/* What a colour stands for; the style sheet has a variable --name for each.  On the paper of its
 * theme each has a contrast of 4.5 to 1 at least (tested), but for RULE and the TINTs, which carry no
 * meaning of their own. */
#define BT_COLOUR_LIST(X)                                                                          \
    X(PAPER, "paper", "#fdfcf9", "#191816")                                                        \
    X(INK, "ink", "#23211d", "#ece7dc")                                                            \
    X(SOFT, "soft", "#5b564c", "#b3ac9d")                                                          \
    X(FRONT, "front", "#1c5a96", "#86b8ea")                                                        \
    X(REAR, "rear", "#a04a08", "#eba46b")                                                          \
    X(MOTOR, "motor", "#006b5b", "#5fc9b0")                                                        \
    X(ERROR, "error", "#7b3c88", "#cda0dc")                                                        \
    X(ALERT, "alert", "#a8201a", "#ff988d")                                                        \
    X(LINK, "link", "#1c5a96", "#86b8ea")                                                          \
    X(RULE, "rule", "#d8d2c4", "#45413a")                                                          \
    X(TINT, "tint", "#f3efe6", "#24221f")

typedef enum {
#define X(id, name, light, dark) BT_COLOUR_##id,
    BT_COLOUR_LIST(X)
#undef X
        BT_COLOUR_COUNT
} bt_colour;

typedef struct {
    const char *name, *light, *dark; /* "#rrggbb" */
} bt_tone;
extern const bt_tone bt_tones[BT_COLOUR_COUNT];

/* The style sheet of pictures and their colours (light, dark, print), without <style>. */
void bt_plot_style(bt_bytes *b);

/* A picture of w x h units; a unit is a CSS pixel at its natural size.  `id` is unique in the page.  The
 * title names it, `finding` says in a sentence what is to be seen.  Alone: with style sheet and name
 * space. */
void bt_plot_begin(bt_bytes *b, int id, double w, double h, const char *title, const char *finding,
                   bool alone);
void bt_plot_end(bt_bytes *b);

/* A rectangle of the picture with axes. */
typedef struct {
    double x, y, w, h;
    bt_axis across, up;
    const char *unit, *unit_across; /* at the ends of the axes; NULL = that axis has no figures */
} bt_frame;
double bt_frame_x(const bt_frame *f, double x);
double bt_frame_y(const bt_frame *f, double y);
/* Axes, ticks, grid, units. */
void bt_frame_draw(bt_bytes *b, const bt_frame *f);

/* Drawn in the frame, each in a class of the style sheet: front rear motor demand speed error alert soft
 * ink.  What lies outside the frame is drawn on its edge; NaN is a gap. */
void bt_frame_line(bt_bytes *b, const bt_frame *f, const bt_series *s, const char *class);
/* From `top` down to `bottom` (NULL = zero).  `hatch`: the id of the picture, for hatching in the motor's
 * colour; 0 = a plain area. */
void bt_frame_area(bt_bytes *b, const bt_frame *f, const bt_series *top, const bt_series *bottom,
                   const char *class, int hatch);
/* A tinted stretch over the whole height. */
void bt_frame_span(bt_bytes *b, const bt_frame *f, double from, double to, const char *class);
/* A level over the whole width, named at its left end, above the line. */
void bt_frame_level(bt_bytes *b, const bt_frame *f, double y, const char *class, const char *label);
/* A straight line between two points, as much of it as lies in the frame. */
void bt_frame_segment(bt_bytes *b, const bt_frame *f, double x0, double y0, double x1, double y1,
                      const char *class);
typedef enum { BT_MARK_DOT, BT_MARK_RING, BT_MARK_SQUARE, BT_MARK_DIAMOND, BT_MARK_CROSS } bt_mark;
void bt_frame_mark(bt_bytes *b, const bt_frame *f, double x, double y, bt_mark mark,
                   const char *class);
/* Text at a point of the picture; anchor is start, middle or end. */
void bt_plot_label(bt_bytes *b, double x, double y, const char *anchor, const char *class,
                   const char *text);

/* Labels to the right of a frame, each as near to its value as the others allow. */
typedef struct {
    double y; /* value; NaN = left out */
    const char *text, *class;
} bt_end_label;
void bt_frame_end_labels(bt_bytes *b, const bt_frame *f, bt_end_label *labels, size_t n);

#endif
