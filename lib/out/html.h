/* Text for pages and pictures: markup with every name from a log escaped.  HTML and the SVG in it share
 * one set of rules.  Out, after write. */
#ifndef BT_HTML_H
#define BT_HTML_H

#include "out/write.h"

/* Add `s` so that it stays text wherever it stands, in an element or an attribute: & < > " ' escaped, what
 * is no UTF-8 and what XML does not allow (control characters) as U+FFFD. */
void bt_html_text(bt_bytes *b, const char *s);

/* Add markup by a form; nothing else in it is escaped.  Numbers do not look at the locale.
 *   %s  text, escaped             %r  markup, as it is
 *   %d  int                       %z  size_t
 *   %Nf double to be read, N decimals, a true minus sign; an en dash for no value; %+Nf with its sign
 *   %Nc double for a machine (coordinates), N decimals, trailing zeros left off
 *   %%  a percent sign */
void bt_html(bt_bytes *b, const char *form, ...);
/* The same into out, nothing escaped: text that will be.  What does not fit is cut. */
void bt_html_plain(char *out, size_t cap, const char *form, ...);

#endif
