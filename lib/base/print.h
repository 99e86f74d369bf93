/* printf for words with figures in them: a decimal point whatever the locale of the host program. */
#ifndef BT_PRINT_H
#define BT_PRINT_H

#include <stdarg.h>

#include "braketally.h"

/* As snprintf and vsnprintf, but what does not fit is cut between characters of UTF-8. */
int bt_print(char *out, size_t cap, const char *fmt, ...) BT_PRINTF(3, 4);
int bt_vprint(char *out, size_t cap, const char *fmt, va_list args) BT_PRINTF(3, 0);

#endif
