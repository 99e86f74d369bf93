/* The column table: what every table of CONTRACT 6-10 holds, in which order, in
 * which unit and how precisely.  Headers, cells, CSVW metadata and the manual's
 * lists come from it.  bt_columns and bt_table_name are public (braketally.h). */
#ifndef BT_COLUMNS_H
#define BT_COLUMNS_H

#include "base/error.h"

/* The word of a flag's bit; NULL from BT_FLAG_COUNT on. */
const char *bt_flag_word(unsigned bit);

/* "note", "watch", "stop"; "" for anything else. */
const char *bt_severity_word(bt_severity severity);

#endif
